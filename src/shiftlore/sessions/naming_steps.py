"""The checks and jobs that typed words name: by what they are called, or by what is to be done to which part."""

import re
from collections.abc import Collection, Sequence
from dataclasses import replace
from itertools import dropwhile

from shiftlore.advising import name_job
from shiftlore.compiling import CompiledCase, Expansion
from shiftlore.knowledge.language import FIRST_LANGUAGE
from shiftlore.sessions.questions import LETTERS_COMPARED, MOST_NAMED
from shiftlore.words import Hit, choose_vocabulary, find_words, index_of

CHECK, JOB = "check", "job"
STEPS = (CHECK, JOB)
CLEARLY_NAMED, PERHAPS_NAMED, NEARLY_AS_GOOD = 0.75, 0.55, 0.1
"""Scores from which words name a check or job, and what a second one may be behind the first (judgement)."""
LEAST_OF_ORDER, NEAREST_NAMED, OF_PART = 0.5, 0.2, 0.67
"""Scores from which an order is clear, and from which something comes nearest to it; what its part counts, beside the whole: a
shop renews what another one replaces (judgement)."""
BETTER_ELSEWHERE = 0.05
"""By so much better another unit's check or job is called so, where this one has none of the name (judgement)."""
_ORDERS = {JOB: "orders_job", CHECK: "orders_check"}

Found = list[tuple[str, tuple[str, ...]]]


def find_steps(compiled: CompiledCase, text: str) -> tuple[Found, bool]:
    """Find the checks and jobs that words name, best first, and whether the words can hardly mean anything else.

    Returns: pairs of ``check`` or ``job`` and the id (of a job per part: one pair for each part). Where they are not clear
        they are what comes nearest.
    """
    expansion = compiled.expansion
    if text in expansion.checks or text in expansion.jobs:
        return [(CHECK if text in expansion.checks else JOB, (text,))], True
    kind, words = read_order(compiled, text)
    hits, is_clear, is_elsewhere = _find(compiled, words, (kind,) if kind else STEPS)
    if kind and (part := _name_part(compiled, words)):
        hits = _of_part(compiled, hits, part, kind)
        is_clear = bool(hits) and hits[0].score >= LEAST_OF_ORDER and _is_all(compiled, part, hits[0])
    best = hits[0].score if hits else 0.0
    least = max(NEAREST_NAMED if kind else PERHAPS_NAMED, best - NEARLY_AS_GOOD)
    near = [hit.id for hit in hits if hit.score >= least]
    found: Found = [(JOB if key in expansion.jobs else CHECK, (key,)) for key in _list_by_habit(expansion, near)]
    if not (is_clear or is_elsewhere) and (labelled := _find_by_label(compiled, text)):
        return labelled[:MOST_NAMED], True
    return found[:MOST_NAMED], is_clear


def read_order(compiled: CompiledCase, text: str) -> tuple[str, str]:
    """Read "please replace the pump": the kind of step that is ordered, "" for none, and the words from there on."""
    vocabulary = choose_vocabulary(compiled.knowledge, FIRST_LANGUAGE)
    words, begin = text.split(), vocabulary.words_of("orders_begin")
    said = list(dropwhile(lambda word: word.lower() in begin, words)) or words
    first = said[0].lower().strip(".,!?") if said else ""
    return next((kind for kind, role in _ORDERS.items() if first in vocabulary.words_of(role)), ""), " ".join(said)


def _name_part(compiled: CompiledCase, words: str) -> str:
    """Give of an order the words that name what it is about: "pump" of "replace the pump"."""
    vocabulary = choose_vocabulary(compiled.knowledge, FIRST_LANGUAGE)
    passed = frozenset().union(
        *(vocabulary.words_of(role) for role in (*_ORDERS.values(), "orders_begin", "orders_new"))
    )
    return " ".join(
        one.written for one in vocabulary.split(words) if one.is_telling and one.written.lower() not in passed
    )


def _find(compiled: CompiledCase, words: str, kinds: Collection[str]) -> tuple[list[Hit], bool, bool]:
    """Find what this unit has of what words name, whether it is clearly that, or rather what only another unit has."""
    expansion, index = compiled.expansion, index_of(compiled.knowledge, STEPS)
    here = {*expansion.checks, *expansion.job_templates.values()}
    hits = find_words(index, words, kinds, len(index.entries))
    known = [hit for hit in hits if hit.id in here]
    best, best_here = (found[0].score if found else 0.0 for found in (hits, known))
    is_elsewhere = best >= CLEARLY_NAMED and best - BETTER_ELSEWHERE > best_here
    return known, best_here >= CLEARLY_NAMED and not is_elsewhere, is_elsewhere


def _of_part(compiled: CompiledCase, hits: Sequence[Hit], part: str, kind: str) -> list[Hit]:
    """Give of what was ordered what has to do with the part, by how well the part is named, and the whole order."""
    scores = {hit.id: hit.score for hit in hits}
    of_part = _find(compiled, part, (kind,))[0]
    whole = [hit for hit in of_part if _is_all(compiled, part, hit)] or of_part
    scored = [replace(hit, score=OF_PART * hit.score + (1 - OF_PART) * scores.get(hit.id, 0.0)) for hit in whole]
    return sorted(scored, key=lambda hit: -hit.score)


def _is_all(compiled: CompiledCase, words: str, hit: Hit) -> bool:
    """Tell whether a record has all the words."""
    return {*index_of(compiled.knowledge, STEPS).stems(words).values()} <= {*hit.matched}


def _list_by_habit(expansion: Expansion, named: Sequence[str]) -> list[str]:
    """Put checks first, those that a shop makes first at the front; a job per part stands for each part."""
    checks = sorted(
        (key for key in named if key in expansion.checks), key=lambda key: expansion.checks[key].habit_order or 9
    )
    templates = expansion.job_templates
    return checks + [job for key in named for job, template in templates.items() if template == key]


def _find_by_label(compiled: CompiledCase, text: str) -> list[tuple[str, tuple[str, ...]]]:
    """Find the checks and jobs whose label on this unit has a word that begins like each word of the text."""
    asked = [word[:LETTERS_COMPARED] for word in re.findall(r"\w+", text.lower())]
    labels = {("check", (key,)): check.label for key, check in compiled.expansion.checks.items()}
    labels |= {("job", (key,)): name_job(compiled, key) for key in compiled.expansion.jobs}
    words = {step: re.findall(r"\w+", label.lower()) for step, label in labels.items()}
    return [step for step, own in words.items() if asked and all(any(w.startswith(one) for w in own) for one in asked)]
