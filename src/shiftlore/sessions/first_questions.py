"""What is asked of every vehicle: unit, complaint, stored codes, distance, a first look, and its life."""

import re
from collections.abc import Sequence
from dataclasses import replace

from shiftlore.basics import UsageProblem
from shiftlore.cases import CODES, COMPLAINT, LOOKS, ODOMETER, RECENT, REPLACED, Answer, Case, is_code
from shiftlore.compiling import CompiledCase, list_excluded
from shiftlore.knowledge import Background, Knowledge
from shiftlore.sessions.choosing_questions import Asking, find_telling_life
from shiftlore.sessions.questions import CODE_PATTERN, Choice, Question, Reply

UNIT = "unit"
"""Names of the interview's own questions: no finding and no background is called so."""
NO_CODES = re.compile(
    r"\b(?:none|clean|nothing|zero|no (?:\w+ ){0,3}(?:codes?|faults?|dtcs?|errors?|entr(?:y|ies)))\b|^no$"
)
_NO_SCAN = re.compile(
    r"(?:\b(?:not|never|nobody|no one|cannot)|n['’]?t)\b(?: (?!none|no\b)\w+){0,3}? "
    r"(?:scan|read|check|look|tr[iy]|test|connect|plug|done|able|yet)|\bnot yet\b|\b(?:no|without)(?: an?| any)?(?: \w+)? "
    r"(?:scan(?:ner|s)?|tools?|readers?|testers?|idea|time)\b(?! codes?)"
)
ASK_SCAN = "Was it scanned? Write none if a scan showed none, or ? if nobody scanned it."


def ask_unit(knowledge: Knowledge) -> Question:
    """Ask which transmission it is: the sheets first, then the kinds for whoever does not know."""
    sheets = knowledge.sheets.values()
    choices = [Choice(sheet.id, sheet.label) for sheet in sheets if not sheet.kind_only]
    for sheet in sheets:
        if sheet.kind_only:
            choices.append(Choice(sheet.id, f"Not known: {sheet.label[:1].lower()}{sheet.label[1:]}"))
    why = "The gears and elements to ask about follow from it."
    return Question(UNIT, "choice", "Which transmission is it?", tuple(choices), why=why, optional=False)


def ask_complaint(case: Case) -> Question | None:
    """Ask what the owner complains of, unless the case holds it."""
    if COMPLAINT in case.asked or case.complaint:
        return None
    why = "The complaint comes first; everything else is asked because of it."
    return Question(COMPLAINT, "words", "What does the owner complain of? Say it in plain words.", why=why)


def shows_wrong(compiled: CompiledCase, case: Case) -> bool:
    """Tell whether a case says anything that is wrong: a complaint, a sign, a code, a number; soundness alone does not."""
    nodes, records = compiled.expansion.findings, compiled.expansion.finding_records
    told = {key: one for key, one in case.findings.items() if key not in records or records[key].none_by is None}
    is_wrong = (key not in nodes or one.grade != nodes[key].grades[0] for key, one in told.items())
    return bool(case.complaint or case.either or case.measured) or any(is_wrong)


def ask_first(compiled: CompiledCase) -> Question | None:
    """Ask what no ranking should be without: codes, distance, what happened shortly before, a look that was taken."""
    case = compiled.case
    if codes := ask_codes(compiled):
        return codes
    if ODOMETER not in case.asked and case.odometer_km is None:
        why = "Worn parts are likelier on a vehicle that has run far."
        return Question(ODOMETER, "number", "How many kilometres has it run?", why=why)
    if RECENT not in case.asked:
        return _ask_events(compiled.knowledge, case, RECENT)
    return _ask_looks(compiled)


def ask_life(knowledge: Knowledge, case: Case) -> Question | None:
    """Ask for the vehicle's life, whatever of it is still open."""
    first = [record for record in knowledge.backgrounds.values() if record.opening is not None]
    for record in sorted(first, key=lambda record: record.opening or 0):
        if record.id not in case.asked and record.id not in case.background:
            return _ask_one(record, "How a vehicle was kept and used makes some faults likelier than others.")
    return None if REPLACED in case.asked else _ask_events(knowledge, case, REPLACED)


def ask_what_it_has(compiled: CompiledCase, other: Asking | None) -> Question | None:
    """Ask for what the vehicle has, such as a turbocharger, where that tells as much per minute as another question."""
    name = find_telling_life(compiled, other.worth if other else 0.0)
    why = "What it has not cannot be broken, and is not looked for."
    return _ask_one(compiled.knowledge.backgrounds[name], why) if name else None


def _ask_one(record: Background, why: str) -> Question:
    choices = tuple(Choice(key, record.grade_labels.get(key, key)) for key in record.shares)
    return Question(record.id, "choice", record.ask, choices=choices, members=(record.id,), why=why)


def _ask_looks(compiled: CompiledCase) -> Question | None:
    """Ask in one go for what everybody looks at first, if it was looked at."""
    records, case = compiled.expansion.finding_records, compiled.case
    places = {key: record.early_look for key, record in records.items() if record.early_look is not None}
    names = [key for key in sorted(places, key=places.__getitem__) if key not in compiled.told]
    if LOOKS in case.asked or not names:
        return None
    answers = [(key, grade) for key in names for grade in compiled.expansion.findings[key].grades]
    choices = tuple(Choice(f"{key}={grade}", compiled.expansion.name_answer(key, grade)) for key, grade in answers)
    why = "If somebody has looked already it costs nothing; if not, the look is offered below with its price."
    return Question(
        LOOKS,
        "each",
        "What did a first look show, if anybody has looked?",
        choices=choices,
        members=tuple(names),
        why=why,
    )


def list_events(knowledge: Knowledge, name: str) -> dict[str, None]:
    """List the backgrounds asked in one go: what happened, or which parts were replaced; in the order of the rules."""
    asked = {key: one for key, one in knowledge.backgrounds.items() if tuple(one.shares)[:2] == ("no", "yes")}
    return {key: None for key, one in asked.items() if not one.guessed and one.replaced == (name == REPLACED)}


def _ask_events(knowledge: Knowledge, case: Case, name: str) -> Question:
    """Ask in one go for what happened, or for which parts were replaced without cure."""
    named = [knowledge.backgrounds[key] for key in list_events(knowledge, name) if key not in case.background]
    choices = tuple(Choice(record.id, record.label) for record in named)
    if name == RECENT:
        text, why = "Is any of this so?", "After recent work the work is suspected first."
    else:
        text, why = "Was any of this done already without curing it?", "A part that is new is suspected less."
    return Question(name, "which", text, choices=choices, members=tuple(record.id for record in named), why=why)


def list_code_findings(knowledge: Knowledge) -> frozenset[str]:
    """List the findings, as written, that tell of stored trouble codes: one is, one of a kind is, none at all is."""
    records = [record for record in knowledge.findings.values() if record.grades == ("no", "yes")]
    groups = {group for record in records if record.none_by for stand in record.stands_for for group in stand.groups}
    told = {record.id for record in records if record.none_by or record.group in groups}
    return frozenset(
        record.id for record in records if record.id in told or record.rest_of in told or told & {*record.general_of}
    )


def ask_codes(compiled: CompiledCase) -> Question | None:
    """Ask for the stored codes, unless the case says something of them already."""
    told, records = list_code_findings(compiled.knowledge), compiled.expansion.finding_records
    if CODES in compiled.case.asked:
        return None
    if any(is_code(key) or (key in records and records[key].id in told) for key in compiled.case.findings):
        return None
    none = "".join(f"or none by {records[key].none_by}, " for key in _list_none(compiled)).rstrip(", ")
    text = f"Which trouble codes are stored? Write them (P0732 ...); {none}; or ? if it was not scanned."
    why = "A code of a circuit outranks every hydraulic cause; a ratio code says the reverse."
    return Question(CODES, "words", text, cost="nothing, if it has been scanned", why=why)


def _list_none(compiled: CompiledCase) -> Sequence[str]:
    """List the findings which say that a kind of scan found nothing, the least telling first."""
    return [key for key, record in compiled.expansion.finding_records.items() if record.none_by]


def take_codes(compiled: CompiledCase, case: Case, question: Question, reply: Reply) -> Case:
    """Take stored codes, or that there are none, by the scan that was named; a check's other codes are absent. Where nobody
    scanned it, nothing is taken.

    Raises: UsageProblem: there is neither a code nor a "none" in the reply.
    """
    codes = dict.fromkeys(code.upper() for code in CODE_PATTERN.findall(reply.text))
    more = {code: Answer(code, "yes", reply.doubt) for code in codes}
    if not codes:
        if _NO_SCAN.search(reply.text.lower()):
            return case  # nobody looked
        if reply.text.lower().strip(" .!") in ("no", "n", "nope") and not question.members:
            raise UsageProblem(ASK_SCAN)
        if not NO_CODES.search(reply.text.lower()):
            raise UsageProblem("Write codes such as P0732 or U0100, or none, or ? if it is not known.")
        more = {key: Answer(key, "yes", reply.doubt) for key in _choose_none(compiled, question, reply.text.lower())}
    shown = {compiled.unit.aliases.get(code, code) for code in (*more, *case.findings)}
    absent = {
        key: Answer(key, "no", reply.doubt)
        for key in question.members
        if codes and key not in shown and not _is_summary(compiled, key)
    }
    return case.with_findings({**absent, **more})


def hold_last_word(compiled: CompiledCase, before: Case, after: Case, *, is_checking: bool = False) -> Case:
    """Take back what newer answers rule out: that no codes were found, where one is read after all, and the reverse.

    Args:
        is_checking: whether a check is entered: another scan may read what the one before it cannot.
    """
    shown = {key: one for key, one in after.findings.items() if one.grade == "yes"}
    new = {key for key in shown if before.findings.get(key) != shown[key]}
    meant = {key: compiled.unit.aliases.get(key, key) for key in shown}
    gone = set[str]()
    for none, ruled_out in list_excluded(compiled.expansion).items() if new else ():
        found = {key for key in shown if meant[key] in ruled_out}
        if none in new:
            gone |= found - new
        elif none in shown and (found & new or (not is_checking and any(map(is_code, new)))):
            gone.add(none)
    complaint = tuple(key for key in after.complaint if key not in gone)
    findings = {key: one for key, one in after.findings.items() if key not in gone}
    return replace(after, complaint=complaint, findings=findings) if gone else after


def _choose_none(compiled: CompiledCase, question: Question, text: str) -> Sequence[str]:
    """Choose what "none" means: by the scan that is named or was made, else by the least telling one."""
    records, kinds = compiled.expansion.finding_records, _list_none(compiled)
    named = [key for key in kinds if key in question.members or (records[key].none_by or "").split()[0] in text]
    return named[-1:] or kinds[:1]


def _is_summary(compiled: CompiledCase, finding: str) -> bool:
    """Tell whether a finding follows from the codes themselves: none at all, or some of a kind."""
    record = compiled.expansion.finding_records[finding]
    return bool(record.stands_for or record.rest_of or record.general_of)
