"""Read what somebody says of a vehicle into answers ready for a case, and tell what was not understood.

A learned reader finds which words say what (`trained`); the rest is a small grammar: denials, either-or, doubt,
gears, codes and distances. Nothing is answered that was not said.
"""

from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import takewhile

import numpy as np

from shiftlore.knowledge import Knowledge
from shiftlore.knowledge.language import FIRST_LANGUAGE
from shiftlore.words.answered import settle_codes, settle_questions
from shiftlore.words.conditions import (
    Conditions,
    Moment,
    find_moments,
    is_overruled,
    settle,
    tie,
    without_contrary,
    without_located,
)
from shiftlore.words.corrections import without_corrected
from shiftlore.words.denials import denies_what_follows, find_denial_before, is_not_sound, is_turned_beside, undenied
from shiftlore.words.doubts import is_doubted, read_codes
from shiftlore.words.mileage import find_mileage, in_one_unit, is_mileage
from shiftlore.words.naming import Names, UnitWords
from shiftlore.words.own_turns import NO, YES, OwnTurns
from shiftlore.words.rereader import Rereader, find_kin, find_layer
from shiftlore.words.said_numbers import answer_by_number, find_stated
from shiftlore.words.sequels import follow_up, is_untold, narrow, without_general
from shiftlore.words.statements import (
    Report,
    SaidAnswer,
    Statement,
    keep_surest,
    list_unread,
    merge_statements,
    number_clauses,
    part_sentences,
    part_unread,
    rate_parts,
    tail_of,
    without_denied,
    write_spans,
)
from shiftlore.words.trained import NONE, Features, Segment, Trained, cut
from shiftlore.words.training import choose_trained
from shiftlore.words.turns import ReadRun, Turns
from shiftlore.words.vocabulary import Token, Vocabulary, choose_vocabulary

# Surer than this of yes or no, or it is left to the person; and at least so likely to be right, by what speaks for it: how
# clear yes or no is, and that a no is more often wrong (fitted as in `trained`, by tenfold cross-validation).
LEAST_SURE_OF_ANSWER, LEAST_TRUST = 0.75, 0.55
# Of a no less sure than this, more than a third were the wrong way round, in arrays learned from four sayings of five.
LEAST_SURE_OF_NO = 0.95
# A condition in one word is said to be so, unless that word surely says no: "constant" of what comes and goes.
_SURELY_NO = 0.1
_SURELY_SO = 0.95
_CLEARNESS, _OF_NO = 0.15, 0.79
_LEAST_ODDS = float(np.log(LEAST_TRUST / (1 - LEAST_TRUST)))
_LEAST_ODDS_OF_ONE = -1.7  # of one word at the end of a clause that says when: "slips hot"
_ASKED = 1.5  # who asks "does it slip cold?" names what he asks for in few words
_SURER = 0.4  # in log odds: for what is read by itself, whose every word stands at a joint
_BELONGS = 0.2  # words without which a statement scores so much less belong to it
_FAR_BELOW = -9.0


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
    kinds_of_when: Mapping[str, tuple[str, str]]
    is_question: bool = False

    def read(self, text: str) -> Report:
        """Read a text, sentence by sentence."""
        whole, text = text, text if self.is_question else settle_questions(text, self.vocabulary)
        tokens = without_corrected(self.vocabulary.split(text), self.vocabulary)
        tokens = settle_codes(in_one_unit(tokens, self.vocabulary), self.vocabulary)
        either: list[tuple[SaidAnswer, ...]] = []
        missed: list[str] = []
        answers: list[SaidAnswer] = []
        joints = self.vocabulary.words("joining") | self.vocabulary.words("barriers")
        odometer_km = find_mileage(tokens, self.vocabulary)
        read = [self._read_sentence(sentence, closing) for sentence, closing in part_sentences(tokens)]
        statements = list(follow_up(self.knowledge, read))
        for (sentence, found), (turns, _) in zip(statements, read, strict=True):
            codes, chosen = read_codes(self.knowledge, turns)
            either += chosen
            read_out = {one.matched[0] for group in (codes, *chosen) for one in group}
            pairs = list(self._either(sentence, [one for one in found if not one.condition]))
            apart = [answer for both in pairs for answer in both]
            either += pairs
            said = [answer for statement in found for answer in statement.answers if answer not in apart]
            answers += [*said, *codes]
            signs = {token.start for token in sentence if token.written in read_out or is_mileage(token, odometer_km)}
            signs |= {used.start for one in found if (used := find_stated(one.words, sentence)) is not None}
            beside = joints | self.vocabulary.words("beside_signs") if signs else joints
            missed += write_spans(text, sentence, list_unread(sentence, found, signs), beside)
        answers = without_general(self.knowledge, keep_surest(without_contrary(answers, statements)))
        answers = narrow(self.knowledge, answers)
        if not self.is_question:
            answers = tie(answers, statements, self.vocabulary, self._belonging)
        return Report(tuple(answers), tuple(either), odometer_km, tuple(missed), whole)

    def _read_sentence(self, sentence: Sequence[Token], closing: str) -> tuple[Turns, list[Statement]]:
        """Read one sentence in each of its variants; give its turns of speech and the statements."""
        turned = [
            Turns(self.vocabulary, self.again, variant, closing, own=self.own, is_question=self.is_question)
            for variant in self._variants(sentence)
        ]
        found = merge_statements(one for turns in turned for one in self._state(turns, ()))
        is_read = bool(found)
        moments = find_moments(turned[0], self.kinds_of_when) if turned[0].is_told else []
        names, confirmed = (
            {one.name for one in moments},
            {one.condition for one in found if one.answers[0].answer == YES},
        )
        found = [one for one in found if one.condition not in names and not self._is_no_moment(one)]
        found = [one for one in found if not is_overruled(one, moments, self.kinds_of_when)]
        learned = {
            one: settle(moment, moments, self.kinds_of_when)
            for one in found
            if (moment := self._moment_of(one)) is not None
        }
        if moments or learned:
            whens = [*moments, *(one for one in learned.values() if one is not None)]
            cores = {token.start for one in whens for token in one.words}
            taken = {token.start for one in found if not one.condition for token in one.words} - cores
            unread = [token for token in sentence if token.is_telling and token.start not in cores | taken]
            again = [] if all(map(self.features.is_bare, unread)) else turned
            more = [one for turns in again for one in self._state(turns, cores) if self._is_new(one, taken)]
            found = self._with_conditions(merge_statements([*found, *more]), turned[0], moments, learned, confirmed)
        found += self._read_alone(sentence, found, turned)
        if not found and (now := [one.start for one in turned[0].of("now")]):  # "used to slip, now it does not move"
            before = [token.start for token in sentence if token.start <= now[0]]
            found = merge_statements(one for turns in turned for one in self._state(turns, before) if not one.condition)
        if not found and not is_read:  # "the revs go up, but it does not get faster" says one thing
            alone = (one for turns in turned for one in self._state(turns, (), _SURER, is_one=True))
            found = merge_statements(one for one in alone if not one.condition)
        return turned[0], without_denied(without_located(self.knowledge, sorted(found, key=lambda one: one.start)))

    def _is_no_moment(self, one: Statement) -> bool:
        """Tell whether one word by itself was read as a condition that it does not say here: "hot coffee"."""
        said = self.vocabulary.moments.get(one.words[0].written.lower(), ()) if len(one.words) == 1 else ()
        return any(name == one.condition and len(phrase) == 1 for name, phrase in said)

    def _read_alone(
        self, sentence: Sequence[Token], found: Sequence[Statement], turned: Sequence[Turns]
    ) -> list[Statement]:
        """Read what was left between statements by itself, where a longer run of words has hidden it; more surely than else."""
        used = {token.start for one in found for token in one.words}
        runs = part_unread(sentence, used) if used else []
        alone = []
        joints = self.vocabulary.words("joining") | self.vocabulary.words("barriers")
        tails = [tail_of(one, joints) for one in found if one.answers[0].kind == "background"]
        for run in (*runs, *tails):
            opening = [token.written.lower() for token in takewhile(lambda token: token.written.lower() in joints, run)]
            own = run[len(opening) :]
            if not all(map(self.features.is_bare, own)):
                others = {token.start for token in sentence} - {token.start for token in own}
                is_anew = self.vocabulary.words_of("anew").intersection(opening) and self._is_last(own[-1:], sentence)
                surer = 0.0 if is_anew else _SURER
                read = [one for turns in turned for one in self._state(turns, others, surer) if not one.condition]
                alone += [one for one in read if run not in tails or self._belonging([one])]
        return merge_statements(alone)

    def _state(
        self, turns: Turns, without: Container[int], surer: float = 0.0, *, is_one: bool = False
    ) -> Iterator[Statement]:
        """Give the statements of a sentence, some words of which may be left out.

        Args:
            surer: how much surer than else a statement must be; is_one: whether nothing in it parts one from another.
        """
        left = [token for token in turns.sentence if token.start not in without and not self._is_apart(token)]
        telling = [token for token in left if token.is_telling]
        parts = [0.0] * len(telling) if is_one else rate_parts(left)
        segments = cut(telling, parts, trained=self.trained, features=self.features, allowed=self.allowed, **self.masks)
        segments = self.again.rejoin(segments, telling, parts, self.knowledge.findings)
        taken = {place for one in segments for place in range(one.start, one.end)}
        free = [token for place, token in enumerate(telling) if place not in taken]
        for segment in segments:
            place = slice(segment.start, segment.end)
            words = self.again.own_part(telling[place], parts[place], segment.label)
            if segment.label.partition(":")[0] in self.knowledge.backgrounds:
                words = self.again.part_behind([one.start for one in turns.of("began")], words, segment.label)
            if not (words := self.again.meant(words, turns.sentence, segment.label)):
                continue
            answers = tuple(self._answers(segment, words, turns, turns.outside(free), surer=surer))
            if contrasts := turns.contrasted(words):
                answers = tuple(self._contrasts(contrasts, telling, segments, turns))
            if answers:
                finding = self.knowledge.findings.get(segment.label)
                needed = self.again.list_needed(words, segment.label, None if finding else self.knowledge.findings)
                needed = [*find_denial_before(words, turns.sentence), *needed] if contrasts else needed
                yield Statement(segment, answers, tuple(needed), "" if finding is None else finding.condition or "")

    def _is_new(self, one: Statement, taken: set[int]) -> bool:
        """Tell whether a statement says no condition, but something else, with words that were not read yet."""
        return (
            not one.condition
            and not any(token.start in taken for token in one.words)
            and not all(map(self.features.is_bare, one.words))
        )

    def _moment_of(self, one: Statement) -> Moment | None:
        """Give the moment that a condition speaks of: the fewest of its words that still say it."""
        if not one.condition or one.answers[0].answer != YES:
            return None
        words = list(one.words)
        for without in (slice(1, None), slice(None, -1)):
            while len(words) > 1 and self.again.says_yes(words[without], one.segment.label):
                words = words[without]
        return Moment(one.condition, tuple(words), is_opened=True)

    def _with_conditions(
        self,
        found: Sequence[Statement],
        turns: Turns,
        moments: Sequence[Moment],
        learned: Mapping[Statement, Moment | None],
        confirmed: Container[str],
    ) -> list[Statement]:
        """Judge what is said of when, and note to which of the other statements it belongs.

        Args:
            moments: found by their words; learned: read as a statement; confirmed: names of conditions that were read so.
        """
        complaints = [one for one in found if not one.condition and not self._is_moment(one, moments)]
        spoken = [(moment, one) for one, moment in learned.items() if moment is not None]
        judging = Conditions(turns, complaints, [*moments, *(moment for moment, _ in spoken)], confirmed)
        whens = [one for one in found if one.condition and learned.get(one) is None]
        for moment, one in [*((moment, None) for moment in moments), *spoken]:
            is_so = judging.judge(moment, is_learned=one is not None)
            if self.is_question:
                is_so = None if moment.is_not or moment.is_one_of_two else True
            if is_so is None:
                continue
            moment = moment if is_so else judging.with_soundness(moment)
            one = (one if is_so else None) or self._say_moment(moment, is_so, turns.sentence)
            if one is not None:
                tied = [same for same in judging.tied_to(moment) if is_so and self._says_without(same, moment)]
                whens.append(replace(one, of=self._belonging(tied)))
        denied = [
            one
            for moment in judging.moments
            for one in judging.denied_then(moment)
            if not self.is_question and self.again.label(_without(one, moment)) == one.segment.label
        ]
        return sorted([*(one for one in complaints if one not in denied), *whens], key=lambda one: one.start)

    def _is_moment(self, one: Statement, moments: Sequence[Moment]) -> bool:
        """Tell whether the words that say when are all that says a statement: "when it gets hot" of running hot."""
        over = [same for same in moments if same.is_opened and same.start < one.end and one.start < same.end]
        is_found = bool(over) and one.answers[0].kind == "finding"
        left = [token for token in one.words if over and token not in over[0].words]
        is_over = is_found and self.again.says(over[0].words, one.segment.label)
        return is_over and not self.again.says(left, one.segment.label)

    def _says_without(self, one: Statement, moment: Moment) -> bool:
        """Tell whether a statement says it as well without the words that say when: "uphill" belongs to "weak uphill"."""
        left = _without(one, moment)
        if not left or len(left) == len(one.words):
            return bool(left)
        place = self.trained.place_of[one.segment.label]
        whole, rest = (self.trained.whole(words, self.features)[place] for words in (one.words, left))
        return bool(rest > whole - _BELONGS)

    def _say_moment(self, moment: Moment, is_so: bool, sentence: Sequence[Token]) -> Statement | None:
        key = self.kinds_of_when[moment.name][0]
        named = next(iter(self.names.name(key, moment.words, moment.words)), None)
        if named is None:
            return None
        answer = SaidAnswer(
            "finding", named.id, named.label, answer=YES if is_so else NO, score=1.0,
            matched=tuple(token.written for token in moment.words), template=named.template or key,
            doubt=self._doubt(sentence, moment.words),
        )  # fmt: skip
        return Statement(Segment(0, 0, key, 1.0), (answer,), moment.words, moment.name)

    def _belonging(self, statements: Iterable[Statement]) -> tuple[str, ...]:
        """Name the answers to which a condition may be tied: complaints that are there."""
        ids = []
        for answer in (answer for one in statements for answer in one.answers):
            finding = self.knowledge.findings.get(answer.template)
            if finding is not None and finding.complaint and answer.answer != finding.grades[0] and not answer.code:
                ids.append(answer.id)
        return tuple(ids)

    def _doubt(self, sentence: Sequence[Token], words: Sequence[Token]) -> str | None:
        return next(iter(self.knowledge.words.doubts), None) if self._says_nearby("unsure", sentence, words) else None

    def _contrasts(
        self, places: Sequence[Token], telling: Sequence[Token], segments: Sequence[Segment], turns: Turns
    ) -> Iterator[SaidAnswer]:
        """Deny of another place what is said before: "bangs into drive, not reverse"."""
        before = [one for one in segments if telling[one.end - 1].end <= places[0].start]
        words = telling[before[-1].start : before[-1].end] if before else []
        for place in places if any(token.kind == places[0].kind for token in words) else ():
            other = undenied([place if token.kind == place.kind else token for token in words])
            label = self.again.label(other)
            key = label.partition(":")[0]
            said = [one.id for one in self._answers(before[-1], words, turns, ()) if one.answer == "yes"]
            is_same = label == key != NONE and self.names.are_twins(before[-1].label, key)
            if is_same and said and self.trained.yes(other, key, self.features) > LEAST_SURE_OF_ANSWER:
                for named in self.names.name(key, other, other):
                    if named.id not in said:
                        yield SaidAnswer(
                            "finding", named.id, named.label, answer="no", score=round(before[-1].sure, 4),
                            matched=tuple(token.written for token in (*words, place)), template=named.template or key,
                        )  # fmt: skip

    def _variants(self, sentence: Sequence[Token]) -> Iterator[list[Token]]:
        """Give the sentence once for each place of the selector that a row of them names, D or R; and with rows of gears called
        by their word.
        """
        rows = max((len(token.values) for token in sentence if token.kind == "lever"), default=1)
        for number in range(max(rows, 1)):
            yield [self._one_of_row(token, number) for token in sentence]
        if any(map(self.vocabulary.row_of, sentence)):
            yield self.vocabulary.in_rows(sentence)

    def _one_of_row(self, token: Token, number: int) -> Token:
        if token.kind != "lever" or len(token.values) < 2:
            return token
        letter = token.values[min(number, len(token.values) - 1)]
        return replace(token, values=(letter,), stem=self.vocabulary.stem(self.vocabulary.language.levers[letter]))

    def _answers(
        self, segment: Segment, words: Sequence[Token], turns: Turns, free: Sequence[Token], surer: float = 0.0
    ) -> Iterator[SaidAnswer]:
        """Give the answers of a segment; none where yes or no is not clear, or where its gear was not said.

        Args:
            turns: the sentence; free: words of no segment: a gear among them may be that of which something is said in general.
            surer: how much more must speak for it than else.
        """
        key, _, answer = segment.label.partition(":")
        sure, clear, sentence, finding = segment.sure, 1.0, turns.sentence, self.knowledge.findings.get(key)
        is_condition = finding is not None and bool(finding.condition)
        measured = answer_by_number(finding, turns.outside(words), self.vocabulary, sentence)
        if measured is not None:
            answer = measured
        elif finding and answer == finding.grades[0] and is_not_sound(words, sentence, self.vocabulary):
            return
        elif not answer and finding is not None and turns.looked_for_in_vain(words):
            answer = NO
        elif not answer:
            yes = self.trained.yes(words, key, self.features)
            is_plain = is_condition and all(word.kind == "word" and not word.denied for word in words)
            if is_plain and (yes > 0.5 or (len(words) == 1 and yes > _SURELY_NO)):
                yes = 1.0  # "when cold" says that it is so; what would turn it stands in `turns`
            answer, clear = ("yes", yes) if yes > 0.5 else ("no", 1 - yes)
            if clear < (LEAST_SURE_OF_ANSWER if answer == YES else LEAST_SURE_OF_NO):
                return
            sure *= clear
        odds = segment.trust - _CLEARNESS * np.log(1.0001 - clear)
        if answer == NO and not self._is_plainly_denied(words, segment):
            odds -= _OF_NO
        least = _LEAST_ODDS_OF_ONE if is_condition and self._is_last(words, sentence) else _LEAST_ODDS
        if odds < surer + least - self.is_question * _ASKED:
            return
        if not is_condition and denies_what_follows(words, sentence, self.vocabulary):
            return
        if answer == NO and self.again.denies_another(words, sentence, segment.label):
            return
        if answer != "no" and is_turned_beside(words, sentence, free, self.vocabulary):
            return
        life = self.knowledge.backgrounds.get(key)
        record = finding if life is None else life
        if record is None or (not self.is_question and is_untold(record, segment.label, answer, words, turns)):
            return
        kind = "finding" if life is None else "background"
        if life is not None and self._says_nearby("wished", sentence, words):
            return
        run = ReadRun(
            words, segment.label, answer, is_condition=is_condition, is_life=life is not None,
            is_tried=life is not None and bool(life.replaced), is_measured=measured is not None,
        )  # fmt: skip
        if (judged := turns.judge(run)) is None:
            return
        answer = judged.answer
        is_doubtful = judged.is_doubtful or is_doubted(finding, words, turns)
        doubt = next(iter(self.knowledge.words.doubts), None) if is_doubtful else self._doubt(sentence, words)
        special = self.names.of_places(key, answer, [*judged.words, *free]) if answer != "no" else []
        is_onset = life is not None and turns.begins_after(words)
        for named in (*self.names.name(key, judged.words or words, turns.outside(sentence)), *special):
            matched = tuple(token.written for token in words)
            template = named.template or key
            yield SaidAnswer(
                kind, named.id, named.label, answer=answer, score=round(sure, 4), matched=matched, doubt=doubt,
                template=template, is_onset=is_onset,
            )  # fmt: skip

    def _is_plainly_denied(self, words: Sequence[Token], segment: Segment) -> bool:
        """Tell whether a trouble is denied in one word: "doesn't bang"."""
        finding = self.knowledge.findings.get(segment.label)
        is_short = len(words) == 2 and words[0].kind == "no" and segment.sure > _SURELY_SO
        return is_short and finding is not None and finding.complaint

    def _is_last(self, words: Sequence[Token], sentence: Sequence[Token]) -> bool:
        after = next((token for token in sentence if token.start >= words[-1].end), None)
        return len(words) == 1 and (after is None or after.kind == "stop")

    def _says_nearby(self, role: str, sentence: Sequence[Token], words: Sequence[Token]) -> bool:
        """Tell whether the clause of these words has one of a list: of doubt, or of what is only wished for."""
        clauses = number_clauses(sentence)
        here, listed = clauses[words[0].start], self.vocabulary.words(role)
        return any(token.written.lower() in listed and clauses[token.start] == here for token in sentence)

    def _either(self, sentence: Sequence[Token], found: Sequence[Statement]) -> Iterator[tuple[SaidAnswer, ...]]:
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

    def _is_apart(self, token: Token) -> bool:
        """Tell whether a sign is read by itself: a code, or what a number should be."""
        return token.kind == "stated" or self._is_known_code(token)


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
        layers = np.array([find_layer(knowledge, key) for key in keys])
        beside = np.array([key in vocabulary.words("beside") for key in keys])
        masks = {"layers": layers, "beside": beside, "kin": find_kin(knowledge, keys, beside)}
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
        kinds_of_when={
            one.condition: (key, one.together or key) for key, one in knowledge.findings.items() if one.condition
        },
        is_question=is_question,
    )
    return reader.read(text)


def _without(one: Statement, moment: Moment) -> list[Token]:
    return [token for token in one.words if token not in moment.words]
