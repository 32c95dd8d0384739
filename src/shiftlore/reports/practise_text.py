"""Practice as text for the apprentice: what the owner says, what a step costs and shows, and how the round went."""

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from shiftlore.knowledge import Area
from shiftlore.practising import (
    IN_ORDER,
    LEVELS,
    NOT_FOUND,
    Appraisal,
    JudgedAct,
    Made,
    Move,
    OpenedAct,
    Planned,
    RecordedDrive,
    Round,
    introduce,
    name_act,
    price_act,
)
from shiftlore.reports.trace_text import list_telling, say_answer
from shiftlore.reports.wording import (
    PROCEDURE_FIRST,
    WIDTH,
    Mark,
    leave_plain,
    say_minutes,
    say_money,
    say_percent,
    wrap_lines,
)

if TYPE_CHECKING:
    from shiftlore.casebook import PracticeScore

WHAT_NEXT = "Ask the owner (does it slip when cold?), name a check or job (pan), or: list, hint, think ..., done, h, q."
NOT_CURED = "It is done, and the complaint is still there."
PUBLISHED = (
    "What it came in with stands there; whatever else it showed was drawn by chance from the rules, given its cause and "
    "that."
)
CURED = "The vehicle drives right."
KNOWN_HEADS = {
    "complaint": "Complaint", "owner": "The owner says", "denied": "He says no to", "checks": "Checks show",
    "sound": IN_ORDER, "absent": NOT_FOUND,
}  # fmt: skip
NO_LOG = "No log was kept of this drive: the simulator cannot drive what this vehicle has."
NOT_RECORDED = "No road test was made with the recorder on yet; list shows the checks."
LOG_SOUND = "The log: all that it can tell is as it should be."
KEEP_LOG = "log keeps it; shiftlore trace reads it, with every figure."
NOTHING_YET = "Nothing was paid for yet. hint says what the planner would do."
NO_SCORES = "Nothing has been practised yet. Begin: shiftlore practise"


def render_start(current: Round, unit_label: str, width: int = WIDTH, strong: Mark = leave_plain) -> str:
    """Write what is known when a round begins, or is taken up again: the unit and what its owner says."""
    wish = current.exercise.wish
    head = f"Level {wish.level}, {LEVELS[wish.level]}. {unit_label} ({wish.unit})."
    lines = ["", *(strong(line) for line in wrap_lines(head, width=width))]
    return "\n".join([*lines, render_owner(introduce(current), width)])


def render_owner(says: Sequence[str], width: int = WIDTH) -> str:
    """Write what the owner says."""
    return "\n".join(wrap_lines(f'The owner: "{" ".join(says)}"', "  ", "", width))


def render_what_next(width: int = WIDTH) -> str:
    """Write what can be typed."""
    return "\n".join(wrap_lines(WHAT_NEXT, width=width))


def render_recap(current: Round, known: Mapping[str, Sequence[str]], currency: str, width: int = WIDTH) -> str:
    """Write where a round stands that is taken up again."""
    done = [name_act(current, one.act) for one in current.made]
    lines = wrap_lines(f"Done: {'; '.join(done)}. {say_spent(current, currency)}", "  ", "", width) if done else []
    shown = {key: texts for key, texts in known.items() if key in ("owner", "checks")}
    return "\n".join([*lines, *_known_lines(shown, width)])


def render_known(current: Round, known: Mapping[str, Sequence[str]], currency: str, width: int = WIDTH) -> str:
    """Write all that is known, what was suspected, and what was spent."""
    lines = _known_lines(known, width)
    if current.suspicion:
        label = current.expansion.causes[current.suspicion].label
        lines += wrap_lines(f"You suspect: {label}.", "  ", "", width)
    return "\n".join([*lines, say_spent(current, currency)])


def _known_lines(known: Mapping[str, Sequence[str]], width: int) -> list[str]:
    told = [(KNOWN_HEADS[key], texts) for key, texts in known.items() if texts]
    return [line for head, texts in told for line in wrap_lines(f"{head}: {'; '.join(texts)}.", "  ", "", width)]


def say_spent(current: Round, currency: str) -> str:
    """Say what was spent so far."""
    if not current.made:
        return "Nothing spent so far."
    return f"Spent so far: {say_money(sum_shown(current), currency)}, {say_minutes(current.minutes)}."


def sum_shown(current: Round) -> float:
    """Add up what was spent as it was shown, in whole units of money."""
    return float(sum(round(made.cost) for made in current.made))


def render_opened(opened: OpenedAct, currency: str, width: int = WIDTH, strong: Mark = leave_plain) -> str:
    """Write a check or work before it is done: its price, how it is done, what to mind, and that it waits for a yes."""
    price = f"{say_money(opened.cost, currency)}, {say_minutes(opened.minutes)}"
    lines = ["", *(strong(line) for line in wrap_lines(f"{opened.label}: {price}", width=width))]
    texts = (opened.how, *(f"Mind: {caution}" for caution in opened.cautions), PROCEDURE_FIRST)
    lines += [line for text in filter(None, texts) for line in wrap_lines(text, "  ", width=width)]
    if opened.against:
        lines += wrap_lines(f"It does not go with what is known: {opened.against}.", width=width)
    return "\n".join([*lines, "y: do it; n: leave it."])


def render_list(current: Round, acts: Sequence[Move], currency: str, width: int = WIDTH) -> str:
    """Write checks or jobs with their prices from here, numbered."""
    wide = len(str(len(acts)))
    lines = ["Prices from here, opening counted in:"]
    for place, act in enumerate(acts, 1):
        cost, minutes = price_act(current, act)
        text = f"{say_money(cost, currency)}, {say_minutes(minutes)}: {name_act(current, act)}"
        lines += wrap_lines(text, " " * (wide + 4), f"  {place:>{wide}}  ", width)
    return "\n".join(lines)


def render_made(current: Round, says: Sequence[str], currency: str, width: int = WIDTH, log: str = "") -> str:
    """Write what came of what was just paid for; of a road test with the recorder on what its log says too."""
    made = current.made[-1]
    if made.act.kind == "job":
        says = (CURED if made.cured else NOT_CURED,)
    lines = [line for text in says for line in wrap_lines(text, "  ", "", width)]
    is_vain = made.act.kind == "job" and not made.cured
    cost = made.cost - current.exercise.bench.situation.comeback_cost * is_vain
    again = f", and {say_money(round(made.cost) - round(cost), currency)} that the owner comes again" if is_vain else ""
    price = f"That cost {say_money(cost, currency)}, {say_minutes(made.minutes)}{again}."
    return "\n".join(
        [*lines, *filter(None, [log]), *wrap_lines(f"{price} {say_spent(current, currency)}", width=width)]
    )


def render_log(drive: RecordedDrive | None, width: int = WIDTH) -> str:
    """Write what the recorder has measured on the road: each telling answer with its figure."""
    if drive is None:
        return "\n".join(wrap_lines(NO_LOG, width=width))
    told = [f"{place:>2}. {say_answer(one)}" for place, (_, one) in enumerate(list_telling(drive.trace), 1)]
    lines = ["The log:", *(line for text in told for line in wrap_lines(text, " " * 6, "  ", width))]
    return "\n".join([*(lines if told else wrap_lines(LOG_SOUND, width=width)), *wrap_lines(KEEP_LOG, width=width)])


def render_hint(planned: Planned, currency: str, count: int, width: int = WIDTH) -> str:
    """Write the planner's next step and its reason."""
    text = f"{_say_kind(planned.act)}{planned.label}. {planned.why}"
    total = f"From here it expects to spend {say_money(planned.expected_total, currency)}. Hint {count} of this round."
    return "\n".join(
        [*wrap_lines(f"The planner's next step: {text}", "  ", "", width), *wrap_lines(total, width=width)]
    )


def _say_kind(act: Move) -> str:
    return {"check": "Check: ", "job": "Job: "}.get(act.kind, "")


def render_why(judged: JudgedAct, made: Made, currency: str, width: int = WIDTH) -> str:
    """Write whether the last choice was a good one, and what each result would have meant."""
    lines = wrap_lines(f"{judged.label}. {_say_choice(judged, currency)}", "  ", "", width)
    if judged.why:
        lines += wrap_lines(judged.why, "  ", width=width)
    if judged.outcomes:
        lines += ["What its results would have meant:", *_outcome_lines(judged.outcomes, width)]
    if not judged.is_same:
        lines += wrap_lines(f"The planner's reason: {judged.planned.why}", "  ", "", width)
    if made.act.kind == "check":
        lines += wrap_lines(f"As it came out, it told {_say_told(made)} of what the vehicle has.", "  ", "", width)
    return "\n".join(lines)


def _say_told(made: Made) -> str:
    """Say how much a check told, without saying of what; a hint at the truth is left for the end."""
    return (
        "a good deal" if abs(made.decibans) >= 5.0 else "a little" if abs(made.decibans) >= 1.0 else "hardly anything"
    )


def _outcome_lines(outcomes: Iterable[tuple[float, str]], width: int) -> list[str]:
    return [line for p, text in outcomes for line in wrap_lines(f"{say_percent(p)}: {text}", "      ", "  ", width)]


def _say_choice(judged: JudgedAct, currency: str) -> str:
    """Say how good a choice was by what was known then."""
    expected = say_money(judged.expected_total, currency)
    if judged.is_same:
        return f"The planner would have done the same; from there it expected to spend {expected}."
    other = f"{_say_kind(judged.planned.act)}{judged.planned.label}"
    best = say_money(judged.planned.expected_total, currency)
    against = f"{expected} expected from there, against {best}."
    if judged.is_as_good:
        return f"As good a choice as the planner's, {other}: {against}"
    how = "better" if judged.dearer < 0 else "dearer"
    told = (
        f"By what was known then it was {say_money(abs(judged.dearer), currency)} {how} than the planner's step, "
        f"{other}: {against}"
    )
    is_unlooked = judged.dearer < 0 and (judged.act.kind, judged.planned.act.kind) == ("job", "check")
    return f"{told} {LOOKS_FIRST}" if is_unlooked else told


LOOKS_FIRST = "It looks first all the same: that costs little beside the work, and may show what nobody thought of."
DECIBANS = "Decibans tell how much a result said: 3 double the odds, 10 make them tenfold."


def render_end(
    current: Round, verdict: Appraisal, currency: str, width: int = WIDTH, strong: Mark = leave_plain
) -> str:
    """Write how a round went: what it was, each choice beside the planner's, luck, and both totals."""
    heads = {"cured": CURED, "left": "You gave the vehicle back as it was.", "given_up": "You gave up."}
    lines = ["", strong("What it was"), *wrap_lines(f"{' and '.join(verdict.causes)}.", "  ", width=width)]
    for text in verdict.says:
        lines += wrap_lines(text, "  ", width=width)
    if verdict.report:
        lines += wrap_lines(f'In the words of the published repair: "{verdict.report}". {PUBLISHED}', "  ", width=width)
    lines += wrap_lines(f"{heads[current.outcome]} {_say_found(current)}", "  ", width=width)
    lines += ["", strong("What you did")]
    if any(round(made.decibans) for made in current.made):
        lines += wrap_lines(DECIBANS, "  ", width=width)
    told: list[str] = []
    for place, (judged, made) in enumerate(zip(verdict.choices, current.made, strict=True), 1):
        price = f"{say_money(made.cost, currency)}"
        text = f"{_say_kind(made.act)}{judged.label}: {price}{_say_came(made)}. {_say_choice(judged, currency)}"
        lines += wrap_lines(text, "    ", f" {place}  ", width)
        if not judged.is_same and judged.planned.why not in told:
            lines += wrap_lines(f"Why: {judged.planned.why}", "    ", width=width)
            told.append(judged.planned.why)
    lines += ["", strong("Choice and luck"), *_say_luck(current, verdict, currency, width)]
    lines += ["", strong("Beside the planner"), *_say_beside(current, verdict, currency, width)]
    return "\n".join(lines)


def _say_found(current: Round) -> str:
    if current.outcome == "cured":
        return "Found."
    if not current.suspicion:
        return "You named no suspicion: not found."
    return "What you suspected is what it has: found." if current.found else "You suspected something else: not found."


def _say_came(made: Made) -> str:
    """Say what came of a choice: how much a check told, whether work cured it."""
    if made.act.kind == "check":
        told = round(made.decibans)
        return f", told {told:+d} decibans for what it was" if told else ", told nothing of what it was"
    if made.act.kind == "job":
        return ", cured it" if made.cured else ", in vain, a comeback counted in"
    return ": so much it is counted if the owner has to start over elsewhere"


def _say_luck(current: Round, verdict: Appraisal, currency: str, width: int) -> list[str]:
    """Part what was spent into what was to be expected, what the choices added to it or saved, and luck."""
    spent, added = sum_shown(current), round(verdict.chosen_dearer)
    luck = spent - round(verdict.expected) - added
    parts = (
        f"To be expected, the planner's way, when you took the first tool up: {say_money(verdict.expected, currency)}.",
        f"Your choices {'saved' if added < 0 else 'added'}, by what was known at each: {say_money(abs(added), currency)}.",
        f"The rest is chance: {say_money(abs(luck), currency)} {'more' if luck > 0 else 'less'}.",
        f"Spent: {say_money(spent, currency)} in {say_minutes(current.minutes)}.",
    )
    return [line for text in parts for line in wrap_lines(text, "    ", "  ", width)]


def _say_beside(current: Round, verdict: Appraisal, currency: str, width: int) -> list[str]:
    run = verdict.planner_run
    end = "and cured it" if run.cured else "and did not cure it"
    did = "; ".join(verdict.planner_acts) or "nothing"
    parts = [
        f"On the same vehicle, once it had asked the usual questions, it did: {did}; {end}.",
        f"You {say_money(sum_shown(current), currency)}, the planner {say_money(run.total, currency)}. "
        + (f"Hints taken: {current.hints}." if current.hints else "No hints taken."),
    ]
    parts += [f"Not asked: {one.shown} (+{one.decibans:.0f} decibans for what it was)." for one in verdict.not_asked]
    return [line for text in parts for line in wrap_lines(text, "    ", "  ", width)]


def render_score_line(area: Area, score: "PracticeScore", width: int = WIDTH) -> str:
    """Write how practice has gone in the area of this round."""
    text = f"{area.label}: {score.found} of {score.rounds} found so far."
    return "\n".join(wrap_lines(text, "  ", width=width))


def render_scores(
    scores: "Mapping[str, PracticeScore]", areas: Mapping[str, Area], currency: str, width: int = WIDTH
) -> str:
    """Write the running score by area, the weakest first."""
    if not scores:
        return NO_SCORES
    order = sorted(scores, key=lambda area: ((scores[area].found + 1) / (scores[area].rounds + 2), area))
    head = "Practice by area, the weakest first; what you spent, beside the planner on the same vehicles:"
    lines = wrap_lines(head, width=width)
    for area in order:
        one, label = scores[area], areas[area].label if area in areas else area
        money = f"{say_money(one.spent, currency)} beside {say_money(one.planned, currency)}"
        lines += wrap_lines(f"{label}: {one.found} of {one.rounds} found, {money}", "      ", "  ", width)
    return "\n".join(lines)
