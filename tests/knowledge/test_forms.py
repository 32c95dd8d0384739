from dataclasses import MISSING, fields
from pathlib import Path

import pytest
from msgspec import structs
from support.trade import shipped

from shiftlore.basics.quantities import QUANTITIES
from shiftlore.knowledge import Knowledge
from shiftlore.knowledge.files import FILES, FOLDERS
from shiftlore.knowledge.forms import FORMS, LOG_MEASURES, SCOPE, SHOP
from shiftlore.knowledge.readers import KEY_READERS
from shiftlore.reading import REQUIRED
from shiftlore.sheets import EACH


def test_log_measures__each_is_of_a_kind_of_instance() -> None:
    assert all(one.each is None or one.each in EACH for one in LOG_MEASURES.values())


def test_log_measures__what_a_number_is_graded_by_is_in_its_base_unit() -> None:
    for record in shipped().findings.values():
        for line in record.traced:
            if line.number:
                (gauge,) = [one for one in record.measured if one.name == line.number]
                assert next(iter(QUANTITIES[gauge.kind].units)) == LOG_MEASURES[line.by].unit


def test_log_measures__every_column_of_a_log_has_names_in_the_first_language() -> None:
    from shiftlore.knowledge.language import COLUMNS
    from shiftlore.tracing.recordings import CHANNELS

    assert set(COLUMNS) == {*CHANNELS, "none_of_these"} == set(shipped().languages["en"].columns)


ALL = {**FORMS, "shop": SHOP}
# Read from one key, filled besides by another.
FILLED_BESIDES = {
    "shop": {"tax_percent"},
    "backgrounds": {"grade_labels", "recent", "began_km", "at_least_km", "warranty_km"},
}
README = Path(__file__).parents[2] / "knowledge" / "README.md"


@pytest.mark.parametrize("kind", ALL)
def test_forms__each_field_of_the_record_is_filled_by_one_key(kind):
    form = ALL[kind]
    filled = [key.into or key.name for key in form.keys if key.holds != "remark" and key not in SCOPE]
    filled += ["scope"] if SCOPE[0] in form.keys else []
    assert {field.name for field in structs.fields(form.record)} - {"mark"} == {*filled, *FILLED_BESIDES.get(kind, ())}
    assert len(filled) == len(set(filled))


@pytest.mark.parametrize("kind", ALL)
def test_forms__each_key_holds_what_some_reader_reads(kind):
    assert set() == {key.holds for key in ALL[kind].keys} - set(KEY_READERS)


def test_forms__no_reader_is_without_a_key():
    assert set() == set(KEY_READERS) - {key.holds for form in ALL.values() for key in form.keys}


def test_forms__there_is_one_for_each_kind_of_file_and_field_of_the_knowledge():
    kinds = {*FOLDERS, *(name.removesuffix(".yaml") for name in FILES)}
    apart = {"units", "retired", "words", "language", "sayings"}
    assert kinds - apart == set(ALL)
    filled = {field.name for field in fields(Knowledge) if field.default is not MISSING or field.init} - {"places"}
    assert set() == set(FORMS) - filled


@pytest.mark.parametrize("kind", ALL)
def test_forms__a_choice_of_words_has_words_and_a_number_its_bounds(kind):
    for key in ALL[kind].keys:
        assert (key.holds == "word") == bool(key.words), key
        if key.holds in ("number", "whole", "price"):
            assert key.low is not None and key.high is not None and key.low < key.high, key
        if key.words and key.default not in (REQUIRED, None):
            assert key.default in key.words


@pytest.mark.parametrize("kind", sorted(set(ALL) - {"shop", "areas"}))
def test_forms__the_manual_names_every_key(kind):
    text = README.read_text(encoding="utf-8")
    assert [] == [key.name for key in ALL[kind].keys if key.name not in text]


@pytest.mark.parametrize("kind", FORMS)
def test_read_record__a_key_too_many_is_told_in_every_kind(taken, kind):
    _, told = taken(kind, "id: x\nno_such_key: 1\n")
    assert ("a.yaml:2:1", "K012") in told


@pytest.mark.parametrize("kind", FORMS)
@pytest.mark.parametrize("text", ["[]", "12", "a text", "{}", "[{id: x}]"])
def test_read_record__something_else_is_told_and_gives_stand_ins(taken, kind, text):
    record, told = taken(kind, text)
    assert FORMS[kind].record is type(record)
    assert told and {code for _, code in told} <= {"K011", "K013"}


@pytest.mark.parametrize("kind", FORMS)
def test_read_record__every_missing_key_is_told_at_the_record(taken, kind):
    _, told = taken(kind, "{}")
    required = [key for key in FORMS[kind].keys if key.default is REQUIRED]
    assert [("a.yaml:1:1", "K011")] * len(required) == told


TRAPS = (
    "1:30",
    "010",
    "1e3",
    "3.10",
    "2024-01-02",
    "no",
    "[[[]]]",
    "{a: {b: {c: d}}}",
    "[1, x]",
    "{x: ~}",
    "'\\'",
    "''",
)


@pytest.mark.parametrize("kind", FORMS)
def test_read_record__any_trap_under_any_key_gives_a_record_and_problems_with_their_place(taken, kind):
    for key in FORMS[kind].keys:
        for trap in TRAPS:
            record, told = taken(kind, f"{key.name}: {trap}\n")
            assert FORMS[kind].record is type(record)
            assert {"a.yaml:1"} == {place.rpartition(":")[0] for place, _ in told}, (key.name, trap)


@pytest.mark.parametrize(
    ("text", "kind", "key"),
    [("1:30", "checks", "minutes"), ("010", "jobs", "minutes"), ("1e3", "access", "open_minutes"),
     ("1_000", "prices", "typical"), ("no", "causes", "label"), ("off", "codes", "means"),
     ("12", "findings", "group"), ("2024-01-02", "cautions", "says")],
)  # fmt: skip
def test_read_record__what_yaml_would_make_something_else_of_is_told_at_its_place(taken, text, kind, key):
    _, told = taken(kind, f"{key}: {text}\n")
    assert (f"a.yaml:1:{len(key) + 3}", "K021") in told
