"""The ranking and the options as text."""

from dataclasses import replace

import pytest
from support.offers import offered
from support.trade import small_case

from shiftlore.advising import LeftOut
from shiftlore.advising.offering import Option
from shiftlore.cases import Done
from shiftlore.ranking import AlikeCase, Apart, Audit, RankedSet, Ranking, Reason, rank_causes
from shiftlore.reports.case_text import (
    ADVISED_THEN,
    AT_ONCE,
    LOOK_FIRST,
    NOT_WORTH_IT,
    SHOWN_CAUSES,
    TRIED,
    name_alike,
    render_options,
    render_ranking,
    say_days,
    say_odds,
    tell_alike,
)
from shiftlore.reports.wording import say_first


def ranking(**more: object) -> Ranking:
    """Rank a case of the small knowledge."""
    return rank_causes(small_case({"gear_slips_2": "yes", "fluid_colour": "dark"}), spread=False).vary(**more)


def text_of(**more: object) -> str:
    """Write it with ordinary spaces."""
    return render_ranking(ranking(**more)).replace("\N{NO-BREAK SPACE}", " ")


def test_render_ranking__areas_then_causes_then_fit() -> None:
    text = text_of()
    parts = ["Where the trouble lies (long5)", "What it may be", ranking().causes[0].label, ranking().fit.note]
    places = [text.index(part) for part in parts]
    assert places == sorted(places)


def test_render_ranking__the_distance_stands_in_the_heading() -> None:
    assert "(long5, 182,000 km)" in render_ranking(ranking(), 182_000.0).replace("\N{NO-BREAK SPACE}", " ")


def test_render_ranking__lines_keep_their_width() -> None:
    for width in (50, 80, 100):
        assert max(map(len, render_ranking(ranking(), width=width).splitlines())) <= width


def test_render_ranking__headings_can_be_set_off() -> None:
    text = render_ranking(ranking(), strong=lambda words: f"<b>{words}</b>")
    assert "<b>What it may be</b>" in text


def test_render_ranking__only_the_leading_causes_unless_all_are_asked_for() -> None:
    causes = ranking().causes
    few = tuple(cause.vary(probability=0.5 if i < 2 else 0.001) for i, cause in enumerate(causes))
    short = render_ranking(ranking(causes=few), n_causes=5)
    assert causes[1].label in short and f"  {causes[5].label}" not in short
    assert causes[5].label in render_ranking(ranking(causes=few), n_causes=len(few))
    assert len(causes) <= SHOWN_CAUSES


def test_render_ranking__what_carries_no_weight_and_what_is_not_known_are_told() -> None:
    text = text_of(unused=("P0805",), nothing_found=0.2)
    assert "Carries no weight on this unit: P0805." in text
    assert "20 %" in text and "Nothing that this knowledge holds" in text


def test_render_ranking__an_audit_is_told_with_its_difference() -> None:
    text = " ".join(text_of(audit=Audit("pgmpy VariableElimination", 2e-13, 6, 1.5)).split())
    assert "pgmpy VariableElimination" in text and "2.0e-13" in text


def test_render_ranking__reasons_carry_their_weight_in_decibans() -> None:
    best = ranking().causes[0].speaks_for[0]
    assert f"{best.label} ({best.decibans:+.0f})" in " ".join(text_of().split())


def test_render_ranking__no_probability_is_shown_without_its_spread() -> None:
    text = render_ranking(rank_causes(small_case({"fluid_colour": "dark"})))
    numbered = [line for line in text.splitlines() if line.lstrip()[:2] in {"1.", "2.", "3."}]
    assert numbered and all(" to " in line and "(" in line for line in numbered)


def test_render_ranking__names_what_stands_together() -> None:
    """A vehicle with two faults is told as both at once, in one line."""
    text = text_of(together=(RankedSet(("a", "b", "c"), ("Fluid low", "Mount broken", "Plug loose"), 0.4),))
    assert "Several at once\n      40 %  Fluid low; with it: Mount broken, Plug loose\n" in text


def test_render_ranking__nothing_together_no_heading() -> None:
    assert "Several at once" not in text_of(together=())


def test_render_ranking__a_closed_case_says_what_it_was():
    closed = rank_causes(small_case({"gear_slips_2": "yes"}, done=(Done("overhaul", "cured"),)), spread=False)
    text = render_ranking(closed)
    assert text.startswith("Overhaul cured it: the case is closed.\n\nWhere the trouble lay (long5)")
    assert "What it was, most likely" in text


ALIKE = AlikeCase(
    source="published",
    id="G7",
    presented="slips in third when hot",
    cause="Valve body bore worn",
    area="valve_body_wear_or_stick",
    causes=("valve_body_bores_worn",),
    likeness=0.4,
    factor_decibans=15.4,
    shared=(Reason("slips", "Slips in gear 3", 6.2),),
    apart=(
        Apart("fluid_smell_burnt", "Fluid smells burnt", "no", "yes", -4.6),
        Apart("codes", "Any codes", "none", None, 0.1),
    ),
)


def test_tell_alike__what_it_presented_what_it_was_what_it_shares_and_what_parts_it() -> None:
    assert (
        "Published repair G7: slips in third when hot. It was: Valve body bore worn (valve_body_wear_or_stick). "
        "One cause made both 35 times as likely as two would. Alike in: Slips in gear 3 (+6). "
        "Apart: Fluid smells burnt: there yes, here no (-5); Any codes: there nothing told, here none."
    ) == tell_alike(ALIKE)


def test_tell_alike__nothing_shared_and_nothing_apart_is_not_told() -> None:
    told = tell_alike(ALIKE.vary(source="shop", id="5f", shared=(), apart=(), cause=""))
    assert told.startswith("Your own case 5f: ") and "It was: not known" in told
    assert "Alike in" not in told and "Apart" not in told


def test_name_alike__one_line_that_fits() -> None:
    assert "Published repair G7 looked alike: Valve body bore worn (r: more)" == name_alike(ALIKE)
    assert len(name_alike(ALIKE.vary(cause="worn " * 60))) <= 130


def test_say_odds__two_figures_and_never_more_than_the_model_knows() -> None:
    assert ("16 times", "35 times", "110 times", "over 1,000 times") == tuple(map(say_odds, (12.0, 15.4, 20.4, 33.0)))


def test_render_ranking__those_that_looked_alike_stand_at_the_end() -> None:
    text = render_ranking(ranking(alike=(ALIKE,)))
    assert text.index("Looked alike") > text.index("What it may be")
    assert max(map(len, text.splitlines())) <= 80
    assert "Looked alike" not in text_of()


def test_render_options__fits_eighty_columns() -> None:
    for name in ("slips", "harsh"):
        assert max(len(line) for line in render_options(offered(name, 600.0)).splitlines()) <= 80


def test_render_options__every_option_has_its_letter_and_price() -> None:
    lines = render_options(offered()).splitlines()
    for letter, option in zip("ABCDEF", offered().options, strict=False):
        assert any(line.startswith(f"  {letter}  {option.label[:20]}") for line in lines)
    assert len(offered().options) - 1 == sum("In the end about" in line for line in lines)


def test_render_options__marks_the_advice_once() -> None:
    assert 1 == render_options(offered()).count("[advised")


def test_render_options__a_budget_is_answered() -> None:
    text = render_options(offered("slips", 1.0))
    assert "Budget" in text and "buys no repair" in " ".join(text.split())
    assert "over budget" in text


def test_render_options__without_a_check_left_says_just_that() -> None:
    options = tuple(
        replace(option, checks=(), label="No check is left to make") if option.kind == "check" else option
        for option in offered().options
    )
    lines = render_options(replace(offered(), options=options)).splitlines()
    place = next(i for i, line in enumerate(lines) if "No check is left" in line)
    assert "" == lines[place + 1]


def test_render_options__narrow_stays_narrow() -> None:
    assert max(len(line) for line in render_options(offered(), width=50).splitlines()) <= 50


def test_render_options__doing_nothing_is_told_in_words_and_distance() -> None:
    text = " ".join(render_options(offered()).split())
    nothing = text[text.index("Nothing for now") : text.index(" B ")]
    assert " %: " in nothing and " km" in nothing and "In the end" not in nothing
    assert "How sure we are" in text and "a vehicle that nobody cures counts with" in text


@pytest.mark.parametrize(("beaten", "why"), [(True, "another option helps more often"), (False, "does more elsewhere")])
def test_render_options__a_service_that_is_not_listed_is_told(beaten: bool, why: str) -> None:
    option = next(option for option in offered().options if option.jobs)
    left_out = LeftOut(("plain",), "A service", option.cost, 0.03, beaten)
    text = " ".join(render_options(replace(offered(), left_out=left_out)).split())
    assert "Only a service? A service: EUR" in text and "chance 3 %" in text and why in text
    assert "Only a service" not in render_options(replace(offered(), left_out=None))


def test_render_options__what_was_asked_for_is_marked() -> None:
    options = (*offered().options[:-1], replace(offered().options[-1], asked=True))
    assert "[asked for" in render_options(replace(offered(), options=options)).replace("advised, ", "")


def test_say_days__in_words() -> None:
    assert ["half a day", "half a day", "1 day", "3 days"] == [say_days(days) for days in (0.25, 0.5, 1, 3)]


def test_render_options__the_advised_is_never_said_to_be_beaten_without_a_reason() -> None:
    """It was marked as advised and as beaten by another in one line."""
    options = list(offered().options)
    check = next(i for i, option in enumerate(options) if option.checks)
    job = next(i for i, option in enumerate(options) if option.jobs and not option.checks)
    options = [replace(option, advised=i == check, paid_in_the_end=900.0) for i, option in enumerate(options)]
    surer = replace(options[job], cost=options[check].cost, p_cured=options[check].p_cured)

    def say(*changed: tuple[int, Option]) -> str:
        told = [dict(changed).get(i, option) for i, option in enumerate(options)]
        return " ".join(render_options(replace(offered(), options=tuple(told))).split())

    assert AT_ONCE in say((job, replace(surer, paid_in_the_end=950.0))) and AT_ONCE not in say()
    assert f"less in the end; {LOOK_FIRST}" in say((job, replace(surer, paid_in_the_end=870.0)))
    worth = replace(options[job], advised=True, paid_in_the_end=910.0)
    assert f"B may cost EUR 10 less in the end; {NOT_WORTH_IT}" in say(
        (check, replace(options[check], advised=False)), (job, worth)
    )


@pytest.mark.parametrize("tried", sorted(TRIED))
def test_render_options__work_that_is_done_again_says_what_came_of_it(tried: str) -> None:
    options = (*offered().options[:-1], replace(offered().options[-1], tried=tried))
    assert TRIED[tried] in " ".join(render_options(replace(offered(), options=options)).split())


def test_render_options__work_of_others_sends_it_back_to_them() -> None:
    told = replace(offered(), others_work=("Gearbox repaired", "Module replaced"))
    text = " ".join(render_options(told).split())
    assert say_first(["Gearbox repaired", "Module replaced"], False) in text
    assert f"[{ADVISED_THEN}" in text and "[advised" in render_options(offered())
    assert "First: " not in render_options(offered())


def test_render_options__what_waiting_is_worth_stands_beside_the_price_of_a_check() -> None:
    """The next steps said 76, the options 26: the night that it stands was told in one place alone."""
    options = [replace(option, waiting=50.0 * (option.kind == "check")) for option in offered().options]
    text = " ".join(render_options(replace(offered(), options=tuple(options))).split())
    assert 1 == text.count("and EUR 50 for the time that the vehicle waits")
    assert "vehicle waits" not in render_options(offered())
