"""A little language and a few sayings, from which reading is learned in a moment."""

from collections.abc import Mapping
from functools import cache

from shiftlore.knowledge import Knowledge
from shiftlore.words.trained import Features, Trained
from shiftlore.words.training import fit, hash_sources
from shiftlore.words.vocabulary import Vocabulary, choose_vocabulary
from support.trade import shipped

WAYS = 30
"""Ways of saying each answer that are kept."""
KEPT = ("slips", "slips_gear", "noise_any", "fluid_level", "service_record", "worse_hot")


def _cut(answers: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    return {answer: ways[:WAYS] for answer, ways in answers.items()}


@cache
def few() -> Knowledge:
    """Give the trade with the sayings of a few findings and one background alone."""
    from dataclasses import replace

    trade = shipped()
    return replace(
        trade,
        findings={key: one for key, one in trade.findings.items() if key in KEPT},
        backgrounds={key: one for key, one in trade.backgrounds.items() if key in KEPT},
        sayings={"en": {key: _cut(one) for key, one in trade.sayings["en"].items() if key in KEPT}},
    )


@cache
def learned() -> tuple[Vocabulary, Features, Trained]:
    """Give what is learned from them."""
    vocabulary = choose_vocabulary(few())
    return vocabulary, Features(vocabulary), fit(few(), vocabulary, hash_sources(few(), "en"))
