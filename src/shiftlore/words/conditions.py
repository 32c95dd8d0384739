"""When something is so: words that say when are found, told from their contrary, and tied to the complaint they belong to.

"Slips cold in third" says that it slips in third, and when; "fine when cold" says when not. A condition belongs to the
complaint of its own clause, else to the one before it; at the head of a sentence to all that follows.
"""

from collections.abc import Callable, Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from shiftlore.knowledge import Knowledge
from shiftlore.words.own_turns import NO, YES
from shiftlore.words.statements import SaidAnswer, Statement, Worded
from shiftlore.words.turns import LIST, Turns
from shiftlore.words.vocabulary import STOPS, Token, Vocabulary

# A condition that speaks for itself so much, in log odds, stands beside any statement (tried on sentences_build.yaml).
_SURE_ALONE = 1.0
_FREE = ("light", "stop", "no", "amount", "gear", "shift", "lever", "count")


@dataclass(frozen=True, slots=True)
class Moment(Worded):
    """Words that say when something is so.

    Args:
        name: the condition; words: its tokens, with the word that opens it: "when hot".
        is_opened: whether a word such as "when" opens it; is_not: whether it is said not to be so then.
        is_one_of_two: whether another is joined to it with "or", so that it is not said which.
        is_turned: whether it was read out of its contrary: "until hot" of when it is cold.
    """

    name: str
    words: tuple[Token, ...]
    is_opened: bool = False
    is_not: bool = False
    is_one_of_two: bool = False
    is_turned: bool = False


def find_moments(turns: Turns, kinds: Mapping[str, tuple[str, str]]) -> list[Moment]:
    """Find the moments of a sentence, but for those that are only compared with or excepted.

    Args:
        kinds: condition -> its finding, and the kind of condition: hot and cold are of one.
    """
    words = _first_of_each(turns.outside(turns.sentence))
    texts = [token.written.lower() for token in words]
    found: list[Moment] = []
    for place, text in enumerate(texts):
        for name, phrase in turns.vocabulary.moments.get(text, ()):
            end = place + len(phrase)
            is_over = bool(found) and words[place].start < found[-1].end
            if name in kinds and not is_over and tuple(texts[place:end]) == phrase:
                moment = _moment_at(turns, words, name, place, end, kinds=kinds)
                found += [] if moment is None else [moment]
    return _joined(turns.vocabulary, words, found, kinds)


def _contrary_of(name: str, kinds: Mapping[str, tuple[str, str]]) -> str | None:
    """Name the contrary of a condition: the first two of a kind are each other's."""
    first, second, *_ = [*(other for other, (_, kind) in kinds.items() if kind == kinds[name][1]), None]
    return {first: second, second: first}.get(name)


def _joined(
    vocabulary: Vocabulary, words: Sequence[Token], found: list[Moment], kinds: Mapping[str, tuple[str, str]]
) -> list[Moment]:
    """Take "hot or cold" for neither, as it is so whichever it is; of two of different kinds it is not said which."""
    either, joining = vocabulary.words("either"), vocabulary.words("joining")
    for place, (one, two) in enumerate(zip(found, found[1:], strict=False)):
        between = {token.written.lower() for token in words if one.end <= token.start < two.start}
        is_or = bool(between) and between <= either
        if is_or or (between and between <= joining and not two.is_opened):
            is_same = one.name != two.name and kinds[one.name][1] == kinds[two.name][1]
            if is_same or is_or:
                found[place : place + 2] = [
                    replace(same, is_not=is_same, is_one_of_two=not is_same) for same in (one, two)
                ]
    return found


def settle(learned: Moment, moments: Sequence[Moment], kinds: Mapping[str, tuple[str, str]]) -> Moment | None:
    """Give none where a moment of the same kind stands in one that was learned: "fine when cold" was read as its contrary."""
    same = (one for one in moments if kinds[one.name][1] == kinds[learned.name][1])
    return None if any(one.start < learned.end and learned.start < one.end for one in same) else learned


def is_overruled(statement: Statement, moments: Sequence[Moment], kinds: Mapping[str, tuple[str, str]]) -> bool:
    """Tell whether a condition was read of words that were turned into one of the same kind: "smooth until warm" of cold."""
    turned = [one for one in moments if one.is_turned and one.start < statement.end and statement.start < one.end]
    return bool(statement.condition) and any(kinds[one.name][1] == kinds[statement.condition][1] for one in turned)


def _moment_at(
    turns: Turns, words: Sequence[Token], name: str, place: int, end: int, *, kinds: Mapping[str, tuple[str, str]]
) -> Moment | None:
    """Give the moment whose words stand from one place up to another, or None where they say no more than what is so.

    Args:
        kinds: as in `find_moments`; what is so until it is warm is so when cold, its contrary.
    """
    first = _opening(turns, words, place)
    is_alone = end - place == 1 and first == place
    ahead = _ahead(turns, words, first)
    is_until = ahead < first and words[ahead].written.lower() in turns.vocabulary.words_of("until")
    if is_alone and not is_until and not _stands_alone(turns, words, place):
        return None
    own = tuple(token for token in words[first:end] if token.is_telling)
    before = words[first - 1] if first and not _parted(words[first]) else None
    if before is None:
        return Moment(name, own, is_opened=not is_alone)
    if is_until:
        is_so = words[ahead].start in turns.lifted or _is_sound_ahead(turns, words[:ahead])
        if not is_so and any(words[ahead].start == one.start for one in turns.of("bounded")):
            return None  # "no bang unless cold": not said of what
        other = name if is_so else _contrary_of(name, kinds)
        return None if other is None else Moment(other, own, is_opened=True, is_turned=True)
    if before.kind == "no":
        return Moment(name, (before, *own), is_opened=True, is_not=True)
    is_over = any(one.start <= before.start < one.end for one in turns.of("ended_then"))
    return Moment(name, own, is_opened=is_over or not is_alone, is_not=is_over)


def _ahead(turns: Turns, words: Sequence[Token], place: int) -> int:
    """Give the place of the word before another, what only fills passed over: "until" of "until it gets hot"."""
    filling = turns.vocabulary.words_of("within_when")
    place = max(0, place - 1)
    while (
        place
        and not _parted(words[place + 1])
        and (words[place].kind == "light" or words[place].written.lower() in filling)
    ):
        place -= 1
    return place


def _is_sound_ahead(turns: Turns, words: Sequence[Token]) -> bool:
    """Tell whether all is said to be well right before, in the same clause: "fine until hot"."""
    sound = turns.vocabulary.stems("sound") - turns.vocabulary.words("bare")
    clauses = turns.clauses
    here = [token for token in words if clauses[token.start] == clauses[words[-1].start]]
    return any(token.stem in sound and not token.denied for token in here)


def _opening(turns: Turns, words: Sequence[Token], place: int) -> int:
    """Give the place of the word that opens a moment, "when" in "when it gets hot", or the moment's own."""
    openers, filling = turns.vocabulary.words_of("opens_when"), turns.vocabulary.words_of("within_when")
    first, step = place, place - 1
    while step >= 0 and not _parted(words[step + 1]):
        text = words[step].written.lower()
        if text in openers:
            first = step
        elif words[step].kind != "light" and text not in filling:
            break
        step -= 1
    return first


def _stands_alone(turns: Turns, words: Sequence[Token], place: int) -> bool:
    """Tell whether one word says when: "slips cold in third", and not "a cold start" or "runs hot"."""
    if place and not _parted(words[place]):
        text = words[place - 1].written.lower()
        is_named = words[place - 1].kind == "light" and text not in turns.vocabulary.words_of("goes_on")
        if text in turns.vocabulary.words_of("no_when") or is_named:
            return False
    if place + 1 == len(words) or _parted(words[place + 1]):
        return True
    after = words[place + 1]
    return after.kind in _FREE or after.written.lower() in turns.vocabulary.words_of("behind_when")


def _first_of_each(sentence: Sequence[Token]) -> list[Token]:
    """Leave out tokens that are further parts of one written word."""
    return [token for place, token in enumerate(sentence) if not place or token.start != sentence[place - 1].start]


def _parted(token: Token) -> bool:
    return token.kind == "stop" or token.parts >= STOPS


class Conditions:
    """Judges the conditions of one sentence, and ties them.

    Args:
        turns: the sentence; complaints: its statements that say no condition; moments: all that it says of when.
        confirmed: conditions that are read as statements too.
    """

    def __init__(
        self, turns: Turns, complaints: Sequence[Statement], moments: Sequence[Moment], confirmed: Container[str] = ()
    ):
        self.turns = turns
        self.sentence = turns.sentence
        self.complaints = complaints
        self.moments = moments
        self.confirmed = confirmed
        lists = [turns.vocabulary.words(role) for role in ("barriers", "joining", "unsound")]
        self.empty = frozenset().union(*lists, *(turns.vocabulary.words_of(role) for role in ("opens_when", "goes_on")))
        self.sound = turns.vocabulary.stems("sound") - turns.vocabulary.words("bare")
        self.clauses = turns.clauses

    def judge(self, moment: Moment, *, is_learned: bool = False) -> bool | None:
        """Tell whether something is so then, or not; None where that is not said, or of what is not so at all.

        Args:
            is_learned: whether it was read as a whole statement, its words of soundness too.
        """
        if moment.is_not or moment.is_one_of_two:
            return False if moment.is_not else None
        part = self._part_of(moment)
        if part and any(part[0].start <= one.start < part[-1].end for one in self.turns.of("eased")):
            return None
        clause = self.clauses[moment.start]
        if any(one.start < moment.end and self.clauses[one.start] == clause for one in self.turns.of("used_to")):
            return None
        if moment.is_turned:
            return True
        if part and self.clauses[part[0].start] != self.clauses[moment.start] and self._is_sound_there(moment):
            return False
        if self._is_denied_there(moment):
            return False if self.complaints else None
        if here := self._within(part):
            if all(says_so(one) and self._sound_words(one.words) for one in here) and not self._is_restricted(moment):
                return False  # "cold it shifts fine"
            return True if any(map(says_so, here)) else None
        if not is_learned and self._sound_words(self._own_of(moment, part)):
            return False
        if any(token.kind == "no" and token.start < moment.start for token in part):
            return None
        done, clauses = self.turns.vocabulary.words_of("done_then"), self.clauses
        if any(token.written.lower() in done for token in part) or (
            not self.complaints and any(clauses[one.start] == clauses[moment.start] for one in self.turns.of("does_so"))
        ):
            return None
        if moment.is_opened and self._only_runs(part):
            return False
        if self._is_of_unread(part):
            return True if moment.name in self.confirmed else None
        return True if moment.is_opened or any(map(says_so, self.complaints)) else None

    def _only_runs(self, part: Sequence[Token]) -> bool:
        """Tell whether words say no more than that it does what it should: "it goes when it is cold"."""
        runs, openers = self.turns.vocabulary.words_of("runs"), self.turns.vocabulary.words_of("opens_when")
        said = [token.written.lower() for token in part]
        is_plain = all(
            one in runs or self.turns.again.features.is_bare(token) for one, token in zip(said, part, strict=True)
        )
        return is_plain and not openers.intersection(said) and any(one in runs for one in said)

    def _is_sound_there(self, moment: Moment) -> bool:
        """Tell whether the moment's own clause says no more than that all is well: "cold it is perfect, hot it slips"."""
        return bool(self._sound_words(self._beside(moment)))

    def _is_restricted(self, moment: Moment) -> bool:
        """Tell whether a word opens a moment that says by itself that something is so then: "only when hot", "worse hot"."""
        return moment.words[0].written.lower() in self.turns.vocabulary.words_of("restricts")

    def _own_of(self, moment: Moment, part: Sequence[Token]) -> Sequence[Token]:
        """Give the words whose soundness is said of a moment: "worse when hot, fine above 50" is fine not then."""
        clause = self.clauses[moment.start]
        return [token for token in part if not self._is_restricted(moment) or self.clauses[token.start] == clause]

    def _beside(self, moment: Moment) -> list[Token]:
        """Give the other words of a moment's own clause."""
        clause = self.clauses[moment.start]
        return [token for token in self.sentence if self.clauses[token.start] == clause and token not in moment.words]

    def _is_denied_there(self, moment: Moment) -> bool:
        """Tell whether the moment's own clause says no more than no: "hot it slips, cold it does not"; or yes to a denial."""
        clause, yes = self.clauses[moment.start], self.turns.vocabulary.words_of("affirmed")
        own = [token for token in self.sentence if token.is_telling and self.clauses[token.start] == clause]
        last = own[-1].written.lower() in yes and any(token.kind == "no" for token in self.sentence)
        own = own if last or own[-1].start >= moment.end else []
        left = [token for token in own[:-1] if token not in moment.words]
        return bool(own) and (last or own[-1].kind == "no") and all(map(self.turns.again.features.is_bare, left))

    def _sound_words(self, tokens: Iterable[Token]) -> list[Token]:
        """Give the words that say that all is well."""
        return [token for token in tokens if token.stem in self.sound and not token.denied]

    def _is_of_unread(self, part: Sequence[Token]) -> bool:
        """Tell whether a moment tells of words that were not read: "makes it shift at once when warm"."""
        read = {token.start for one in self.complaints for token in one.words}
        left = [token for token in part if token.start not in read and token.written.lower() not in self.empty]
        return not all(map(self.turns.again.features.is_bare, left)) and not self._within(part)

    def denied_then(self, moment: Moment) -> list[Statement]:
        """Give the statements that something is not so then, which does not say that it is never so: "no slip when hot"."""
        if moment.is_not or moment.is_one_of_two:
            return []
        return [one for one in self._within(self._part_of(moment)) if not says_so(one)]

    def with_soundness(self, moment: Moment) -> Moment:
        """Add the words of soundness to a moment: "fine when cold"."""
        words = self._sound_words(self._part_of(moment))
        return replace(moment, words=tuple(sorted((*moment.words, *words), key=lambda token: token.start)))

    def tied_to(self, moment: Moment) -> list[Statement]:
        """Give the statements that a condition belongs to: those of its part of the sentence, else the nearest."""
        there = [one for one in self.complaints if says_so(one)]
        if here := [one for one in self._within(self._part_of(moment)) if one in there]:
            return here
        if self._is_of_unread(self._part_of(moment)):
            return []
        before = [one for one in there if one.start < moment.start]
        near = before[-1] if before else there[0] if there else None
        return [one for one in there if near is not None and one.start < near.end and near.start < one.end]

    def _within(self, part: Sequence[Token]) -> list[Statement]:
        return [one for one in self.complaints if part and part[0].start <= one.start <= part[-1].start]

    def _part_of(self, moment: Moment) -> list[Token]:
        """Give the words of which a moment tells: those before it in its clause; at the head of it those after it, or, where
        that is all of the clause, those of the next.

        Another moment bounds them.
        """
        spans = [(one.start, one.end) for one in self.moments]
        free = [
            token
            for token in self.sentence
            if token.is_telling and not any(start <= token.start < end for start, end in spans)
        ]
        clause = self.clauses[moment.start]
        earlier = [token for token in free if token.start < moment.start]
        before = [token for token in earlier if self.clauses[token.start] == clause]
        before = before if any(token.written.lower() not in self.empty for token in before) else []  # "but when cold"
        after = [token for token in free if token.start >= moment.end]
        own = [token for token in after if self.clauses[token.start] == clause]
        follows = next((token.written for token in self.sentence if token.start >= moment.end), "")
        is_bound = moment.is_opened and not self._is_restricted(moment)
        is_behind = not before and not own and not is_bound and follows != LIST  # "harsh 2-3, cold, soft warm"
        if earlier and is_behind:
            before = [token for token in earlier if self.clauses[token.start] == self.clauses[earlier[-1].start]]
        if before:
            last = max((end for _, end in spans if before[-1].start >= end), default=0)
            return [token for token in before if token.start >= last]
        after = own or after
        end = min((start for start, _ in spans if after and start > after[0].start), default=self.sentence[-1].end)
        return [token for token in after if token.start < end]


def says_so(statement: Statement) -> bool:
    """Tell whether a statement says that something is there."""
    return any(answer.answer != NO for answer in statement.answers)


def without_contrary(
    answers: Iterable[SaidAnswer], sentences: Sequence[tuple[Sequence[Token], Sequence[Statement]]]
) -> list[SaidAnswer]:
    """Leave out that a condition is not so where it is said to be so too: "on full lock. Straight on nothing." """
    so = {
        answer.id for _, found in sentences for one in found if one.condition for answer in one.answers if says_so(one)
    }
    return [one for one in answers if one.answer != NO or one.id not in so]


def without_located(knowledge: Knowledge, found: Sequence[Statement]) -> list[Statement]:
    """Leave out a condition all of whose words stand in a surer statement to which none belongs: "damp" in "damp hose".

    Only a complaint has conditions. And what is asked only after another thing, the place of a noise, where all of its words
    stand in a statement of something else, and nothing of its own group is said: "drips from the bell housing".
    """
    kept = [one for one in found if not any(_is_located(knowledge, one, other) for other in found)]
    records = {one.segment.label: knowledge.findings.get(one.segment.label.partition(":")[0]) for one in kept}
    told = {record.group for record in records.values() if record is not None and not record.asked_after}
    nothing_said_of = {
        label for label, record in records.items() if record and record.asked_after and record.group not in told
    }
    return [one for one in kept if one.segment.label not in nothing_said_of or not _is_within_any(one, kept)]


def _is_within_any(one: Statement, found: Sequence[Statement]) -> bool:
    words = {token.start for token in one.words}
    return any(words < {token.start for token in other.words} for other in found)


def _is_located(knowledge: Knowledge, one: Statement, other: Statement) -> bool:
    record = knowledge.findings.get(other.segment.label.partition(":")[0])
    is_surer = one.segment.trust < min(other.segment.trust, _SURE_ALONE)
    is_within = {token.start for token in one.words} <= {token.start for token in other.words}
    is_sound = other.condition or (record is not None and record.complaint)
    return bool(one.condition) and is_surer and is_within and not is_sound


def tie(
    answers: Sequence[SaidAnswer],
    sentences: Sequence[tuple[Sequence[Token], Sequence[Statement]]],
    vocabulary: Vocabulary,
    belonging: Callable[[Iterable[Statement]], tuple[str, ...]],
) -> list[SaidAnswer]:
    """Tie conditions to the complaints they belong to; a condition that belongs to none stands by itself.

    Args:
        sentences: all tokens of each sentence, and its statements.
        belonging: names the answers of statements to which a condition may be tied.
    """
    there = {one.id for one in answers}
    ties: dict[str, list[str]] = {}
    tied: set[str] = set()
    before: tuple[str, ...] = ()
    for sentence, found in sentences:
        complaints = [one for one in found if not one.condition and says_so(one)]
        for one in found:
            if one.condition and one.answers[0].answer == YES:
                goes_on = not complaints and _goes_on(sentence, one, vocabulary)
                ids = there.intersection(one.of or (before if goes_on else ()))
                for key in ids:
                    ties.setdefault(key, []).append(one.condition)
                tied |= {one.answers[0].id} if ids else set()
        before = belonging(one for one in complaints if one.end > complaints[-1].start) or before
    return [replace(one, when=tuple(dict.fromkeys(ties.get(one.id, ())))) for one in answers if one.id not in tied]


def _goes_on(sentence: Sequence[Token], statement: Statement, vocabulary: Vocabulary) -> bool:
    """Tell whether a sentence says no more than when: "It is only when hot."; or says of the one before when."""
    first = next((token.written.lower() for token in sentence if token.kind != "stop"), "")
    telling = [token.start for token in sentence if token.is_telling]
    return first in vocabulary.words_of("goes_on") or {one.start for one in statement.words}.issuperset(telling)
