"""What is heard from others, doubted in the next breath, or was so once; and the trouble codes of a sentence."""

from collections.abc import Sequence
from dataclasses import replace

from shiftlore.knowledge import Finding, Knowledge
from shiftlore.words.own_turns import NO, YES
from shiftlore.words.statements import SaidAnswer
from shiftlore.words.turns import TurnPhrase, Turns
from shiftlore.words.vocabulary import Token

LOOKED_AT = ("look", "measure", "open")


def is_doubted(finding: Finding | None, words: Sequence[Token], turns: Turns) -> bool:
    """Tell whether what has to be looked at is only heard from others, or whether the speaker does not trust it."""
    is_looked_at = finding is not None and not finding.complaint and finding.got_by in LOOKED_AT
    heard = turns.of("heard") if is_looked_at and not turns.of("seen") else []
    is_graded = finding is not None and is_looked_at and tuple(finding.grades) != (NO, YES)
    clauses = turns.clauses
    here = {clauses[token.start] for token in words}
    is_heard = any(clauses[one.start] in here for one in heard)
    return is_heard or (is_graded and bool(turns.of("looked_amiss"))) or is_distrusted(words, turns)


def is_distrusted(words: Sequence[Token], turns: Turns) -> bool:
    """Tell whether the speaker says right with or behind it that he may be wrong: "..., but I don't trust them"."""
    clauses = turns.clauses
    last = clauses[words[-1].start]
    return any(clauses[one.start] in (last, last + 1) and one.end > words[0].start for one in turns.of("distrusts"))


def read_codes(knowledge: Knowledge, turns: Turns) -> tuple[list[SaidAnswer], list[tuple[SaidAnswer, ...]]]:
    """Take trouble codes by their names: those that are sure or doubted, and those of which one was meant, not which.

    A code that was there once, and is no more, tells nothing of the trouble of today.
    """
    sentence, guess = turns.sentence, next(iter(knowledge.words.doubts), None)
    known = [token for token in sentence if token.kind == "code" and token.values[0] in knowledge.codes]
    answers: list[SaidAnswer] = []
    either: list[list[SaidAnswer]] = []
    is_meant = {token.start: token.denied or not _was_once(token, known, turns) for token in known}
    for token in known:
        code = knowledge.codes[token.values[0]]
        answer = SaidAnswer(
            "finding", code.code, code.means, answer=NO if token.denied else YES, score=1.0, matched=(token.written,),
            doubt=guess if not token.denied and _is_unsure(token, turns) else None, code=code.code, template=code.finding,
        )  # fmt: skip
        before = next((one for one in reversed(known) if one.start < token.start), None)
        if before is not None and not token.denied and not before.denied and _is_choice(before, token, turns):
            last = either[-1] if either and either[-1][-1].matched == (before.written,) else [answers.pop()]
            either = [*(one for one in either if one is not last), [*last, replace(answer, doubt=None)]]
        elif is_meant[token.start]:
            answers.append(answer)
    return answers, [tuple(replace(one, doubt=None) for one in group) for group in either]


def _is_choice(one: Token, other: Token, turns: Turns) -> bool:
    """Tell whether no more than "or", and doubt, stands between two codes: "P0842 maybe, or was it P0841"."""
    between = [token for token in turns.sentence if one.start < token.start < other.start]
    said = {token.written.lower() for token in between if token.is_telling}
    either, unsure = turns.vocabulary.words("either"), turns.vocabulary.words("unsure")
    return bool(said & either) and said <= either | unsure


def _is_unsure(token: Token, turns: Turns) -> bool:
    """Tell whether a code is only guessed, asked for, not believed, or was wiped out and is not said to be back."""
    clauses, unsure = turns.clauses, turns.vocabulary.words("unsure")
    here = [one for one in turns.sentence if clauses[one.start] == clauses[token.start]]
    near = (clauses[token.start], clauses[token.start] + 1)
    is_wiped = not turns.of("returned") and any(clauses[one.start] in near for one in turns.of("wiped"))
    is_guessed = any(one.written.lower() in unsure for one in here) or (turns.closing == "?" and len(here) == 1)
    return is_wiped or is_guessed or is_distrusted([token], turns)


def _was_once(token: Token, known: Sequence[Token], turns: Turns) -> bool:
    """Tell whether a code was there once, and no more: "P0741 last year", "P0741, but that is gone"."""
    clauses = turns.clauses
    own, nexts = clauses[token.start], [one.start for one in known if one.start > token.start]
    ended = [one for one in turns.of("gone_since") if token.start < one.start < min(nexts, default=one.end)]
    dated = [one for one in turns.of("long_ago") if clauses[one.start] == own and _says_no_more(one, token, turns)]
    return bool(ended or dated)


def _says_no_more(phrase: TurnPhrase, token: Token, turns: Turns) -> bool:
    """Tell whether nothing stands between a code and a phrase, or before that, which tells of something else."""
    clauses = turns.clauses
    first = token.end if token.start < phrase.start else 0
    end = max(phrase.start, token.start)
    between = [one for one in turns.sentence if first <= one.start < end and clauses[one.start] == clauses[token.start]]
    between = [one for one in between if one.is_telling and not phrase.start <= one.start < phrase.end]
    empty = turns.vocabulary.words("bare") | turns.vocabulary.words("beside_signs")
    return all(one.kind == "code" or one.written.lower() in empty for one in between)
