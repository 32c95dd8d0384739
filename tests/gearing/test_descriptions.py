"""The description that the `unit` command shows."""

from pathlib import Path

from pytest import mark, raises
from support.layouts import LAYOUTS

from shiftlore.basics import KnowledgeError, UnknownId, UsageProblem
from shiftlore.gearing import describe_unit
from shiftlore.sheets import load_sheet

UNITS = Path(__file__).parents[2] / "knowledge" / "units"
LONG6 = load_sheet(UNITS / "long6.yaml")


def test_describe_unit__all_faults_unless_some_are_asked_for() -> None:
    every = describe_unit(LONG6)
    assert set(every.lost) == set(LONG6.elements)
    some = describe_unit(LONG6, lost=["brake_x"], stuck=["sol_b=off"])
    assert (list(some.lost), list(some.stuck)) == (["brake_x"], ["sol_b=off"])
    assert some.lost["brake_x"]["2"].state == "neutral"


def test_describe_unit__measured_ratio_needs_no_fault() -> None:
    found = describe_unit(LONG6, lost=["brake_x"], ratio=2.1)
    assert list(found.lost) == ["brake_x"]
    assert found.measured is not None and found.measured.slips


def test_describe_unit__element_may_be_stuck_on() -> None:
    assert describe_unit(LONG6, stuck=["brake_x=on"]).stuck["brake_x=on"]["2"].changed is False


@mark.parametrize(
    ("lost", "stuck", "error"),
    [(["brake_z"], [], UnknownId), ([], ["sol_z=on"], UnknownId), ([], ["sol_a"], UsageProblem)],
)
def test_describe_unit__what_cannot_be_meant(lost: list[str], stuck: list[str], error: type[Exception]) -> None:
    with raises(error):
        describe_unit(LONG6, lost=lost, stuck=stuck)


def test_describe_unit__solved_ratios_are_told() -> None:
    solved = describe_unit(load_sheet(LAYOUTS["series_5"])).solved
    assert solved is not None
    assert set(solved.ratios) == {"front.sun", "middle.sun", "rear.sun"}


def test_describe_unit__chart_alone_says_what_is_missing() -> None:
    found = describe_unit(load_sheet(LAYOUTS["chart_only_4"]))
    assert found.gears["1"].state == "unknown"
    assert any("no sets" in text for text in found.missing)


def test_describe_unit__kind_has_no_faults() -> None:
    found = describe_unit(load_sheet(UNITS / "step.yaml"))
    assert (found.lost, found.stuck) == ({}, {})


def test_describe_unit__contradiction_is_refused() -> None:
    with raises(KnowledgeError):
        describe_unit(load_sheet(LAYOUTS["lepelletier_6"].replace("on: [a, b]", "on: [a, b, d]")))
