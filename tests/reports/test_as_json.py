"""Results as JSON."""

import json
from dataclasses import dataclass

import numpy as np
from support.trade import small_case

from shiftlore.ranking import rank_causes
from shiftlore.reports.as_json import render_json, to_plain


@dataclass(frozen=True)
class Made:
    """A record with fields that Python keeps for itself."""

    speaks_for: tuple[int, ...]
    speaks_against: frozenset[str]
    p: object
    nothing: None = None


def test_to_plain__renames_and_unpacks() -> None:
    assert {"for": [1, 2], "against": ["a"], "p": 0.5, "nothing": None} == to_plain(
        Made((1, 2), frozenset({"a"}), np.float64(0.5)))


def test_to_plain__numpy_numbers_become_plain_ones() -> None:
    assert {"1": [3, True]} == to_plain({1: (np.int64(3), np.bool_(True))})


def test_render_json__version_first_and_empty_fields_left_out() -> None:
    text = render_json(Made((), frozenset(), 1.0), more=2)
    assert text.startswith('{\n  "shiftlore": 1')
    assert {"shiftlore": 1, "for": [], "against": [], "p": 1.0, "more": 2} == json.loads(text)


def test_render_json__a_ranking_reads_back_with_the_fields_of_the_contract() -> None:
    found = json.loads(render_json(rank_causes(small_case({"gear_slips_2": "yes"}), spread=False)))
    assert {"areas", "causes", "nothing_found", "fit", "seconds"} <= set(found)
    assert {"id", "label", "area", "probability", "low", "high", "for", "against"} <= set(found["causes"][0])
    assert "audit" not in found


def test_render_json__letters_of_all_languages_stay() -> None:
    assert "Öl" in render_json({"label": "Öl"})
