"""Closing: what the case says already, the file first and then the casebook, and what is kept of whom."""

import datetime
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from support.trade import compile_case, shipped, unit_of

import shiftlore
from shiftlore.basics import ShiftloreError, UsageProblem
from shiftlore.basics.holding import Hold
from shiftlore.casebook import Casebook, CasebookError, Closing, EndTold, list_doubts, open_casebook, propose_end
from shiftlore.casebook.closing import close_file, make_entry, merge_end, note_end
from shiftlore.cases import Answer, Case, Done, Outcome

TODAY = datetime.date(2026, 3, 2)
FILE = """\
# Mine.
unit: long6
complaint: [slips]   # he said
findings: {slips: yes, fluid_smell_burnt: yes}
shop: At Anna Berg's
note: "plate AB-123"
"""
CURED = EndTold(causes=("pump_worn",), jobs=("overhaul",), result="cured", minutes=300, spent=900.5)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give the file of a case."""
    made = tmp_path / "case.yaml"
    made.write_text(FILE, encoding="utf-8")
    return made


@pytest.fixture
def own(tmp_path: Path) -> Any:
    """Give a casebook in a file."""
    with open_casebook(tmp_path / "book.db") as opened:
        yield opened


def close(path: Path, told: EndTold, book: Casebook, **more: Any) -> Closing:
    return close_file(shipped(), path, told, book, today=TODAY, **more)


def job_of(cause: str) -> str:
    """Give a job that puts a cause right."""
    return next(job for job, cures in unit_of("long6").expansion.cures.items() if cause in cures)


def test_close_file__into_the_file_with_its_comments_and_into_the_casebook(path: Path, own: Casebook) -> None:
    done = close(path, replace(CURED, jobs=(job_of("pump_worn"),)), own)
    text = path.read_text(encoding="utf-8")
    assert "# Mine." in text and "# he said" in text and f"id: {done.entry.id}" in text.replace('"', "")
    assert (True, True) == (done.is_new, done.is_changed) and (done.entry,) == own.entries()
    case = shiftlore.read_case(path, shipped())
    assert ("cured", 300.0, 900.5, "2026-03-02") == (
        case.outcome.result, case.outcome.minutes, case.outcome.spent, case.outcome.closed_on,
    )  # type: ignore[union-attr]  # fmt: skip
    assert (Done(job_of("pump_worn"), "cured"),) == case.done
    assert ("pump", "Pump worn", "EUR", "Slips") == (
        done.entry.area, done.entry.cause_labels[0], done.entry.currency, done.entry.told.split(":")[0],
    )  # fmt: skip


def test_close_file__twice_is_one(path: Path, own: Casebook) -> None:
    first = close(path, replace(CURED, jobs=()), own)
    again = close_file(shipped(), path, EndTold(), own, today=TODAY + datetime.timedelta(9))
    assert (False, False) == (again.is_new, again.is_changed) and first.entry == again.entry
    assert (first.entry,) == own.entries()


def test_close_file__completes_what_was_stopped_between_file_and_casebook(
    path: Path, tmp_path: Path, own: Casebook
) -> None:
    with open_casebook(tmp_path / "lost.db") as lost:
        first = close(path, replace(CURED, jobs=()), lost)
    assert () == own.entries()
    done = close_file(shipped(), path, EndTold(), own)
    assert done.is_new and (first.entry,) == own.entries()


def test_close_file__where_the_casebook_takes_nothing_it_says_what_is_done(
    path: Path, own: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(entry: object) -> bool:
        raise CasebookError("The disk is full.")

    with monkeypatch.context() as patch:
        patch.setattr(own, "amend", fail)
        with pytest.raises(
            CasebookError, match=r"^The disk is full\. The case is closed in its own file: close it once"
        ):
            close(path, CURED, own)
    assert () == own.entries() and shiftlore.read_case(path, shipped()).outcome.result == "cured"  # type: ignore[union-attr]
    assert close(path, EndTold(), own).is_new


def test_close_file__a_comeback_keeps_what_was_said_before(path: Path, own: Casebook) -> None:
    job = job_of("pump_worn")
    first = close(path, replace(CURED, jobs=(job,)), own).entry
    later = close_file(
        shipped(), path, EndTold(result="came_back", after_km=8000), own, today=datetime.date(2026, 5, 1)
    )
    (found,) = own.entries()
    assert found.id == first.id == later.entry.id and later.is_changed and not later.is_new
    assert ("came_back", 8000.0, "2026-05-01", "assumed", 300.0) == (
        found.outcome, found.comeback_km, found.closed_on, found.confirmed, found.minutes,
    )  # fmt: skip
    assert [("cured", "2026-03-02")] == [(one["outcome"], one["closed_on"]) for one in found.history]
    assert (first.beliefs, first.areas, first.alone) == (found.beliefs, found.areas, found.alone)
    assert Done(job, "came_back", 8000.0) == shiftlore.read_case(path, shipped()).done[0]


def test_make_entry__keeps_nobodys_name_unasked(path: Path, own: Casebook) -> None:
    entry = close(path, replace(CURED, jobs=()), own).entry
    assert "" == entry.person and "Anna" not in repr(entry) and "AB-123" not in repr(entry)
    kept = close(path, EndTold(), own, person=" Anna Berg ", with_words=True).entry
    assert (
        "Anna Berg" == kept.person and "AB-123" in kept.case and ["Anna Berg"] == [one.person for one in own.entries()]
    )


def test_make_entry__believes_what_was_believed_before_the_last_job() -> None:
    """Checked against `rank` of the case as it was then: the areas are its own."""
    job = job_of("pump_worn")
    before = Case("long6", complaint=("slips",), findings={"slips": Answer("slips", "yes")})
    outcome = Outcome(("pump_worn",), "cured", jobs=(job,), result="cured", closed_on="2026-03-02", id="0" * 20)
    entry = make_entry(shipped(), replace(before, outcome=outcome, done=(Done(job, "cured"),)))
    ranking = shiftlore.rank(shipped(), before)
    assert {one.area: pytest.approx(one.probability, abs=1e-6) for one in ranking.areas} == entry.areas
    alone = {one.id: one.probability for one in ranking.causes}
    assert pytest.approx(alone["pump_worn"], abs=1e-6) == entry.beliefs["pump_worn"]  # it has one instance
    assert pytest.approx(1.0, abs=0.05) == sum(entry.alone.values()) and {"slips": "yes"} == entry.signs


def test_make_entry__its_case_can_be_read_again(path: Path, own: Casebook) -> None:
    entry = close(path, replace(CURED, jobs=()), own).entry
    case = shiftlore.read_case(entry.case + "\n", shipped())
    assert ("long6", ("slips",), None, "", ()) == (case.unit, case.complaint, case.outcome, case.note, case.warnings)
    assert "asked" not in json.loads(entry.case)


def test_make_entry__an_own_sheet_is_named_by_its_id(tmp_path: Path, own: Casebook) -> None:
    text = (Path(__file__).parents[2] / "knowledge" / "units" / "long6.yaml").read_text(encoding="utf-8")
    (tmp_path / "ours.yaml").write_text(text.replace("id: long6", "id: ours6", 1), encoding="utf-8")
    made = tmp_path / "case.yaml"
    made.write_text("unit: ours.yaml\ncomplaint: [slips]\n", encoding="utf-8")
    entry = close(made, replace(CURED, jobs=()), own).entry
    assert ("ours6", "ours6") == (entry.unit, json.loads(entry.case)["unit"])


def test_make_entry__answers_that_cannot_be_leave_beliefs_out(monkeypatch: pytest.MonkeyPatch) -> None:
    from shiftlore.basics import ImpossibleEvidence
    from shiftlore.casebook import closing

    def refuse(*_: object) -> None:
        raise ImpossibleEvidence(("a",))

    monkeypatch.setattr(closing, "compile_case", refuse)
    outcome = Outcome((), result="not_cured", closed_on="2026-03-02", id="0" * 20)
    entry = make_entry(shipped(), Case("long6", outcome=outcome))
    assert ({}, {}, "", ()) == (entry.areas, entry.beliefs, entry.area, entry.causes)


@pytest.mark.parametrize(
    ("told", "before", "says"),
    [
        (EndTold(causes=()), None, "It is not said what came of it. Add --outcome"),
        (EndTold(result="cured"), None, "It is not said what it was. Add --cause CAUSE, or --cause unknown"),
        (EndTold((), result="cured", after_km=3), None, "A distance belongs to a fault that came back."),
    ],
)
def test_merge_end__tells_what_is_missing(told: EndTold, before: Outcome | None, says: str) -> None:
    with pytest.raises(UsageProblem, match=says.replace(".", r"\.")):
        merge_end(told, before, TODAY)


def test_merge_end__what_is_told_goes_before_what_was_said() -> None:
    old = Outcome(("a",), "seen", jobs=("j",), result="cured", minutes=3, closed_on="2026-01-01", id="1" * 20)
    assert old == merge_end(EndTold(), old, TODAY) == merge_end(EndTold(("a",), "seen", ("j",), "cured", 3), old, TODAY)
    news = merge_end(EndTold(("b",), spent=4.0), old, TODAY)
    assert (("b",), "cured", ("j",), 3, 4.0, "2026-03-02", "1" * 20) == (
        news.causes, news.confirmed, news.jobs, news.minutes, news.spent, news.closed_on, news.id,
    )  # fmt: skip
    assert "2026-02-02" == merge_end(EndTold(closed_on="2026-02-02"), old, TODAY).closed_on
    first = merge_end(EndTold(result="not_cured"), Outcome(("a",), "seen"), TODAY)
    assert (20, "assumed") == (len(first.id), first.confirmed) and ("x",) == merge_end(
        EndTold(("x", "x")), old, TODAY
    ).causes
    assert "" == merge_end(EndTold((), result="cured"), None, TODAY).confirmed


def test_note_end__tells_of_the_jobs_what_came_of_them() -> None:
    expansion = unit_of("long6").expansion
    cures = job_of("pump_worn")
    other = next(job for job, puts_right in expansion.cures.items() if "pump_worn" not in puts_right)
    both = Outcome(("pump_worn",), jobs=(cures, other), result="cured")
    assert (Done(other), Done(cures, "cured")) == note_end(Case("long6"), both, expansion).done  # what cures it last
    in_vain = note_end(Case("long6"), replace(both, result="not_cured"), expansion)
    assert {"not_cured"} == {one.result for one in in_vain.done}
    done = Case("long6", done=(Done(other, "not_cured"), Done(cures)))
    assert ("not_cured", "cured") == tuple(
        one.result for one in note_end(done, replace(both, jobs=(cures,)), expansion).done
    )
    again = Case("long6", done=(Done(cures, "came_back", after_days=20), Done(cures)))
    assert (again.done[0], Done(cures, "cured")) == note_end(again, replace(both, jobs=(cures,)), expansion).done


def test_list_doubts__work_for_another_cause_and_a_result_that_was_another() -> None:
    job = job_of("pump_worn")
    other = next(key for key, cures in unit_of("long6").expansion.cures.items() if "pump_worn" not in cures)
    case = Case("long6", findings={"slips": Answer("slips", "yes")}, done=(Done(other, "not_cured"),))
    compiled = compile_case(unit_of("long6"), case)
    assert () == list_doubts(compiled, EndTold(("pump_worn",), jobs=(job,), result="cured"))
    assert 2 == len(list_doubts(compiled, EndTold(("pump_worn",), jobs=(other,), result="cured")))
    assert () == list_doubts(compiled, EndTold((), jobs=(other,), result="came_back"))


def test_list_doubts__a_cause_that_the_answers_hardly_allow() -> None:
    """A part that was seen sound, and does not explain the complaint, is not what it was: common practice."""
    told = {
        "connector_corroded": "no",
        "harness_outside_fault": "no",
        "fluid_smell_burnt": "yes",
        "slips_all_gears": "yes",
        "pan_friction_material": "yes",
    }
    compiled = compile_case(
        unit_of("long6"), Case("long6", findings={key: Answer(key, said) for key, said in told.items()})
    )
    (doubt,) = list_doubts(compiled, EndTold(("external_connector_corroded",), result="cured"))
    assert "hardly allow" in doubt


def test_propose_end__what_the_case_says_already() -> None:
    job = job_of("pump_worn")
    case = Case(
        "long6",
        complaint=("slips",),
        done=(Done("pan_drop"), Done(job, "not_cured")),
        outcome=Outcome(("case_cracked",)),
    )
    found = propose_end(compile_case(unit_of("long6"), case))
    assert "case_cracked" == found.causes[0].id and 5 == len(found.causes)
    assert [(job, "not_cured")] == [(one.id, one.result) for one in found.jobs]
    chances = [one.probability for one in found.causes[1:]]
    assert sorted(chances, reverse=True) == chances and all(one.label for one in (*found.causes, *found.jobs))


def test_close_file__another_session_has_it_open(path: Path, own: Casebook) -> None:
    hold = Hold(path)
    hold.take()
    with pytest.raises(
        ShiftloreError, match=r"is open in another session .* Close it there first; if that one has ended, delete "
    ):
        close(path, CURED, own)
    hold.release()
    assert FILE == path.read_text(encoding="utf-8") and () == own.entries()


def test_close_file__a_copy_is_not_taken_for_the_first(path: Path, tmp_path: Path, own: Casebook) -> None:
    close(path, replace(CURED, jobs=()), own)
    copy = tmp_path / "copy.yaml"
    copy.write_text(path.read_text().replace("complaint: [slips]", "complaint: [shudder_under_load]"), encoding="utf-8")
    with pytest.raises(ShiftloreError, match="take id out of its outcome, and close it again"):
        close(copy, EndTold(result="not_cured"), own)
    assert 1 == len(own.entries()) and "cured" == own.entries()[0].outcome


@pytest.mark.parametrize(
    ("told", "says"), [(replace(CURED, jobs=("pan_drop",)), "pan_drop is no job"), (EndTold(), "It is not said")]
)
def test_close_file__what_cannot_be_changes_nothing(path: Path, own: Casebook, told: EndTold, says: str) -> None:
    with pytest.raises(UsageProblem, match=says):
        close(path, told, own)
    assert FILE == path.read_text(encoding="utf-8") and () == own.entries()
    with pytest.raises(UsageProblem, match="There is no case"):
        close(path.with_name("none.yaml"), told, own)
