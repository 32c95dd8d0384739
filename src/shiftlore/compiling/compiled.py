"""The bridge in use: a case compiled on top of its unit, ready to be asked about causes."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from shiftlore.basics import ImpossibleEvidence
from shiftlore.basics.structs import Value
from shiftlore.cases import NOT_CURED, Case
from shiftlore.compiling.aftermath import Aftermath, JobDone, add_found, list_tried, list_works, weigh_work
from shiftlore.compiling.compiled_units import CompiledUnit, Prepared
from shiftlore.compiling.contradictions import join_parts
from shiftlore.compiling.evidence import (
    Observation,
    Told,
    as_told,
    drop_implied,
    fill_in_answers,
    list_told,
    read_either,
    resolve_answers,
    tie_conditions,
)
from shiftlore.compiling.expansion import TOLD, Expansion
from shiftlore.compiling.faults import Chances, Faults, list_likeliest
from shiftlore.compiling.lessons import choose_lessons, choose_trust, lean, list_features
from shiftlore.compiling.opening import OpenedFaults, open_faults
from shiftlore.compiling.priors import (
    Lived,
    background_factor,
    list_lived,
)
from shiftlore.exact import Doubted, Evidence, HubEngine, PairBounds
from shiftlore.knowledge import Knowledge

if TYPE_CHECKING:
    from shiftlore.network import Network


class CompiledCase(Value, frozen=True, eq=False, dict=True):
    """One case as tables and evidence.

    Args:
        prepared: what its distance and background make of the unit.
        opened: the sets of causes that are worked out one by one for these answers.
        answers: as given, codes resolved, before macros are filled in.
        evidence: finding -> grade index or likelihood vector, macros filled in; of the state before any work.
        unused: keys of the case that carry no weight on this unit (codes of parts that it has not).
        works: jobs done, with what came of them and was found after them.
        leaned: factor by which published repairs lean each cause, shape (n_causes,); None where they do not.
    """

    unit: CompiledUnit
    case: Case
    prepared: Prepared
    opened: OpenedFaults
    answers: tuple[Observation, ...]
    evidence: Mapping[str, int | Doubted]
    unused: tuple[str, ...]
    works: tuple[JobDone, ...] = ()
    leaned: np.ndarray | None = None

    @property
    def faults(self) -> Faults:
        """The sets of causes that are worked out one by one."""
        return self.opened.faults

    @property
    def engine(self) -> HubEngine:
        """Likelihoods for these faults."""
        return self.opened.engine

    @property
    def left_out(self) -> float:
        """The most probability that sets of causes not worked out can hold."""
        return self.opened.left_out

    @property
    def expansion(self) -> Expansion:
        """The rules written out for the case's unit."""
        return self.unit.expansion

    @property
    def knowledge(self) -> Knowledge:
        """The knowledge that the case is judged by."""
        return self.unit.knowledge

    @property
    def causes(self) -> tuple[str, ...]:
        """Expanded cause ids, in the order of every array over causes."""
        return self.faults.causes

    @cached_property
    def network(self) -> "Network":
        """The case's network, built when somebody asks for it: to check it, to hand it on, to draw vehicles."""
        from shiftlore.compiling.exporting import assemble_network

        return assemble_network(self.engine.tables, self.expansion)

    @cached_property
    def worked_out(self) -> dict[Any, Any]:
        """Keep what is worked out of this case elsewhere and needed again, by what worked it out."""
        return {}

    @cached_property
    def lived(self) -> Lived:
        """What the case knows of the vehicle's life."""
        return list_lived(self.knowledge, self.case)

    @cached_property
    def tried(self) -> tuple[JobDone, ...]:
        """List what was done in vain before, on this visit or as its life tells: the same again cures little of it."""
        return (*self.works, *list_tried(self.lived, self.expansion, self.knowledge))

    def without_life(self, name: str) -> np.ndarray:
        """Give what taking one background back makes of each root state's prior, a factor of shape (n_states,)."""
        records, backgrounds = self.expansion.causes, self.knowledge.backgrounds
        told = {name: self.lived[name]}
        return self._without(
            np.array([background_factor(records[key].cause.raised_by, told, backgrounds) for key in self.causes])
        )

    @cached_property
    def chances(self) -> Chances:
        """The chance of every set of causes, as published repairs lean it."""
        return _lean_chances(self.prepared, self.leaned)

    def without_lessons(self) -> np.ndarray | None:
        """Give what leaving out what published repairs taught makes of each root state's prior; None where they say nothing."""
        return None if self.leaned is None else self._without(self.leaned)

    def _without(self, factors: np.ndarray) -> np.ndarray:
        weights = self.chances.weights / factors
        return self.faults.spread_over_states(1.0 / factors / weights.sum())

    @cached_property
    def p_faults(self) -> np.ndarray:
        """P(root state | answers), shape (n_states,).

        Raises: ImpossibleEvidence: the answers cannot all be true.
        """
        return self.opened.posterior(self.evidence)[0]

    @property
    def is_exact(self) -> bool:
        """Tell whether the answers could be summed exactly, without bounds."""
        return self.opened.is_worked_out(self.evidence) or self.engine.stand(self.evidence).exact

    def sum_over_areas(self, p_faults: np.ndarray) -> np.ndarray:
        """Add root states up to areas: P(at least one cause of the area), in the rules' order, shape (n_areas,)."""
        return self.faults.sum_over_groups(p_faults, self.unit.area_places, len(self.knowledge.areas))

    @cached_property
    def p_causes(self) -> np.ndarray:
        """P(cause present | answers), shape (n_causes,)."""
        return self.faults.sum_over_causes(self.p_faults)

    @property
    def jobs_done(self) -> tuple[str, ...]:
        """Expanded jobs that were done; a template in the case stands for all of its instances."""
        return tuple(job for work in self.works for job in work.jobs)

    @cached_property
    def aftermath(self) -> Aftermath:
        """What the work that was done makes of the belief before it."""
        came_with = self.case.complaint or self._told_by_owner()
        complaint = {key: self.evidence[key] for key in came_with if key in self.evidence}
        destroyers = self.unit.destroyers if self.works else np.zeros((0, 0))
        return Aftermath(
            self.works, self.faults, self.engine, before=self.evidence, complaint=complaint, destroyers=destroyers
        )

    def _told_by_owner(self) -> tuple[str, ...]:
        sound = {
            answer.finding
            for answer in self.answers
            if answer.grade == self.expansion.findings[answer.finding].grades[0]
        }
        records = self.expansion.finding_records
        told = (answer.finding for answer in self.answers if answer.finding not in sound)
        return tuple(key for key in told if records[key].got_by in TOLD and records[key].speaks_of is None)

    @property
    def closed(self) -> tuple[str, str] | None:
        """Give the job that cured the vehicle and its label; None while the case is open."""
        job = self.aftermath.closed_by if self.works else ""
        return (job, self.expansion.name_job(self.works[-1].jobs[0])) if job else None

    @cached_property
    def known(self) -> Mapping[str, int | Doubted]:
        """All that was found, before work and after it, as evidence."""
        return {**self.evidence, **self.aftermath.after}

    @cached_property
    def told(self) -> frozenset[str]:
        """Name the findings that are answered, those too that others say already."""
        return frozenset((*self.known, *(answer.finding for answer in self.all_answers)))

    @cached_property
    def telling(self) -> frozenset[str]:
        """Name the findings that are told to be not sound, or that others say to be."""
        nodes, known = self.expansion.findings, self.known.items()
        read = [sign for sign, state in known if (state.grade if isinstance(state, Doubted) else state)]
        given = [one.finding for one in self.all_answers if one.grade != nodes[one.finding].grades[0]]
        return frozenset((*read, *given))

    @property
    def all_answers(self) -> tuple[Observation, ...]:
        """Answers as given, those after work too; of one finding the later one."""
        joined = {answer.finding: answer for answer in self.answers}
        return tuple((joined | {answer.finding: answer for work in self.works for answer in work.answers}).values())

    @cached_property
    def faults_now(self) -> np.ndarray:
        """P(root state now | all answers, and what came of the work), shape (n_states,); once cured, of what it was."""
        return self.carry_over(self.p_faults)

    @cached_property
    def causes_now(self) -> np.ndarray:
        """P(cause present now | all answers, and what came of the work), shape (n_causes,)."""
        return self.faults.sum_over_causes(self.faults_now)

    def judge_now(self, p_faults: np.ndarray) -> np.ndarray:
        """Turn P(root state before work | answers) into P(cause present now), shape (..., n_causes)."""
        return self.faults.sum_over_causes(self.carry_over(p_faults))

    def carry_over(self, p_faults: np.ndarray) -> np.ndarray:
        """Turn P(root state before work | answers) into P(root state now), shape (..., n_states); see `aftermath`.

        Raises: ImpossibleEvidence: the jobs would have put right all that could be wrong.
        """
        if not self.works:
            return p_faults
        left = self.weigh_left(p_faults)
        total = left.sum(axis=-1, keepdims=True)
        if np.any(total <= 0.0):
            raise ImpossibleEvidence(self.jobs_done)
        return left / total

    def weigh_left(self, weights: np.ndarray) -> np.ndarray:
        """Weigh root states by what the work leaves of them, shape (..., n_states); a cure takes its weight away."""
        return np.add(*self.aftermath.turn(weights)) if self.works else weights

    def weigh_outcomes(self, predicted: np.ndarray) -> np.ndarray:
        """Give P(outcome, root state now | all answers) from what `predict_now` gives, shape (n_outcomes, n_states)."""
        if self.aftermath.is_watched:
            return predicted * self.faults_now
        return self.weigh_left(predicted * self.p_faults) / self.weigh_left(self.p_faults).sum()

    def predict_now(self, findings: Sequence[str]) -> dict[str, np.ndarray]:
        """Give P(grade | root state now, all answers) of open findings: finding -> shape (n_grades, n_states).

        Of a vehicle in which work changed something only what was found after it tells what will be found. It is kept, so ask
        for all at once: a finding more costs little.
        """
        new = [key for key in dict.fromkeys(findings) if key not in self._predicted]
        self._predicted.update(self._predict(new) if new else {})
        return {key: self._predicted[key] for key in findings}

    @cached_property
    def _predicted(self) -> dict[str, np.ndarray]:
        return {}

    def _predict(self, findings: Sequence[str]) -> dict[str, np.ndarray]:
        whole = self.engine.predict(self.known, findings)
        if not self.aftermath.is_watched:
            return whole
        untouched, changed = self.aftermath.turn(self.p_faults)
        share = np.where(untouched + changed > 0, untouched / np.maximum(untouched + changed, 1e-300), 1.0)
        fresh = self.engine.predict(self.aftermath.after, findings)
        return {key: table * share + fresh[key] * (1 - share) for key, table in whole.items()}

    def with_vain(self, jobs: tuple[str, ...]) -> "CompiledCase":
        """Give the same case once jobs were done in one go and did not cure it, as when that is recorded."""
        name = "+".join(jobs)
        work = weigh_work(self.works, jobs, self.expansion, self.knowledge, name=name, result=NOT_CURED)
        return self.vary(works=(*self.works, work))

    @cached_property
    def settled(self) -> frozenset[str]:
        """Name the findings that are told, and those that a sure no says of which it asks in general."""
        expansion = self.expansion
        denied = (
            part
            for answer in self.all_answers
            if answer.p_right >= 1 and answer.grade == expansion.findings[answer.finding].grades[0]
            for name in expansion.finding_records[answer.finding].general_of
            for part in expansion.of_template.get(name, ())
        )
        return self.told | {*denied}

    def open_findings(self) -> tuple[str, ...]:
        """List the findings that are not answered yet."""
        return tuple(key for key in self.expansion.findings if key not in self.told)

    def with_answers(self, more: Iterable[Observation]) -> "CompiledCase":
        """Give the same case with more (or changed) answers; faults and engine are kept.

        Once a job was in vain they are of the state after it.
        """
        if self.aftermath.is_watched:
            added = tuple(more)
            found = _read_evidence(self.unit, self.prepared, added)
            return self.vary(works=add_found(self.works, found, added))
        joined = {answer.finding: answer for answer in (*self.answers, *more)}
        return self._answered(tuple(joined.values()))

    def with_evidence(self, more: Evidence) -> "CompiledCase":
        """Give the same case with more evidence, as `with_answers`, but nothing is filled in."""
        if self.aftermath.is_watched:
            return self.vary(works=add_found(self.works, more))
        return self.vary(evidence={**self.evidence, **more})

    def held_by(self, finding: str) -> tuple[str, ...]:
        """List what goes when one answer is taken back: its finding, and what it alone stands for."""
        record = self.expansion.finding_records[finding]
        if not record.stands_for and all(record.id not in one.denied_by for one in self.expansion.denied.values()):
            return (finding,) if finding in self.evidence else ()
        left = tuple(answer for answer in self.answers if answer.finding != finding)
        kept = {answer.finding for answer in fill_in_answers(self.expansion, left, self.case.done_ids)}
        return tuple(key for key in self.evidence if key not in kept)

    def _answered(self, answers: tuple[Observation, ...]) -> "CompiledCase":
        evidence = _read_evidence(self.unit, self.prepared, answers, self.case.done_ids)
        return self.vary(answers=answers, evidence=evidence)


def compile_case(unit: CompiledUnit, case: Case) -> CompiledCase:
    """Turn a case into evidence, the faults that matter for it, and an engine, on a compiled unit.

    Raises: ImpossibleEvidence: no cause allows all of the answers; names the clash.
    """
    case = replace(case, access=case.access or unit.knowledge.unopened).as_milder(unit.knowledge.words.milder)
    unit, prepared, answers, evidence, unused = _read_case(unit, case)
    bounds = prepared.ground.bound(evidence) if evidence else None
    leaned = None if bounds is None else _lean(unit, prepared, case, answers, bounds)
    opened = open_faults(_lean_chances(prepared, leaned), prepared.ground.engine, bounds)
    works, more = _read_works(unit, prepared, case)
    return CompiledCase(
        unit,
        case,
        prepared,
        opened,
        answers=answers,
        evidence=evidence,
        unused=(*unused, *more),
        works=works,
        leaned=leaned,
    )


def _lean(
    unit: CompiledUnit, prepared: Prepared, case: Case, answers: tuple[Observation, ...], bounds: PairBounds
) -> np.ndarray | None:
    """Give how much likelier published repairs make each cause; None where nothing was learned."""
    lessons = choose_lessons(unit.knowledge)
    if lessons is None:
        return None
    said = list_features(unit.expansion, unit.sheet, case, answers)
    p_causes = bounds.alone[bounds.sums.kind[1:]] * prepared.chances.weights
    return lean(lessons, unit.places_of(lessons), said, p_causes, choose_trust(unit.expansion, answers))


def single_evidence(unit: CompiledUnit, case: Case) -> tuple[CompiledUnit, Prepared, Evidence]:
    """Give what a case says to single causes, before faults are opened: the unit with its own signs, and evidence."""
    unit, prepared, _, evidence, _ = _read_case(unit, case)
    return unit, prepared, evidence


def _read_case(
    unit: CompiledUnit, case: Case
) -> tuple[CompiledUnit, Prepared, tuple[Observation, ...], dict[str, int | Doubted], tuple[str, ...]]:
    """Read the answers of a case, on the unit with the case's own signs; and name what carries no weight."""
    answers, unused = read_answers(unit, case)
    unit, answers, more_unused = _add_signs(unit, case, answers)
    prepared = unit.prepare(case)
    return unit, prepared, answers, _read_evidence(unit, prepared, answers, case.done_ids), (*unused, *more_unused)


def _lean_chances(prepared: Prepared, leaned: np.ndarray | None) -> Chances:
    return prepared.chances if leaned is None else prepared.chances.lean(leaned)


def _add_signs(
    unit: CompiledUnit, case: Case, answers: tuple[Observation, ...]
) -> tuple[CompiledUnit, tuple[Observation, ...], tuple[str, ...]]:
    """Add the signs that this case alone has: one of several answers, and conditions of single findings."""
    said = [answer for answer in case.findings.values() if answer.when]
    if not case.either and not said:
        return unit, answers, ()
    knowledge, told = unit.knowledge, {answer.finding: answer for answer in answers}
    lived, groups = list_lived(knowledge, case), []
    unused: list[str] = []
    for group in case.either:
        if all(one.finding not in knowledge.backgrounds for one in group):
            members = [_resolve(unit, [as_told(one)]) for one in group]
            groups.append(tuple({(one.finding, one.grade): one for found, _ in members for one in found}.values()))
            unused += [key for _, left in members for key in left]
    either, alone = read_either(unit.expansion, groups, told, lived, knowledge.backgrounds)
    told |= {one.finding: one for one in alone}
    whens: dict[str, list[Observation]] = {}
    for answer in said:
        found, _ = _resolve(unit, [as_told(answer)])
        for condition in answer.when:
            whens.setdefault(condition, []).extend(found)
    tied = tie_conditions(unit.expansion, whens, told, lived, knowledge.backgrounds)
    signs = (*either, *tied)
    return unit.with_signs(signs), (*told.values(), *(sign.answer for sign in signs)), tuple(unused)


def compile_beforehand(unit: CompiledUnit, case: Case) -> CompiledCase:
    """Compile a case without its answers, on the pairs that are likeliest before anything was seen."""
    case = replace(case, access=case.access or unit.knowledge.unopened)
    prepared = unit.prepare(case)
    opened = OpenedFaults(list_likeliest(prepared.chances), prepared.single)
    return CompiledCase(unit, case, prepared, opened, answers=(), evidence={}, unused=())


def query_with_pgmpy(compiled: CompiledCase) -> np.ndarray:
    """Recompute P(root state | answers) with pgmpy, in the order of the case's faults, shape (n_states,)."""
    from shiftlore.compiling.exporting import assemble_network, eliminate_variables

    network = assemble_network(compiled.engine.tables, compiled.expansion, compiled.evidence)
    return eliminate_variables(network, compiled.evidence, compiled.faults.names)


def _read_evidence(
    unit: CompiledUnit, prepared: Prepared, answers: tuple[Observation, ...], done: Iterable[str] = ()
) -> dict[str, int | Doubted]:
    told = drop_implied(unit.expansion, fill_in_answers(unit.expansion, answers, done))
    return evidence_of(unit.expansion, told, prepared.how_often)


def _read_works(unit: CompiledUnit, prepared: Prepared, case: Case) -> tuple[tuple[JobDone, ...], tuple[str, ...]]:
    """List the jobs that were done with what was found after each; and the keys that carry no weight."""
    known, made, unused = unit.expansion.job_templates, list[JobDone](), list[str]()
    jobs = [item for item in case.done if item.id in {*known, *known.values()}]
    for item, work in zip(jobs, list_works(jobs, unit.expansion, unit.knowledge), strict=True):
        answers, left = _resolve(unit, map(as_told, item.found_after.values()))
        unused += left
        made.append(work.vary(answers=answers, found=_read_evidence(unit, prepared, answers)))
    return tuple(made), tuple(unused)


def read_answers(unit: CompiledUnit, case: Case) -> tuple[tuple[Observation, ...], tuple[str, ...]]:
    """Resolve the keys of a case: complaints are yes answers, codes become findings.

    Returns: the answers, the later of two to one finding winning; and the keys that carry no weight.
    """
    return _resolve(unit, list_told(unit.expansion, case, unit.dials.read(case)))


def _resolve(unit: CompiledUnit, told: Iterable[Told]) -> tuple[tuple[Observation, ...], tuple[str, ...]]:
    found, unused = resolve_answers(unit.expansion, unit.aliases, unit.knowledge.words.doubts, told)
    return join_parts(unit.expansion, unit.wholes, found), unused


def evidence_of(
    expansion: Expansion, answers: Iterable[Observation], how_often: Callable[[str, int], float]
) -> dict[str, int | Doubted]:
    """Give evidence for the engine: a grade's position where sure, doubt where it is doubted.

    Args:
        how_often: P(a finding reaches a grade) among vehicles of the unit of which nothing else is known.
    """
    evidence: dict[str, int | Doubted] = {}
    for answer in answers:
        position = expansion.findings[answer.finding].grades.index(answer.grade)
        if answer.p_right >= 1:
            evidence[answer.finding] = position
        else:
            rarity = how_often(answer.finding, position) if position else 0.5
            evidence[answer.finding] = doubt_answer(position, answer.p_right, rarity)
    return evidence


def doubt_answer(grade: int, p_right: float, p_sign: float) -> Doubted:
    """Turn doubt into likelihoods that follow how rare the sign is.

    "I think so" is right in `p_right` of all times that it is said of a sign. So of a rare sign it is hardly ever said
    where the sign is not there: the words are (1 - p_right) / p_right as often wrong as right, and those that are wrong
    are spread over all vehicles without the sign. Of a common sign they are never likelier wrong than of an even one.
    "I think not" overlooks the same part, whatever the sign.
    Args:
        grade: position of the grade that is named; 0 is the sound one.
        p_right: how often such words are right, above 0.5, below 1.
        p_sign: P(the grade is reached) among all vehicles.
    Source: Bayes' rule; [MY], [K] in words.yaml for `p_right`.
    Example:
        >>> round(doubt_answer(1, 0.8, 0.5).imagined, 6)
        0.25
        >>> round(doubt_answer(1, 0.8, 0.01).imagined, 6)
        0.002525
    """
    wrong = (1 - p_right) / p_right
    odds = p_sign / max(1 - p_sign, 1e-9)
    return Doubted(grade, imagined=wrong * min(1.0, odds) if grade else 0.0, overlooked=wrong)
