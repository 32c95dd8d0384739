"""The knowledge reviewed as a whole."""

from dataclasses import replace
from functools import cache

from support.trade import reviewed, shipped, small_unit

from shiftlore.knowledge import TextbookCase
from shiftlore.ranking import Review, review_knowledge, textbook_as_case

CARD = TextbookCase(
    "a",
    "worn_pump",
    "A worn pump.",
    "long5",
    250_000.0,
    {"usage": "towing"},
    {"fluid_colour": "black", "line_pressure_idle": "yes", "gear_slips_2": "no"},
    "judgement",
)


@cache
def review(**cards: TextbookCase) -> Review:
    """Review the small knowledge with some job cards."""
    return review_knowledge(replace(small_unit().knowledge, textbook=cards))


def test_review_knowledge__counts_what_is_written_and_what_it_expands_to() -> None:
    found = review()
    assert (2, 2, 4) == tuple(found.counts[f"{kind}_written"] for kind in ("causes", "states", "findings"))
    assert {"causes": 6, "states": 9, "findings": 9, "ratios_computed": 6} == found.units["long5"]


def test_review_knowledge__a_card_that_comes_first() -> None:
    found = review_knowledge(replace(small_unit().knowledge, textbook={"a": CARD}))
    assert {"cases": 1, "first": 1, "top_three": 1} == found.textbook
    assert ("worn_pump", 1) == (found.results[0].first, found.results[0].place)
    assert 0.5 < found.results[0].probability <= 1


def test_review_knowledge__a_card_that_does_not() -> None:
    wrong = CARD.vary(cause="worn_lining")
    found = review_knowledge(replace(small_unit().knowledge, textbook={"a": wrong}))
    assert {"cases": 1, "first": 0, "top_three": 1} == found.textbook
    assert 2 == found.results[0].place


def test_review_knowledge__a_card_of_an_unknown_unit_is_left_out() -> None:
    lost = CARD.vary(unit="nowhere")
    assert 0 == review_knowledge(replace(small_unit().knowledge, textbook={"a": lost})).textbook["cases"]


def test_review_knowledge__causes_with_the_same_lines_cannot_be_told_apart() -> None:
    knowledge = small_unit().knowledge
    twin = knowledge.causes["worn_pump"].vary(id="twin")
    found = review_knowledge(replace(knowledge, causes={**knowledge.causes, "twin": twin}, textbook={}))
    assert (("worn_pump", "twin"),) == found.alike
    assert () == review().alike


def test_textbook_as_case__keeps_everything() -> None:
    case = textbook_as_case(CARD)
    assert ("long5", 250_000.0, {"usage": "towing"}) == (case.unit, case.odometer_km, dict(case.background))
    assert {"fluid_colour": "black", "line_pressure_idle": "yes", "gear_slips_2": "no"} == {
        key: answer.grade for key, answer in case.findings.items()
    }


def test_review_knowledge__nine_of_ten_shipped_cards_come_first() -> None:
    """The cards are the trade's own; a tenth may be close calls."""
    found = reviewed()
    assert 0.9 <= found.textbook["first"] / found.textbook["cases"]
    assert len(shipped().textbook) == found.textbook["cases"]
    assert set(shipped().sheets) == set(found.units)
