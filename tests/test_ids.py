"""No id of the trade in Python: every text in src is held against every id that the knowledge knows.

A rule that is renamed in YAML must not take a feature away without a word; so Python asks for flags, never for ids.
"""

import ast
from functools import cache
from pathlib import Path

import pytest
from support.trade import ROOT, shipped

PACKAGE = ROOT / "src" / "shiftlore"
ANYWHERE = ("",)
# Word -> the rooms (or modules) that may hold it, and what it is there: a form of the language of rules, a field's name.
STRUCTURE: dict[str, tuple[tuple[str, ...], str]] = {
    "yes": (ANYWHERE, "the answer of every yes/no finding"),
    "no": (ANYWHERE, "the same"),
    "none": (ANYWHERE, "the state in which no cause is present, and `none` as a reply"),
    "high": (
        ("gearing", "knowledge/forms.py", "knowledge/own_shop.py", "reports"),
        "end of a span of prices; a high ratio",
    ),
    "low": (("knowledge/forms.py", "knowledge/own_shop.py", "reports"), "end of a span of prices"),
    "band": (
        ("gearing", "sheets", "sessions/new_sheet.py", "reports/unit_drawing.py"),
        "type of an element on a unit sheet",
    ),
    "one_way_clutch": (
        ("driving", "gearing", "sheets", "sessions/new_sheet.py", "reports/unit_drawing.py"),
        "the same",
    ),
    "converter": (("gearing", "knowledge/forms.py"), "key of a unit sheet, kind of a job"),
    "fluid": (("sheets", "repairs"), "key of a unit sheet, and of a published repair"),
    "usage": (("repairs",), "key of a published repair"),
    "drive": (("gearing", "sheets", "sessions/new_sheet.py"), "a member of a gear train that drives"),
    "gears": (("sheets", "reports", "sessions/new_sheet.py"), "key of a unit sheet"),
    "failsafe": (("gearing", "sheets"), "key of a unit sheet, a `where` of a rule"),
    "pressure_switch": (("compiling", "gearing", "knowledge", "sheets"), "a kind of instance (`each`)"),
    "pressure_switches": (("sheets",), "key of a unit sheet"),
    "speed_sensor": (("compiling", "gearing", "knowledge", "sheets", "tracing"), "a kind of instance (`each`)"),
    "right": (("tracing",), "a side of a search in numpy"),
    "electrical": (("knowledge/forms.py",), "kind of a job"),
    "outside": (("knowledge/forms.py",), "kind of a job"),
    "overhaul": (
        ("knowledge/forms.py", "advising", "reports", "simulating", "cli/in_bulk.py"),
        "kind of a job and of an option",
    ),
    "open": (
        (
            "knowledge/forms.py",
            "advising",
            "compiling/lessons.py",
            "reports",
            "words/search.py",
            "words/sequels.py",
            "words/doubts.py",
        ),
        "a way to get a finding, a word for how sure an advice is",
    ),
    "scan": (("knowledge/forms.py", "advising", "practising"), "a way to get a finding"),
    "pressure": (
        ("basics/quantities.py", "compiling/evidence.py"),
        "a kind of quantity; how the tables of codes call a solenoid that is no shift solenoid",
    ),
    "temperature": (("basics/quantities.py",), "a kind of quantity"),
    "age": (("words/mileage.py",), "a kind of amount"),
    "onset": (
        ("cases", "fleet/rows.py", "knowledge/forms.py", "reports/file_schemas.py"),
        "key of a case and of a finding: how it began",
    ),
    "road_test": (("advising", "reports/case_text.py"), "name of a line of a price"),
    "slips": (("reports/schemas.py",), "field of what `unit` prints"),
    "load": (("__init__.py",), "name of a function of the front door"),
    "cvt": (("gearing",), "tag of a sheet"),
    "dct": (("gearing",), "tag of a sheet"),
}

PUT_TOGETHER = {"gearing/facts.py in_"}
"""`in_` begins a `where`; it is not taken off an id."""


@cache
def ids() -> frozenset[str]:
    """List every id of the trade that Python must not know, and the answers that are a background's or finding's own."""
    knowledge = shipped()
    found = {
        *knowledge.causes,
        *knowledge.states,
        *knowledge.findings,
        *knowledge.checks,
        *knowledge.jobs,
        *knowledge.backgrounds,
        *knowledge.follow_ups,
        *knowledge.access,
        *knowledge.cautions,
        *knowledge.prices,
        *knowledge.sheets,
        *knowledge.codes,
        *knowledge.areas,
    }
    found |= {finding.group for finding in knowledge.findings.values()}
    found |= {finding.together for finding in knowledge.findings.values() if finding.together}
    found |= {answer for background in knowledge.backgrounds.values() for answer in background.shares}
    found |= {grade for finding in knowledge.findings.values() for grade in finding.grades}
    return frozenset(found)


@cache
def literals(path: Path) -> set[str]:
    """Give the texts in a module, docstrings left out, each as a whole and word by word where it is a list of words."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    told = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef))
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    told |= {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    return {
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told
    }


def found_in(path: Path) -> set[str]:
    """Give the ids that stand in a module."""
    place = path.relative_to(PACKAGE).as_posix()
    return {
        text
        for text in literals(path)
        if text in ids() and not any(place.startswith(room) for room in STRUCTURE.get(text, ((), ""))[0])
    }


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_no_id_of_the_trade_stands_in_python(path: Path) -> None:
    assert set() == found_in(path)


def test_no_id_is_put_together_from_a_beginning_or_an_end() -> None:
    """`replaced_` + a part, a general finding + `_any`: beginnings and ends that many ids share count as ids."""
    parts = {key.split("_")[0] + "_" for key in ids() if "_" in key} | {
        "_" + key.rpartition("_")[2] for key in ids() if "_" in key
    }
    wrong = {
        f"{path.relative_to(PACKAGE)} {text}"
        for path in sorted(PACKAGE.rglob("*.py"))
        for text in literals(path)
        if text in parts
    }
    assert wrong <= PUT_TOGETHER


def test_structure__every_word_of_it_is_an_id_and_has_a_reason() -> None:
    assert all(reason for _, reason in STRUCTURE.values())
    assert set(STRUCTURE) <= ids()
    for word, (rooms, _) in STRUCTURE.items():
        holders = {path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py") if word in literals(path)}
        assert any(place.startswith(room) for place in holders for room in rooms), f"{word}: nobody needs it any longer"


def test_literals__sees_texts_and_no_docstrings(tmp_path: Path) -> None:
    path = tmp_path / "a.py"
    path.write_text(
        '"""fluid_level"""\nX = ("slips",)\n"""comment"""\n\n\ndef f():\n    """usage"""\n    return {"towing": f"{X}_any"}\n'
    )
    assert {"slips", "towing", "_any"} == literals(path)
