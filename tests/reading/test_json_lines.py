"""One line of JSON makes the nodes that the YAML reader makes of it."""

import json

import pytest
from support.nodes import walk

from shiftlore.reading import CASE_BYTES, Node, read_json_line, read_yaml

LINES = (
    '{"unit": "long5", "odometer_km": 123000, "findings": {"slips": true, "worse_hot": "no", "P0732": null}}',
    '{"a": [1, -2.5, 1e3, 1.5e-2, 1e30, "text", []], "b": {}, "c": {"d": [{"e": false}]}}',
    '{"note": "häßlich \\u00e9 \\ud83d\\ude97", "": ""}',
    "{}",
)


def read(line: str | bytes) -> tuple[Node | None, list]:
    content = line.encode() if isinstance(line, str) else line
    return read_json_line(content, "f.jsonl", 7, "C", CASE_BYTES)


def plain(node: Node | None) -> object:
    """Give what stands in nodes, places left out."""
    assert node is not None
    if node.kind == "mapping":
        return [(key.text, plain(value)) for key, value in node.pairs]
    return [plain(item) for item in node.items] if node.kind == "list" else (node.text, node.bare)


@pytest.mark.parametrize("line", LINES)
def test_read_json_line__gives_what_the_yaml_reader_gives(line: str) -> None:
    assert plain(read_yaml(line, letter="C")[0]) == plain(read(line)[0])


def test_read_json_line__every_node_stands_in_its_line() -> None:
    node, _ = read(LINES[1])
    assert node is not None and {("f.jsonl", 7, 1)} == {
        (one.mark.file, one.mark.line, one.mark.column) for one in walk(node)
    }


@pytest.mark.parametrize(
    ("line", "code", "what"),
    [
        (b'{"a": "\xff"}', "C003", "Byte 8 of the row is not UTF-8 text"),
        (b'{"a": NaN}', "C016", "NaN is no number"),
        (b'{"a": -Infinity}', "C016", "-Infinity is no number"),
        (b'{"a": 1', "C004", "This is not JSON"),
        (b"", "C004", "This is not JSON"),
        (b"[1]", "C013", "The row is no object"),
        (b"null", "C013", "The row is no object"),
        (b'{"a": "\\u0000"}', "C003", "Unprintable character U+0000"),
        (b'{"a\\u202e": 1}', "C003", "Unprintable character U+202E"),
        (b'{"a": ' * 60 + b"1" + b"}" * 60, "C008", "Nested deeper than 40 levels"),
        (b'{"a": ' + b"[" * 100_000 + b"]" * 100_000 + b"}", "C008", "Nested deeper than 40 levels"),
        (b'{"a": "' + b"b" * CASE_BYTES + b'"}', "C002", "larger than 256 KiB"),
    ],
)
def test_read_json_line__what_cannot_be_read_is_told(line: bytes, code: str, what: str) -> None:
    node, problems = read(line)
    assert node is None
    assert [code] == [problem.code for problem in problems]
    assert what in problems[0].what and problems[0].write_instead and 7 == problems[0].mark.line


def test_read_json_line__a_key_that_stands_twice_is_told_and_read_on() -> None:
    node, problems = read('{"a": 1, "a": 2, "b": 3}')
    assert node is not None and ["C005"] == [problem.code for problem in problems]


@pytest.mark.parametrize("number", ["1e999", "-1e999", "9" * 400, "0." + "1" * 400])
def test_read_json_line__numbers_of_any_size_stay_texts(number: str) -> None:
    node, problems = read(f'{{"a": {number}}}')
    assert node is not None and [] == problems
    value = node.get("a")
    assert value is not None and value.bare and value.text


def test_read_json_line__what_python_writes_is_read() -> None:
    value = {"unit": "long5", "findings": {f"f{i}": "yes" for i in range(100)}}
    node, problems = read(json.dumps(value))
    assert [] == problems and node is not None and "long5" == node.pairs[0][1].text
