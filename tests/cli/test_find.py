"""`shiftlore find`."""

import json
from collections.abc import Callable


def test_find__ids_that_match_plain_words(run: Callable) -> None:
    ended = run("find", "burnt", "smell")
    assert (0, "") == (ended.code, ended.err)
    assert "fluid_smell_burnt" in ended.out


def test_find__only_one_kind(run: Callable) -> None:
    hits = json.loads(run("find", "pump", "--kind", "cause", "--format", "json").out)["hits"]
    assert {"cause"} == {hit["kind"] for hit in hits}


def test_find__nothing_is_told_on_standard_error(run: Callable) -> None:
    ended = run("find", "xyzzyq")
    assert (0, "") == (ended.code, ended.out)
    assert "other words" in ended.err


def test_find__a_report_becomes_answers(run: Callable) -> None:
    ended = run("find", "--report", "P0732 stored, the fluid does not smell burnt", "--format", "json")
    answers = {one["code"] or one["id"]: one["answer"] for one in json.loads(ended.out)["answers"]}
    assert ("yes", "no") == (answers["P0732"], answers["fluid_smell_burnt"])


def test_find__at_most_so_many(run: Callable) -> None:
    assert 3 == len(run("find", "pressure", "--most", "3").out.splitlines())
    assert 2 == run("find", "pressure", "--most", "0").code
