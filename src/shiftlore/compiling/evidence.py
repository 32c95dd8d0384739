"""Turn the answers of a case into evidence: codes to findings, macros filled in, doubt to likelihoods."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

from shiftlore.basics.quantities import QUANTITIES, kind_of, to_base
from shiftlore.basics.structs import Value
from shiftlore.cases import Answer, Case
from shiftlore.compiling.expansion import ExpandedNode, Expansion, NodeLink, flatten_node
from shiftlore.compiling.gates import is_weak, raise_leak
from shiftlore.compiling.priors import Lived, background_factor
from shiftlore.gearing import Instance
from shiftlore.knowledge import Background, Code, Finding, Gauge, Knowledge, answer_number
from shiftlore.sheets import Limit

EITHER_SIGN, CONDITION_SIGN = "__or__", "__of__"
"""What the ids of signs hold that one case alone has."""
P_DENIED = 0.9
"""How surely a sign that speaks against another denies it: the other may have come since. Judgement."""


class Observation(Value, frozen=True):
    """One answer as evidence.

    Args:
        finding: expanded finding id.
        grade: name of the grade.
        p_right: 1 for a sure answer; below 1 the chance that it is right.
        given_as: the key under which the case gave it (a code, a macro, or the finding itself).
    """

    finding: str
    grade: str
    p_right: float = 1.0
    given_as: str = ""


Told = tuple[str, str, str | None]
"""What a case says: key, grade, word for how sure."""


def as_told(answer: Answer) -> Told:
    """Give what an answer of a case says."""
    return answer.finding, answer.grade, answer.doubt


class Dial(Value, frozen=True):
    """One number that answers one finding of a unit.

    Args:
        low, high: what is sound here: as the unit's sheet states it (`is_stated`), else as the rule does.
        ratio: of the gear that it speaks of, and others: of the gears that drive the same way; for ratios alone.
    """

    finding: str
    gauge: Gauge
    low: float | None
    high: float | None
    is_stated: bool = False
    ratio: float | None = None
    others: tuple[float, ...] = ()


def list_dials(expansion: Expansion, limits: Mapping[str, Limit]) -> dict[str, list[Dial]]:
    """List, by the name of a number, the findings that it answers on a unit.

    Args:
        limits: what the unit's sheet states.
    """
    found: dict[str, list[Dial]] = {}
    ratios = {gear: abs(ratio) for gear, ratio in expansion.facts.ratios.items() if ratio}
    for key, record in expansion.finding_records.items():
        own = key.removeprefix(record.id)
        for gauge in record.measured:
            places = [f"_{gear}" for gear in ratios] if gauge.other_gear else [own]
            for place in places:
                limit = limits.get(gauge.name + place)
                is_stated = limit is not None and limit.kind == gauge.kind
                low, high = (limit.low, limit.high) if is_stated and limit else (gauge.low, gauge.high)
                gear, is_ratio = place.removeprefix("_"), gauge.relative or bool(gauge.other_gear)
                others = tuple(ratio for other, ratio in ratios.items() if other != gear) if is_ratio else ()
                dial = Dial(
                    key,
                    gauge,
                    low=low,
                    high=high,
                    is_stated=is_stated,
                    ratio=ratios.get(gear) if is_ratio else None,
                    others=others,
                )
                found.setdefault(gauge.name + place, []).append(dial)
    return found


def read_dial(dial: Dial, grades: tuple[str, ...], value: float) -> str | None:
    """Say what a number answers, or None where it says nothing.

    Args:
        grades: of the finding, the sound one first.
        value: in the base unit of its kind.
    """
    gauge, low, high = dial.gauge, dial.low, dial.high
    if gauge.relative or gauge.other_gear:
        if dial.ratio is None:
            return None
        shares = [abs(value) / ratio for ratio in (dial.ratio, *dial.others)]
        fits = [(low or 0.0) <= share <= (high or math.inf) for share in shares]
        if gauge.other_gear:
            return gauge.other_gear if any(fits) and not fits[0] else None
        if any(fits) and not fits[0]:
            return None
        value = shares[0]
    return answer_number(gauge, value, grades[0], stated=(low, high) if dial.is_stated else None)


class Dials:
    """What measured numbers answer on one unit.

    Args:
        limits: what the unit's sheet states.
    """

    def __init__(self, expansion: Expansion, limits: Mapping[str, Limit]):
        self.by_name = list_dials(expansion, limits)
        self.nodes = expansion.findings

    @property
    def units(self) -> dict[str, tuple[str, ...]]:
        """Map each name of a number to the units in which it may be given."""
        return {name: tuple(QUANTITIES[dials[0].gauge.kind].units) for name, dials in self.by_name.items()}

    def grade(self, name: str, value: float) -> dict[str, str]:
        """Give what a number, in its base unit, answers: finding -> grade."""
        read = {
            one.finding: read_dial(one, self.nodes[one.finding].grades, value) for one in self.by_name.get(name, ())
        }
        return {finding: grade for finding, grade in read.items() if grade is not None}

    def read(self, case: Case) -> dict[str, str]:
        """Give what all numbers of a case answer: finding -> grade."""
        found: dict[str, str] = {}
        for name, item in case.measured.items():
            found |= self.grade(name, to_base(kind_of(item.unit), item.value, item.unit))
        return found


def list_told(expansion: Expansion, case: Case, measured: Mapping[str, str]) -> list[Told]:
    """List complaints as yes answers, how it began, what was measured, then the answers, which outweigh all of these.

    Args:
        measured: finding -> what the numbers of the case answer.
    """
    said = {**dict.fromkeys(case.complaint, "yes"), **measured}
    if case.onset is not None:
        said |= list_onsets(expansion).get(case.onset.how, {})
    told: list[Told] = [(key, grade, None) for key, grade in said.items() if key not in case.findings]
    return told + [as_told(answer) for answer in case.findings.values()]


def resolve_answers(
    expansion: Expansion, aliases: Mapping[str, str], doubts: Mapping[str, float], told: Iterable[Told]
) -> tuple[tuple[Observation, ...], tuple[str, ...]]:
    """Resolve keys, grades and words of doubt.

    Args:
        aliases: trouble code -> expanded finding.
        doubts: word -> how often it is right.
    Returns: the answers, the later of two to one finding winning; and the keys that carry no weight on the unit.
    """
    found: dict[str, Observation] = {}
    unused = []
    for key, grade, doubt in told:
        finding = aliases.get(key.upper(), expansion.renamed.get(key, key))
        if finding not in expansion.findings:
            unused.append(key)
            continue
        grades = expansion.findings[finding].grades
        answer = Observation(finding, grade if grade in grades else grades[-1], doubts.get(doubt or "", 1.0), key)
        held = found.get(finding)
        # Several codes may answer one finding: one that is stored outweighs one that is not.
        if held is None or held.grade == grades[0]:
            found[finding] = answer
    return tuple(found.values()), tuple(unused)


def find_code(knowledge: Knowledge, expansion: Expansion, code: str) -> str | None:
    """Name the expanded finding that a trouble code answers on this unit, or None.

    Args:
        code: such as P0732, letters in any case.
    """
    record = knowledge.codes.get(code.upper())
    if record is None:
        return None
    for candidate in _code_candidates(record, expansion):
        if candidate in expansion.findings:
            return candidate
    return None


def _code_candidates(record: Code, expansion: Expansion) -> Iterable[str]:
    """List the findings that a code may answer on this unit, the most telling first."""
    tied = expansion.facts.codes.get(record.code)
    if tied is not None:
        yield f"{record.finding}_{tied[1]}"
    if record.instance is not None:
        for each in ("solenoid", "speed_sensor", "pressure_switch"):
            for item in expansion.facts.instances(each):
                if record.instance in name_for_codes(each, item):
                    yield f"{record.finding}_{item.id}"
        sole = [item for item in expansion.facts.instances("solenoid") if item.type in record.sole_of]
        if len(sole) == 1:
            yield f"{record.finding}_{sole[0].id}"
        yield f"{record.finding}_{record.instance}"
        yield from (key for key, finding in expansion.finding_records.items() if finding.rest_of == record.finding)
    yield record.finding


def name_for_codes(each: str, item: Instance) -> set[str]:
    """List how the code tables call an instance: `shift_a`, `pressure_b`, `tcc`, `input`, or its own id."""
    names = {item.id, item.type}
    if each == "solenoid":
        kind = "shift" if item.type == "on_off" else "pressure"
        names |= {f"{kind}_{letter.lower()}" for letter in item.names if len(letter) == 1}
    return names


def list_aliases(knowledge: Knowledge, expansion: Expansion) -> dict[str, str]:
    """Map every code that this unit can answer to its expanded finding."""
    found = {code: find_code(knowledge, expansion, code) for code in knowledge.codes}
    return {code: finding for code, finding in found.items() if finding}


def fill_in_answers(
    expansion: Expansion, answers: Iterable[Observation], done: Iterable[str] = ()
) -> list[Observation]:
    """Add what some answers stand for; an answer given outright always wins over one filled in.

    Args:
        done: checks that were made: a scan that named a code found no other.
    """
    given = list(answers)
    taken = {answer.finding for answer in given}
    filled = []
    for answer in given:
        record = expansion.finding_records.get(answer.finding)
        for stand in record.stands_for if record else ():
            if stand.answer == answer.grade:
                for finding in list_stood_for(expansion, stand.groups, stand.findings):
                    if finding not in taken:
                        taken.add(finding)
                        filled.append(Observation(finding, stand.answered, answer.p_right, answer.given_as))
    for more in (_deny(expansion, given), *(_close_scan(expansion, check, given) for check in done)):
        closed = [one for one in more if one.finding not in taken]
        taken |= {one.finding for one in closed}
        filled += closed
    return given + filled


def _deny(expansion: Expansion, given: Sequence[Observation]) -> Iterator[Observation]:
    """Deny what a telling answer speaks against, unless what asks for it in general, or a part of that, is told."""
    records = expansion.finding_records
    told = (one for one in given if one.finding in records and not _is_sound(expansion, one))
    telling = {records[one.finding].id: one for one in told}
    for key, record in expansion.denied.items():
        said = next((telling[name] for name in record.denied_by if name in telling), None)
        general = (one for one in records.values() if record.id in one.general_of) if said else ()
        if said and not any(telling.keys() & {one.id, *one.general_of} for one in general):
            yield Observation(key, expansion.findings[key].grades[0], min(said.p_right, P_DENIED), said.given_as)


def _close_scan(expansion: Expansion, check: str, given: Sequence[Observation]) -> Iterator[Observation]:
    """Deny all that a scan would have named beside the codes that it did name, but for what only says the same in general."""
    records, shown = expansion.finding_records, expansion.reveals.get(check, ())
    for none in (key for key in shown if records[key].none_by):
        stands = [stand for stand in records[none].stands_for if stand.answer != expansion.findings[none].grades[0]]
        nameable = [key for stand in stands for key in list_stood_for(expansion, stand.groups, stand.findings)]
        codes = {*nameable, *shown} - {none}
        named = [one for one in given if one.finding in codes and not _is_sound(expansion, one)]
        templates = {records[one.finding].id for one in named}
        for key in nameable if named else ():
            if not templates.intersection(records[key].general_of):
                yield Observation(key, expansion.findings[key].grades[0], 1.0, named[0].given_as)


def list_onsets(expansion: Expansion) -> dict[str, dict[str, str]]:
    """Map how a fault began to the findings that this answers."""
    found: dict[str, dict[str, str]] = {}
    for key, record in expansion.finding_records.items():
        for how, grade in record.onset.items():
            found.setdefault(how, {})[key] = grade
    return found


def drop_implied(expansion: Expansion, answers: Iterable[Observation]) -> list[Observation]:
    """Leave out what another answer says already, so that no sign counts twice.

    A general yes ("harsh shifts") goes where a particular one ("harsh 2-3") is at least as sure; so does a particular no
    where the general no is. Whatever contradicts stays.
    """
    given = {answer.finding: answer for answer in answers}
    implied: set[str] = set()
    for answer in given.values():
        record = expansion.finding_records[answer.finding]
        parts = [
            given[part] for name in record.general_of for part in expansion.of_template.get(name, ()) if part in given
        ]
        if _is_sound(expansion, answer):
            implied |= {one.finding for one in parts if _is_sound(expansion, one) and one.p_right <= answer.p_right}
        elif any(not _is_sound(expansion, one) and one.p_right >= answer.p_right for one in parts):
            implied.add(answer.finding)
    return [answer for answer in given.values() if answer.finding not in implied]


def _is_sound(expansion: Expansion, answer: Observation) -> bool:
    return answer.grade == expansion.findings[answer.finding].grades[0]


def list_stood_for(expansion: Expansion, groups: tuple[str, ...], findings: tuple[str, ...]) -> list[str]:
    """List the findings that an answer fills in: those named, and those of whole groups."""
    found = [key for finding in findings for key in expansion.of_template.get(finding, ())]
    for key, record in expansion.finding_records.items():
        if record.group in groups and not record.stands_for:
            found.append(key)
    return found


class CaseSign(Value, frozen=True):
    """A sign that one case alone has, and that it shows."""

    node: ExpandedNode
    record: Finding
    p_right: float

    @property
    def answer(self) -> Observation:
        """Give the answer: it shows."""
        return Observation(self.node.id, self.node.grades[1], self.p_right)


def read_either(
    expansion: Expansion,
    groups: Iterable[Sequence[Observation]],
    told: Mapping[str, Observation],
    lived: Lived,
    lives: Mapping[str, Background],
) -> tuple[list[CaseSign], list[Observation]]:
    """Turn "one of these, not said which" into signs.

    "a or b" is not shown only where neither is: P = 1 - P(no a) P(no b), once more one noisy-OR, whose parents and leak miss
    it as they miss all of them. A grade counts as that grade or more, for "exactly this grade" is no such product; so of
    several grades of one finding the lowest counts. What is answered by itself is taken out: a yes settles the group, of a
    no the others are left, and a single one left is said.
    Args:
        groups: answers of findings of this unit, by their expanded ids.
        told: finding -> answer that was given by itself.
        lived, lives: what is known of the vehicle's life, and all backgrounds.
    Returns: the signs, and the answers that are left alone in their group.
    """
    signs, alone = [], []
    for group in groups:
        grades = {one.finding: expansion.findings[one.finding].grades for one in group}
        place = {key: min(grades[key].index(one.grade) for one in group if one.finding == key) for key in grades}
        known = {key: grades[key].index(told[key].grade) for key in place if key in told}
        left = [one for one in group if one.finding not in known]
        if not left or any(known[key] >= place[key] for key in known):
            continue
        if len(left) == 1:
            alone.append(left[0])
            continue
        signs.append(_join_signs(expansion, left, place, lived, lives))
    return signs, alone


def _join_signs(
    expansion: Expansion,
    left: Sequence[Observation],
    place: Mapping[str, int],
    lived: Lived,
    lives: Mapping[str, Background],
) -> CaseSign:
    nodes = [expansion.findings[key] for key in dict.fromkeys(one.finding for one in left)]
    misses: dict[tuple[str, str], list[tuple[NodeLink, int]]] = {}
    for node in nodes:
        for link in node.links:
            by_itself = node.id if is_weak(link) and link.parent in expansion.states else ""
            misses.setdefault((link.parent, by_itself), []).append((link, place[node.id]))
    links = []
    for (parent, _), lines in misses.items():
        n_grades = len(lines[0][0].rows)
        missed = [math.prod(sum(link.rows[grade][:j]) for link, j in lines) for grade in range(n_grades)]
        weight = min(link.weight for link, _ in lines)
        links.append(NodeLink(parent, tuple((p, 1 - p) for p in missed), weight, lines[0][0].mark))
    leak = math.prod(sum(_raised(expansion, node, lived, lives)[: place[node.id]]) for node in nodes)
    labels = [_name_briefly(expansion, one) for one in left]
    name, p_right = EITHER_SIGN.join(node.id for node in nodes), min(one.p_right for one in left)
    return _make_sign(
        expansion,
        name,
        ", or ".join(labels),
        like=nodes[0],
        silent=leak,
        links=tuple(links),
        p_right=p_right,
        shown="one of these",
    )


def _name_briefly(expansion: Expansion, answer: Observation) -> str:
    node = expansion.findings[answer.finding]
    return node.label if len(node.grades) == 2 else expansion.name_answer(answer.finding, answer.grade)


def tie_conditions(
    expansion: Expansion,
    whens: Mapping[str, Sequence[Observation]],
    told: Mapping[str, Observation],
    lived: Lived,
    lives: Mapping[str, Background],
) -> list[CaseSign]:
    """Turn conditions that belong to single findings ("harsh only when hot") into signs.

    The condition is that of whatever brought its finding. A cause brings the condition with q, and has brought the finding
    with r = 1 - P(it shows all the same) / P(it shows with this cause); so the condition is seen in the finding through this
    cause with q r, and else as often as it is without any cause: a noisy-OR of the causes that explain the finding, and a
    product as every other. Several findings with one condition make one sign, each cause with its best r, for it is one
    condition of one fault. Paths through states are followed to their causes. What the case says of the condition in general
    goes before it.
    Args:
        whens: condition -> telling answers that it belongs to.
    """
    signs = []
    of_condition = {record.condition: key for key, record in expansion.finding_records.items() if record.condition}
    for condition, answers in whens.items():
        key = of_condition.get(condition)
        if key is None or key in told or not answers:
            continue
        shown = [_explained_by(expansion, one, lived, lives) for one in answers]
        node, links = flatten_node(expansion.findings[key], expansion.states), []
        for link in node.links:
            part = max(brought.get(link.parent, 0.0) for brought in shown)
            p = part * (1 - link.rows[1][0])
            links.append(NodeLink(link.parent, ((1.0, 0.0), (1 - p, p)), link.weight, link.mark))
        leak = _raised(expansion, node, lived, lives)[0]
        label = f"{node.label} ({'; '.join(_name_briefly(expansion, one) for one in answers)})"
        name = CONDITION_SIGN.join([key, *(one.finding for one in answers)])
        links = [link for link in links if link.rows[1][1] > 0]
        signs.append(
            _make_sign(
                expansion,
                name,
                label,
                like=node,
                silent=leak,
                links=tuple(links),
                p_right=min(one.p_right for one in answers),
            )
        )
    return signs


def _explained_by(
    expansion: Expansion, answer: Observation, lived: Lived, lives: Mapping[str, Background]
) -> dict[str, float]:
    """Give the chance that each cause, where it is there, is what has brought a finding that shows."""
    node = flatten_node(expansion.findings[answer.finding], expansion.states)
    j = node.grades.index(answer.grade)
    silent = sum(_raised(expansion, node, lived, lives)[:j])
    found = {}
    for link in node.links:
        shows = 1 - silent * sum(link.rows[1][:j])
        found[link.parent] = max(0.0, 1 - (1 - silent) / shows) if shows > 0 else 0.0
    return found


def _raised(
    expansion: Expansion, node: ExpandedNode, lived: Lived, lives: Mapping[str, Background]
) -> tuple[float, ...]:
    record = expansion.finding_records[node.id]
    return raise_leak(node.leak, background_factor(record.raised_by, lived, lives))


def _make_sign(
    expansion: Expansion,
    name: str,
    label: str,
    *,
    like: ExpandedNode,
    silent: float,
    links: tuple[NodeLink, ...],
    p_right: float,
    shown: str = "yes",
) -> CaseSign:
    """Make a yes/no sign; what it has not of its own it takes from a finding like it."""
    node = like.vary(id=name, label=label, grades=("no", "yes"), leak=(silent, 1 - silent), links=links)
    record = expansion.finding_records[like.id].vary(
        id=name, label=label, grades=("no", "yes"), grade_labels={"yes": shown}, raised_by=(), stands_for=(),
        general_of=(), denied_by=(), condition=None, onset={}, early_look=None, rest_of=None, none_by=None,
    )  # fmt: skip
    return CaseSign(node, record, p_right)
