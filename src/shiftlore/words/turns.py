"""What the words around a statement do to it: "stopped slipping", "than when cold", "should not bang", "does it leak?".

A statement is read by the words that say it. A turn of speech among or beside them may take it back, turn it, or only ask
for it. Whether a turn is already part of what was learned ("reverse has gone") is found by reading the words again without
it: where they still say the same, the turn was passed over, and what it does is done here. Silence comes before an answer
that may be the wrong way round.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import takewhile

from shiftlore.words.denials import is_all_of_clause, is_one_denial, join_denials, undenied
from shiftlore.words.own_turns import END, ENDING, NO, YES, OwnTurns
from shiftlore.words.rereader import SURE_AGAIN, Rereader
from shiftlore.words.statements import number_clauses
from shiftlore.words.vocabulary import STOPS, Token, Vocabulary

_SURER, _LONGEST_COMPARED, _NEAR = 0.85, 4, 1
PLACES = ("gear", "shift", "lever")
LIST = ":"


@dataclass(frozen=True, slots=True)
class TurnPhrase:
    """A turn of speech in a sentence: its role, and from which character to which; `scope` is how far it reaches."""

    role: str
    start: int
    end: int
    scope: int


@dataclass(frozen=True, slots=True)
class TurnedAnswer:
    """What is left of a reading.

    Args:
        answer: as it was read, or turned; words: those that may name a gear.
        is_doubtful: whether it was asked rather than said.
    """

    answer: str
    words: Sequence[Token]
    is_doubtful: bool = False


@dataclass(frozen=True, slots=True)
class ReadRun:
    """What a run of words was read as.

    Args:
        words: its telling tokens; label: its class; answer: the answer.
        is_condition, is_life: whether it says when it happens, or how the vehicle lived; is_tried: whether that is a repair
            which counts where it did not help; is_measured: whether a number with limits answers it.
    """

    words: Sequence[Token]
    label: str
    answer: str
    is_condition: bool = False
    is_life: bool = False
    is_tried: bool = False
    is_measured: bool = False


class Turns:
    """The turns of speech of one sentence, and what they leave of a reading.

    Args:
        sentence: all its tokens; closing: the stop that ends it, or ""; own: turns that belong to how a finding is said.
        is_question: whether it is asked on purpose, so that what it asks about is meant.
    """

    def __init__(
        self,
        vocabulary: Vocabulary,
        again: Rereader,
        sentence: Sequence[Token],
        closing: str = "",
        *,
        own: OwnTurns | None = None,
        is_question: bool = False,
    ):
        self.vocabulary = vocabulary
        self.again = again
        self.sentence = sentence
        self.telling = [token for token in sentence if token.is_telling]
        self.closing = closing
        self.own = own
        self.is_question = is_question
        self.lifted: set[int] = set()  # where words such as "until" start that end a denial

    @cached_property
    def clauses(self) -> dict[int, int]:
        """The clause in which each token stands, by where that starts: as `number_clauses`, parted where a statement ends."""
        return number_clauses(self.sentence, STOPS)

    @cached_property
    def phrases(self) -> list[TurnPhrase]:
        """All turns of the sentence."""
        found = list(self._find())
        kept = [one for one in found if one.role == "no_turn"]
        return [one for one in found if not any(no.start <= one.start < no.end for no in kept)]

    def _find(self) -> Iterator[TurnPhrase]:
        starts = [at for at, one in enumerate(self.sentence) if not at or one.start != self.sentence[at - 1].start]
        words = [self.sentence[place] for place in starts]
        texts = [token.written.lower() for token in words]
        for place, text in enumerate(texts):
            for role, phrase in self.vocabulary.turns.get(text, ()):
                length = sum(one != END and not one.startswith(ENDING) for one in phrase)
                if self._fits(texts, words, place, phrase):
                    last = words[place + length - 1]
                    yield TurnPhrase(role, words[place].start, last.end, self._scope(last.end, role))

    def _fits(self, texts: Sequence[str], words: Sequence[Token], place: int, phrase: Sequence[str]) -> bool:
        for offset, one in enumerate(phrase):
            after = texts[place + offset] if place + offset < len(texts) else ""
            if one == END:
                return not after or words[place + offset].parts >= STOPS or words[place + offset].kind == "stop"
            if after != one and not (one.startswith(ENDING) and after.endswith(one[1:])):
                return False
        return True

    def _scope(self, start: int, role: str) -> int:
        """Say how far a phrase reaches: to the end of its clause; what is compared ends where something new begins."""
        anew = self.vocabulary.words_of("anew") if role in ("compared", "excepted") else frozenset()
        end, count = start, 0
        for token in self.sentence:
            if token.start < start:
                continue
            if role == "checked_for" and token.kind == "stop" and token.start == start and token.written == LIST:
                continue
            is_amount = role == "compared" and end == start and token.kind in ("amount", "count")
            if is_amount or token.kind == "stop" or token.parts >= STOPS or token.written.lower() in anew:
                break
            count += token.is_telling
            if anew and count > _LONGEST_COMPARED:
                break
            end = token.end
        return end

    def of(self, role: str, label: str = "") -> list[TurnPhrase]:
        """Give the phrases of a role; none where a finding is said in that way itself."""
        found = [phrase for phrase in self.phrases if phrase.role == role]
        return [] if found and label and self._has_own(label, role) else found

    def _has_own(self, label: str, role: str) -> bool:
        return self.own is not None and self.own.has(label.partition(":")[0], role)

    @property
    def is_told(self) -> bool:
        """Whether the sentence says something, or asks on purpose, and is no question of whether something is so."""
        return self._asks != "whether"

    @cached_property
    def _asks(self) -> str:
        """Say what kind of a question the sentence is: "" for none, ``whether``, ``what``, or another."""
        if self.closing != "?" or self.is_question:
            return ""
        words = [token.written.lower() for token in self.sentence]
        if set(words) & self.vocabulary.words_of("asks_what") or self.of("presumed"):
            return "what"
        return "whether" if words[0] in self.vocabulary.words_of("asks") else "doubt"

    def judge(self, reading: ReadRun) -> TurnedAnswer | None:
        """Say what is left of a reading; None where it was taken back, or where it may be the other way round."""
        is_asked = not self.is_question and self._is_only_asked(reading)
        if is_asked or self._is_elsewhere(reading) or self._is_contrast(reading):
            return None
        words = self._without_compared(reading)
        if words is None:
            return None
        answer = self._turned(replace(reading, words=words))
        is_wondered = any(one.start <= words[-1].start < one.scope for one in self.of("wondered"))
        return None if answer is None else TurnedAnswer(answer, words, self._asks == "doubt" or is_wondered)

    def looked_for_in_vain(self, words: Sequence[Token]) -> bool:
        """Tell whether what words say was looked for, and none found: "checked for metal and there was none"."""
        asked = [one for one in self.of("checked_for") if one.start <= words[-1].start < one.scope]
        return bool(asked) and any(one.start > asked[0].end for one in self.of("found_none"))

    def begins_after(self, words: Sequence[Token]) -> bool:
        """Tell whether trouble is said to have begun after what words say: "since the fluid change", "... just before"."""
        ahead = any(self._is_beside(one, words, _NEAR, -1) for one in self.of("began"))
        return ahead or any(self._is_beside(one, words, -1, 2 * _NEAR) for one in self.of("began_behind"))

    def gone(self) -> Iterator[str]:
        """Give the stems of what is said, at the end of a clause, to be over: "clunk gone"."""
        bound = self.vocabulary.words_of("limits") | self.vocabulary.words_of("opens_when")
        for one in self.of("ended"):
            after = next((token for token in self.sentence if token.start >= one.end and token.kind != "light"), None)
            before = self._clause_before(one.start)
            is_bound = any(token.kind == "amount" or token.written.lower() in bound for token in before)
            last = next((token for token in reversed(before) if token.is_telling), None)
            if (after is not None and not (after.kind == "stop" or after.parts >= STOPS)) or is_bound or last is None:
                continue
            if last.kind == "word" and not last.denied and not self.again.features.is_bare(last):
                yield last.stem

    def contrasted(self, words: Sequence[Token]) -> list[Token]:
        """Give the gears or places of words that say no more than that these are not meant: "..., not reverse"."""
        places = [token for token in words if token.kind in PLACES]
        barriers = self.vocabulary.words("barriers")
        said = [one for one in words if one.kind != "no" and one.written.lower() not in barriers]
        is_bare = len(places) == 1 and all(map(self.again.features.is_bare, said))
        ends = [one.end for one in self.of("contrasted") if one.end <= places[0].start] if is_bare else []
        ahead = [one for one in self.sentence if one.end <= words[0].start and one.kind != "light"]
        last = max((one.end for one in ahead if not self.again.features.is_bare(one)), default=0)
        return places if any(end >= last for end in ends) else []

    def _is_contrast(self, reading: ReadRun) -> bool:
        """Tell whether words only set off what is not meant: "in reverse, not forward" lacks no forward drive."""
        words, phrases = reading.words, (*self.of("contrasted"), *self.of("not_there"))
        is_denied = len(words) > 1 and words[0].kind == "no" and reading.answer == YES and not reading.is_life
        return is_denied and any(words[-2].end <= one.end <= words[-1].start for one in phrases)

    def outside(self, tokens: Sequence[Token]) -> list[Token]:
        """Leave out the words that are only compared with, or excepted."""
        apart = [*self.of("compared"), *self.of("excepted")]
        return [token for token in tokens if not any(one.start <= token.start < one.scope for one in apart)]

    def _is_only_asked(self, reading: ReadRun) -> bool:
        """Tell whether it is asked, looked for, or supposed, and not said."""
        if self._asks == "whether":
            return True
        ends = (reading.words[0].start, reading.words[-1].start)
        looked = [one for one in self.of("checked_for") if any(one.start <= start < one.scope for start in ends)]
        if looked and not any(one.start > looked[0].start for one in self.of("found_some")):
            return reading.answer != NO or not self.looked_for_in_vain(reading.words)
        return not reading.is_condition and any(self._is_supposed(one, reading.words) for one in self.of("supposed"))

    def _is_supposed(self, phrase: TurnPhrase, words: Sequence[Token]) -> bool:
        """Tell whether a statement stands right after "if", with nobody who acts in between: "if it leaks"."""
        after = [token for token in self.sentence if token.start >= phrase.end]
        first = next((token for token in after if token.is_telling), None)
        acts = {token.written.lower() for token in after[:1]} & self.vocabulary.words_of("acting")
        return (
            first is not None
            and not acts
            and words[0].start <= first.start <= words[-1].start
            and first.end <= phrase.scope
        )

    def _is_elsewhere(self, reading: ReadRun) -> bool:
        """Tell whether it is said of another vehicle, of how it ought to be, or of what was so once."""
        words = reading.words
        others = [*self.of("others"), *([] if reading.is_life else self.of("other_part", reading.label))]
        others += self.of("no_moment") if reading.is_condition else []
        if any(one.start < words[-1].end and words[0].start < one.scope for one in others):
            return True
        short = [one for one in self.of("denied_short") if words[0].start < one.end <= words[-1].end]
        if any(map(self._is_place_alone, short)):
            return True
        named = [one for one in self.of("names") if one.start < words[-1].end and words[0].start < one.end]
        if named and not self.again.says(self._cut(words, named), reading.label):
            return True
        if any(one.start <= words[0].start and words[-1].end <= one.end for one in self.of("no_change", reading.label)):
            return True
        if reading.is_life:
            return any(one.start < words[-1].end and words[0].start < one.scope for one in self.of("likened"))
        second = words[min(_NEAR, len(words) - 1)]
        if any(one.start <= second.start and words[0].start < one.scope for one in self.of("owed")):
            return True
        if reading.answer != NO and any(self._follows(one, words) for one in self.of("put_right")):
            return True
        near = [one for one in self.of("used_to") if self._is_beside(one, words, _NEAR, 2 * _NEAR)]
        today = [token.start for token in words if token.written.lower() in self.vocabulary.words_of("now")]
        return any(all(start < one.end for start in today) for one in near) and not reading.is_condition

    def _is_place_alone(self, phrase: TurnPhrase) -> bool:
        """Tell whether a clause says no more than where it is not so: "in reverse it does not"."""
        before = [token for token in self._clause_before(phrase.start) if token.is_telling]
        return all(token.kind == "no" or self.again.features.is_bare(token) for token in before)

    def _follows(self, phrase: TurnPhrase, words: Sequence[Token]) -> bool:
        """Tell whether a phrase comes next after a statement, perhaps behind a stop: "had a whine, gone now"."""
        between = [token for token in self.telling if words[-1].end <= token.start < phrase.start]
        return phrase.start >= words[-1].end and len(between) <= _NEAR

    def _without_compared(self, reading: ReadRun) -> Sequence[Token] | None:
        """Give the words without what is only compared with; None where nothing, or something else, is left."""
        compared, excepted = (self.of(role, reading.label) for role in ("compared", "excepted"))
        if not compared and not excepted:
            return reading.words
        left = [token for token in reading.words if not any(one.start <= token.start < one.scope for one in compared)]
        if len(left) < len(reading.words) and not self.again.says(left, reading.label):
            return None
        start = left[0].start
        rest = [token for token in left if not any(one.start <= token.start < one.scope for one in excepted)]
        if reading.answer == YES and any(start <= one.start < left[-1].end for one in excepted):
            is_all = is_all_of_clause(left, self.sentence, self.vocabulary, self.again.features)
            if not is_all and not self.again.says(rest, reading.label):
                return None
        if any(one.start <= start < one.scope for one in excepted):
            return left if not reading.is_condition or self._is_sound_before(start) else None
        return rest

    def _is_sound_before(self, start: int) -> bool:
        sound = self.vocabulary.stems("sound")
        return any(token.start < start and (token.kind == "no" or token.stem in sound) for token in self.sentence)

    def _turned(self, reading: ReadRun) -> str | None:
        """Give the answer after all that turns it, or None."""
        if reading.is_life:
            return None if reading.is_tried and self._is_cured(reading.words) else reading.answer
        if reading.is_measured:
            return reading.answer
        if not self._is_told(reading) or self._is_denied_grade(reading):
            return None
        if reading.is_condition:
            return None if reading.answer == YES and self._is_eased(reading) else reading.answer
        if reading.answer == YES and self._is_without_effect(reading):
            return None
        for turn in (self._ended, self._denied_twice, self._limited, self._lessened, self._wondered):
            answer = turn(reading)
            if answer != reading.answer:
                return answer
        return reading.answer

    def _is_cured(self, words: Sequence[Token]) -> bool:
        """Tell whether all is well after what was tried: "replaced the switch and now it starts fine"."""
        after = [token for token in self.sentence if token.start >= words[-1].end]
        if any(one.start >= words[0].start for one in self.of("lasted")):
            return False
        sound, now = self.vocabulary.stems("sound"), self.vocabulary.words_of("now")
        begun = next((token.start for token in after if token.written.lower() in now), None)
        return begun is not None and any(
            token.start > begun and token.stem in sound and not token.denied and token.kind == "word" for token in after
        )

    def _is_without_effect(self, reading: ReadRun) -> bool:
        """Tell whether what should have helped changed nothing: "restart: no change"."""
        helps = self._has_own(reading.label, "ended")
        return helps and any(self._follows(one, reading.words) for one in self.of("no_change"))

    def _is_told(self, reading: ReadRun) -> bool:
        """Tell whether words say it, and not a number alone, which says nothing without its limits."""
        left = [token for token in reading.words if not self._is_number(token)]
        if ":" in reading.label:
            return self.again.says_grade(left, reading.label)
        return len(left) == len(reading.words) or not all(map(self.again.features.is_bare, left))

    def _is_denied_grade(self, reading: ReadRun) -> bool:
        """Tell whether a grade is denied that would be said without the denial: "not overfull"."""
        left = [token for token in reading.words if token.kind != "no"]
        if ":" not in reading.label or len(left) == len(reading.words):
            return False
        before = list(takewhile(lambda token: token.kind != "no" and not token.denied, reading.words))
        is_said = bool(before) and self.again.says_grade(before, reading.label)
        return not is_said and self.again.says_grade(undenied(left), reading.label)

    def _is_number(self, token: Token) -> bool:
        if token.kind == "amount":
            amount = self.vocabulary.language.amounts.get(token.values[0])
            return amount is None or not amount.bounds
        return token.kind == "word" and token.written[0].isdigit()

    def _lessened(self, reading: ReadRun) -> str | None:
        """Leave "hardly any noise", "less noise in fourth" to the person."""
        words = reading.words
        for one in self.of("hardly", reading.label):
            is_first = self._is_beside(one, words[:1], _NEAR - 1, -1) or one.start == words[0].start
            if reading.answer != NO and is_first and self.again.says_yes(self._cut(words, [one]), reading.label):
                return None
        return reading.answer

    def _wondered(self, reading: ReadRun) -> str | None:
        """Take "not sure if it slips" for a doubtful yes."""
        for one in self.of("wondered"):
            if one.start <= reading.words[-1].start < one.scope and reading.answer == NO:
                left = undenied(self._cut(reading.words, [one]))
                return YES if self.again.says_yes(left, reading.label) else None
        return reading.answer

    def _is_eased(self, reading: ReadRun) -> bool:
        """Tell whether it is less so then, or so until then: "better when hot"."""
        words, sound = reading.words, self.vocabulary.stems("sound")
        until = [
            one
            for one in self.of("until", reading.label)
            if self._is_beside(one, words[:1], _NEAR, -1) or one.start == words[0].start
        ]
        if until and not any(token.stem in sound for token in (*words, *self._clause_before(words[0].start))):
            return True
        eased = [one for one in self.of("eased", reading.label) if self._is_beside(one, words, _NEAR, -1)]
        eased += [one for one in self.of("ended_then", reading.label) if self._is_beside(one, words, _NEAR, -1)]
        for one in self.of("ended", reading.label):
            is_all = not self._before_phrase(one) and self._is_beside(one, words, 0, -1)
            eased += [one] if is_all or self._is_beside(one, words, -1, _NEAR) else []
        return any(self.again.says_yes(self._cut(words, [one]), reading.label) for one in eased)

    def _ended(self, reading: ReadRun) -> str | None:
        """Take back what has ended; what has not ended goes on."""
        words, answer = reading.words, reading.answer
        passing = {one.start for one in self.of("ended_then")}
        for one in (*self.of("ended", reading.label), *self.of("mended", reading.label)):
            if one.start in passing or not self._is_beside(one, words, _NEAR, 3 * _NEAR) or self._is_time(one):
                continue
            denials = [token for token in self._before_phrase(one) if token.kind == "no"]
            if one.role == "mended" and not denials:
                continue
            left = [token for token in self._cut(words, [one]) if token.kind != "no"]
            is_still_said = self.again.says_yes(undenied(left), reading.label, SURE_AGAIN if denials else _SURER)
            if denials:
                return YES if is_still_said and answer in (YES, NO) else None
            if is_still_said and (answer != NO or not any(token.kind == "no" for token in words)):
                return None
        for one in self.of("no_more", reading.label):
            if answer != NO and self._is_beside(one, words, _NEAR, _NEAR):
                left = [token for token in self._cut(words, [one]) if token.kind != "no"]
                behind = [token for token in left if token.start >= one.end]
                if any(self.again.says_yes(undenied(said), reading.label) for said in (left, behind)):
                    return None
        return answer

    def _is_time(self, phrase: TurnPhrase) -> bool:
        """Tell whether only time has gone: "until ten minutes are gone"."""
        before = self._before_phrase(phrase)
        return bool(before) and before[-1].kind == "amount" and before[-1].values[0] == "time"

    def _denied_twice(self, reading: ReadRun) -> str | None:
        """Take "never without" for always; any other denial of a denial is left to the person."""
        words, answer = reading.words, reading.answer
        without = [one.start for one in self.of("without")]
        if any(token.kind == "no" for token in words) and self._after(words[-1]) in without:
            return None
        denials = join_denials(self.sentence, words, self.vocabulary)
        if len(denials) < 2 or denials[-1].start < words[0].start or is_one_denial(denials, self.vocabulary):
            return answer
        left = undenied([token for token in words if token.kind != "no"])
        if denials[-1].start in without and answer in (YES, NO) and self.again.says_yes(left, reading.label):
            return YES
        return None

    def _limited(self, reading: ReadRun) -> str | None:
        """Leave a denial that holds only so far to the person, and what is so only until then."""
        words, answer = reading.words, reading.answer
        after = self._after(words[-1])
        untils = {
            one.start
            for one in self.of("until", reading.label)
            if self.vocabulary.says_when([token for token in self.sentence if token.start >= one.end])
        }
        within = [one for one in sorted(untils) if words[0].start < one < words[-1].end or one == after]
        if answer == NO and within and any(token.kind == "no" for token in words):
            left = [token for token in words if token.kind != "no" and token.start < within[0]]
            if self.again.says_yes(undenied(left), reading.label):
                self.lifted.add(within[0])
                return YES
        if answer == NO:
            limits = [one.start for one in self.of("limits", reading.label)]
            return None if any(words[0].start < one < words[-1].end or one == after for one in limits) else NO
        if answer == YES and any(token.kind == "no" for token in words):
            times = {token.start for token in self.sentence if token.kind == "amount" and token.values[0] == "time"}
            if after in times and not within:
                return None
            for one in self.of("until", reading.label):
                before = [token for token in words if token.start < one.start]
                if one.start in untils:
                    continue
                if one.start == after or (len(before) < len(words) and self.again.says_yes(before, reading.label)):
                    return None
        return answer

    def _after(self, last: Token) -> int:
        """Give where the next word after a token begins, light words passed over; -1 behind a stop."""
        for token in self.sentence:
            if token.start >= last.end and (
                token.kind != "light" or any(token.start == one.start for one in self.phrases)
            ):
                return -1 if token.kind == "stop" else token.start
        return -1

    def _clause_before(self, start: int) -> list[Token]:
        last = max((token.end for token in self.sentence if token.kind == "stop" and token.start < start), default=0)
        return [token for token in self.sentence if last <= token.start < start]

    def _before_phrase(self, phrase: TurnPhrase) -> list[Token]:
        """Give the two telling words before a phrase, without what stands behind a stop."""
        return [token for token in self._clause_before(phrase.start) if token.is_telling][-2:]

    def _is_beside(self, phrase: TurnPhrase, words: Sequence[Token], before: int, after: int) -> bool:
        """Tell whether a phrase stands among words, or so many telling words before or after them; -1 is not there at all."""
        first, last = words[0].start, words[-1].end
        if first <= phrase.start < last:
            return True
        is_before = phrase.start < first
        near = before if is_before else after
        gap = (phrase.end, first) if is_before else (last, phrase.start)
        between = [token for token in self.sentence if gap[0] <= token.start < gap[1]]
        if near < 0 or any(token.kind == "stop" or token.parts >= STOPS for token in between):
            return False
        return sum(token.is_telling for token in between) <= near

    def _cut(self, words: Sequence[Token], phrases: Sequence[TurnPhrase]) -> list[Token]:
        """Leave phrases out of words."""
        return [token for token in words if not any(one.start <= token.start < one.end for one in phrases)]
