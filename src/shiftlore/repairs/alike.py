"""Cases that looked alike: how much likelier two vehicles are to have one and the same cause than to be strangers.

Of the vehicle at hand the findings E are known, of a remembered one what it presented, R. Either one cause f, drawn once,
made both ("the same"), or each had its own ("strangers"). Given the fault the findings of two vehicles are independent:

    P(E, R | the same)  = sum over f of p(f) P(E|f) P(R|f)
    P(E, R | strangers) = P(E) P(R)

and by Bayes' rule, p(f|E) = p(f) P(E|f) / P(E), the Bayes factor of the two is

    sum over f of p(f|E) p(f|R) / p(f).

Only belief about the remembered vehicle goes in, so it may have been judged on another unit and at another distance: the same
sum is P(E | the cause is the one that R had) / P(E), where p(f|R) is what is believed of that one and p(f) the chances of the
vehicle at hand. Causes are taken as they are written, each the sum of its instances, for instances belong to one unit. A
vehicle has one of the known causes here, judged by the rules alone: what published repairs taught beside them would know those
repairs again. What it was in the end does not go in: they shall look alike, not end alike.

The strength of a rule is no number but a spread: that of 100 vehicles with one cause so many show a sign is known about, and
differs from kind of vehicle to kind. Two vehicles with one cause share it, strangers do not. If the share has mean m and
variance S m (1 - m), as a Beta distribution's, then

    both answer the same:  E[share^2] / m^2               = 1 + S (1 - m) / m
    they answer otherwise: E[share (1 - share)] / m (1 - m) = 1 - S

and each answer that both gave multiplies the term of f by that. A rare sign that both show counts for much, a common one for
next to nothing, and one that parts them speaks against.

Source: Lindley 1977, "A problem in forensic science", Biometrika 64, 207-213 (the value of a match of two marks that may have
one source); Aitken and Taroni 2004, Statistics and the Evaluation of Evidence for Forensic Scientists, ch. 10; the shared
share: beta-binomial, as in the same book's relatedness of profiles, and Gelman et al., Bayesian Data Analysis, ch. 5;
decibans: Good 1950.
"""

from collections.abc import Collection, Mapping, Sequence

import numpy as np

from shiftlore.basics import ImpossibleEvidence
from shiftlore.compiling import CompiledCase
from shiftlore.ranking import AlikeCase, Apart, RankedCause, Ranking, Reason
from shiftlore.repairs.memory import Memory, Remembered, choose_published, gather_memory

SHARED_SPREAD = 0.1
"""S above: what two vehicles with one cause have in common beyond the mean strength of a rule. The words' own spreads are 0.01
to 0.05; chosen on the published repairs, each without its source, where all from 0.1 to 0.2 does as well."""
WORTH_TELLING = 12.0
"""Decibans from which a case is named: half of the published repairs named from here on were of the same area as the case."""
MOST_ALIKE = 3
MOST_SHARED, MOST_APART = 3, 2
TWIN_SIGNS = 3
"""From so many answers on, a case of the shop that gave every one of them is named even if all of them are common."""
SPEAKS_AGAINST = 3.0
"""Decibans by which an answer must speak against what a remembered case was, to be named though it told nothing of it."""
_P_LEAST = 1e-4


def weigh_shared(mean: float, spread: float = SHARED_SPREAD) -> float:
    """Give by how much an answer that both gave raises the factor, for a cause under which it is given with this mean."""
    return 1 + spread * (1 - mean) / mean


def list_templates(compiled: CompiledCase) -> tuple[tuple[str, ...], np.ndarray]:
    """List causes as they are written, and of each expanded one the place of its own among them."""
    place: dict[str, int] = {}
    column = [place.setdefault(one.template, len(place)) for one in compiled.expansion.causes.values()]
    return tuple(place), np.array(column)


def list_signs(compiled: CompiledCase) -> dict[str, str]:
    """Give the answers of a case that carry weight, finding -> grade."""
    return {one.finding: one.grade for one in compiled.answers if one.finding in compiled.evidence}


class Looks:
    """What a case at hand looks like, to be held against many remembered ones.

    Args:
        compiled: the case.
    Raises: ImpossibleEvidence: no single cause allows all of the answers.
    """

    def __init__(self, compiled: CompiledCase):
        self.compiled = compiled
        self.templates, column = list_templates(compiled)
        single = compiled.prepared.single
        prior = single.tables.prior[1:]
        chances = np.bincount(column, prior, len(self.templates))
        p_found = np.bincount(column, single.posterior(compiled.evidence)[0][1:], len(self.templates))
        self.beliefs = p_found / p_found.sum()
        self.ratios = np.divide(self.beliefs * chances.sum(), chances, out=np.zeros(len(chances)), where=chances > 0)
        self.signs = list_signs(compiled)
        p_answers = single.weigh_apart({finding: compiled.evidence[finding] for finding in self.signs})[:, 1:]
        means = [np.bincount(column, row * prior, len(chances)) / np.maximum(chances, 1e-300) for row in p_answers]
        means_of = np.clip(np.array(means).reshape(len(means), len(chances)), _P_LEAST, 1.0)
        self.log_shared = np.log(weigh_shared(means_of))  # type: ignore[arg-type]

    def weigh(self, memory: Memory, at_least: float = 0.0) -> np.ndarray:
        """Give the factor of each remembered case, shape (n_cases,).

        Args:
            at_least: cases that cannot reach this factor may be given less than they have.
        """
        place = {name: i for i, name in enumerate(self.templates)}
        places = np.array([place.get(name, -1) for name in memory.tables["templates"]], int)
        ratios = np.where(places >= 0, self.ratios[places], 0.0)
        terms = ratios[memory.belief_column] * memory.belief
        factor = np.bincount(memory.belief_owner, terms, len(memory))
        same, other = self._compare(memory)
        if self.signs:
            most = factor * np.exp(same @ self.log_shared.max(axis=1))
            mine = ((most >= at_least) & same.any(axis=1))[memory.belief_owner] & (terms > 0)
            owner, column = memory.belief_owner[mine], places[memory.belief_column[mine]]
            log_shared = np.zeros(len(owner))
            for row, shares in zip(self.log_shared, same.T, strict=True):
                log_shared += row[column] * shares[owner]
            raised = np.bincount(owner, terms[mine] * np.exp(log_shared), len(memory))
            factor = np.where(np.bincount(owner, minlength=len(memory)) > 0, raised, factor)
        return factor * (1 - SHARED_SPREAD) ** other

    def _compare(self, memory: Memory) -> tuple[np.ndarray, np.ndarray]:
        """Tell which answers each remembered case shares, shape (n_cases, n_answers), and how many part it, (n_cases,)."""
        row_of = {finding: row for row, finding in enumerate(self.signs)}
        words = {word: i for i, word in enumerate(memory.tables["words"])}
        rows = np.array([row_of.get(name, -1) for name in memory.tables["findings"]], int)[memory.sign_finding]
        wanted = np.array([words.get(word, -1) for word in self.signs.values()], int)
        both = rows >= 0
        owner, rows, word = memory.sign_owner[both], rows[both], memory.sign_word[both]
        is_same = wanted[rows] == word if len(rows) else np.zeros(0, bool)
        same = np.zeros((len(memory), len(self.signs)))
        same[owner[is_same], rows[is_same]] = 1.0
        return same, np.bincount(owner[~is_same], minlength=len(memory))

    def find_twins(self, memory: Memory) -> np.ndarray:
        """Tell which remembered cases gave every answer of this one, shape (n_cases,)."""
        if len(self.signs) < TWIN_SIGNS:
            return np.zeros(len(memory), bool)
        return np.asarray(self._compare(memory)[0].all(axis=1))

    def carrier(self, beliefs: Mapping[str, float]) -> str:
        """Name the cause, as written, that carries most of the factor."""
        total = sum(beliefs.values()) or 1.0
        weights = [
            ratio * beliefs.get(name, 0.0) / total for name, ratio in zip(self.templates, self.ratios, strict=True)
        ]
        return self.templates[int(np.argmax(weights))]

    def p_same(self, beliefs: Mapping[str, float]) -> float:
        """Give the probability that two vehicles, each with its own cause, have the same by chance or otherwise."""
        total = sum(beliefs.values()) or 1.0
        return float(
            sum(p * beliefs.get(name, 0.0) for name, p in zip(self.templates, self.beliefs, strict=True)) / total
        )


def find_alike(
    compiled: CompiledCase,
    ranking: Ranking,
    remembered: Sequence[Remembered] = (),
    leave_out: Collection[str] = (),
    most: int = MOST_ALIKE,
) -> tuple[AlikeCase, ...]:
    """Name the remembered cases that looked like a case, those of the shop first, then the most alike.

    Args:
        ranking: of the same case.
        remembered: cases of the shop; published repairs come with the rules.
        leave_out: ids that are not to be named: those of the case itself.
    """
    published = choose_published(compiled.knowledge)
    own = gather_memory(remembered) if remembered else None
    memories = [memory for memory in (own, published) if memory is not None]
    if not memories or not compiled.evidence:
        return ()
    try:
        looks = Looks(compiled)
    except ImpossibleEvidence:
        return ()
    found: list[tuple[Remembered, float]] = []
    for memory in memories:
        factors = looks.weigh(memory, 10 ** (WORTH_TELLING / 10))
        decibans = 10 * np.log10(np.maximum(factors, 1e-30))
        twins = looks.find_twins(memory) if memory is own else np.zeros(len(memory), bool)
        worth = np.flatnonzero((decibans >= WORTH_TELLING) | twins)
        order = worth[np.argsort(-decibans[worth], kind="stable")].tolist()
        chosen = [place for place in order[: most + len(leave_out)] if memory.id_of(place) not in leave_out]
        found += [(memory.recall(place), float(decibans[place])) for place in chosen[: most - len(found)]]
    return tuple(_tell(looks, ranking, one, decibans) for one, decibans in found)


def _tell(looks: Looks, ranking: Ranking, one: Remembered, decibans: float) -> AlikeCase:
    """Say what a remembered case was, what it shares with the case at hand, and what tells them apart."""
    expansion = looks.compiled.expansion
    template_of = {key: cause.template for key, cause in expansion.causes.items()}
    named = {*one.causes} & {*template_of.values(), *template_of}
    carrier = _weigh_signs(ranking, template_of, {looks.carrier(one.beliefs)})
    was = _weigh_signs(ranking, template_of, named or {looks.carrier(one.beliefs)})
    shared, apart = [], []
    for finding, grade in looks.signs.items():
        there, label = one.signs.get(finding), expansion.name_answer(finding, grade)
        if there == grade:
            shared.append(Reason(finding, label, carrier.get(finding, 0.0)))
        elif there is not None or was.get(finding, 0.0) <= -SPEAKS_AGAINST:
            words = expansion.finding_records[finding].grade_labels
            told = None if there is None else words.get(there, there)
            name, here = expansion.findings[finding].label, words.get(grade, grade)
            apart.append(Apart(finding, name, here, told, was.get(finding, 0.0)))
    labels = (expansion.causes[key].label for key in template_of if {key, template_of[key]} & {*one.causes})
    return AlikeCase(
        source=one.source,
        id=one.id,
        presented=one.told,
        cause=one.cause or "; ".join(dict.fromkeys(labels)),
        area=one.area,
        causes=one.causes,
        likeness=min(looks.p_same(one.beliefs), 1.0),
        factor_decibans=decibans,
        shared=tuple(sorted(shared, key=lambda sign: -sign.decibans)[:MOST_SHARED]),
        apart=tuple(sorted(apart, key=lambda sign: (sign.there is None, sign.decibans))[:MOST_APART]),
    )


def _weigh_signs(ranking: Ranking, template_of: Mapping[str, str], named: Collection[str]) -> dict[str, float]:
    """Give what each answer says for the likeliest of some causes, in decibans."""
    likeliest: RankedCause | None = next(
        (cause for cause in ranking.causes if cause.id in named or template_of[cause.id] in named), None
    )
    reasons = () if likeliest is None else (*likeliest.speaks_for, *likeliest.speaks_against)
    return {reason.finding: reason.decibans for reason in reasons}
