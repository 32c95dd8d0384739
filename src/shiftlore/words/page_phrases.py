"""The words of the owner's page, one file per language, so that a shop can change or translate them.

`knowledge/phrases/en.yaml` says which words there are; another language may leave some out, and then the English ones
stand in. A word in braces, such as `{price}`, is filled in by the program and must not be translated.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from shiftlore.basics.problems import KnowledgeError, Problem, UnknownId
from shiftlore.knowledge.files import PHRASES_FOLDER, find_knowledge
from shiftlore.knowledge.language import FIRST_LANGUAGE
from shiftlore.reading import Fields, Node, quoted, read_yaml

SECTIONS = (
    "page", "formats", "areas", "kinds", "not_covered", "ways", "checks", "jobs", "follow_ups", "complaints", "not_done",
    "do_now",
)  # fmt: skip
_SLOT = re.compile(r"\{(\w*)\}")
_LANGUAGE = re.compile(r"[a-z]{2,3}")


@dataclass(frozen=True, slots=True)
class Phrases:
    """The words of one language.

    Args:
        language: as in the page's `lang`.
        sections: section -> key -> text.
        fallback: the same in English.
    """

    language: str
    sections: Mapping[str, Mapping[str, str]]
    fallback: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def word(self, key: str, section: str = "page") -> str:
        """Give a text by its key, in English where this language has none."""
        own = self.sections.get(section, {})
        return own[key] if key in own else self.fallback.get(section, {}).get(key, key)

    def fill(self, key: str, section: str = "page", **values: str) -> str:
        """Give a text with its words in braces filled in; what it has no value for stays as it stands.

        Example:
            >>> Phrases("en", {"page": {"a": "{p} of 100"}}).fill("a", p="7")
            '7 of 100'
        """
        return fill_slots(self.word(key, section), values)

    def find(self, section: str, record_id: str) -> str | None:
        """Give the text for a record, or None where this language has none.

        A record per element or solenoid is found under the id that it was written with.
        """
        own = self.sections.get(section, {})
        name = record_id
        while name and name not in own:
            name = name.rpartition("_")[0]
        return own.get(name) if name else None


def fill_slots(text: str, values: Mapping[str, str]) -> str:
    """Fill in the words in braces of a text; what there is no value for stays as it stands.

    Example:
        >>> fill_slots("{p} of {n}", {"p": "7"})
        '7 of {n}'
    """
    return _SLOT.sub(lambda slot: values.get(slot[1], slot[0]), text)


def load_phrases(language: str, folder: Path | None = None) -> Phrases:
    """Load the words of a language.

    Args:
        language: such as `de`, or a locale such as `de-AT`.
        folder: a knowledge folder; where it has no phrases, those that came with the program are taken.
    Raises: UnknownId: there is no such language; names those there are.
        KnowledgeError: with every problem of the file.
    """
    places = [place / PHRASES_FOLDER for place in dict.fromkeys((folder or find_knowledge(), find_knowledge()))]
    code = re.split(r"[-_]", language.strip().lower())[0]
    known = {path.stem: path for place in reversed(places) if place.is_dir() for path in sorted(place.glob("*.yaml"))}
    if code not in known or not _LANGUAGE.fullmatch(code):
        listed = ", ".join(sorted(known)) or "none"
        raise UnknownId(f"There are no phrases in the language {quoted(language)}. There are: {listed}.")
    shipped = find_knowledge() / PHRASES_FOLDER / f"{FIRST_LANGUAGE}.yaml"
    english = _read_file(shipped)
    own = english if known[code] == shipped else _read_file(known[code])
    return Phrases(code, own, english)


def tell_not_done(words: str) -> str:
    """Say why nobody here does what words ask for; "" where they ask for nothing of the kind."""
    asked = f"_{'_'.join(re.findall(r'[a-z]+', words.lower()))}_"
    reasons = load_phrases(FIRST_LANGUAGE).sections["not_done"]
    return next((why for key, why in reasons.items() if f"_{key}_" in asked), "")


def _read_file(path: Path) -> Mapping[str, Mapping[str, str]]:
    node, problems = read_yaml(path, f"{PHRASES_FOLDER}/{path.name}")
    sections = {} if node is None else read_phrases(node, problems)
    errors = [problem for problem in problems if problem.severity == "error"]
    if errors:
        raise KnowledgeError(errors)
    return sections


def read_phrases(node: Node, problems: list[Problem]) -> dict[str, dict[str, str]]:
    """Read one file of phrases; every problem goes into the list."""
    fields = Fields(node, problems, "phrases")
    found: dict[str, dict[str, str]] = {}
    for section in SECTIONS:
        texts: dict[str, str] = {}
        for key, mark, value in fields.pairs(section):
            if value.kind != "scalar" or value.is_null:
                problems.append(Problem(mark, "K033", f"{section}.{key} is no text", "Write one text, in quotes."))
            else:
                texts[key] = value.text
        found[section] = texts
    fields.finish()
    return found
