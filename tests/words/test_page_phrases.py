"""The words of the owner's page."""

import re
from pathlib import Path

import pytest
from support.trade import shipped

from shiftlore.basics import KnowledgeError, UnknownId
from shiftlore.words import Phrases, load_phrases
from shiftlore.words.page_phrases import SECTIONS, tell_not_done

LANGUAGES = ("en", "de")
SLOT = re.compile(r"\{(\w*)\}")


def faults_of(phrases: Phrases) -> list[str]:
    """Tell every text whose braces are not those of the English text, and every key that English does not have."""
    found = []
    for section, texts in phrases.sections.items():
        known = phrases.fallback[section]
        found += [f"{section}.{key} is unknown" for key in texts if key not in known]
        found += [
            f"{section}.{key}: {{{slot}}}"
            for key, text in texts.items()
            for slot in sorted(set(SLOT.findall(text)) - set(SLOT.findall(known.get(key, text))))
        ]
    return found


@pytest.mark.parametrize("language", LANGUAGES)
def test_load_phrases__the_shipped_ones_are_whole(language: str) -> None:
    found = load_phrases(language)
    assert [] == faults_of(found)
    for section in SECTIONS:
        assert set(found.sections[section]) == set(found.fallback[section])


def test_load_phrases__every_record_of_the_trade_has_plain_words() -> None:
    trade, words = shipped(), load_phrases("en")
    complaints = {key for key, finding in trade.findings.items() if finding.complaint}
    for section, ids in (
        ("areas", trade.areas),
        ("checks", trade.checks),
        ("jobs", trade.jobs),
        ("follow_ups", trade.follow_ups),
        ("complaints", complaints),
    ):
        assert [] == [key for key in ids if words.find(section, key) is None]
    assert {job.kind for job in trade.jobs.values()} <= set(words.sections["kinds"])


def test_load_phrases__a_locale_takes_its_language() -> None:
    assert ["de", "de", "en"] == [load_phrases(name).language for name in ("de-AT", "DE_ch", "en-US")]


@pytest.mark.parametrize("name", ["xx", "", "../en", "de/../en"])
def test_load_phrases__an_unknown_language_names_those_there_are(name: str) -> None:
    with pytest.raises(UnknownId, match="de, en"):
        load_phrases(name)


def test_load_phrases__a_shops_own_words_win_and_what_is_missing_stays_english(tmp_path: Path) -> None:
    (tmp_path / "phrases").mkdir()
    (tmp_path / "phrases" / "fr.yaml").write_text('page:\n  title: "Vos options"\n', encoding="utf-8")
    found = load_phrases("fr", tmp_path)
    assert ("Vos options", "Date") == (found.word("title"), found.word("date"))


def test_load_phrases__tells_file_line_and_column(tmp_path: Path) -> None:
    (tmp_path / "phrases").mkdir()
    (tmp_path / "phrases" / "fr.yaml").write_text("page:\n  title: [a, b]\n", encoding="utf-8")
    with pytest.raises(KnowledgeError, match=r"phrases/fr\.yaml:2:\d+"):
        load_phrases("fr", tmp_path)


def test_find__a_record_per_solenoid_is_found_under_its_own_name() -> None:
    words = Phrases("en", {"jobs": {"replace_shift_solenoid": "valve"}})
    assert ("valve", None) == (words.find("jobs", "replace_shift_solenoid_sol_a"), words.find("jobs", "replace"))


def test_fill__leaves_alone_what_it_has_no_value_for() -> None:
    words = Phrases("en", {"page": {"a": "{p} {q} {"}})
    assert "1 {q} {" == words.fill("a", p="1")


def test_faults_of__tells_a_translated_slot_and_a_slip_of_the_pen() -> None:
    words = Phrases("xx", {"page": {"a": "{preis}", "titel": "b"}}, {"page": {"a": "{price}", "title": "b"}})
    assert ["page.titel is unknown", "page.a: {preis}"] == faults_of(words)


@pytest.mark.parametrize("words", ["additive", "some additive, please", "stop leak", "just clear the codes"])
def test_tell_not_done__says_why_nobody_does_it(words: str) -> None:
    assert tell_not_done(words).endswith(".")


@pytest.mark.parametrize("words", ["fluid change", "additional cooler", "seal the leak", ""])
def test_tell_not_done__of_what_is_done_it_says_nothing(words: str) -> None:
    assert "" == tell_not_done(words)
