"""What the knowledge files say, as frozen records that keep their place in the file.

Ids in these records are as written, before expansion: a record with `each` stands for one
record per instance of the unit (see `knowledge/README.md`).
"""

from collections.abc import Mapping

from msgspec import field

from shiftlore.basics.problems import Mark
from shiftlore.basics.structs import Count, Positive, Record, Share, Signed, Unsigned

NOWHERE = Mark()
HARDEST_LEVEL = 4
"""Levels of practice are numbered from 1 to this."""
NAMED_BY_TYPE = "element"
"""A kind of instance that says little by itself: its types are named instead."""


class Strength(Record, frozen=True):
    """How often a parent shows in a child, from 0 to 1, with its spread as a Beta.

    Args:
        p: mean of the Beta; weight: its a + b, in equivalent cases seen; word: as written, or None for a number.
    """

    p: Share
    weight: Positive
    word: str | None = None


class Link(Record, frozen=True):
    """One line of a `leads_to`: the target shows with these strengths.

    Args:
        target: id of a state or finding, before expansion; strengths: its grade (``yes`` if yes/no) -> strength.
        where: which instances of the target are meant, or None for the usual ones.
        when: grade of the parent for which this line holds, or None for any fault grade.
        by_torque: multiply the strength by the element's torque share in that gear.
    """

    target: str
    strengths: Mapping[str, Strength]
    where: str | None = None
    when: str | None = None
    by_torque: bool = False
    mark: Mark = NOWHERE


class Raise(Record, frozen=True):
    """A background multiplies a hazard: `ratio` 1 changes nothing."""

    background: str
    grade: str
    ratio: Unsigned
    mark: Mark = NOWHERE


class LookAlike(Record, frozen=True):
    """What a cause gets mistaken for, why, and the findings that tell the two apart."""

    cause: str
    because: str
    tells_apart: tuple[str, ...] = ()
    mark: Mark = NOWHERE


class DrivenOn(Record, frozen=True):
    """What happens if the vehicle is driven on.

    Args:
        severity: one of `SEVERITIES` of the forms; says: one sentence for the owner.
        within_km: distance in which it usually gets there, or None; damages: ids of causes that it brings on.
    """

    severity: str
    says: str
    within_km: Count | None = None
    damages: tuple[str, ...] = ()


class Scope(Record, frozen=True):
    """On which units a record stands, and over what it expands.

    Args:
        each: None or one of `EACH`.
        types: instance types that take part (``clutch``, ``on_off``, ...); empty means all.
        needs: tags that the unit sheet must carry, all of them.
        not_with: tags that rule the record out, any of them.
        fits: backgrounds, each with the one answer with which it goes: with any other it is out of the question.
    """

    each: str | None = None
    types: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    not_with: tuple[str, ...] = ()
    fits: tuple[tuple[str, str], ...] = ()


class Cause(Record, frozen=True):
    """What is broken, worn, contaminated or wrong; the thing a job puts right.

    Args:
        per_thousand: share of complaints at the reference distance, as a Strength from 0 to 1: the
            file's ``{per_thousand: 40}`` is p 0.04. For a template, all instances together.
        wear: Weibull slope of the hazard over distance; below 1 it falls, above 1 it climbs.
        simulated: defects of a simulated drive that show it, as `trace --simulate` takes them, {id} for the instance.
    """

    id: str
    says: str
    label: str
    area: str
    per_thousand: Strength
    wear: Unsigned
    leads_to: tuple[Link, ...]
    raised_by: tuple[Raise, ...]
    looks_like: tuple[LookAlike, ...]
    driven_on: DrivenOn
    scope: Scope
    status: str
    source: str
    mark: Mark = NOWHERE
    label_any: str = ""
    simulated: tuple[str, ...] = ()


class State(Record, frozen=True):
    """A hidden condition between causes and findings; its first grade is the sound one."""

    id: str
    label: str
    grades: tuple[str, ...]
    unexplained: Mapping[str, Strength]
    raised_by: tuple[Raise, ...]
    leads_to: tuple[Link, ...]
    scope: Scope
    source: str
    mark: Mark = NOWHERE


class Stand(Record, frozen=True):
    """An answer that stands for answers to other findings: `answer` given -> `group` all `answered`."""

    answer: str
    groups: tuple[str, ...]
    findings: tuple[str, ...]
    answered: str
    mark: Mark = NOWHERE


class Gauge(Record, frozen=True):
    """How a measured number answers a finding.

    Args:
        kind: one of `QUANTITIES`; bounds are in its base unit.
        name: what a case calls the number; of a template with the instance behind it.
        low, high: within these it is sound; None where that side is open or only a unit's sheet knows.
        below, above: the answer outside; None where that side says nothing. further: answer -> bound from which it is that one.
        wide: whether the bounds hold for every unit, so that a number within them says nothing of this one.
        relative: whether the bounds are shares of the ratio of the gear; other_gear: the answer where another has it.
    """

    kind: str
    name: str
    low: Signed | None = None
    high: Signed | None = None
    below: str | None = None
    above: str | None = None
    further: Mapping[str, Signed] = field(default_factory=dict)
    wide: bool = False
    relative: bool = False
    other_gear: str | None = None
    mark: Mark = NOWHERE


class Traced(Record, frozen=True):
    """How what is measured in a road-test log answers a finding.

    Args:
        by: one of `forms.LOG_MEASURES`.
        number: number of the finding's `measured` by which it is graded; "" where the bounds here do that.
        low, high: from where and up to where it is `grade`, in the unit of the measure; beyond, it is the sound answer.
        silent: whether only `grade` is told, for what is sound in this log may be wrong elsewhere.
        fewest: samples that it takes.
    """

    by: str
    source: str
    number: str = ""
    low: Signed | None = None
    high: Signed | None = None
    grade: str = ""
    silent: bool = False
    fewest: Count = 1
    mark: Mark = NOWHERE


class Finding(Record, frozen=True):
    """Anything observed. Grades list the sound answer first; yes/no findings are ``("no", "yes")``.

    Args:
        got_by: ``owner``, ``history``, ``look``, ``road``, ``scan``, ``measure`` or ``open`` (something taken apart).
        together: natural group in which it is asked; unexplained: how often it shows in a complaint with none of its causes.
        stands_for: what an answer fills in besides; complaint: whether an owner comes in with it; early_look: place among the
            first looks, from 1; general_of: findings after which it asks in general.
        denied_by: findings that, where they show, say that this one does not; includes: those that its yes says too.
        never_with: what no vehicle shows beside it; not_asked_with: what nobody asks for then; shows_with: the same seen twice.
        asked_after: findings of which one must show, itself or a part of it, before this one is asked for.
        rest_of: template whose codes it answers where there is no such instance; none_by: the scan that found none, it says.
        speaks_of: ``when`` it happens, or ``one_code`` of many; None where of what happens; onset: how it began -> the answer.
        condition: name by which a case ties it to another (`when: [hot]`); follows: whose lines hold for it too, weakened.
        measured: numbers that answer it; traced: what of a road-test log does; words: what people say for it.
        reverse_is: of one per gear, what stands for its instance for reverse; asked: whether to ask for it, vague things never;
            stands_until: looks of which one must find all right before a vehicle that shows it is moved; stands_from: from
                which grade on, "" for any.
    """

    id: str
    label: str
    ask: str
    grades: tuple[str, ...]
    grade_labels: Mapping[str, str]
    group: str
    got_by: str
    together: str | None
    words: tuple[str, ...]
    unexplained: Mapping[str, Strength]
    raised_by: tuple[Raise, ...]
    stands_for: tuple[Stand, ...]
    complaint: bool
    scope: Scope
    source: str
    mark: Mark = NOWHERE
    label_any: str = ""
    early_look: Count | None = None
    general_of: tuple[str, ...] = ()
    denied_by: tuple[str, ...] = ()
    includes: tuple[str, ...] = ()
    never_with: tuple[str, ...] = ()
    shows_with: tuple[str, ...] = ()
    not_asked_with: tuple[str, ...] = ()
    asked_after: tuple[str, ...] = ()
    rest_of: str | None = None
    none_by: str | None = None
    speaks_of: str | None = None
    condition: str | None = None
    onset: Mapping[str, str] = field(default_factory=dict)
    follows: tuple[Link, ...] = ()
    reverse_is: str | None = None
    asked: bool = True
    stands_until: tuple[str, ...] = ()
    stands_from: str = ""
    measured: tuple[Gauge, ...] = ()
    traced: tuple[Traced, ...] = ()


NAME_SLOT = "{name}"
"""Where a template says of what it is: a gear, a shift, a part."""


def speak_in_general(text: str, scope: Scope) -> str:
    """Fill in what a template expands over where a text says {name}, naming no instance.

    Example:
        >>> speak_in_general("{name} burnt out", Scope("element", ("clutch", "brake")))
        'A clutch or brake burnt out'
    """
    if scope.each is None or NAME_SLOT not in text:
        return text
    kind = " or ".join(", ".join(scope.types).rsplit(", ", 1)) if scope.each == NAMED_BY_TYPE else scope.each
    said = text.replace(NAME_SLOT, "a " + kind.replace("_", " "))
    return said[:1].upper() + said[1:]


def name_in_general(record: "Cause | Finding | Job") -> str:
    """Name a record without an instance: a template by what all of them have in common."""
    return record.label_any or speak_in_general(record.label, record.scope)


class Need(Record, frozen=True):
    """`count` pieces (or litres) of the price-book entry `price`."""

    price: str
    count: Unsigned
    mark: Mark = NOWHERE


class Check(Record, frozen=True):
    """An act that reveals findings.

    Args:
        minutes: hands-on labour at its access state, opening and closing not counted.
        missed, false_alarm: p that a reading it gives hides a true sign, or shows a false one.
        habit_order: its place where a shop checks by habit, the first at 1; 0 where it stands in no habit.
        visit_order: its place among the looks with which a careful visit begins, the first at 1; 0 for all others.
        running: whether the engine runs or the vehicle is driven for it, so that it must be closed and filled first.
        unless: findings with which it cannot be made; made_for: findings, lives and likely causes at which it goes first;
            only_so: it is made for nothing else.
        before: follow-ups and kinds of jobs: no job that is of this kind, or asks for or does this, is done before it.
        days: how long it stands, a night counts as one; comes_back: it is driven meanwhile; recorded: it gives a road-test log.
    """

    id: str
    label: str
    how: str
    minutes: Unsigned
    access: str
    tools: tuple[str, ...]
    consumables: tuple[Need, ...]
    reveals: tuple[str, ...]
    missed: Share
    false_alarm: Share
    cautions: tuple[str, ...]
    scope: Scope
    source: str
    mark: Mark = NOWHERE
    habit_order: Count = 0
    words: tuple[str, ...] = ()
    running: bool = False
    visit_order: Count = 0
    days: Unsigned = 0.0
    comes_back: bool = False
    recorded: bool = False
    unless: tuple[str, ...] = ()
    made_for: tuple[str, ...] = ()
    before: tuple[str, ...] = ()
    only_so: bool = False


class Cure(Record, frozen=True):
    """A job puts right the cause with this probability (imperfect work included)."""

    cause: str
    strength: Strength
    mark: Mark = NOWHERE


class Job(Record, frozen=True):
    """A correction; `alone` is offered in no bundle, `by_habit` done at once by shops that check nothing.

    It `contains` jobs that are done with it, and cures what they do; it `does` what must follow others. It is not done with the
    findings of `unless`; of what it is `made_for` a cause is likely, a finding told. It `leaves` other lives than its kind, and
    `eases` causes for a time that it does not put right.
    """

    id: str
    label: str
    says: str
    kind: str
    minutes: Unsigned
    access: str
    tools: tuple[str, ...]
    parts: tuple[Need, ...]
    consumables: tuple[Need, ...]
    cures: tuple[Cure, ...]
    follow_ups: tuple[str, ...]
    cautions: tuple[str, ...]
    not_covered: str
    days: Unsigned
    scope: Scope
    source: str
    mark: Mark = NOWHERE
    alone: bool = False
    by_habit: bool = False
    label_any: str = ""
    words: tuple[str, ...] = ()
    contains: tuple[str, ...] = ()
    does: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    made_for: tuple[str, ...] = ()
    leaves: Mapping[str, str] = field(default_factory=dict)
    eases: tuple[str, ...] = ()


class Access(Record, frozen=True):
    """A state of disassembly; opening starts from its parent, closing goes back to it."""

    id: str
    label: str
    parent: str | None
    open_minutes: Unsigned
    close_minutes: Unsigned
    consumables: tuple[Need, ...]
    mark: Mark = NOWHERE


class FollowUp(Record, frozen=True):
    """What must be done after a job by `who`; if `lasting`, not again when a second job follows soon."""

    id: str
    label: str
    says: str
    who: str
    minutes: Unsigned
    consumables: tuple[Need, ...]
    mark: Mark = NOWHERE
    lasting: bool = False


class Caution(Record, frozen=True):
    """A warning that stands beside every check and job that can hurt; `forbidden_by`: signs with which it is not done."""

    id: str
    says: str
    mark: Mark = NOWHERE
    forbidden_by: tuple[str, ...] = ()


class Code(Record, frozen=True):
    """A stored trouble code, what it means, and the finding that it answers.

    Args:
        instance: how the code tables call the instance that it speaks of, or None.
        sole_of: types of solenoid; where the unit has one solenoid of them, that one is meant whatever its letter.
    """

    code: str
    means: str
    finding: str
    instance: str | None
    mark: Mark = NOWHERE
    sole_of: tuple[str, ...] = ()


class Area(Record, frozen=True):
    """One of the fixed areas of CONTRACT, with its plain name; its causes are practised on from a level on."""

    id: str
    label: str
    mark: Mark = NOWHERE
    practised_from: Count = HARDEST_LEVEL


class TextbookCase(Record, frozen=True):
    """A written job card: the answers, and the cause that it turned out to be.

    Args:
        findings: expanded finding id or trouble code -> ``yes``, ``no``, a grade, or a mapping
            ``{"is": answer, "doubt": word}``.
    """

    id: str
    cause: str
    says: str
    unit: str
    odometer_km: Unsigned | None
    background: Mapping[str, str]
    findings: Mapping[str, object]
    source: str
    mark: Mark = NOWHERE
    complaint: tuple[str, ...] = ()


class Words(Record, frozen=True):
    """The strength and frequency words with their numbers, read once from `words.yaml`.

    Args:
        how_common: word -> share of complaints from 0 to 1 (``very_common`` is 0.04); wear: word -> Weibull slope.
        doubts: word -> p that an answer given with this doubt is right; nothing_found: share of complaints without a cause.
        reference_km: distance at which `how_common` holds; complaint_total: sum to which a unit's base rates are rescaled.
        soon_lost_km: what is lost within it is soon lost; soon_unsafe_km: what endangers people only later does not do so now.
        stop_driving: p of either from which on nobody drives.
        says_itself: signs as `finding`, `finding=grade`, `not finding`, joined by ` and ` -> severity that they say themselves.
        milder: `finding when condition` -> the finding as which it counts where it is so only then.
        not_driven: the same p from which on it is not driven for a check either; driven, moved: cautions of checks for that.
        set_first: finding -> why it is set right before the vehicle is driven or judged.
        not_run: signs, joined in the same way, with which the engine is not run either -> why.
        do_now: name -> signs, each as there, or causes, and what is done at once where one shows or is most likely at work.
    """

    strengths: Mapping[str, Strength]
    how_common: Mapping[str, Strength]
    wear: Mapping[str, Unsigned]
    doubts: Mapping[str, Share]
    reference_km: Unsigned
    complaint_total: Unsigned
    nothing_found: Share
    soon_lost_km: Unsigned
    stop_driving: Share
    says_itself: Mapping[str, str] = field(default_factory=dict)
    milder: Mapping[str, str] = field(default_factory=dict)
    soon_unsafe_km: Unsigned = 3_000_000.0
    not_driven: Share = 1.0
    driven: tuple[str, ...] = ()
    moved: tuple[str, ...] = ()
    set_first: Mapping[str, str] = field(default_factory=dict)
    not_run: Mapping[str, str] = field(default_factory=dict)
    do_now: Mapping[str, tuple[tuple[str, ...], str]] = field(default_factory=dict)
