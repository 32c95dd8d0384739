"""What one record says of another by its id, and a job card of what the rules know: it must be there.

One table says for each code where such ids are written and what they must name; a validator that asks no more is a line.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from operator import attrgetter
from typing import Any

from shiftlore.basics.problems import Mark, Problem
from shiftlore.knowledge.records import Cause, Code, Finding, Scope, Stand, TextbookCase
from shiftlore.knowledge.rulebook import NEAR, Knowledge
from shiftlore.reading import CODE_FORM, known_words, quoted
from shiftlore.sheets import SOLENOID_TYPES


def tell_unknown(
    knowledge: Knowledge, mark: Mark, code: str, kind: str, *, written: str, known: Iterable[str]
) -> Problem:
    """Make the problem for an unknown id; a retired one names what replaced it."""
    if written in knowledge.retired:
        replaced_by = knowledge.retired[written]
        advice = f"Write {replaced_by}." if replaced_by else "Take the line out."
        return Problem(mark, code, f"The {kind} {quoted(written)} is retired", advice)
    return Problem(mark, code, f"There is no {kind} {quoted(written)}", known_words(written, known))


def place_of(knowledge: Knowledge, *place: str) -> Mark:
    """Say where a member of a record stands, or where nothing is known of it, nowhere."""
    return knowledge.places.get(place, Mark())


def scopes_of(knowledge: Knowledge) -> Iterator[tuple[tuple[str, str], Scope]]:
    """Give the scope of every record that may be a template, with its kind and id."""
    for kind in ("cause", "state", "finding", "check", "job"):
        for record in getattr(knowledge, f"{kind}s").values():
            yield (kind, record.id), record.scope


_Place = tuple[str, ...] | Mark
_Written = Callable[[Any], Iterator[tuple[_Place, str]]]


@dataclass(frozen=True, slots=True)
class Reference:
    """One key under which ids are written.

    Args:
        code: of the problem where one names nothing.
        owners: field or property of `Knowledge` with the records that have the key.
        written: gives the ids of one such record, each with its place.
        kind: what they name, for the message.
        known: gives all that may be named.
    """

    code: str
    owners: str
    written: _Written
    kind: str
    known: Callable[[Knowledge], Collection[str]]


def _name(record: Any) -> str:
    return record.code if isinstance(record, Code) else record.id


def _members(key: str, owner: str) -> _Written:
    """Read the ids of a list."""
    return lambda record: (((owner, _name(record), key, one), one) for one in getattr(record, key))


def _single(key: str, owner: str, *unless: str | None) -> _Written:
    """Read the one id under a key, unless it is one of these: what is missing is told elsewhere."""

    def written(record: Any) -> Iterator[tuple[_Place, str]]:
        if getattr(record, key) not in unless:
            yield (owner, _name(record), key), getattr(record, key)

    return written


def _marked(key: str, name: str) -> _Written:
    """Read the ids of a list of lines that know their own place."""
    return lambda record: ((line.mark, getattr(line, name)) for line in getattr(record, key) if getattr(line, name))


def _tells_apart(cause: Cause) -> Iterator[tuple[_Place, str]]:
    for other in cause.looks_like:
        for finding in other.tells_apart:
            yield ("look-alike", f"{cause.id}/{other.cause}", "tells_apart", finding), finding


def _damages(cause: Cause) -> Iterator[tuple[_Place, str]]:
    return ((("driven_on", cause.id, "damages", one), one) for one in cause.driven_on.damages)


def _backgrounds(record: Any) -> Iterator[tuple[_Place, str]]:
    return ((("raised_by", str(line.mark)), line.background) for line in record.raised_by)


def _stood_for(key: str) -> _Written:
    return lambda finding: (
        (("stands_for", str(stand.mark), key, one), one) for stand in finding.stands_for for one in getattr(stand, key)
    )


_CAUSES, _FINDINGS, _PRICES = attrgetter("causes"), attrgetter("findings"), attrgetter("prices")
_ACCESS, _CAUTIONS, _BACKGROUNDS = attrgetter("access"), attrgetter("cautions"), attrgetter("backgrounds")

REFERENCES = (
    Reference("K102", "parents", _marked("leads_to", "target"), "state or finding",
              lambda knowledge: {**knowledge.states, **knowledge.findings}),
    Reference("K103", "causes", _marked("looks_like", "cause"), "cause", _CAUSES),
    Reference("K104", "causes", _tells_apart, "finding", _FINDINGS),
    Reference("K105", "causes", _damages, "cause", _CAUSES),
    Reference("K106", "parents", _backgrounds, "background", _BACKGROUNDS),
    Reference("K106", "findings", _backgrounds, "background", _BACKGROUNDS),
    Reference("K107", "findings", _stood_for("groups"), "group of findings",
              lambda knowledge: {finding.group for finding in knowledge.findings.values()}),
    Reference("K107", "findings", _stood_for("findings"), "finding", _FINDINGS),
    Reference("K108", "codes", _single("finding", "code"), "finding", _FINDINGS),
    Reference("K108", "codes", _members("sole_of", "code"), "type of solenoid", lambda knowledge: SOLENOID_TYPES),
    Reference("K109", "checks", _members("reveals", "check"), "finding", _FINDINGS),
    Reference("K109", "checks", _members("cautions", "check"), "caution", _CAUTIONS),
    Reference("K109", "cautions", _members("forbidden_by", "caution"), "finding", _FINDINGS),
    Reference("K109", "checks", _single("access", "check"), "access state", _ACCESS),
    Reference("K110", "jobs", _members("cautions", "job"), "caution", _CAUTIONS),
    Reference("K110", "jobs", _single("access", "job"), "access state", _ACCESS),
    Reference("K110", "jobs", _members("follow_ups", "job"), "follow-up", attrgetter("follow_ups")),
    Reference("K110", "jobs", _members("does", "job"), "follow-up", attrgetter("follow_ups")),
    Reference("K110", "jobs", _members("contains", "job"), "job", attrgetter("jobs")),
    Reference("K110", "jobs", _marked("cures", "cause"), "cause", _CAUSES),
    Reference("K110", "jobs", _members("eases", "job"), "cause", _CAUSES),
    Reference("K110", "jobs", _members("made_for", "job"), "finding or cause",
              lambda knowledge: {**knowledge.findings, **knowledge.causes}),
    Reference("K111", "checks", _marked("consumables", "price"), "price", _PRICES),
    Reference("K111", "jobs", _marked("parts", "price"), "price", _PRICES),
    Reference("K111", "jobs", _marked("consumables", "price"), "price", _PRICES),
    Reference("K111", "access", _marked("consumables", "price"), "price", _PRICES),
    Reference("K111", "follow_ups", _marked("consumables", "price"), "price", _PRICES),
    Reference("K119", "causes", _single("area", "cause", ""), "area", attrgetter("areas")),
    Reference("K129", "findings", _members("general_of", "finding"), "finding", _FINDINGS),
    Reference("K129", "checks", _members("unless", "check"), "finding", _FINDINGS),
    Reference("K129", "jobs", _members("unless", "job"), "finding or cause",
              lambda knowledge: {**knowledge.findings, **knowledge.causes}),
    Reference("K129", "backgrounds", _members("done", "background"), "job", attrgetter("jobs")),
    Reference("K129", "checks", _members("made_for", "check"), "finding, background or cause",
              lambda knowledge: {**knowledge.findings, **knowledge.backgrounds, **knowledge.causes}),
    Reference("K129", "checks", _members("before", "check"), "follow-up or kind of job",
              lambda knowledge: {*knowledge.follow_ups, *(job.kind for job in knowledge.jobs.values())}),
    Reference("K129", "findings", _members("denied_by", "finding"), "finding", _FINDINGS),
    Reference("K129", "findings", _members("includes", "finding"), "finding", _FINDINGS),
    Reference("K129", "findings", _members("stands_until", "finding"), "finding", _FINDINGS),
    Reference("K129", "findings", _single("stands_from", "finding", ""), "grade",
              lambda knowledge: {grade for one in knowledge.findings.values() for grade in one.grades}),
    Reference("K129", "findings", _members("never_with", "finding"), "finding", _FINDINGS),
    Reference("K129", "findings", _members("shows_with", "finding"), "finding", _FINDINGS),
    Reference("K129", "findings", _members("not_asked_with", "finding"), "finding", _FINDINGS),
    Reference("K129", "findings", _members("asked_after", "finding"), "finding", _FINDINGS),
    Reference("K129", "findings", _single("rest_of", "finding", None), "finding that is a template",
              lambda knowledge: [key for key, one in knowledge.findings.items() if one.scope.each is not None]),
    Reference("K131", "findings", _marked("follows", "target"), "finding", _FINDINGS),
    Reference("K131", "findings", _single("reverse_is", "finding", None), "finding", _FINDINGS),
    Reference("K126", "access", _single("parent", "access", "", None), "access state", _ACCESS),
)  # fmt: skip


def find_unknown(knowledge: Knowledge, *codes: str) -> list[Problem]:
    """Make a problem of these codes for every id that names nothing."""
    problems = []
    for reference in REFERENCES:
        if reference.code in codes:
            known, owners = reference.known(knowledge), getattr(knowledge, reference.owners)
            for owner in owners.values() if hasattr(owners, "values") else owners:
                for place, written in reference.written(owner):
                    if written not in known:
                        mark = place if isinstance(place, Mark) else place_of(knowledge, *place)
                        problems.append(
                            tell_unknown(knowledge, mark, reference.code, reference.kind, written=written, known=known)
                        )
    return problems


def validate_targets(knowledge: Knowledge) -> list[Problem]:
    """K102: whatever a cause or state leads to must be a state or a finding.

    Passes:
        leads_to: {line_pressure_low: often}      # a state of that id is written

    Fails, at the target:
        leads_to: {line_presure_low: often}       # Nearest: line_pressure_low
    """
    return find_unknown(knowledge, "K102")


def validate_look_alikes(knowledge: Knowledge) -> list[Problem]:
    """K103, K104: a look-alike must be another cause, and what tells the two apart must be findings.

    Passes:
        looks_like:
          worn_lining: {because: It keeps to its own gears., tells_apart: [line_pressure_idle]}

    Fails, at the cause or the finding that nothing carries, and where a cause looks like itself:
        looks_like:
          worn_linings: {because: It keeps to its own gears., tells_apart: [line_pressure]}
    """
    alike = [(cause, other) for cause in knowledge.causes.values() for other in cause.looks_like]
    what, advice = "A cause cannot look like itself", "Name the cause it is mistaken for."
    itself = [Problem(other.mark, "K103", what, advice) for cause, other in alike if other.cause == cause.id]
    return find_unknown(knowledge, "K103", "K104") + itself


def validate_damages(knowledge: Knowledge) -> list[Problem]:
    """K105: what a fault damages when driven on must be causes.

    Passes:
        driven_on: {severity: gets_worse, says: It burns., damages: [worn_lining]}

    Fails, at the id:
        driven_on: {severity: gets_worse, says: It burns., damages: [worn_linings]}
    """
    return find_unknown(knowledge, "K105")


def validate_hazards(knowledge: Knowledge) -> list[Problem]:
    """K106: what raises a hazard must be a background and one of its answers.

    Passes:
        raised_by: {usage: {towing: 1.8}}         # backgrounds.yaml has usage with the answer towing

    Fails, at the background or the answer:
        raised_by: {usage: {tow: 1.8}}            # Nearest: towing
    """
    problems = find_unknown(knowledge, "K106")
    for record in (*knowledge.parents, *knowledge.findings.values()):
        for line in record.raised_by:
            background = knowledge.backgrounds.get(line.background)
            if background is not None and line.grade not in background.shares:
                kind = f"answer of {line.background}"
                problems.append(
                    tell_unknown(knowledge, line.mark, "K106", kind, written=line.grade, known=background.shares)
                )
    return problems


def validate_stand_ins(knowledge: Knowledge) -> list[Problem]:
    """K107: an answer that stands for others must name its own grade, known groups and known findings.

    Passes:
        findings:
        - {id: no_codes, stands_for: [{answer: "yes", groups: [drive], answered: "no"}]}

    Fails, at the group, the finding, or the answer that no grade matches:
        findings:
        - {id: no_codes, stands_for: [{answer: maybe, groups: [drives], answered: "no"}]}
    """
    pairs = [(finding, stand) for finding in knowledge.findings.values() for stand in finding.stands_for]
    wrong = [problem for finding, stand in pairs for problem in _wrong_answers(finding, stand, knowledge)]
    return find_unknown(knowledge, "K107") + wrong


def _wrong_answers(finding: Finding, stand: Stand, knowledge: Knowledge) -> Iterator[Problem]:
    others = [knowledge.findings[name] for name in stand.findings if name in knowledge.findings]
    given = [("answer", stand.answer, finding), *(("answered", stand.answered, other) for other in others)]
    for key, answer, asked in given:
        if answer and answer not in asked.grades:
            mark = place_of(knowledge, "stands_for", str(stand.mark), key)
            what = f"{quoted(answer)} is no grade of {asked.id}"
            yield Problem(mark, "K107", what, known_words(answer, asked.grades))


def validate_code_findings(knowledge: Knowledge) -> list[Problem]:
    """K108: a trouble code must answer a known finding, and name an instance just where that is a template.

    Passes:
        codes:
        - {code: P0732, means: Gear 2 has the wrong ratio, finding: gear_slips, instance: "2"}

    Fails, at the finding, or at the code whose instance is missing or has no place:
        codes:
        - {code: P0730, means: A gear has the wrong ratio, finding: gear_slips, instance: ~}
    """
    problems = find_unknown(knowledge, "K108")
    for code in knowledge.codes.values():
        if code.finding not in knowledge.findings:
            continue
        each = knowledge.findings[code.finding].scope.each
        if each is None and code.instance is not None:
            what = f"{code.finding} is one finding, so {code.code} can name no instance"
            problems.append(Problem(code.mark, "K108", what, "Take instance out."))
        if each is not None and code.instance is None:
            what = f"{code.code} does not say which {each.replace('_', ' ')} it speaks of"
            problems.append(Problem(code.mark, "K108", what, "Add instance: ..., in quotes."))
    return problems


def validate_general_findings(knowledge: Knowledge) -> list[Problem]:
    """K129: a general finding must name known particular ones, and the rest of a template a known template.

    Passes:
        findings:
        - {id: slips_any, general_of: [gear_slips]}      # gear_slips is a finding, one per gear
        - {id: slips_else, rest_of: gear_slips}

    Fails, at the id that no finding carries, that is no template, or that is the finding's own:
        findings:
        - {id: slips_any, general_of: [gear_slip]}
    """
    problems = find_unknown(knowledge, "K129")
    for finding in knowledge.findings.values():
        if finding.id in finding.general_of or (finding.scope.each is not None and finding.id == finding.rest_of):
            key = ("general_of", finding.id) if finding.id in finding.general_of else ("rest_of",)
            mark, others = place_of(knowledge, "finding", finding.id, *key), {*knowledge.findings} - {finding.id}
            problems.append(
                tell_unknown(knowledge, mark, "K129", "other finding", written=finding.id, known=sorted(others))
            )
    return problems


def validate_followers(knowledge: Knowledge) -> list[Problem]:
    """K131: a finding must follow known ones that follow none themselves, in grades that they have.

    Passes:
        findings:
        - {id: no_scan, follows: {no_codes: sometimes}}
        - {id: fluid_dirty, follows: {fluid_colour: {dark: always}}}

    Fails, at the id that no finding carries, that follows another, or that lacks the grade:
        findings:
        - {id: no_scan, follows: {no_code: sometimes}}
        - {id: fluid_dirty, follows: {fluid_colour: {muddy: always}}}
    """
    problems, findings = find_unknown(knowledge, "K131"), knowledge.findings
    for line in (line for finding in findings.values() for line in finding.follows if line.target in findings):
        other = findings[line.target]
        if other.follows:
            advice = f"Follow what {other.id} follows: {', '.join(sorted(one.target for one in other.follows))}."
            problems.append(Problem(line.mark, "K131", f"{other.id} follows others itself", advice))
        for grade in line.strengths:
            if grade not in (*other.grades[1:], "yes"):
                what = f"{quoted(grade)} is no fault grade of {other.id}"
                problems.append(Problem(line.mark, "K131", what, known_words(grade, other.grades[1:])))
    return problems


def validate_check_ids(knowledge: Knowledge) -> list[Problem]:
    """K109: a check must reveal known findings, in a known state of disassembly, with known cautions.

    Passes:
        checks:
        - {id: look_in, access: pan_off, reveals: [fluid_colour], cautions: [hot_fluid]}

    Fails, at the id:
        checks:
        - {id: look_in, access: pan_of, reveals: [fluid_color], cautions: [hot_fluids]}
    """
    return find_unknown(knowledge, "K109")


def validate_job_ids(knowledge: Knowledge) -> list[Problem]:
    """K110: a job must cure known causes, in a known state of disassembly, with known follow-ups, cautions and backgrounds.

    Passes:
        jobs:
        - {id: new_pump, access: pan_off, cures: {worn_pump: usually}, follow_ups: [level_hot]}

    Fails, at the id:
        jobs:
        - {id: new_pump, access: pan_off, cures: {worn_pumps: usually}, follow_ups: [level_hott]}
    """
    jobs = knowledge.jobs.values()
    left = (_wrong_backgrounds(job.leaves, ("job", job.id, "leaves"), "K110", knowledge) for job in jobs)
    return [*find_unknown(knowledge, "K110"), *(problem for found in left for problem in found)]


def validate_needed_prices(knowledge: Knowledge) -> list[Problem]:
    """K111: every part and consumable must stand in the price book.

    Passes:
        checks:
        - {id: look_in, consumables: [{price: pan_gasket, count: 1}]}      # prices.yaml has pan_gasket

    Fails, at the price:
        checks:
        - {id: look_in, consumables: [{price: pan_gaskett, count: 1}]}     # Nearest: pan_gasket
    """
    return find_unknown(knowledge, "K111")


def validate_areas(knowledge: Knowledge) -> list[Problem]:
    """K119: the area of a cause must be one of `areas.yaml`.

    Passes:
        area: clutch_pack

    Fails, at the area:
        area: clutches                 # Nearest: clutch_pack
    """
    return find_unknown(knowledge, "K119")


def validate_sayings(knowledge: Knowledge) -> list[Problem]:
    """K130 (warning): sayings must stand under a finding or background, and there under one of its answers (or `near`).

    Passes:
        says: {fluid_colour: {dark: [looks like strong tea]}}        # in sayings/<language>/<any name>.yaml

    Warned of, at the id:
        says: {fluid_colr: {dark: [looks like strong tea]}}          # Nearest: fluid_colour
    """
    answers = {key: finding.grades for key, finding in knowledge.findings.items()}
    answers |= {key: tuple(one.shares) for key, one in knowledge.backgrounds.items()}
    problems = []
    for language, sayings in knowledge.sayings.items():
        for key, said in sayings.items():
            place = ("sayings", language, key)
            wrong = [(place, "finding or background", key, tuple(answers))] if key not in answers else [
                ((*place, answer), f"answer of {key}", answer, (*answers[key], NEAR))
                for answer in said if answer not in (*answers[key], NEAR)
            ]  # fmt: skip
            for where, kind, written, known in wrong:
                told = tell_unknown(knowledge, place_of(knowledge, *where), "K130", kind, written=written, known=known)
                problems.append(told.vary(severity="warning"))
    return problems


def validate_textbook_ids(knowledge: Knowledge) -> list[Problem]:
    """K112: a textbook case must speak of a known unit, cause, backgrounds, findings and their answers.

    Passes:
        cause: worn_lining
        findings: {fluid_colour: dark, gear_slips_2: "yes"}        # gear_slips is a template, 2 a gear

    Fails, at the id or the answer:
        cause: worn_linings
        findings: {fluid_color: dark, fluid_colour: darkish}
    """
    return [problem for case in knowledge.textbook.values() for problem in _of_one(case, knowledge)]


def find_expanded(knowledge: Knowledge, name: str) -> Finding | None:
    """Find the finding, or the template, that an expanded finding id belongs to; the longest fits best."""
    findings = knowledge.findings
    if name in findings and findings[name].scope.each is None:
        return findings[name]
    parts = name.split("_")
    starts = ("_".join(parts[:count]) for count in range(len(parts) - 1, 0, -1))
    return next((findings[one] for one in starts if one in findings and findings[one].scope.each is not None), None)


def _of_one(case: TextbookCase, knowledge: Knowledge) -> Iterator[Problem]:
    owner = ("textbook case", case.id)
    if case.cause and case.cause not in knowledge.causes:
        mark = place_of(knowledge, *owner, "cause")
        yield tell_unknown(knowledge, mark, "K112", "cause", written=case.cause, known=knowledge.causes)
    if case.unit and case.unit not in knowledge.sheets:
        yield tell_unknown(
            knowledge, place_of(knowledge, *owner, "unit"), "K112", "unit", written=case.unit, known=knowledge.sheets
        )
    yield from _wrong_backgrounds(case.background, (*owner, "background"), "K112", knowledge)
    for name in case.complaint:
        if find_expanded(knowledge, name) is None:
            mark = place_of(knowledge, *owner, "complaint", name)
            yield tell_unknown(knowledge, mark, "K112", "finding", written=name, known=knowledge.findings)
    for name, answer in case.findings.items():
        yield from _answer(name, answer, owner, knowledge)


def _wrong_backgrounds(
    said: Mapping[str, str], owner: tuple[str, ...], code: str, knowledge: Knowledge
) -> Iterator[Problem]:
    for name, answer in said.items():
        mark = place_of(knowledge, *owner, name)
        background = knowledge.backgrounds.get(name)
        if background is None:
            yield tell_unknown(knowledge, mark, code, "background", written=name, known=knowledge.backgrounds)
        elif answer not in background.shares:
            yield tell_unknown(knowledge, mark, code, f"answer of {name}", written=str(answer), known=background.shares)


def _answer(name: str, answer: object, owner: tuple[str, str], knowledge: Knowledge) -> Iterator[Problem]:
    mark = place_of(knowledge, *owner, "findings", name)
    if CODE_FORM.fullmatch(name.upper()):
        if name.upper() not in knowledge.codes:
            yield tell_unknown(knowledge, mark, "K112", "code", written=name, known=knowledge.codes)
        return
    finding = find_expanded(knowledge, name)
    given = answer.get("is") if isinstance(answer, dict) else answer
    if finding is None:
        yield tell_unknown(knowledge, mark, "K112", "finding", written=name, known=knowledge.findings)
    elif given not in finding.grades:
        what = f"{quoted(str(given))} is no answer of {name}"
        yield Problem(mark, "K112", what, known_words(str(given), finding.grades))
