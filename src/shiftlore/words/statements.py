"""What was said, as it is passed on and as a case; and how a sentence falls into parts, clauses and words not read."""

from collections.abc import Container, Iterable, Iterator, Sequence
from dataclasses import dataclass

from shiftlore.cases import Answer, Case, Onset
from shiftlore.knowledge import Knowledge
from shiftlore.words.own_turns import NO, YES
from shiftlore.words.trained import Segment
from shiftlore.words.vocabulary import STOPS, Token

CLAUSE = 0.3
_APART = 3.0
_OPENING, _CLOSING = "([", ")]"


@dataclass(frozen=True, slots=True)
class SaidAnswer:
    """One answer that was said.

    Args:
        kind: ``finding`` or ``background``.
        id: as it stands in a case, a gear or shift filled in; a code's own name for a code.
        label: its label.
        answer: ``yes``, ``no``, a grade, or an answer of the background.
        score: 0 to 1, how sure the reading is.
        matched: the words that say it, as written.
        doubt: word for how sure the speaker is, or None; when: conditions that belong to this finding alone.
        code: the trouble code that was named, or None; template: id of the finding as written.
        is_onset: whether it is said that the trouble began after it.
    """

    kind: str
    id: str
    label: str
    answer: str
    score: float
    matched: tuple[str, ...]
    doubt: str | None = None
    when: tuple[str, ...] = ()
    code: str | None = None
    template: str = ""
    is_onset: bool = False


@dataclass(frozen=True, slots=True)
class Report:
    """All that was said.

    Args:
        answers: in the order in which they were said, each finding once.
        either: groups of answers of which one was said, not which; they are not among the `answers`.
        odometer_km: what the vehicle has run, or None.
        not_understood: what was said and not read, as written; said: all of it.
    """

    answers: tuple[SaidAnswer, ...] = ()
    either: tuple[tuple[SaidAnswer, ...], ...] = ()
    odometer_km: int | None = None
    not_understood: tuple[str, ...] = ()
    said: str = ""


class Worded:
    """Something that words of a text say."""

    __slots__ = ()
    words: tuple[Token, ...]

    @property
    def start(self) -> int:
        """Where in the text it begins."""
        return self.words[0].start

    @property
    def end(self) -> int:
        """Where in the text it ends."""
        return self.words[-1].end


@dataclass(frozen=True, slots=True)
class Statement(Worded):
    """A segment, the telling tokens in it, and the answers that it gives.

    Args:
        condition: the name of the condition that it says to be so, or not to be so; "" for anything else.
        of: ids of the answers that the condition belongs to.
    """

    segment: Segment
    answers: tuple[SaidAnswer, ...]
    words: tuple[Token, ...]
    condition: str = ""
    of: tuple[str, ...] = ()


def part_sentences(tokens: Sequence[Token]) -> Iterator[tuple[list[Token], str]]:
    """Part tokens where a sentence ends; the sign that ends each stands beside it."""
    sentence: list[Token] = []
    for token in tokens:
        if token.kind != "stop" or token.parts < 1:
            sentence.append(token)
        elif sentence:
            yield sentence, token.written
            sentence = []
    if sentence:
        yield sentence, ""


def rate_parts(sentence: Sequence[Token]) -> list[float]:
    """Say how strongly each telling token is parted from the one before; another row of gears says something else."""
    parts, strongest, last = [], 0.0, ""
    for token in sentence:
        strongest = max(strongest, token.parts)
        if token.is_telling:
            if token.kind in ("gear", "shift"):
                is_new = token.kind == last and (token.kind == "shift" or strongest >= STOPS)
                strongest, last = (_APART if is_new else strongest), token.kind
            parts.append(strongest)
            strongest = 0.0
    return parts


def number_clauses(sentence: Sequence[Token], least: float = CLAUSE) -> dict[int, int]:
    """Number the clauses of a sentence: start of each token -> its clause; behind a bracket the one before it goes on.

    Args:
        least: how strongly something must part two clauses.
    """
    numbers: dict[int, int] = {}
    count, open_ones = 0, [0]
    for token in sentence:
        if token.written in _CLOSING and len(open_ones) > 1:
            open_ones.pop()
        elif token.parts >= least:
            count += 1
            open_ones[-1:] = [open_ones[-1], count] if token.written in _OPENING else [count]
        numbers[token.start] = open_ones[-1]
    return numbers


def list_unread(sentence: Sequence[Token], found: Sequence[Statement], taken: Container[int] = ()) -> list[Token]:
    """List the telling words of no statement; of gears, shifts and places those that stand beside such a word.

    Args:
        taken: where signs start that were read by themselves.
    """
    used = {token.start for one in found for token in one.words}
    used |= {token.start for token in sentence if token.start in taken}
    telling = [token for token in sentence if token.is_telling]
    is_left = [token.start not in used for token in telling]
    is_sign = [token.stem.startswith("#") and token.kind not in ("amount", "stated") for token in telling]
    rest = []
    for place, token in enumerate(telling):
        beside = (*range(max(0, place - 1), place), *range(place + 1, min(place + 2, len(telling))))
        if is_left[place] and (not is_sign[place] or any(is_left[one] and not is_sign[one] for one in beside)):
            rest.append(token)
    return rest


def part_unread(sentence: Sequence[Token], used: Container[int]) -> list[list[Token]]:
    """Part the telling words that were not read where something parts them, or was read.

    Args:
        used: where words start that were read.
    """
    runs: list[list[Token]] = [[]]
    for token in sentence:
        if token.parts >= STOPS or token.kind == "stop" or token.start in used:
            runs.append([])
        if token.is_telling and token.start not in used:
            runs[-1].append(token)
    return runs


def write_spans(text: str, sentence: Sequence[Token], rest: Sequence[Token], joints: frozenset[str]) -> list[str]:
    """Write the words that were not read as they stand in the text, neighbours together; joints alone are nothing."""
    left = {token.start for token in rest}
    spans: list[list[Token]] = []
    is_open = False
    for token in sentence:
        if token.start in left:
            if not is_open:
                spans.append([])
            spans[-1].append(token)
            is_open = True
        elif token.is_telling or token.kind == "stop":
            is_open = False
    told = [span for span in spans if any(token.written.lower() not in joints for token in span)]
    return [text[span[0].start : span[-1].end] for span in told]


def tail_of(one: Statement, joints: frozenset[str]) -> list[Token]:
    """Give what stands behind "and" in a statement; it may tell of the trouble: "replaced and the shudder is there"."""
    place = next((place for place, token in enumerate(one.words) if token.written.lower() in joints), len(one.words))
    return list(one.words[place + 1 :])


def merge_statements(statements: Iterable[Statement]) -> list[Statement]:
    """Keep each statement once, the surest, in the order in which they were said."""
    found: dict[tuple[str, ...], Statement] = {}
    for one in statements:
        name = (one.segment.label, *(answer.id for answer in one.answers))
        if found.setdefault(name, one).segment.sure < one.segment.sure:
            found[name] = one
    return sorted(found.values(), key=lambda one: one.start)


def without_denied(found: Sequence[Statement]) -> list[Statement]:
    """Leave out that something is not so, where another part of the sentence says that it is: "cracked, its bolts tight"."""
    there = {answer.id for one in found for answer in one.answers if answer.answer == YES}
    return [one for one in found if not all(answer.answer == NO and answer.id in there for answer in one.answers)]


def keep_surest(answers: Sequence[SaidAnswer]) -> list[SaidAnswer]:
    """Keep the surest answer of each finding, where it was said first."""
    best: dict[str, SaidAnswer] = {}
    for answer in answers:
        if answer.id not in best or answer.score > best[answer.id].score:
            best[answer.id] = answer
    return list(best.values())


def make_case(knowledge: Knowledge, report: Report, unit: str) -> Case:
    """Make a case of what was said; what an owner may come in with is its complaint.

    Args:
        unit: id of a unit sheet or a kind.
    """
    lived = [answer for answer in report.answers if answer.kind == "background"]
    began = tuple(one.id for one in lived if one.is_onset and _is_event(knowledge, one))
    found = [answer for answer in report.answers if answer.kind == "finding"]
    found = [answer for answer in found if not _is_contradicted(knowledge, answer, found)]
    complaint = [one.id for one in found if one.answer == "yes" and _is_complaint(knowledge, one)]
    return Case(
        unit,
        odometer_km=report.odometer_km,
        background={one.id: one.answer for one in lived},
        background_doubts={(one.id, one.answer): one.doubt for one in lived if one.doubt},
        complaint=tuple(complaint),
        findings={one.id: Answer(one.id, one.answer, one.doubt, when=one.when) for one in found},
        either=tuple(
            tuple(Answer(one.id, one.answer) for one in group)
            for group in report.either
            if len({one.kind for one in group}) == 1
        ),
        said=(report.said,) if report.said.strip() else (),
        onset=Onset(began) if began else None,
    )


def _is_event(knowledge: Knowledge, answer: SaidAnswer) -> bool:
    """Tell whether a fault may begin after what an answer says of the vehicle's life."""
    record = knowledge.backgrounds[answer.id]
    return record.event and answer.answer == record.happened


def _is_contradicted(knowledge: Knowledge, answer: SaidAnswer, others: Sequence[SaidAnswer]) -> bool:
    """Tell whether something that was said to be there is among what this answer says that nothing was found of."""
    record = knowledge.findings.get(answer.template)
    if record is None or record.none_by is None or answer.answer != "yes":
        return False
    stands = [stand for stand in record.stands_for if stand.answer == "yes"]
    telling = [
        knowledge.findings[one.template] for one in others if one.answer == "yes" and one.template in knowledge.findings
    ]
    return any(other.id in stand.findings or other.group in stand.groups for stand in stands for other in telling)


def _is_complaint(knowledge: Knowledge, answer: SaidAnswer) -> bool:
    record = knowledge.findings.get(answer.template)
    return record is not None and record.complaint and not answer.code
