"""A contradiction is told at once, and once."""

from support.trade import shipped

from shiftlore.cases import CAME_BACK, Answer, Case, Done
from shiftlore.sessions import Interview
from shiftlore.sessions.telling_clashes import BOTH, tell_clashes, tell_done

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


def test_tell_done__what_came_of_it_and_after_how_long() -> None:
    told = tell_done(Interview(shipped(), LOST), Done("not_known_any_more", CAME_BACK, after_days=14))
    assert "not_known_any_more: it came back after 14 days" == told
