"""Rank the causes of one case: how probable, how sure of it, and what speaks for and against each.

What is ranked is the probability that a cause is present in a vehicle that was brought in. By definition a cause is
a fault bad enough to bring a vehicle in; a vehicle has one such fault, any two, or three that explain the case together (see
`compiling.faults`), so "present" and "at work on the complaint" are the same here.
"""

import math
import time
from collections.abc import Mapping

import numpy as np

from shiftlore.basics.quantities import kind_of, to_base
from shiftlore.basics.structs import Value
from shiftlore.cases import CAME_BACK, CURED, NOT_CURED
from shiftlore.compiling import CompiledCase, Observation, list_clashes, query_with_pgmpy
from shiftlore.compiling.gates import SMALLEST_SHAPE, build_tables, draw_tables, gather_gates
from shiftlore.compiling.priors import list_lived
from shiftlore.exact import HubEngine, normalise, pad_sets, take_sets
from shiftlore.ranking.dangers import tell_danger, tell_first

N_DRAWS = 40
"""Draws from the spreads; enough to place the 5th and 95th percentile to about a third of a standard deviation."""
DRAW_SEED = 20_110_706
LOW_PERCENT, HIGH_PERCENT = 5, 95
SUPPOSED = "guessed by what else is told"
"""Said of what nobody told of a vehicle's life."""
MOST_DRAWN, FEWEST_DRAWN = 96, 8
"""Root states, the likeliest first, of which the likelihoods are drawn; of the others only the base rates are."""
DRAWN_NUMBERS = 3000
"""Answers times root states that are drawn at most: with very many answers, or in a hard case, fewer states are."""
DRAW_WORK = 1 << 8
"""Work of the answers up to which draws are summed exactly; beyond, telling answers are bounded as in a hard case."""


def draw_faults(compiled: CompiledCase, rng: np.random.Generator, n_draws: int) -> np.ndarray:
    """Give P(root state | answers) under each of `n_draws` draws of the rules' numbers, shape (n_draws, n_states).

    A draw moves the exact likelihood by as much as it moves the one that is worked out with less work.
    """
    unit, faults, evidence = compiled.unit, compiled.faults, compiled.evidence
    priors = _draw_priors(compiled, rng, n_draws)
    log_p = np.log(np.maximum(priors, 1e-300)) + compiled.engine.weigh(evidence)
    if evidence:
        hard = not compiled.engine.stand(evidence).exact
        n_drawn = FEWEST_DRAWN if hard else min(MOST_DRAWN, max(FEWEST_DRAWN, DRAWN_NUMBERS // len(evidence)))
        columns = np.sort(np.argsort(-compiled.p_faults, kind="stable")[:n_drawn])
        members = [faults.members[i] for i in columns.tolist()]
        causes = sorted({cause for member in members for cause in member})
        place = {cause: i + 1 for i, cause in enumerate(causes)}
        names = ("", *(faults.causes[cause] for cause in causes))
        arrays = gather_gates(compiled.expansion, tuple(evidence), names[1:])
        sets = pad_sets([tuple(place[cause] for cause in member) for member in members])
        lived, backgrounds = list_lived(unit.knowledge, compiled.case), unit.knowledge.backgrounds
        drawn = draw_tables(arrays, lived, backgrounds, names, rng=rng, n_draws=n_draws)
        means = build_tables(arrays, lived, backgrounds, np.full(len(names), 1 / len(names)), names)
        log_mean = HubEngine(take_sets(means, sets, evidence), DRAW_WORK * len(columns), 0).weigh(evidence)
        beside = HubEngine(take_sets(drawn, sets, evidence), DRAW_WORK * len(columns) * n_draws, 0)
        log_p[:, columns] += beside.weigh(evidence).reshape(n_draws, -1) - log_mean
    log_p = np.nan_to_num(log_p, nan=-np.inf)
    p = np.exp(log_p - log_p.max(axis=1, keepdims=True))
    return p / p.sum(axis=1, keepdims=True)


def _draw_priors(compiled: CompiledCase, rng: np.random.Generator, n_draws: int) -> np.ndarray:
    """Draw base rates as gamma variables around their means; sets follow their causes, shape (n_draws, n_states)."""
    hits = np.array([max(compiled.expansion.causes[cause].share_weight, SMALLEST_SHAPE) for cause in compiled.causes])
    factors = rng.gamma(hits, 1 / hits, size=(n_draws, len(hits)))
    priors = compiled.faults.prior * compiled.faults.spread_over_states(factors)
    return priors / priors.sum(axis=1, keepdims=True)


def draw_spread(compiled: CompiledCase, n_draws: int = N_DRAWS) -> tuple[np.ndarray, np.ndarray]:
    """Give the 5th and 95th percentile of each cause's probability, shape (n_causes,) each.

    The draws are always the same, so that a case is always ranked the same.
    """
    rng = np.random.default_rng(DRAW_SEED)
    drawn = compiled.judge_now(draw_faults(compiled, rng, n_draws))
    return measure_spread(drawn)


def measure_spread(drawn: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Give the 5th and 95th percentile of draws, which lie along the first axis.

    To the bit what numpy's `percentile` gives, which takes 10 ms more: it loads masked arrays on its way.
    """
    ordered, found = np.sort(drawn, axis=0), []
    for percent in (LOW_PERCENT, HIGH_PERCENT):
        place = (len(drawn) - 1) * (percent / 100)
        below, above = ordered[math.floor(place)], ordered[math.ceil(place)]
        part = place - math.floor(place)
        found.append(above - (above - below) * (1 - part) if part >= 0.5 else below + (above - below) * part)
    return found[0], found[1]


SMALLEST_DECIBANS = 0.5
"""Half a deciban is about the smallest change of belief that a person notices (Good 1950)."""
P_FLOOR = 1e-15
MOST_SETS, SET_WORTH_NAMING = 3, 0.05
"""Sets of causes that are named, and how probable one must be (judgement)."""
LESSONS = ("published_repairs", "Published repairs with such answers")
CAME_OF_IT = {"": "done", CURED: "cured it", NOT_CURED: "did not cure it", CAME_BACK: "helped for a while"}
LEFT_WORTH_TELLING = 0.1
"""What was left out is told in words from here on (judgement); the figure is always given."""


class Reason(Value, frozen=True):
    """An answer, something of the vehicle's life, or what came of a job, and its weight of evidence for a cause.

    Args:
        finding: id of the finding, the background or the job.
        decibans: 10 log10 of the odds ratio (Good 1950). Signs that say the same share what they say: it is halfway between
            what the answer tells by itself and what it adds to all the others.
    """

    finding: str
    label: str
    decibans: float


class RankedCause(Value, frozen=True):
    """A cause with its probability, its spread (5th and 95th percentile), and what speaks for and against it."""

    id: str
    label: str
    area: str
    probability: float
    low: float
    high: float
    speaks_for: tuple[Reason, ...]
    speaks_against: tuple[Reason, ...]


class RankedArea(Value, frozen=True):
    """The probability that at least one cause of an area is at work."""

    area: str
    label: str
    probability: float


class RankedSet(Value, frozen=True):
    """Several causes that are at work together, with the probability that just these are."""

    causes: tuple[str, ...]
    labels: tuple[str, ...]
    probability: float


class Closed(Value, frozen=True):
    """A case is closed: the job that cured it."""

    job: str
    label: str


class Fit(Value, frozen=True):
    """How well the answers fit together: log10 of P(all) over the product of each alone.

    Args:
        left_out: the most probability that sets of causes not worked out, or an approximation, may hold; 0 where exact.
    """

    log10_odds: float
    note: str
    left_out: float


class Audit(Value, frozen=True):
    """What a general library makes of the same network and answers."""

    engine: str
    max_abs_difference: float
    causes: int
    seconds: float


class Apart(Value, frozen=True):
    """An answer that tells a case from one that looked like it.

    Args:
        label: of the finding; here, there: what was answered; `there` is None where nothing was told of it.
        decibans: how far the answer here speaks for (above 0) or against (below) what the other was.
    """

    finding: str
    label: str
    here: str
    there: str | None
    decibans: float


class AlikeCase(Value, frozen=True):
    """A case that looked like the one at hand: see `repairs.alike`.

    Args:
        source: `shop` or `published`.
        presented: in one line; cause: what it was, in words; causes: its ids, none where the rules have no such cause.
        likeness: probability that both have the same cause, each judged by itself, 0 to 1.
        factor_decibans: weight of evidence for one and the same cause against two strangers.
        shared: answers that both gave, those that speak most for what they have in common first.
        apart: what tells them apart, what speaks most against first.
    """

    source: str
    id: str
    presented: str
    cause: str
    area: str
    causes: tuple[str, ...]
    likeness: float
    factor_decibans: float
    shared: tuple[Reason, ...] = ()
    apart: tuple[Apart, ...] = ()


class Ranking(Value, frozen=True):
    """The whole ranking of one case, most probable first.

    Args:
        measured: what each number of the case says, in words.
        alike: earlier cases that looked alike, which the ranking itself does not look for (`repairs.find_alike`).
        danger: what goes before all else: that it should stand, what is done at once, what is set right first.
        closed: the job that cured it; the causes are then what it was. None while the case is open.
    """

    unit: str
    areas: tuple[RankedArea, ...]
    causes: tuple[RankedCause, ...]
    nothing_found: float
    fit: Fit
    seconds: float
    unused: tuple[str, ...] = ()
    audit: Audit | None = None
    together: tuple[RankedSet, ...] = ()
    closed: Closed | None = None
    measured: tuple[str, ...] = ()
    alike: tuple[AlikeCase, ...] = ()
    danger: str = ""


def rank_causes(compiled: CompiledCase, spread: bool = True, audit: bool = False) -> Ranking:
    """Rank all causes of a compiled case.

    Args:
        spread: whether to draw from the spreads of the strengths (else low = high = probability).
        audit: whether to recompute the leading causes with pgmpy.
    Raises: ImpossibleEvidence: the answers cannot all be true; names the clash.
    """
    started = time.perf_counter()
    p_present = compiled.causes_now
    low, high = draw_spread(compiled) if spread else (p_present, p_present)
    reasons = _weigh_answers(compiled)
    ranked = tuple(
        _rank_one(compiled, int(i), float(low[i]), float(high[i]), reasons)
        for i in np.argsort(-p_present, kind="stable")
    )
    nothing_found = float(compiled.faults_now[0])
    ranking = Ranking(
        unit=compiled.case.unit,
        areas=rank_areas(compiled),
        causes=ranked,
        nothing_found=nothing_found,
        fit=measure_fit(compiled),
        seconds=time.perf_counter() - started,
        unused=compiled.unused,
        together=_rank_sets(compiled),
        closed=Closed(*compiled.closed) if compiled.closed else None,
        measured=tell_measured(compiled),
        danger="" if compiled.closed else tell_first(compiled, tell_danger(compiled, helps=True)),
    )
    return ranking.vary(audit=audit_ranking(compiled, ranking)) if audit else ranking


def _rank_one(
    compiled: CompiledCase, position: int, low: float, high: float, reasons: Mapping[tuple[str, str], np.ndarray]
) -> RankedCause:
    cause = compiled.expansion.causes[compiled.causes[position]]
    p = float(compiled.causes_now[position])
    speaks_for, speaks_against = _split_reasons(reasons, position)
    return RankedCause(
        id=cause.id,
        label=cause.label,
        area=cause.area,
        probability=p,
        low=low,
        high=high,
        speaks_for=speaks_for,
        speaks_against=speaks_against,
    )


def log_odds(p: np.ndarray) -> np.ndarray:
    """Give ten times the decimal logarithm of the odds.

    Example:
        >>> round(float(log_odds(np.array(10 / 11))), 9)
        10.0
    """
    p = np.clip(p, P_FLOOR, 1 - P_FLOOR)
    return 10 * np.log10(p / (1 - p))


def _weigh_answers(compiled: CompiledCase) -> Mapping[tuple[str, str], np.ndarray]:
    """Weigh each answer, background and what came of each job for every cause: decibans, shape (n_causes,), by label.

    An answer that stands for others is taken back with all that it stands for. What came of a job is only taken back.
    """
    now, found = log_odds(compiled.causes_now), _weigh_life(compiled)
    without = compiled.without_lessons()
    if without is not None:
        taken_back = without * compiled.p_faults
        found[LESSONS] = now - log_odds(compiled.judge_now(taken_back / taken_back.sum()))
    if compiled.answers:
        groups = [compiled.held_by(answer.finding) for answer in compiled.answers]
        places = {finding: row for row, finding in enumerate(compiled.evidence)}
        with np.errstate(divide="ignore"):
            log_prior = np.log(compiled.faults.prior)
            log_joint = log_prior + compiled.engine.retract(compiled.evidence, groups)
            log_apart = np.log(compiled.engine.weigh_apart(compiled.evidence))
        before = log_odds(compiled.judge_now(compiled.faults.prior))
        for answer, group, row in zip(compiled.answers, groups, log_joint, strict=True):
            alone = log_prior + log_apart[[places[finding] for finding in group]].sum(axis=0)
            by_itself = log_odds(compiled.judge_now(normalise(alone)[0])) - before
            added = now - log_odds(compiled.judge_now(normalise(row)[0]))
            found[_name_reason(compiled, answer)] = (by_itself + added) / 2
    for i, work in enumerate(compiled.works):
        kept = (*compiled.works[:i], *compiled.works[i + 1 :])
        ways = {(work.id, f"{compiled.expansion.name_job(work.jobs[0])}: {CAME_OF_IT[work.result]}"): kept}
        for answer in work.answers:
            found_less = {key: value for key, value in work.found.items() if key != answer.finding}
            less = (*compiled.works[:i], work.vary(found=found_less), *compiled.works[i + 1 :])
            ways[_name_reason(compiled, answer)] = less
        for name, works in ways.items():
            found[name] = now - log_odds(compiled.vary(works=works).causes_now)
    return found


def _weigh_life(compiled: CompiledCase) -> dict[tuple[str, str], np.ndarray]:
    """Weigh what is known of the vehicle's life, for every cause: decibans, shape (n_causes,), by background and label.

    Only what it makes of the causes is taken back, not what little it makes of signs without any cause.
    """
    now, before = log_odds(compiled.causes_now), log_odds(compiled.judge_now(compiled.faults.prior))
    found = {}
    for name, answers in compiled.lived.items():
        taken_back = compiled.without_life(name)
        added = now - log_odds(compiled.judge_now(taken_back * compiled.p_faults / (taken_back @ compiled.p_faults)))
        by_itself = before - log_odds(compiled.judge_now(taken_back * compiled.faults.prior))
        record = compiled.knowledge.backgrounds[name]
        answer = max(answers, key=lambda grade: answers[grade])
        is_guessed = bool(record.guessed) and name not in compiled.case.background
        said = SUPPOSED if is_guessed else record.grade_labels.get(answer, answer)
        found[name, f"{record.label}: {said}"] = (by_itself + added) / 2
    return found


def _name_reason(compiled: CompiledCase, answer: Observation) -> tuple[str, str]:
    return answer.finding, compiled.expansion.name_answer(answer.finding, answer.grade)


def _split_reasons(
    weights: Mapping[tuple[str, str], np.ndarray], position: int
) -> tuple[tuple[Reason, ...], tuple[Reason, ...]]:
    """Sort the answers that matter for one cause into for and against, the weightiest first."""
    reasons = []
    for (key, label), row in weights.items():
        if abs(row[position]) >= SMALLEST_DECIBANS:
            reasons.append(Reason(key, label, float(row[position])))
    reasons.sort(key=lambda reason: -abs(reason.decibans))
    return (
        tuple(reason for reason in reasons if reason.decibans > 0),
        tuple(reason for reason in reasons if reason.decibans < 0),
    )


def tell_measured(compiled: CompiledCase) -> tuple[str, ...]:
    """Say what each measured number means: the answers that it gives, and which gear or slip makes a ratio."""
    found, dials = [], compiled.unit.dials
    for name, item in compiled.case.measured.items():
        graded = dials.grade(name, to_base(kind_of(item.unit), item.value, item.unit))
        says = [compiled.expansion.name_answer(finding, grade) for finding, grade in graded.items()]
        gauge = next((dial for dial in dials.by_name.get(name, ()) if dial.ratio is not None), None)
        if gauge is not None:
            says.append(_tell_ratio(compiled, item.value, name.removeprefix(f"{gauge.gauge.name}_")))
        said = f"{item.value:g}" if item.unit == kind_of(item.unit) else f"{item.value:g} {item.unit}"
        found.append(f"{name}, {said}: {'; '.join(says) or 'says nothing here, its limits are not known'}.")
    return tuple(found)


def _tell_ratio(compiled: CompiledCase, value: float, gear: str) -> str:
    """Say which gear has a ratio, or what slips where it was measured."""
    from shiftlore.gearing import describe_unit  # few cases have one

    sheet = compiled.unit.sheet
    name = next(name for name, line in sheet.gears.items() if line.id == gear)
    sign = -1.0 if sheet.gears[name].kind == "reverse" else 1.0
    match = describe_unit(sheet, ratio=sign * abs(value)).measured
    slips = [slip for slip in match.slips if slip.commanded == name] if match else []
    parts = " or ".join(sheet.elements[part].label for slip in slips for part in slip.elements)
    told = match.says.rstrip(".") if match else ""
    return f"{told.split(':')[0]}: {slips[0].slip_percent:.0f} % slip in gear {name}, of {parts}" if slips else told


def rank_areas(compiled: CompiledCase) -> tuple[RankedArea, ...]:
    """Give, per area, the probability that at least one of its causes is present."""
    areas = compiled.knowledge.areas.values()
    of_areas = compiled.sum_over_areas(compiled.faults_now)
    ranked = [RankedArea(area.id, area.label, p) for area, p in zip(areas, of_areas.tolist(), strict=True)]
    return tuple(sorted(ranked, key=lambda item: -item.probability))


def _rank_sets(compiled: CompiledCase) -> tuple[RankedSet, ...]:
    """List the sets of several causes that are worth naming."""
    first = len(compiled.causes) + 1
    causes, found = compiled.expansion.causes, []
    for i in np.argsort(-compiled.faults_now[first:], kind="stable")[:MOST_SETS].tolist():
        probability = float(compiled.faults_now[first + i])
        if probability >= SET_WORTH_NAMING:
            ids = tuple(compiled.causes[place] for place in compiled.faults.sets[i])
            found.append(RankedSet(ids, tuple(causes[key].label for key in ids), probability))
    return tuple(found)


def measure_odds(compiled: CompiledCase) -> float:
    """Measure how far the answers support each other, log10; 0 where there are none.

    Source: Jensen, Chamberlain, Nordahl, Jensen 1990, "Analysis in HUGIN of data conflict": the ratio of the product of
    the single probabilities to the joint one; here its negative logarithm. The single ones are taken over single causes, which
    hold nearly all of the chance before anything is seen.
    """
    if not compiled.evidence:
        return 0.0
    single, prior = compiled.opened.single, compiled.faults.prior[: len(compiled.causes) + 1]
    p_apart = single.weigh_apart(compiled.evidence) @ prior / prior.sum()
    alone = float(np.log(np.maximum(p_apart, P_FLOOR)).sum())
    return (compiled.opened.posterior(compiled.evidence)[1] - alone) / float(np.log(10))


def measure_fit(compiled: CompiledCase) -> Fit:
    """Measure whether the answers support each other, and say so."""
    if not compiled.evidence:
        return Fit(0.0, "No answers yet.", 0.0)
    log10_odds = measure_odds(compiled)
    if clash := _name_clash(compiled):
        note = f"Two answers do not go together: {clash}. Correct one of them."
    elif log10_odds >= 0:
        note = "The answers support each other."
    elif log10_odds > -1:
        note = "The answers neither support nor contradict each other."
    else:
        note = "The answers contradict each other: look for a wrong reading, or for two faults."
    left_out = measure_left_out(compiled)
    if not compiled.is_exact:
        note += (
            " Too many of them hang together to be worked out exactly: the figures lie between bounds, and may be off by up"
            f" to {left_out * 100:.0f} points."
        )
    elif left_out >= LEFT_WORTH_TELLING:
        note += f" Pairs of faults that were not worked out one by one may hold up to {left_out:.0%} of the chance."
    return Fit(log10_odds, note, left_out)


def _name_clash(compiled: CompiledCase) -> str:
    """Say the first two answers that cannot both be so; "" where there are none."""
    given = {one.finding: one.grade for one in compiled.all_answers}
    pairs = sorted(list_clashes(compiled.expansion, given))
    return ", and ".join(compiled.expansion.name_answer(one, given[one]) for one in pairs[0]) if pairs else ""


def measure_left_out(compiled: CompiledCase) -> float:
    """Give the most by which any cause's probability may be off: sets of causes not opened, and bounds in hard cases."""
    off = 0.0
    if not compiled.is_exact:
        low, high = compiled.engine.bound_posterior(compiled.evidence)
        with_cause = np.minimum(compiled.faults.sum_over_causes(high), 1.0), compiled.faults.sum_over_causes(low)
        off = float(np.max(np.maximum(with_cause[0] - compiled.p_causes, compiled.p_causes - with_cause[1])))
    return min(1.0, compiled.left_out + off)


def audit_ranking(compiled: CompiledCase, ranking: Ranking) -> Audit:
    """Recompute every cause with pgmpy's variable elimination and tell the largest difference."""
    started = time.perf_counter()
    theirs = compiled.faults.sum_over_causes(query_with_pgmpy(compiled))
    difference = float(np.max(np.abs(theirs - compiled.p_causes)))
    seconds = time.perf_counter() - started
    return Audit("pgmpy VariableElimination", difference, len(ranking.causes), seconds)
