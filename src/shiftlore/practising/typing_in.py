"""What a typed line means in a round of practice: a question to the owner, a check or job, a suspicion, or a thing to show."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import Enum

from shiftlore.basics import UsageProblem
from shiftlore.compiling import TOLD
from shiftlore.knowledge import Caution
from shiftlore.practising.asking import KINDS_ASKED, VERBS, is_open, is_polar, read_question
from shiftlore.practising.owner import owner_can_tell
from shiftlore.practising.rounds import (
    ASK,
    CHECK,
    GIVE_UP,
    HINT,
    JOB,
    LEAVE,
    MORE,
    THINK,
    Move,
    Round,
    check_act,
    follow,
    name_act,
    say_reading,
    sort_shown,
)
from shiftlore.sessions import LONGEST_LINE, find_steps, read_order
from shiftlore.words import find_words, index_of

LEAST_FOUND, NEARLY_AS_GOOD = 0.55, 0.1
"""Scores from which a question is taken to mean a finding, and what a second one may be behind the first: judgement."""
PERHAPS_FOUND, MOST_PERHAPS = 0.35, 5
"""Score from which a question may mean a finding, and how many such are offered: judgement."""
MOST_OFFERED = 8
NOT_FOLLOWED = (
    "Nobody here follows that. Ask the owner one thing, such as: does it slip when cold? Or name a check or a job; "
    "list shows the checks, h what can be typed."
)
NO_SUCH_STEP = (
    "No check or job of this vehicle is called so. Say it in other words; list shows the checks, jobs the jobs."
)
NEAREST = "Nothing is called just so. The nearest:"
SAY_YES = "Write y to do it, or n to leave it."
NOTHING_WAITS = (
    "Nothing waits for a yes or a no, so nothing was done. Name a check or a job, or ask the owner; h shows more."
)
NOTHING_TYPED = "Nothing was typed, so nothing was done. Write h for what can be typed here."
LIFE_IS_NOT_KNOWN = (
    "Ask this first in a shop. A made-up vehicle has no life: distance and earlier work play no part here."
)
_ASKING = re.compile(rf"(?!do an? )(?:{VERBS}|when|where|how|what|which|any|after|ask)\b", re.I)
_ANYTHING_ELSE = re.compile(
    r"(?:is there |was there |and )?(?:anything|something|what|any) (?:else|more|other)s?(?: complaints?| wrong)?"
    r"|else|more|go on|is that all|and|that is all"
    r"|(?:hello|hi|good morning|so)?,? *what(?:'s| is| seems to be)? (?:the matter|wrong|the problem|the trouble)(?: with it)?",
    re.I,
)
_JOINED = re.compile(r"\s*\+\s*")


class Show(Enum):
    """What can be shown at any prompt."""

    HELP = "help"
    CHECKS = "list"
    JOBS = "jobs"
    KNOWN = "known"
    WHY = "why"
    STOP = "quit"
    LOG = "log"
    STEP = "planner"


_SHOWS = {show.value: show for show in Show if show is not Show.STEP} | {
    "h": Show.HELP, "l": Show.CHECKS, "checks": Show.CHECKS, "j": Show.JOBS, "list jobs": Show.JOBS, "k": Show.KNOWN,
    "w": Show.WHY, "q": Show.STOP, "stop": Show.STOP,
}  # fmt: skip
_ACTS = {"hint": HINT, "done": LEAVE, "give up": GIVE_UP, "give it up": GIVE_UP}
_AGREES, _REFUSES = frozenset({"y", "yes", "do it"}), frozenset({"n", "no", "b", "back"})
_SURE = {LEAVE: "Give it back as it is, uncured?", GIVE_UP: "Give up, and be shown what it was?"}

HELP_LINES = (
    "a question to the owner, in your own words: does it slip when cold? which costs nothing; anything else? lets him go on",
    "a check or job by its name (pan), or its number in the list: what it costs is shown first; y does it, n leaves it",
    "1+3, or two names with a plus: jobs done in one go, with one opening and one road test",
    "list: the checks by price; jobs: the jobs by price; k: all that is known so far",
    "think ...: what you suspect, such as think worn pump; the last one counts",
    "hint: the next step that the planner would take, and why; it is counted",
    "log: after a road test with the recorder on, keep its log beside the file of this round, as a CSV file",
    "why: after a check or job, whether it was a good choice then, and what each result would have meant",
    "done: give the vehicle back as it is; give up: end it, and be shown what it was",
    "q: stop; everything done is saved, and the same command goes on from here",
)


@dataclass(frozen=True)
class Workplace:
    """What is on the screen.

    Args:
        offers: what a number names.
        pending: what waits for a yes.
    """

    round: Round
    offers: tuple[Move, ...] = ()
    pending: Move | None = None


@dataclass(frozen=True, slots=True)
class Reaction:
    """What follows from a line: the bench, what is said, who says it, and what to show.

    Args:
        owner: whether the owner says it.
        made: whether something was paid for, which ends in `bench.round.made`.
    """

    bench: Workplace
    says: tuple[str, ...] = ()
    shows: Show | None = None
    owner: bool = False
    made: bool = False


Keep = Callable[[tuple[Move, ...]], None]


def take_line(bench: Workplace, line: str, keep: Keep = lambda acts: None) -> Reaction:
    """Make out what was typed, and give what follows; what nothing can be made of is told, and all stays as it was.

    Args:
        keep: called with all acts before anything is worked out with the new one.
    """
    text = " ".join(line[:LONGEST_LINE].split())
    try:
        found = _read(bench, text)
        if isinstance(found, Move):
            check_act(bench.round, found)
            keep((*bench.round.acts, found))
            return _follow(bench, found)
        return found
    except UsageProblem as problem:
        return Reaction(bench, (str(problem),))


def _follow(bench: Workplace, act: Move) -> Reaction:
    followed = follow(bench.round, act)
    is_owner = act.kind in (ASK, MORE)
    made = len(followed.round.made) > len(bench.round.made)
    says = followed.says
    if act.kind == THINK:
        label = bench.round.expansion.causes[act.ids[0]].label
        says = (f"Noted: you suspect: {label}.",)
    shows = Show.STEP if act.kind == HINT else None
    return Reaction(Workplace(followed.round, () if made else bench.offers), says, shows, is_owner, made)


def _read(bench: Workplace, text: str) -> Move | Reaction:
    """Read a line as an act, or as something that only shows or offers."""
    lowered = text.lower().rstrip(" .!")
    if not lowered:
        raise UsageProblem(SAY_YES if bench.pending else NOTHING_TYPED)
    if bench.pending is not None:
        if lowered in _AGREES:
            return bench.pending
        if lowered in _REFUSES:
            return Reaction(replace(bench, pending=None), (f"Left: {_name(bench.round, bench.pending)}.",))
        bench = replace(bench, pending=None)
    elif lowered in _AGREES | _REFUSES:
        raise UsageProblem(NOTHING_WAITS)
    if lowered in _SHOWS:
        return Reaction(bench, shows=_SHOWS[lowered])
    if lowered == HINT:
        return Move(HINT)
    if lowered in _ACTS:
        return _open(bench, Move(_ACTS[lowered]))
    if _ANYTHING_ELSE.fullmatch(lowered.rstrip("?")):
        return Move(MORE)
    if re.match(r"(?:i )?(?:think|suspect)\b", lowered):
        return _think(bench, re.sub(r"^(?:i )?(?:think|suspect)\b[ :]*", "", text, flags=re.I))
    if _JOINED.search(text):
        return _open(bench, _join(bench, _JOINED.split(text)))
    if text.isdecimal():
        return _open(bench, _number(bench, text))
    return _spoken(bench, text)


def _number(bench: Workplace, text: str) -> Move:
    if not 1 <= int(text[:9]) <= len(bench.offers):
        offered = f"a number from 1 to {len(bench.offers)}, or " if bench.offers else ""
        raise UsageProblem(f"Write {offered}the name of a check or job; list shows the checks, h what can be typed.")
    return bench.offers[int(text) - 1]


def _open(bench: Workplace, act: Move) -> Reaction | Move:
    """Open an act that costs: what it is and costs is shown, and it waits for a yes; a suspicion or question needs none."""
    if act.kind not in (CHECK, JOB, LEAVE, GIVE_UP):
        return act
    check_act(bench.round, act)
    says = (f"{_SURE[act.kind]} {SAY_YES}",) if act.kind in _SURE else ()
    return Reaction(replace(bench, pending=act), says, None if says else Show.STEP)


def _name(current: Round, act: Move) -> str:
    return {LEAVE: "the vehicle stays here", GIVE_UP: "the round goes on"}.get(act.kind) or name_act(current, act)


def _join(bench: Workplace, parts: Sequence[str]) -> Move:
    """Join jobs that are to be done in one go."""
    jobs: list[str] = []
    for part in filter(None, parts):
        act = _number(bench, part) if part.isdecimal() else _one_step(bench, part)
        if act.kind != JOB:
            raise UsageProblem("Only jobs are done in one go with a plus; checks are made one by one.")
        jobs += act.ids
    if not jobs:
        raise UsageProblem("Name the jobs on both sides of the plus.")
    return Move(JOB, tuple(jobs))


def _one_step(bench: Workplace, text: str) -> Move:
    steps, _ = find_steps(bench.round.exercise.bench.compiled, text)
    exact = [one for one in steps if name_act(bench.round, Move(*one)).lower() == text.lower()]
    steps = exact or steps
    if len(steps) != 1:
        raise UsageProblem(f'"{text}" is not the name of one job. Write it in full, or its number in the list of jobs.')
    return Move(*steps[0])


def _think(bench: Workplace, words: str) -> Move | Reaction:
    """Take what is suspected: the cause that the words name best; where several fit as well, they are offered."""
    expansion = bench.round.expansion
    if not words.strip():
        raise UsageProblem("Say what you suspect, such as: think worn pump.")
    if words in expansion.causes:
        return Move(THINK, (words,))
    exact = [key for key, one in expansion.causes.items() if one.label.lower() == words.lower().rstrip(".")]
    if exact:
        return Move(THINK, (exact[0],))
    hits = find_words(index_of(bench.round.exercise.bench.compiled.knowledge, ("cause",)), words, ("cause",))
    on_unit: dict[str, list[str]] = {}
    for key, one in expansion.causes.items():
        on_unit.setdefault(one.template, []).append(key)
    known = [hit for hit in hits if hit.id in on_unit]
    if not known or known[0].score < LEAST_FOUND:
        raise UsageProblem("No cause of this vehicle is called so. Say it in other words, such as: think worn pump.")
    near = [hit.id for hit in known if hit.score >= known[0].score - NEARLY_AS_GOOD / 2]
    keys = [key for template in near for key in _named_first(bench.round, on_unit[template], words)]
    if len(keys) == 1:
        return Move(THINK, (keys[0],))
    return _offer(bench, [Move(THINK, (key,)) for key in keys], "Which is suspected?")


def _named_first(current: Round, keys: Sequence[str], words: str) -> list[str]:
    """Give of causes per part those whose part is named in the words, or all."""
    said = set(re.findall(r"\w+", words.lower()))
    marks = {key: len(said & set(re.findall(r"\w+", current.expansion.causes[key].label.lower()))) for key in keys}
    return [key for key in keys if marks[key] == max(marks.values())]


def _offer(bench: Workplace, acts: Sequence[Move], head: str) -> Reaction:
    shown = tuple(acts[:MOST_OFFERED])
    lines = tuple(f"  {place}  {_say_offer(bench.round, act)}" for place, act in enumerate(shown, 1))
    return Reaction(replace(bench, offers=shown, pending=None), (head, *lines))


def _say_offer(current: Round, act: Move) -> str:
    if act.kind == THINK:
        return current.expansion.causes[act.ids[0]].label
    if act.kind == ASK:
        return "Ask: " + _in_general(current, act.ids)
    return f"{'Check' if act.kind == CHECK else 'Job'}: {name_act(current, act)}"


def _in_general(current: Round, findings: Sequence[str]) -> str:
    nodes = current.expansion.findings
    return nodes[findings[0]].label + (", and the like" if len(findings) > 1 else "")


def _spoken(bench: Workplace, text: str) -> Move | Reaction:
    """Take words: a question first if they look like one, else a check or job first."""
    case = bench.round.exercise.bench.compiled
    is_asked = text.endswith("?") or bool(_ASKING.match(text))
    is_ordered = not is_asked and bool(read_order(case, text)[0])
    steps, is_clear = find_steps(case, text)
    offers = [Move(kind, ids) for kind, ids in steps if _is_here(bench.round, kind, ids)]
    if offers and is_clear and not is_asked:
        exact = [act for act in offers if name_act(bench.round, act).lower() == text.lower()]
        if len(exact or offers) == 1:
            return _open(bench, (exact or offers)[0])
        return _offer(bench, offers, "Which one is meant?")
    if not is_ordered and (asked := _ask(bench, text, is_asked)) is not None:
        return asked
    if not offers:
        raise UsageProblem(NO_SUCH_STEP if is_ordered else NOT_FOLLOWED)
    return _offer(bench, offers, NEAREST)


def _is_here(current: Round, kind: str, ids: tuple[str, ...]) -> bool:
    """Tell whether a step can be named here; what cannot be done is refused with its reason when it is opened."""
    return kind == CHECK or all(job in current.expansion.jobs for job in ids)


def _find_perhaps(current: Round, text: str) -> list[Move]:
    """List what a question may ask of the owner, where no one thing is clearly meant."""
    hits = find_words(
        index_of(current.exercise.bench.compiled.knowledge, KINDS_ASKED), text, ("finding",), MOST_OFFERED
    )
    groups = [
        tuple(name for name in current.expansion.of_template.get(hit.id, ()) if owner_can_tell(current.exercise, name))
        for hit in hits
        if hit.score >= PERHAPS_FOUND
    ]
    return [Move(ASK, group) for group in groups if group][:MOST_PERHAPS]


def make_ready(current: Round) -> None:
    """Make ready what reading a line needs, so that the first one waits for nothing."""
    index_of(current.exercise.bench.compiled.knowledge, KINDS_ASKED)
    index_of(current.exercise.bench.compiled.knowledge, ("cause",))
    find_steps(current.exercise.bench.compiled, NOT_FOLLOWED)


def _ask(bench: Workplace, text: str, is_asked: bool) -> Move | Reaction | None:
    """Read a question; None where the words speak of no finding."""
    current, asked = bench.round, read_question(bench.round.exercise.bench.compiled, text)
    groups, is_life = ([(key,) for key in asked.agrees], False) if asked.agrees else _find_asked(current, text)
    is_vague = bool(groups) and not asked.agrees and is_polar(text)
    if is_vague or not groups:
        if is_life or asked.is_life:
            raise UsageProblem(LIFE_IS_NOT_KNOWN)
        perhaps = _find_perhaps(current, text) if is_asked else []
        return _offer(bench, perhaps, "Which of these is asked?") if perhaps else None
    can: list[tuple[str, ...]] = []
    cannot: list[tuple[str, ...]] = []
    for group in groups:
        told = tuple(name for name in group if owner_can_tell(current.exercise, name))
        (can if told else cannot).append(told or group)
    if can:
        ids = tuple(dict.fromkeys(name for group in can for name in group))
        return Move(
            ASK, ids, tuple(asked.agrees.get(name, "") for name in ids) if asked.agrees or is_open(text) else ()
        )
    return _send_to_check(bench, cannot[0])


def _find_asked(current: Round, text: str) -> tuple[list[tuple[str, ...]], bool]:
    """Find by its words what is asked for, each as the findings of this unit, and whether the vehicle's life is asked for."""
    expansion = current.exercise.bench.compiled.expansion
    hits = find_words(index_of(current.exercise.bench.compiled.knowledge, KINDS_ASKED), text, KINDS_ASKED, MOST_OFFERED)
    hits = [hit for hit in hits if hit.kind == "background" or hit.id in expansion.of_template]
    if not hits or hits[0].score < LEAST_FOUND:
        return [], False
    if hits[0].kind == "background":
        return [], True
    return [
        tuple(name for name in expansion.of_template[hits[0].id] if name in current.exercise.vehicle.readings)
    ], False


def _send_to_check(bench: Workplace, findings: tuple[str, ...]) -> Reaction:
    """Say that the owner cannot know a thing, and which checks would show it, the cheapest first."""
    current, label = bench.round, _in_general(bench.round, findings)
    findings, readings = (*findings, *_parts_of(current, findings)), current.exercise.vehicle.readings
    seen = [
        name
        for name in findings
        if any(name in current.exercise.bench.reveals[act.ids[0]] for act in made_checks(current))
    ]
    if seen:
        first = next((name for name in seen if readings[name]), seen[0])
        return Reaction(bench, (f"That is known already: {say_reading(current, first)}.",))
    checks = [act for act in list_checks(current) if set(findings) & set(current.exercise.bench.reveals[act.ids[0]])]
    if not checks:
        return Reaction(bench, (f"The owner cannot know that ({label}), and no check of this shop shows it.",))
    return _offer(bench, checks, f"The owner cannot know that ({label}). A check shows it:")


def _parts_of(current: Round, findings: Sequence[str]) -> list[str]:
    """List what findings that are only said vaguely ask for in general: a colour of "discoloured, colour not said"."""
    records, of_template = current.expansion.finding_records, current.expansion.of_template
    names = [part for key in findings if not records[key].asked for part in records[key].general_of]
    return [key for name in names for key in of_template.get(name, ()) if key in current.exercise.vehicle.readings]


def is_recorded(current: Round) -> bool:
    """Tell whether a road test was made with the recorder on."""
    return any(current.expansion.checks[act.ids[0]].recorded for act in made_checks(current))


def made_checks(current: Round) -> list[Move]:
    """List the checks that were made."""
    return [one.act for one in current.made if one.act.kind == CHECK]


def list_checks(current: Round) -> list[Move]:
    """List the checks that can still be made, the cheapest from here first."""
    situation, state = current.exercise.bench.situation, current.work.state
    places = [place for place in range(len(situation.checks)) if not state.checked[place]]
    places.sort(key=lambda place: situation.reach_check(place, state.opened)[0])
    return [Move(CHECK, (situation.checks[place].id,)) for place in places]


def list_jobs(current: Round) -> list[Move]:
    """List the jobs that can still be done, the cheapest from here first."""
    situation, state = current.exercise.bench.situation, current.work.state
    places = [place for place in range(len(situation.jobs)) if not state.done[place]]
    places.sort(key=lambda place: situation.batch_cost((place,), state.opened))
    return [Move(JOB, (situation.jobs[place].id,)) for place in places]


def price_act(current: Round, act: Move) -> tuple[float, float]:
    """Give the money and minutes of a check or of jobs from here."""
    situation, state = current.exercise.bench.situation, current.work.state
    if act.kind == CHECK:
        cost, minutes, _ = situation.reach_check(situation.check_index(act.ids[0]), state.opened)
        return cost, minutes
    batch = tuple(situation.job_index(job) for job in act.ids)
    return situation.batch_cost(batch, state.opened), situation.batch_minutes(batch, state.opened)


@dataclass(frozen=True, slots=True)
class OpenedAct:
    """A check or jobs about to be done.

    Args:
        cost, minutes: from here; how: how it is done; cautions: what to mind, in full.
        against: what is known and forbids it, or "".
    """

    label: str
    cost: float
    minutes: float
    how: str
    cautions: tuple[str, ...]
    against: str


def open_act(current: Round, act: Move) -> OpenedAct:
    """Give what is shown of a check or of jobs before they are done."""
    expansion, says = current.expansion, current.exercise.bench.compiled.knowledge.cautions
    cost, minutes = price_act(current, act)
    if act.kind == CHECK:
        check = expansion.checks[act.ids[0]]
        how, keys = check.how, list(check.cautions)
    else:
        jobs = [expansion.jobs[job] for job in act.ids]
        how, keys = " ".join(job.says for job in jobs), list(dict.fromkeys(key for job in jobs for key in job.cautions))
    against = [name for key in keys for name in _forbidding(current, says[key])]
    cautions = tuple(says[key].says for key in keys)
    return OpenedAct(
        label=name_act(current, act),
        cost=cost,
        minutes=minutes,
        how=how,
        cautions=cautions,
        against=", ".join(dict.fromkeys(against)),
    )


def _forbidding(current: Round, caution: Caution) -> list[str]:
    """Name what is known of the vehicle and does not go with a caution."""
    templates, readings = current.expansion.of_template, current.exercise.vehicle.readings
    names = [key for name in caution.forbidden_by for key in templates.get(name, (name,))]
    return [say_reading(current, key) for key in names if key in current.work.state.evidence and readings.get(key)]


def offer_acts(bench: Workplace, acts: Sequence[Move]) -> Workplace:
    """Let the numbers on the screen name these acts."""
    return replace(bench, offers=tuple(acts), pending=None)


def list_known(current: Round) -> dict[str, tuple[str, ...]]:
    """List all that is known: what the owner said, and what the checks have shown."""
    state, expansion = current.work.state, current.expansion
    seen = {name for act in made_checks(current) for name in current.exercise.bench.reveals[act.ids[0]]}
    heard = [name for name in state.evidence if name not in seen]
    records = expansion.finding_records
    said: dict[str, list[str]] = {"complaint": [], "owner": [], "denied": []}
    for name in heard:
        unsure = current.exercise.unsure.get(name)
        shown = current.exercise.vehicle.readings[name] if unsure is None else unsure
        if name in current.exercise.vehicle.complaints:
            said["complaint"].append(say_reading(current, name))
        elif records[name].got_by in TOLD:
            node, doubt = expansion.findings[name], ", he thinks" if unsure is not None else ""
            is_yes_no = node.grades == ("no", "yes")
            label = node.label if is_yes_no else expansion.name_answer(name, node.grades[shown])
            said["owner" if shown or not is_yes_no else "denied"].append(label + doubt)
    said |= sort_shown(current, sorted(seen & set(state.evidence)))
    return {key: tuple(texts) for key, texts in said.items()}
