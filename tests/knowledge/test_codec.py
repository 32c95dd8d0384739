"""Knowledge survives being turned into JSON and back."""

import json
from dataclasses import replace

import pytest

from shiftlore.knowledge import collect_knowledge, find_knowledge
from shiftlore.knowledge.codec import decode_knowledge, encode_knowledge


def there_and_back(knowledge):
    return decode_knowledge(json.loads(json.dumps(encode_knowledge(knowledge))))


def test_decode_knowledge__gives_back_the_small_folder(folder):
    knowledge, _ = collect_knowledge(folder())
    assert replace(knowledge, places={}) == there_and_back(knowledge)


def test_decode_knowledge__gives_back_what_came_with_the_program_unit_sheets_included():
    knowledge, _ = collect_knowledge(find_knowledge())
    assert replace(knowledge, places={}) == there_and_back(knowledge)


def test_encode_knowledge__writes_equal_strengths_once(folder):
    encoded = encode_knowledge(collect_knowledge(folder())[0])
    assert len(encoded["strengths"]) == len({tuple(each) for each in encoded["strengths"]})


@pytest.mark.parametrize(
    "values", [{}, [], {"files": [], "strengths": [], "knowledge": {}}, {"files": 1, "strengths": [[]]}]
)
def test_decode_knowledge__other_values_raise(values):
    with pytest.raises((ValueError, TypeError, KeyError, IndexError)):
        decode_knowledge(values)
