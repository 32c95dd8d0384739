"""What the vehicle has, such as a cable or a sensor for the load: how surely, and what is then worth doing or asking.

What nobody told is guessed (`priors.list_lived`), and the causes tell of it in turn: what is broken is there.
"""

from collections.abc import Iterable, Mapping
from typing import TypeVar

import numpy as np

from shiftlore.compiling.compiled import CompiledCase
from shiftlore.compiling.priors import may_have
from shiftlore.exact import FloatArray
from shiftlore.knowledge import Background, Check, Job

LEAST_FIT = 0.075
"""Chance below which nothing is done that is for a vehicle that has something else (judgement)."""
SURE_TO_FIT = 0.8
"""Chance beyond which what the vehicle must have for a check or a job is not asked for first (judgement)."""
Fitted = TypeVar("Fitted", Check, Job)


def keep_fitting(compiled: CompiledCase, records: Mapping[str, Fitted]) -> dict[str, Fitted]:
    """Leave out the checks or jobs that are for a vehicle with something else than this most likely has."""
    return {key: one for key, one in records.items() if chance_of_fit(compiled, one) >= LEAST_FIT}


def chance_of_fit(compiled: CompiledCase, record: Check | Job) -> float:
    """Give the chance that the vehicle has what a check or job is for; 1 where it is for any."""
    had = _foresee_fits(compiled) if record.scope.fits else {}
    return min((had[name][answer] for name, answer in record.scope.fits), default=1.0)


def _foresee_fits(compiled: CompiledCase) -> Mapping[str, Mapping[str, float]]:
    """Give how likely each answer is of all that some check or job must fit: every one of them is asked after."""
    if _foresee_fits not in compiled.worked_out:
        records, expansion = compiled.knowledge.backgrounds, compiled.expansion
        all_of_unit: list[Check | Job] = [*expansion.checks.values(), *expansion.jobs.values()]
        meant = {name for one in all_of_unit for name, _ in one.scope.fits}
        compiled.worked_out[_foresee_fits] = {name: foresee_answers(compiled, records[name])[0] for name in meant}
    had: Mapping[str, Mapping[str, float]] = compiled.worked_out[_foresee_fits]
    return had


def foresee_answers(compiled: CompiledCase, record: Background) -> tuple[dict[str, float], FloatArray]:
    """Give how likely each answer of a background is by all that is known, and P(answer | root state), shape (k, n_states).

    Source: Bayes' rule; the hazard ratios of a cause are those of vehicles with each answer.
    """
    chances: Mapping[str, float] = {**dict.fromkeys(record.shares, 0.0), **compiled.lived.get(record.id, record.shares)}
    ratios = np.ones((len(chances), len(compiled.causes)))
    place = {answer: i for i, answer in enumerate(chances)}
    for column, cause in enumerate(compiled.causes):
        for one in compiled.expansion.causes[cause].cause.raised_by:
            if one.background == record.id:
                ratios[place[one.grade], column] = one.ratio
    joint = np.array([*chances.values()])[:, None] * compiled.faults.spread_over_states(ratios)
    table: FloatArray = joint / joint.sum(axis=0)
    return dict(zip(chances, (table @ compiled.faults_now).tolist(), strict=True)), table


def list_open_lives(compiled: CompiledCase) -> list[Background]:
    """List what is asked alone, where it would tell: what the unit may have either way, and nobody told or was asked."""
    case, knowledge = compiled.case, compiled.knowledge
    closed = {*case.background, *case.asked}
    return [
        one
        for one in knowledge.backgrounds.values()
        if one.guessed and one.id not in closed and may_have(knowledge, case, one)
    ]


def list_asked_first(compiled: CompiledCase, proposed: Iterable[Check | Job]) -> list[Background]:
    """List what is asked before what is for a vehicle with a turbocharger, a cable, a module is done: it costs nothing."""
    meant = {name for one in proposed if chance_of_fit(compiled, one) < SURE_TO_FIT for name, _ in one.scope.fits}
    return [one for one in list_open_lives(compiled) if one.id in meant]
