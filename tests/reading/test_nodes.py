"""The reader keeps places, and refuses what is unsafe or ambiguous."""

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from support.nodes import walk

from shiftlore.reading import read_yaml
from shiftlore.reading.nodes import MAX_DEPTH


def refused(text):
    node, problems = read_yaml(text, "a.yaml")
    assert node is None
    return [(str(problem.mark), problem.code) for problem in problems]


def test_read_yaml__keeps_line_and_column_of_keys_and_values():
    root, problems = read_yaml("one: 1\ntwo:\n  three: [a, bcd]\n", "a.yaml")
    key, value = root.get("two").pairs[0]
    assert [] == problems
    assert ("a.yaml:3:3", "a.yaml:3:10") == (str(key.mark), str(value.mark))
    assert "a.yaml:3:14" == str(value.items[1].mark)


def test_read_yaml__columns_count_characters_not_bytes():
    root, _ = read_yaml('{ölstand: "é", x: 1}', "a.yaml")
    assert "a.yaml:1:19" == str(root.get("x").mark)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("a: &x [1]\nb: *x\n", ("a.yaml:1:4", "K006")),
        ("a: 1\nb: *x\n", ("a.yaml:2:4", "K006")),
        ("a: !!int 3\n", ("a.yaml:1:4", "K007")),
        ("a: !!python/object:os.system 3\n", ("a.yaml:1:4", "K007")),
        ("a: 1\n---\nb: 2\n", ("a.yaml:2:1", "K009")),
        ("\ufeffa: 1\n", ("a.yaml:1:1", "K003")),
        ("a: 1\nb: x\x07y\n", ("a.yaml:2:5", "K003")),
        ("a: x\u202ey\n", ("a.yaml:1:5", "K003")),
        ('a: "\\0"\n', ("a.yaml:1:4", "K003")),
        ("a:\n\tb: 1\n", ("a.yaml:2:1", "K004")),
        ("a: b: c\n", ("a.yaml:1:5", "K004")),
        ("[" * (MAX_DEPTH + 1), (f"a.yaml:1:{MAX_DEPTH + 1}", "K008")),
        ("", ("a.yaml:1:1", "K001")),
    ],
)
def test_read_yaml__refuses_what_is_unsafe(text, place):
    assert [place] == refused(text)


def test_read_yaml__refuses_bytes_that_are_not_utf_8():
    assert [("a.yaml:2:4", "K003")] == refused(b"a: 1\nb: \xff\n")


def test_read_yaml__tells_both_places_of_a_duplicate_key():
    root, problems = read_yaml("a: 1\nb: 2\na: 3\n", "a.yaml")
    assert ("a.yaml:3:1", "K005") == (str(problems[0].mark), problems[0].code)
    assert "line 1" in problems[0].write_instead
    assert root is not None


def test_read_yaml__refuses_a_file_over_its_size(tmp_path):
    path = tmp_path / "big.yaml"
    path.write_text("a: " + "x" * 3000)
    node, problems = read_yaml(path, max_bytes=2048)
    assert (None, "K002") == (node, problems[0].code)


def test_read_yaml__tells_a_missing_file(tmp_path):
    _, problems = read_yaml(tmp_path / "none.yaml")
    assert "No such file" in problems[0].what


def test_read_yaml__reads_json_exponents_and_paired_escapes():
    root, problems = read_yaml('{"a": 1.5e3, "b": "\\ud83d\\ude00", "c": "\\/"}')
    assert [] == problems
    assert ("1500", "\U0001f600", "/") == tuple(root.get(key).text for key in "abc")


def test_read_yaml__a_billion_laughs_ends_at_the_first_anchor():
    bomb = "a: &a [x]\n" + "".join(f"{k}: &{k} [*{j}, *{j}]\n" for j, k in zip("abcdef", "bcdefg", strict=True))
    assert [("a.yaml:1:4", "K006")] == refused(bomb)


def test_read_yaml__agrees_with_pyyaml_on_structure():
    text = "a: [x, {b: y}]\nc:\n- d\n- e: |\n    two\n    lines\n"
    root, _ = read_yaml(text)
    assert yaml.safe_load(text) == plain(root)


def plain(node):
    if node.kind == "mapping":
        return {key.text: plain(value) for key, value in node.pairs}
    return [plain(item) for item in node.items] if node.kind == "list" else node.text


def test_node_walk__goes_in_the_order_written():
    root, _ = read_yaml("a: [b, c]\nd: e\n")
    assert ["a", "b", "c", "d", "e"] == [node.text for node in walk(root) if node.kind == "scalar"]


def test_node_is_null__only_bare():
    root, _ = read_yaml('a:\nb: ~\nc: null\nd: ""\ne: "null"\n')
    assert [True, True, True, False, False] == [root.get(key).is_null for key in "abcde"]


def outline(root):
    return [(node.kind, node.line, node.column, node.text, node.bare) for node in walk(root)]


def test_read_yaml__without_the_c_parser_the_places_are_the_same(monkeypatch):
    text = (
        'a: [x, "é y", {b: c}]\nd:\n- e: |\n    two\n    lines\n  f: {}\n- g\nh:\n  i: > \n    folded\n  "j": \'k\'\n'
    )
    with_c = outline(read_yaml(text)[0])
    monkeypatch.setattr(yaml, "__with_libyaml__", False)
    assert with_c == outline(read_yaml(text)[0])


@pytest.mark.parametrize(
    "text", ["a: &x 1", "a: *x", "a: !!int 3", "a: 1\n---\nb: 2", "a: 1\na: 2", "[" * 41, "a: [", "a:\n\tb: 1"]
)
def test_read_yaml__without_the_c_parser_the_same_is_refused(monkeypatch, text):
    with_c = [problem.code for problem in read_yaml(text)[1]]
    monkeypatch.setattr(yaml, "__with_libyaml__", False)
    assert with_c == [problem.code for problem in read_yaml(text)[1]]


@given(st.binary(max_size=120) | st.text("ab: -[]{}#'\"|>&*!?%@\n\t,0", max_size=60))
def test_read_yaml__any_bytes_end_in_a_node_or_a_problem(source):
    root, problems = read_yaml(source)
    assert (root is not None) or problems
    assert all(problem.mark.line >= 0 and problem.write_instead for problem in problems)


@given(st.text("ab: -[]{}#'\"|>\n,0", max_size=60))
def test_read_yaml__what_it_takes_stock_yaml_takes_too(text):
    root, problems = read_yaml(text)
    if root is not None and not problems:
        assert yaml.compose(text, yaml.CSafeLoader) is not None
