"""Which findings of the vehicle a statement may mean: the gear, shift or part that it names, filled into the template."""

import re
from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

from shiftlore.knowledge import NAME_SLOT, Finding, Knowledge
from shiftlore.words.vocabulary import Token, Vocabulary

_REVERSE = "r"
_HIGHEST = 10
_SIGN = re.compile(r"[a-z]\d*")  # what tells parts of one kind apart: solenoid C, clutch C1


class FindingOfUnit(Protocol):
    """A finding of a unit: the template it was made from, and its label."""

    @property
    def template(self) -> str:
        """Give the id of the finding as written."""

    @property
    def label(self) -> str:
        """Give its label."""


class UnitWords(Protocol):
    """What of a unit must be known to name its findings."""

    @property
    def findings(self) -> Mapping[str, FindingOfUnit]:
        """Give all findings of the unit, by the id under which a case holds them."""


@dataclass(frozen=True, slots=True)
class Named:
    """A finding as it stands in a case; its template where it is another than was asked for."""

    id: str
    label: str
    instance: str | None = None
    template: str = ""


class Names:
    """Finds what a statement names, on a unit or, where that is not known, on any.

    Args:
        unit: the findings of the unit; None for any.
    """

    def __init__(self, knowledge: Knowledge, vocabulary: Vocabulary, unit: UnitWords | None):
        self.knowledge = knowledge
        self.vocabulary = vocabulary
        self._signs: dict[str, list[tuple[str, str, set[str]]]] = {}
        self.by_template: dict[str, dict[str, str]] = {}
        if unit is None:
            self.by_template = {key: _anywhere(finding, key) for key, finding in knowledge.findings.items()}
        else:
            for key, finding in unit.findings.items():
                self.by_template.setdefault(finding.template, {})[key] = finding.label
        wide_first = sorted(knowledge.findings.values(), key=lambda one: -len(one.general_of))
        self._general = {
            special: one.id for one in wide_first for special in one.general_of if one.id in self.by_template
        }

    def name(self, template: str, tokens: Sequence[Token], sentence: Sequence[Token]) -> list[Named]:
        """Name the findings that a statement means: one for each gear that it names, the general one where it names none.

        Args:
            tokens: the words of the statement; sentence: all words around it, for a gear that stands apart.
        """
        members = self.by_template.get(template, {})
        record = self.knowledge.findings.get(template)
        if record is None or record.scope.each is None:
            label = members.get(template) or self._label(template)
            return [Named(template, label)] if record is None or template in members else []
        for words in (tokens, _all_between(tokens, sentence), *_nearest(tokens, sentence)):
            named = self._instances(record.scope.each, words, members, template)
            found = [
                Named(f"{template}_{one}", members[f"{template}_{one}"], one)
                for one in named
                if f"{template}_{one}" in members
            ]
            other = record.reverse_is if _REVERSE in named else None
            if other in self.by_template:
                found.append(Named(str(other), self._label(str(other))))
            if found:
                return found
        general = self._general.get(template)
        return [Named(general, self._label(general))] if general else []

    def of_places(self, general: str, answer: str, free: Sequence[Token]) -> list[Named]:
        """Name what a general finding is of each gear, shift or place of the lever that is said apart: "shift shock, 1-2".

        Args:
            free: words of the sentence that say nothing else.
        """
        record = self.knowledge.findings.get(general)
        specials = [self.knowledge.findings[one] for one in record.general_of] if record else []
        specials = [one for one in specials if answer in one.grades and one.id in self.by_template]
        common = self._places(self._label(general))  # "lost drive" names no place
        placed = [one for one in specials if common.isdisjoint(self._places(one.label))]
        found = [Named(one.id, one.label, None, one.id) for one in placed if self._is_of_place(one.label, free)]
        for each in ("gear", "shift", "downshift"):
            of_each = [one for one in specials if one.scope.each == each]
            if len(of_each) == 1:
                key = of_each[0].id
                members = self.by_template[key]
                named = [one for one in self._instances(each, free, members, key) if f"{key}_{one}" in members]
                found += [Named(f"{key}_{one}", members[f"{key}_{one}"], one, key) for one in named]
        return found

    def are_twins(self, one: str, other: str) -> bool:
        """Tell whether two findings are one, or are called the same but for the place of the lever: Drive and Reverse."""
        first, second = (
            [token.stem for token in self.vocabulary.split(self._label(key)) if token.kind != "lever"]
            for key in (one.partition(":")[0], other)
        )
        return first == second

    def _places(self, label: str) -> set[str]:
        return {token.stem for token in self.vocabulary.split(label) if token.kind == "lever"}

    def _is_of_place(self, label: str, free: Sequence[Token]) -> bool:
        """Tell whether a label names one place of the lever, and that one is among words that say nothing else."""
        places = self._places(label)
        return len(places) == 1 and places <= {token.stem for token in free if token.kind == "lever"}

    def _label(self, key: str) -> str:
        finding = self.knowledge.findings.get(key)
        return self.knowledge.backgrounds[key].label if finding is None else finding.label

    def _instances(self, each: str, words: Sequence[Token], members: Mapping[str, str], template: str) -> list[str]:
        if each == "gear":
            return [value for token in words for value in _gears(token)]
        if each in ("shift", "downshift"):
            return [one for place in range(len(words)) for one in self._shifts(words, place, each)]
        signed = self._signed(words, members, template)
        if signed:
            return signed
        stems = {token.stem for token in words}
        fits: dict[str, int] = {}
        common = self._common(members)
        for key, label in members.items():
            own = {token.stem for token in self.vocabulary.split(label) if token.is_telling} - common
            fits[key.removeprefix(f"{template}_")] = len(own & stems) if own <= stems else 0
        best = max(fits.values(), default=0)
        chosen = [one for one, fit in fits.items() if fit == best]
        return chosen if best and len(chosen) == 1 else []

    def _signed(self, words: Sequence[Token], members: Mapping[str, str], template: str) -> list[str]:
        """Give the parts of which the letter or number is said: "solenoid C", "C1"; of one sign the nearest named."""
        said, missing = _join(words), dict[str, dict[str, int]]()
        stems = {stem for _, stem in said}
        if template not in self._signs:
            self._signs[template] = list(self._list_signs(members, template))
        for part, sign, own in self._signs[template]:
            if _is_called(sign, own, said):
                missing.setdefault(sign, {})[part] = len(own - stems)
        chosen = []
        for parts in missing.values():
            fewest = [one for one, count in parts.items() if count == min(parts.values())]
            chosen += fewest if len(fewest) == 1 else []
        return chosen

    def _list_signs(self, members: Mapping[str, str], template: str) -> Iterator[tuple[str, str, set[str]]]:
        """Give each part that has a letter or number, that sign, and the stems of the other words of its name."""
        before, _, after = self.knowledge.findings[template].label.partition(NAME_SLOT)
        for key, label in members.items():
            name = _join(self.vocabulary.split(label[len(before) : len(label) - len(after)]))
            sign = next((one.lower() for one, _ in name if _SIGN.fullmatch(one.lower())), "")
            if sign:
                own = {stem for one, stem in name if one.lower() != sign}
                yield key.removeprefix(f"{template}_"), sign, own

    def _common(self, members: Mapping[str, str]) -> set[str]:
        """Give the words that the labels of all members share."""
        each = [{token.stem for token in self.vocabulary.split(label)} for label in members.values()]
        return set.intersection(*each) if len(each) > 1 else set()

    def _shifts(self, words: Sequence[Token], place: int, each: str) -> list[str]:
        """Give the shifts that a token names: 2-3, or "into third"; from above where the vehicle slows."""
        token = words[place]
        if token.kind == "shift":
            return [one for one in token.values if (each == "downshift") == _goes_down(one)]
        if token.kind != "gear" or not all(one.isdigit() for one in token.values):
            return []
        before = words[place - 1].written.lower() if place else ""
        step = -1 if each == "downshift" else 1
        found = []
        for gear in map(int, token.values):
            first = gear if before in self.vocabulary.words("out_of") else gear - step
            found.append(f"{first}_{first + step}")
        return found


def _all_between(tokens: Sequence[Token], sentence: Sequence[Token]) -> list[Token]:
    """Give the words of a statement with all that stands among them, and the next one: a letter alone tells nothing."""
    inside = [token for token in sentence if tokens[0].start <= token.start]
    return [token for place, token in enumerate(inside) if not place or inside[place - 1].start < tokens[-1].end]


def _join(words: Sequence[Token]) -> list[tuple[str, str]]:
    """Give each word with its stem; a letter with the number that stands right at it is one word: C1."""
    joined: list[tuple[str, str]] = []
    last = -1
    for token in words:
        if token.start == last and token.written.isdigit():
            joined[-1] = (joined[-1][0] + token.written,) * 2
        else:
            joined.append((token.written, token.stem))
        last = token.end
    return joined


def _is_called(sign: str, own: Container[str], said: Sequence[tuple[str, str]]) -> bool:
    """Tell whether a part is called by its sign; a letter alone stands right after a word of its name, "solenoid A"."""
    if len(sign) > 1:
        return any(one.lower() == sign for one, _ in said)
    return any(
        one.lower() == sign and before in own and (one.isupper() or sign != "a")
        for (_, before), (one, _) in pairwise(said)
    )


def _nearest(tokens: Sequence[Token], sentence: Sequence[Token]) -> list[list[Token]]:
    """Give the words around a statement one by one, nearest first, each with the word before it."""
    start, end = tokens[0].start, tokens[-1].end
    places = [place for place, token in enumerate(sentence) if token.end <= start or token.start >= end]
    places.sort(key=lambda place: max(start - sentence[place].end, sentence[place].start - end))
    return [list(sentence[max(0, place - 1) : place + 1]) for place in places]


def _gears(token: Token) -> tuple[str, ...]:
    if token.kind == "gear":
        return token.values
    return (_REVERSE,) if token.kind == "lever" and _REVERSE in token.values else ()


def _goes_down(shift: str) -> bool:
    first, _, second = shift.partition("_")
    return int(second) < int(first)


def _anywhere(finding: Finding, template: str) -> dict[str, str]:
    """List what a template may become on some unit: gears and shifts; for parts that differ from unit to unit, nothing."""
    gears = [*map(str, range(1, _HIGHEST + 1)), _REVERSE]
    members: dict[str | None, list[str]] = {
        None: [""],
        "gear": gears,
        "shift": [f"{gear}_{gear + 1}" for gear in range(1, _HIGHEST)],
        "downshift": [f"{gear + 1}_{gear}" for gear in range(1, _HIGHEST)],
    }
    names = members.get(finding.scope.each, [])
    return {
        f"{template}_{one}" if one else template: finding.label.replace(NAME_SLOT, one.replace("_", "-"))
        for one in names
    }
