"""A contradiction is told at once, and nobody asks for what cannot be."""

from support.trade import shipped, unit_of

from shiftlore.cases import Answer, Case
from shiftlore.sessions import Interview
from shiftlore.sessions.contradictions import BOTH, is_moot, tell_clashes

LOST = Case("trans4", complaint=("no_drive_forward",), findings={"no_reverse": Answer("no_reverse", "no")})


def with_answer(case: Case, finding: str, grade: str) -> Interview:
    """Give an interview with one answer more."""
    return Interview(shipped(), case.with_findings({finding: Answer(finding, grade)}))


def test_tell_clashes__names_both_answers_and_how_to_take_one_back() -> None:
    before = Interview(shipped(), LOST)
    told = tell_clashes(before, with_answer(LOST, "no_drive_any", "yes"))
    assert ("No drive forward or in reverse: yes, and No reverse: no.", BOTH) == told
    assert "b takes the last answer back" in BOTH and "own words" in BOTH


def test_tell_clashes__once_and_not_what_fits() -> None:
    assert () == tell_clashes(Interview(shipped(), LOST), with_answer(LOST, "no_drive_any", "no"))
    clashing = with_answer(LOST, "no_drive_any", "yes")
    assert () == tell_clashes(clashing, with_answer(clashing.case, "warning_lamp", "yes"))
    assert () == tell_clashes(clashing, clashing) == tell_clashes(Interview(shipped(), Case("")), clashing)


def test_is_moot__what_a_yes_could_not_be_or_a_no_would_not_say() -> None:
    """Beside a lost forward drive it was asked which gears are missing, and whether it moves neither way."""
    expansion, given = unit_of("trans4").expansion, {"no_drive_forward": "yes", "no_reverse": "no"}
    for moot in ("no_drive_any", "gear_missing_2", "shift_harsh_any"):
        assert is_moot(expansion, given, moot)
        assert not is_moot(expansion, {"slips": "yes"}, moot)
    for left in ("reverse_slips", "warning_lamp", "range_will_not_select"):
        assert not is_moot(expansion, given, left)
