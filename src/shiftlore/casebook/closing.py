"""Close a case: what it was, what was done, what came of it; written into its file first, and then into the casebook.

The file holds all that the casebook needs, and the id under which it is filed. So whatever stops the program between the
two, closing the case once more completes it, and files it once.
"""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from shiftlore.basics import ImpossibleEvidence, ShiftloreError, UsageProblem
from shiftlore.basics.holding import hold_file
from shiftlore.basics.problems import printable
from shiftlore.casebook.book_records import Entry, make_id
from shiftlore.casebook.places import CasebookError
from shiftlore.cases import (
    CAME_BACK,
    CONFIRMED_BY,
    CURED,
    NOT_CURED,
    Case,
    CaseFile,
    Done,
    Outcome,
    peek_vehicle,
    place_last,
    read_case,
    render_case_as_json,
)
from shiftlore.compiling import CompiledCase, Expansion, compile_case, compile_unit, list_known
from shiftlore.knowledge import Knowledge, name_in_general
from shiftlore.ranking import rank_areas
from shiftlore.repairs import shorten

if TYPE_CHECKING:
    from shiftlore.casebook.store import Casebook

MOST_PROPOSED = 5
P_WORTH_PROPOSING = 0.01
P_WORTH_KEEPING, P_ALIKE_WORTH_KEEPING = 1e-4, 1e-3
"""Beliefs below are left out of an entry, which is then half as long (judgement)."""
HARDLY = 0.01
"""Part of its chance before any answer below which the answers of a case hardly allow a cause (judgement)."""
_DIGITS = 6
_IN_FILE_ALONE = "The case is closed in its own file: close it once more when that is put right, and it is filed."
BY_CURE, _, ASSUMED = CONFIRMED_BY


@dataclass(frozen=True, slots=True)
class EndTold:
    """What somebody tells of the end of a case; None where nothing is told, and what the case says then counts.

    Args:
        causes: none where nobody knows what it was.
        jobs: what was done for it.
        result: one of `cases.RESULTS`; confirmed: one of `cases.CONFIRMED_BY`.
        closed_on: YYYY-MM-DD; the day on which it is told by default.
    """

    causes: tuple[str, ...] | None = None
    confirmed: str | None = None
    jobs: tuple[str, ...] | None = None
    result: str | None = None
    minutes: float | None = None
    spent: float | None = None
    after_km: float | None = None
    closed_on: str | None = None


@dataclass(frozen=True, slots=True)
class EndChoice:
    """A cause or a job that may be meant, with its label; of a cause its probability, of a job what came of it."""

    id: str
    label: str
    probability: float = 0.0
    result: str = ""


@dataclass(frozen=True, slots=True)
class EndProposal:
    """What the case says already of its end.

    Args:
        causes: those that its outcome names, then the likeliest.
        jobs: jobs that were done.
        outcome: as it was closed before; None while it is open.
    """

    causes: tuple[EndChoice, ...]
    jobs: tuple[EndChoice, ...]
    outcome: Outcome | None = None


@dataclass(frozen=True, slots=True)
class Closing:
    """A case was closed.

    Args:
        entry: as it is filed.
        is_new: whether it was not in the casebook before; is_changed: whether anything in the casebook is new.
    """

    case: Case
    entry: Entry
    is_new: bool
    is_changed: bool


def propose_end(compiled: CompiledCase) -> EndProposal:
    """Propose what the case says already: the causes that are likeliest now, and the jobs that were done."""
    expansion, case = compiled.expansion, compiled.case
    named = case.outcome.causes if case.outcome is not None else ()
    try:
        p_now = compiled.causes_now
    except ImpossibleEvidence:
        p_now = np.zeros(len(compiled.causes))
    order = [int(i) for i in np.argsort(-p_now, kind="stable") if p_now[i] >= P_WORTH_PROPOSING]
    chances = {compiled.causes[i]: float(p_now[i]) for i in order}
    ids = dict.fromkeys((*named, *chances))
    causes = [EndChoice(key, label_cause(compiled.knowledge, expansion, key), chances.get(key, 0.0)) for key in ids]
    known = {*expansion.jobs, *compiled.knowledge.jobs}
    jobs = [
        EndChoice(item.id, label_job(compiled.knowledge, expansion, item.id), result=item.result)
        for item in case.done
        if item.id in known
    ]
    return EndProposal(tuple(causes[: max(MOST_PROPOSED, len(named))]), tuple(jobs), case.outcome)


def list_doubts(compiled: CompiledCase, told: EndTold) -> tuple[str, ...]:
    """Say what of an end does not go with the case: a cause against its answers, work for another cause, another result."""
    expansion, knowledge, doubts = compiled.expansion, compiled.knowledge, list[str]()
    single = compiled.prepared.single
    p_now, p_first = single.posterior(compiled.evidence)[0][1:], single.tables.prior[1:]
    for cause in told.causes or ():
        own = [i for i, one in enumerate(expansion.causes.values()) if cause in (one.id, one.template)]
        if own and p_now[own].sum() < HARDLY * p_first[own].sum():
            doubts.append(f"The answers of this case hardly allow this: {label_cause(knowledge, expansion, cause)}.")
    templates = expansion.job_templates
    jobs = [job for job, template in templates.items() if {job, template} & {*(told.jobs or ())}]
    cured = {key for job in jobs for cause in expansion.cures[job] for key in (cause, expansion.causes[cause].template)}
    if told.result == CURED and told.causes and jobs and not cured.intersection(told.causes):
        doubts.append("None of this work is known to put that right; something that was done for it may be missing.")
    for item in compiled.case.done:
        if item.id in (told.jobs or ()) and item.result not in ("", told.result) and told.result != CAME_BACK:
            was, now = (result.replace("_", " ") for result in (item.result, told.result or ""))
            doubts.append(
                f"{label_job(knowledge, expansion, item.id)}: the case says {was} of it so far, and now {now}."
            )
    return tuple(doubts)


def label_cause(knowledge: Knowledge, expansion: Expansion, cause: str) -> str:
    """Say a cause of a unit in words, or one as the rules write it."""
    known = expansion.causes.get(cause)
    return known.label if known is not None else name_in_general(knowledge.causes[cause])


def label_job(knowledge: Knowledge, expansion: Expansion, job: str) -> str:
    """Say a job of a unit in words, or one as the rules write it."""
    return expansion.name_job(job) if job in expansion.jobs else name_in_general(knowledge.jobs[job])


def merge_end(told: EndTold, before: Outcome | None, today: datetime.date) -> Outcome:
    """Put together what is told now and what the case says; its id is kept, or made.

    Raises: UsageProblem: something is missing, or does not go together.
    """
    old = before or Outcome(())
    result = told.result or old.result
    if not result:
        raise UsageProblem("It is not said what came of it. Add --outcome cured, not_cured or came_back.")
    if told.causes is None and before is None:
        raise UsageProblem("It is not said what it was. Add --cause CAUSE, or --cause unknown if nobody knows.")
    if told.after_km is not None and result != CAME_BACK:
        raise UsageProblem("A distance belongs to a fault that came back. Add --outcome came_back, or leave it out.")
    causes = old.causes if told.causes is None else tuple(dict.fromkeys(told.causes))
    kept = old.confirmed if causes == old.causes and result in (old.result, "") else ""
    merged = Outcome(
        causes,
        confirmed=(told.confirmed or kept or (BY_CURE if result == CURED else ASSUMED)) if causes else "",
        jobs=old.jobs if told.jobs is None else tuple(dict.fromkeys(told.jobs)),
        result=result,
        minutes=old.minutes if told.minutes is None else told.minutes,
        spent=old.spent if told.spent is None else told.spent,
        after_km=(old.after_km if told.after_km is None else told.after_km) if result == CAME_BACK else None,
        closed_on=old.closed_on,
        id=old.id or make_id(),
    )
    is_same = replace(merged, id=old.id) == old and bool(old.closed_on)
    return replace(merged, closed_on=told.closed_on or (old.closed_on if is_same else today.isoformat()))


def note_end(case: Case, outcome: Outcome, expansion: Expansion) -> Case:
    """Give the case with its outcome, and with what came of its jobs."""
    done = list(case.done)
    there = {item.id for item in done}
    done += [Done(job) for job in _in_order(outcome, expansion) if job not in there]
    ours = place_last(done, outcome.jobs)
    if outcome.result != NOT_CURED:  # of several jobs the last one tells; before it nobody knows
        ours = [i for i in ours if done[i].result] or ours[-1:]
    for i in ours:
        if done[i].result != outcome.result or outcome.after_km is not None:
            done[i] = replace(done[i], result=outcome.result, after_km=outcome.after_km, after_days=None)
    return replace(case, outcome=outcome, done=tuple(done))


def _in_order(outcome: Outcome, expansion: Expansion) -> list[str]:
    """Put jobs that put right what it was behind the others."""
    named = set(outcome.causes)
    return sorted(outcome.jobs, key=lambda job: bool(named & set(expansion.cures.get(job, ()))))


def make_entry(knowledge: Knowledge, case: Case, person: str = "", with_words: bool = False) -> Entry:
    """Make the entry of a case that has an outcome: without its owner, and without free words unless they are asked for."""
    outcome = case.outcome
    assert outcome is not None and outcome.id, "it was closed"
    unit = compile_unit(knowledge, case.vehicle)
    expansion, causes = unit.expansion, outcome.causes
    records = [expansion.causes.get(cause) for cause in causes]
    templates = [cause if known is None else known.template for cause, known in zip(causes, records, strict=True)]
    before = case.without_last(outcome.jobs)
    try:
        believed = _believe(compile_case(unit, before))
    except ImpossibleEvidence:
        believed = {}
    named = case.unit if case.unit in knowledge.sheets else unit.sheet.id  # the path of an own sheet says who keeps it
    kept = replace(case, unit=named, outcome=None, asked=())
    kept = kept if with_words else replace(kept, said=(), note="", shop="")
    return Entry(
        outcome.id,
        outcome.closed_on,
        render_case_as_json(kept),
        unit=named,
        area=knowledge.causes[templates[0]].area if templates else "",
        causes=causes,
        templates=tuple(templates),
        cause_labels=tuple(label_cause(knowledge, expansion, cause) for cause in causes),
        confirmed=outcome.confirmed,
        corrections=outcome.jobs,
        job_labels=tuple(label_job(knowledge, expansion, job) for job in outcome.jobs),
        outcome=outcome.result,
        minutes=outcome.minutes,
        spent=outcome.spent,
        currency=knowledge.currency if outcome.spent is not None else "",
        comeback_km=outcome.after_km,
        odometer_km=case.odometer_km,
        person=person.strip(),
        told=_tell_complaint(case, expansion),
        **believed,
    )


def _tell_complaint(case: Case, expansion: Expansion) -> str:
    """Say what a vehicle came with in one line; where nothing is called a complaint, what it showed."""
    answers = {name: answer.grade for name, answer in case.findings.items() if name in expansion.findings}
    shown = {name: grade for name, grade in answers.items() if grade != expansion.findings[name].grades[0]}
    return shorten(expansion.findings[name].label for name in case.complaint or shown if name in expansion.findings)


def _believe(compiled: CompiledCase) -> dict[str, Any]:
    """Give what was believed: the fields of an entry that say so.

    Of every area and of every cause as the rules write it that it is at work; and of the causes once more for a vehicle that
    has one of them, by the rules alone, with the signs that say so: what it looked like.
    """
    written = np.array([compiled.expansion.causes[cause].template for cause in compiled.causes])
    single = compiled.prepared.single.posterior(compiled.evidence)[0][1:]
    beliefs, alone = {}, {}
    for template in dict.fromkeys(written.tolist()):
        outside = compiled.faults.spread_over_states((written != template).astype(float))
        beliefs[template] = min(max(float(compiled.faults_now @ (1 - outside)), 0.0), 1.0)
        alone[template] = min(float(single[written == template].sum() / single.sum()), 1.0)
    return {
        "signs": {one.finding: one.grade for one in compiled.answers if one.finding in compiled.evidence},
        "areas": {one.area: round(one.probability, _DIGITS) for one in rank_areas(compiled)},
        "beliefs": _keep(beliefs, P_WORTH_KEEPING),
        "alone": _keep(alone, P_ALIKE_WORTH_KEEPING),
    }


def _keep(beliefs: Mapping[str, float], least: float) -> dict[str, float]:
    likely = sorted(beliefs.items(), key=lambda item: -item[1])
    return {name: round(p, _DIGITS) for name, p in likely if p >= least}


def close_file(
    knowledge: Knowledge,
    path: Path,
    told: EndTold,
    book: "Casebook",
    *,
    person: str = "",
    with_words: bool = False,
    today: datetime.date | None = None,
) -> Closing:
    """Close the case of a file: first into the file, then into the casebook; a second time completes or amends it.

    Raises: CaseError: every problem of the case. UsageProblem: what is told does not go together. ShiftloreError: another
        program has the case open; it was filed as another vehicle's, or forgotten.
    """
    with hold_file(path):
        file = CaseFile(path, lambda text: read_case(text, list_known(knowledge, peek_vehicle(text, path)), path))
        case = file.open()
        if case is None:
            raise UsageProblem(f"There is no case {printable(str(path))}.")
        outcome = merge_end(told, case.outcome, today or datetime.date.today())
        expansion = compile_unit(knowledge, case.vehicle).expansion
        _require_jobs(outcome, knowledge, expansion)
        closed = note_end(case, outcome, expansion)
        entry = make_entry(knowledge, closed, person, with_words)
        filed = book.find(entry.id)
        if filed is not None:
            require_same_vehicle(filed, entry)
        file.save(closed)
    try:
        is_changed = book.amend(entry)
    except CasebookError as error:
        if type(error) is not CasebookError:  # it was forgotten on purpose
            raise
        raise CasebookError(f"{error} {_IN_FILE_ALONE}") from error
    return Closing(closed, entry, filed is None, is_changed)


def _require_jobs(outcome: Outcome, knowledge: Knowledge, expansion: Expansion) -> None:
    wrong: Sequence[str] = [job for job in outcome.jobs if job not in knowledge.jobs and job not in expansion.jobs]
    if wrong:
        raise UsageProblem(
            f"{printable(wrong[0])} is no job. Name a job that was done, such as those of `shiftlore next`."
        )


def require_same_vehicle(filed: Entry, entry: Entry) -> None:
    """Refuse a case that carries the id of another vehicle's, as a copied file does.

    Raises: ShiftloreError: says what to take out.
    """
    before, now = ({*one.complaint} for one in (filed, entry))
    if filed.unit != entry.unit or (before and now and not before & now):
        raise ShiftloreError(
            f"The casebook has another vehicle under the id of this case ({filed.unit}, closed on {filed.closed_on}). If the "
            "file is a copy, take id out of its outcome, and close it again."
        )
