"""Read what somebody says of a vehicle into answers ready for a case, and tell what was not understood.

A learned reader finds which words say what (`trained`); the rest is a small grammar: denials, either-or, doubt,
gears, codes and distances. Nothing is answered that was not said.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from shiftlore.knowledge import Knowledge
from shiftlore.knowledge.language import FIRST_LANGUAGE
from shiftlore.words.naming import Names, UnitWords
from shiftlore.words.trained import NONE, Features, Rereader, Segment, Trained, cut
from shiftlore.words.training import choose_trained
from shiftlore.words.turns import OwnTurns, ReadRun, Turns
from shiftlore.words.vocabulary import Token, Vocabulary, choose_vocabulary

# Surer than this of yes or no, or it is left to the person; and at least so likely to be right, by what speaks for it: how
# clear yes or no is, and that a no is more often wrong (fitted as in `trained`, by tenfold cross-validation).
LEAST_SURE_OF_ANSWER, LEAST_TRUST = 0.75, 0.58
_CLEARNESS, _OF_NO = 0.15, 0.79
_LEAST_ODDS = float(np.log(LEAST_TRUST / (1 - LEAST_TRUST)))
_LEAST_ODDS_OF_ONE = -1.7  # of one word at the end of a clause that says when: "slips hot"
_FAR_BELOW = -9.0
_CLAUSE, _STOP, _APART = 0.3, 0.8, 3.0
_FOUND, _CONDITION, _LIFE = range(3)


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


@dataclass(frozen=True, slots=True)
class _Statement:
    """A segment, from where to where in the text, and the answers that it gives."""

    segment: Segment
    answers: tuple[SaidAnswer, ...]
    start: int = 0
    end: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class _Reader:
    knowledge: Knowledge
    vocabulary: Vocabulary
    features: Features
    trained: Trained
    names: Names
    allowed: np.ndarray
    masks: Mapping[str, np.ndarray]
    again: Rereader
    own: OwnTurns
    is_question: bool = False

    def read(self, text: str) -> Report:
        """Read a text, sentence by sentence."""
        tokens = self.vocabulary.split(text)
        statements: list[list[_Statement]] = []
        either: list[tuple[SaidAnswer, ...]] = []
        missed: list[str] = []
        answers: list[SaidAnswer] = []
        joints = self.vocabulary.words("joining") | self.vocabulary.words("barriers")
        for sentence, closing in _sentences(tokens):
            found, rest = self._read_sentence(sentence, closing)
            pairs = list(self._either(sentence, found))
            apart = [answer for both in pairs for answer in both]
            either += pairs
            said = [answer for statement in found for answer in statement.answers if answer not in apart]
            answers += [*said, *self._codes(sentence)]
            statements.append(found)
            missed += _spans(text, sentence, rest, joints)
        answers = self._tied(self._without_general(_once(answers)), statements)
        return Report(tuple(answers), tuple(either), self._odometer(tokens), tuple(missed), text)

    def _without_general(self, answers: list[SaidAnswer]) -> list[SaidAnswer]:
        """Leave out that there is none of a kind where one is said to be there: "no noise at all; whines in third"."""
        there = {one.template for one in answers if one.kind == "finding" and one.answer != "no"}
        general = {key for key, finding in self.knowledge.findings.items() if not there.isdisjoint(finding.general_of)}
        while (
            more := {key for key, one in self.knowledge.findings.items() if not general.isdisjoint(one.general_of)}
            - general
        ):
            general |= more
        return [one for one in answers if one.answer != "no" or one.template not in general]

    def _tied(self, answers: list[SaidAnswer], statements: Sequence[Sequence[_Statement]]) -> list[SaidAnswer]:
        """Tie each condition to the complaint that it stands behind (or before), where complaints have different ones."""
        ties: dict[str, list[str]] = {}
        tied: set[str] = set()
        for sentence in statements:
            complaints = [one for one in sentence if not self._condition(one)]
            for one in sentence if complaints else ():
                if name := self._condition(one):
                    before = [other for other in complaints if other.segment.start < one.segment.start]
                    for answer in (before[-1] if before else complaints[0]).answers:
                        ties.setdefault(answer.id, []).append(name)
                    tied.add(one.answers[0].id)
        if len({tuple(names) for names in ties.values()}) < 2:
            return answers
        return [replace(one, when=tuple(ties.get(one.id, ()))) for one in answers if one.id not in tied]

    def _condition(self, statement: _Statement) -> str | None:
        """Give the name of the condition that a statement says to be so, or None."""
        answer = statement.answers[0]
        finding = self.knowledge.findings.get(answer.template)
        return finding.condition if finding is not None and answer.answer == "yes" else None

    def _read_sentence(self, sentence: Sequence[Token], closing: str) -> tuple[list[_Statement], list[Token]]:
        """Read one sentence in each of its variants; give the statements, and the telling words that no variant uses."""
        found: dict[tuple[str, ...], _Statement] = {}
        used: set[int] = set()
        for variant in self._variants(sentence):
            turns = Turns(self.vocabulary, self.again, variant, closing, own=self.own, is_question=self.is_question)
            left = [token for token in variant if not self._is_known_code(token)]
            telling = [token for token in left if token.is_telling]
            segments = cut(
                telling, _parts(left), trained=self.trained, features=self.features, allowed=self.allowed, **self.masks
            )
            taken = {place for one in segments for place in range(one.start, one.end)}
            free = [token for place, token in enumerate(telling) if place not in taken]
            for segment in segments:
                words = telling[segment.start : segment.end]
                answers = tuple(self._answers(segment, words, turns, turns.outside(free)))
                if contrasts := turns.contrasted(words):
                    answers = tuple(self._contrasts(contrasts, telling, segments, turns))
                if answers:
                    used |= {token.start for token in words}
                    name = (segment.label, *(answer.id for answer in answers))
                    statement = _Statement(segment, answers, words[0].start, words[-1].end)
                    if found.setdefault(name, statement).segment.sure < segment.sure:
                        found[name] = statement
        found = {name: one for name, one in found.items() if not self._is_of_nothing(one, found.values(), sentence)}
        rest = [
            token
            for token in sentence
            if token.is_telling and token.start not in used and not token.stem.startswith("#")
        ]
        return sorted(found.values(), key=lambda one: one.segment.start), rest

    def _is_of_nothing(self, one: _Statement, found: Iterable[_Statement], sentence: Sequence[Token]) -> bool:
        """Tell whether a condition stands behind what is not so: "no slip when hot"; or is one of two: "hot or cold"."""
        if self._condition(one) is None:
            return False
        either, start, end = self.vocabulary.words("either"), one.start, one.end
        before = [token for token in sentence if token.end <= start]
        after = [token for token in sentence if token.start >= end]
        beside = {token.written.lower() for token in (*before[-1:], *after[:1])}
        if beside & either:
            return True
        clause: list[Token] = []
        for token in before:
            clause = [] if token.kind == "stop" or token.parts >= _STOP else [*clause, token]
        if not clause:
            return False
        complaints = [
            other for other in found if self._condition(other) is None and clause[0].start <= other.start < start
        ]
        if complaints:
            return all(answer.answer == "no" for answer in complaints[-1].answers)
        return any(token.kind == "no" for token in clause)

    def _contrasts(
        self, places: Sequence[Token], telling: Sequence[Token], segments: Sequence[Segment], turns: Turns
    ) -> Iterator[SaidAnswer]:
        """Deny of another place what is said before: "bangs into drive, not reverse"."""
        before = [one for one in segments if telling[one.end - 1].end <= places[0].start]
        words = telling[before[-1].start : before[-1].end] if before else []
        for place in places if any(token.kind == places[0].kind for token in words) else ():
            other = [place if token.kind == place.kind else token for token in words]
            label = self.again.label(other)
            key = label.partition(":")[0]
            said = [one.id for one in self._answers(before[-1], words, turns, ()) if one.answer == "yes"]
            if label == key and said and self.trained.yes(other, key, self.features) > LEAST_SURE_OF_ANSWER:
                for named in self.names.name(key, other, other):
                    if named.id not in said:
                        yield SaidAnswer(
                            "finding", named.id, named.label, answer="no", score=round(before[-1].sure, 4),
                            matched=tuple(token.written for token in (*words, place)), template=named.template or key,
                        )  # fmt: skip

    def _variants(self, sentence: Sequence[Token]) -> Iterator[list[Token]]:
        """Give the sentence once for each place of the selector that a row of them names: D or R."""
        rows = max((len(token.values) for token in sentence if token.kind == "lever"), default=1)
        for number in range(max(rows, 1)):
            yield [self._one_of_row(token, number) for token in sentence]

    def _one_of_row(self, token: Token, number: int) -> Token:
        if token.kind != "lever" or len(token.values) < 2:
            return token
        letter = token.values[min(number, len(token.values) - 1)]
        return replace(token, values=(letter,), stem=self.vocabulary.stem(self.vocabulary.language.levers[letter]))

    def _answers(
        self, segment: Segment, words: Sequence[Token], turns: Turns, free: Sequence[Token]
    ) -> Iterator[SaidAnswer]:
        """Give the answers of a segment; none where yes or no is not clear, or where its gear was not said.

        Args:
            turns: the sentence; free: words of no segment: a gear among them may be that of which something is said in general.
        """
        key, _, answer = segment.label.partition(":")
        sure, clear, sentence, finding = segment.sure, 1.0, turns.sentence, self.knowledge.findings.get(key)
        is_condition = finding is not None and bool(finding.condition)
        if not answer:
            yes = self.trained.yes(words, key, self.features)
            is_plain = is_condition and all(word.kind == "word" and not word.denied for word in words)
            if is_plain and (len(words) == 1 or yes > 0.5):
                yes = 1.0  # "when cold" says that it is so; what would turn it stands in `turns`
            answer, clear = ("yes", yes) if yes > 0.5 else ("no", 1 - yes)
            if clear < LEAST_SURE_OF_ANSWER:
                return
            sure *= clear
        odds = segment.trust - _CLEARNESS * np.log(1.0001 - clear) - _OF_NO * (answer == "no")
        if odds < (_LEAST_ODDS_OF_ONE if is_condition and self._is_last(words, sentence) else _LEAST_ODDS):
            return
        if answer != "no" and self._is_turned(words, sentence):
            return
        kind = "background" if key in self.knowledge.backgrounds else "finding"
        if kind == "background" and self._says_nearby("wished", sentence, words):
            return
        life = self.knowledge.backgrounds.get(key)
        is_tried = life is not None and bool(life.replaced)
        judged = turns.judge(
            ReadRun(
                words, segment.label, answer, is_condition=is_condition, is_life=life is not None, is_tried=is_tried
            )
        )
        if judged is None:
            return
        answer = judged.answer
        doubts = next(iter(self.knowledge.words.doubts), None)
        doubt = doubts if judged.is_doubtful or self._says_nearby("unsure", sentence, words) else None
        special = self.names.of_places(key, answer, [*judged.words, *free]) if answer != "no" else []
        is_onset = life is not None and turns.begins_after(words)
        for named in (*self.names.name(key, judged.words or words, turns.outside(sentence)), *special):
            matched = tuple(token.written for token in words)
            template = named.template or key
            yield SaidAnswer(
                kind, named.id, named.label, answer=answer, score=round(sure, 4), matched=matched, doubt=doubt,
                template=template, is_onset=is_onset,
            )  # fmt: skip

    def _is_last(self, words: Sequence[Token], sentence: Sequence[Token]) -> bool:
        after = next((token for token in sentence if token.start >= words[-1].end), None)
        return len(words) == 1 and (after is None or after.kind == "stop")

    def _is_turned(self, words: Sequence[Token], sentence: Sequence[Token]) -> bool:
        """Tell whether a denial, or a word for soundness, stands right beside the words of a statement and is none of them."""
        sound = self.vocabulary.stems("sound")
        telling = [token for token in sentence if token.is_telling]
        first, last = telling.index(words[0]), telling.index(words[-1])
        before, after = telling[max(0, first - 1) : first], telling[last + 1 : last + 2]
        if before and words[0].parts < _STOP and before[0].kind == "no":
            return True
        parts = _parts(sentence)
        return any(
            token.stem in sound and parts[place] < _STOP
            for token, place in (*((one, first) for one in before), *((one, last + 1) for one in after))
        )

    def _says_nearby(self, role: str, sentence: Sequence[Token], words: Sequence[Token]) -> bool:
        """Tell whether the clause of these words has one of a list: of doubt, or of what is only wished for."""
        clauses = _clauses(sentence)
        here, listed = clauses[words[0].start], self.vocabulary.words(role)
        return any(token.written.lower() in listed and clauses[token.start] == here for token in sentence)

    def _either(self, sentence: Sequence[Token], found: Sequence[_Statement]) -> Iterator[tuple[SaidAnswer, ...]]:
        """Give statements with nothing but "or" between them."""
        telling = [token for token in sentence if token.is_telling]
        for one in found:
            chosen = [
                token for token in telling[one.segment.start : one.segment.end] if token.is_choice and not token.denied
            ]
            group = tuple(answer for answer in one.answers if answer.answer != "no" and answer.id != answer.template)
            if chosen and chosen[0].kind != "lever" and len(group) > 1:
                yield group
        for one, two in zip(found, found[1:], strict=False):
            between = telling[one.segment.end : two.segment.start]
            first = telling[two.segment.start : two.segment.start + 1]
            words = {token.written.lower() for token in (*between, *first[:1])}
            if len(between) <= 1 and words & self.vocabulary.words("either"):
                yield (*one.answers, *two.answers)

    def _is_known_code(self, token: Token) -> bool:
        return token.kind == "code" and token.values[0] in self.knowledge.codes

    def _codes(self, sentence: Sequence[Token]) -> Iterator[SaidAnswer]:
        """Take trouble codes by their names."""
        for token in sentence:
            code = self.knowledge.codes.get(token.values[0]) if token.kind == "code" else None
            if code is not None:
                answer = "no" if token.denied else "yes"
                yield SaidAnswer(
                    "finding",
                    code.code,
                    code.means,
                    answer=answer,
                    score=1.0,
                    matched=(token.written,),
                    code=code.code,
                    template=code.finding,
                )

    def _odometer(self, tokens: Sequence[Token]) -> int | None:
        """Give the longest distance that may be what the vehicle has run; "ago" belongs to the amount before it alone."""
        least = self.vocabulary.weights["least_distance"]
        before, behind = self.vocabulary.words("not_mileage"), self.vocabulary.words("not_mileage_behind")
        whole = self.vocabulary.words("whole_life")
        found = [0.0]
        for place, token in enumerate(tokens):
            if token.kind == "amount" and token.values[0] == "distance" and token.number >= least:
                ahead = list(_until_stop(tokens[place - 2 : place][::-1] if place > 1 else tokens[:place][::-1]))
                after = list(_until_stop(tokens[place + 1 : place + 3]))
                is_part = any(one in before for one in ahead) or any(one in behind for one in after[:1])
                if not is_part or whole & {*after}:
                    found.append(token.number)
        return round(max(found)) or None


def read_report(
    knowledge: Knowledge,
    unit: UnitWords | None,
    text: str,
    language: str = FIRST_LANGUAGE,
    tell: Callable[[str], None] = lambda text: None,
    *,
    is_question: bool = False,
) -> Report:
    """Read what somebody says of a vehicle.

    Args:
        unit: the findings of the unit (an `Expansion`); None where it is not known.
        text: as it was said.
        tell: is told in a sentence where reading has to be learned first, which takes a minute.
        is_question: whether somebody asks of the vehicle: what is asked about is then read, and not passed over.
    Raises: UnknownId: there is no such language; names those there are.
    """
    kept = knowledge.worked_out.get((read_report, language))
    if kept is None:
        vocabulary = choose_vocabulary(knowledge, language)
        trained = choose_trained(knowledge, vocabulary, tell)
        keys = [one.partition(":")[0] for one in trained.classes]
        layers = np.array([_layer(knowledge, key) for key in keys])
        beside = np.array([key in vocabulary.words("beside") for key in keys])
        masks = {"layers": layers, "beside": beside, "kin": _kin(knowledge, keys, beside)}
        own = OwnTurns(knowledge.sayings.get(language, {}), vocabulary)
        kept = vocabulary, Features(vocabulary), trained, own, masks, keys
        knowledge.worked_out[read_report, language] = kept
    vocabulary, features, trained, own, masks, keys = kept
    names = Names(knowledge, vocabulary, unit)
    known = {*(key for key, members in names.by_template.items() if members), *knowledge.backgrounds}
    allowed = np.array([0.0 if key in known or key == NONE else _FAR_BELOW for key in keys])
    reader = _Reader(
        knowledge,
        vocabulary,
        features,
        trained=trained,
        names=names,
        allowed=allowed,
        masks=masks,
        again=Rereader(trained, features, allowed, kin=masks["kin"]),
        own=own,
        is_question=is_question,
    )
    return reader.read(text)


def _kin(knowledge: Knowledge, keys: Sequence[str], beside: np.ndarray) -> np.ndarray:
    """Tell per class which classes are no other answer than it: itself, general and special ones, what is said beside it."""
    kin = np.eye(len(keys), dtype=bool) | (beside[:, None] & beside)
    places = {key: place for place, key in enumerate(keys)}
    for general in knowledge.findings.values():
        for special in general.general_of:
            if general.id in places and special in places:
                kin[places[general.id], places[special]] = kin[places[special], places[general.id]] = True
    return kin


def _layer(knowledge: Knowledge, key: str) -> int:
    """Part what is found, under which condition, and how the vehicle lived: the same words may tell of each."""
    if key in knowledge.backgrounds:
        return _LIFE
    return _CONDITION if key in knowledge.findings and knowledge.findings[key].condition else _FOUND


def _sentences(tokens: Sequence[Token]) -> Iterator[tuple[list[Token], str]]:
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


def _parts(sentence: Sequence[Token]) -> list[float]:
    """Say how strongly each telling token is parted from the one before; another row of gears says something else."""
    parts, strongest, last = [], 0.0, ""
    for token in sentence:
        strongest = max(strongest, token.parts)
        if token.is_telling:
            if token.kind in ("gear", "shift"):
                is_new = token.kind == last and (token.kind == "shift" or strongest >= _STOP)
                strongest, last = (_APART if is_new else strongest), token.kind
            parts.append(strongest)
            strongest = 0.0
    return parts


def _clauses(sentence: Sequence[Token]) -> dict[int, int]:
    """Number the clauses of a sentence: start of each token -> its clause."""
    numbers, number = {}, 0
    for token in sentence:
        number += token.parts >= _CLAUSE
        numbers[token.start] = number
    return numbers


def _spans(text: str, sentence: Sequence[Token], rest: Sequence[Token], joints: frozenset[str]) -> list[str]:
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


def _until_stop(tokens: Sequence[Token]) -> Iterator[str]:
    """Give words as far as the next stop or amount."""
    for token in tokens:
        if token.kind in ("stop", "amount"):
            return
        yield token.written.lower()


def _once(answers: Sequence[SaidAnswer]) -> list[SaidAnswer]:
    """Keep the surest answer of each finding, where it was said first."""
    best: dict[str, SaidAnswer] = {}
    for answer in answers:
        if answer.id not in best or answer.score > best[answer.id].score:
            best[answer.id] = answer
    return list(best.values())
