"""Learning: from what, how, and where it is kept; it reads back what it learned, and does not depend on chance."""

import os
from dataclasses import replace

import numpy as np
import pytest
from support.sayings import few, learned
from support.trade import shipped

import shiftlore.words.training as learning_room
from shiftlore.words.trained import NONE, cut, from_bytes
from shiftlore.words.training import class_of, fit, hash_sources, list_sayings, take_telling
from shiftlore.words.vocabulary import choose_vocabulary


def test_list_sayings__fills_in_names():
    texts = [text for key, answer, text in list_sayings(few(), "en") if (key, answer) == ("slips_gear", "yes")]
    assert any("third" in text for text in texts)
    assert not any("{" in text for text in texts)


def ways(text, finding="slips_gear"):
    odd = replace(few(), sayings={"en": {finding: {"yes": (text,)}}})
    return [said for key, answer, said in list_sayings(odd, "en") if (key, answer) == (finding, "yes")]


def test_list_sayings__a_choice_is_each_of_its_ways():
    assert {"it slips", "it slides", "it slips badly", "it slides badly"} <= {
        one.strip() for one in ways("it (slips|slides) (badly|)", "slips")
    }
    assert ways("it (slips|slides)", "slips") == ways("it (slips|slides)", "slips")


def test_list_sayings__a_choice_of_the_language():
    said = ways("(it|she) {slip} in {name}")
    assert not any("{" in one or "|" in one for one in said)
    assert len({one for one in said if any(word in one for word in ("slides", "revs", "grip", "spins"))}) > 1


def test_list_sayings__brackets_without_a_choice_stay():
    assert "slips (badly)" in ways("slips (badly)", "slips")


def test_list_sayings__labels_and_words_say_yes():
    said = set(list_sayings(few(), "en"))
    assert {("slips", "yes", word) for word in few().findings["slips"].words} <= said
    assert not any(key == "fluid_level" and answer == "yes" for key, answer, _ in said)


def test_list_sayings__an_answer_that_is_none_is_passed_over():
    odd = replace(few(), sayings={"en": {"slips": {"perhaps": ("may slip",)}, "no_such": {"yes": ("x",)}}})
    assert not any(text in ("may slip", "x") for *_, text in list_sayings(odd, "en"))


def test_class_of__yes_and_no_are_one():
    assert "slips" == class_of(few(), "slips", "yes") == class_of(few(), "slips", "no")
    assert "fluid_level:low" == class_of(few(), "fluid_level", "low")
    assert "service_record:never" == class_of(few(), "service_record", "never")
    assert NONE == class_of(few(), "slips", "near")


def test_take_telling__leaves_what_tells_nothing():
    assert ["slips", "third"] == [
        token.written for token in take_telling(choose_vocabulary(shipped()), "the car slips, third")
    ]


def test_hash_sources__follows_whatever_is_learned_from():
    kept = hash_sources(few(), "en")
    other = replace(few(), sayings={"en": {**few().sayings["en"], "slips": {"yes": ("spins",)}}})
    english = few().languages["en"].vary(forms={"a": "b"})
    label = few().findings["slips"].vary(label="Spins")
    relabelled = replace(few(), findings={**few().findings, "slips": label})
    assert kept == hash_sources(few(), "en")
    others = (other, replace(few(), languages={"en": english}), relabelled)
    assert 4 == len({kept, *(hash_sources(one, "en") for one in others)})


LEAST_READ_BACK = 0.9


def test_fit__reads_back_what_it_learned_from():
    vocabulary, features, trained = learned()
    hits = [
        class_of(few(), key, answer) == trained.classes[int(next(iter(trained.runs(tokens, features)))[-1].argmax())]
        for key, answer, text in list_sayings(few(), "en")
        if answer != "near" and 0 < len(tokens := take_telling(vocabulary, text)) <= 12
    ]
    assert np.mean(hits) > LEAST_READ_BACK


def test_fit__a_part_of_a_saying_says_nothing():
    _, features, trained = learned()
    vocabulary = choose_vocabulary(few())
    for text in ("mostly", "when"):
        tokens = take_telling(vocabulary, text)
        assert [] == cut(
            tokens, [0.0] * len(tokens), trained=trained, features=features, allowed=np.zeros(len(trained.classes))
        ), text


def test_fit__has_a_class_for_what_says_nothing():
    _, _, trained = learned()
    assert NONE in trained.classes
    assert hash_sources(few(), "en") == trained.sources


def test_fit__keeps_arrays_small():
    _, _, trained = learned()
    assert (np.int8, np.uint16, np.uint32) == (trained.values.dtype, trained.labels.dtype, trained.keys.dtype)
    assert len(trained.starts) == len(trained.keys) + 1
    assert np.all(np.diff(trained.keys.astype(np.int64)) > 0)


def test_fit__of_one_finding_alone(trade_of_one):
    trained = fit(trade_of_one, choose_vocabulary(trade_of_one), "x")
    assert {NONE, "slips"} == set(trained.classes)


MOST_BYTES = 5_700_000


def test_shipped__is_fresh():
    """To learn anew: SHIFTLORE_REGENERATE=yes python -m pytest tests/words/test_training_room.py"""
    sources, path = hash_sources(shipped(), "en"), learning_room.shipped_path("en")
    if os.environ.get("SHIFTLORE_REGENERATE") and from_bytes(path.read_bytes()).sources != sources:
        from shiftlore.words.training import fit

        path.write_bytes(fit(shipped(), choose_vocabulary(shipped()), sources).to_bytes())
    assert sources == from_bytes(path.read_bytes()).sources, "sayings or words changed: learn anew, see above"
    assert MOST_BYTES > path.stat().st_size


@pytest.fixture
def cache(tmp_path, monkeypatch):
    """Keep what is learned in a folder of the test's own."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.delenv("SHIFTLORE_CACHE", raising=False)
    return tmp_path / "shiftlore"


def test_choose_trained__the_shipped_one_without_learning(cache):
    told = []
    assert "none" in learning_room.choose_trained(shipped(), choose_vocabulary(shipped()), told.append).classes
    assert ([], False) == (told, cache.exists())


def test_choose_trained__the_shipped_one_is_not_hashed_first(cache, monkeypatch):
    """Hashing all sayings took longer than reading a report."""
    monkeypatch.setattr(learning_room, "hash_sources", None)
    assert "none" in learning_room.choose_trained(shipped(), choose_vocabulary(shipped()), [].append).classes


def test_choose_trained__other_knowledge_is_learned_once_the_same_each_time_and_kept(cache):
    told, trained = [], learned()[2]
    vocabulary = choose_vocabulary(few())
    first = learning_room.choose_trained(few(), vocabulary, told.append)
    assert ([learning_room.LEARNING], 1) == (told, len(list(cache.iterdir())))
    assert first.classes == trained.classes
    assert all(
        np.array_equal(getattr(first, name), getattr(trained, name)) for name in ("values", "labels", "answer_weights")
    )
    assert first.classes == learning_room.choose_trained(few(), vocabulary, told.append).classes
    assert 1 == len(told)


def test_choose_trained__a_damaged_file_is_learned_anew(cache, trade_of_one):
    told = []
    cache.mkdir()
    (cache / f"words-{hash_sources(trade_of_one, 'en')[:20]}.npz").write_bytes(b"PK nonsense")
    learning_room.choose_trained(trade_of_one, choose_vocabulary(trade_of_one), told.append)
    assert [learning_room.LEARNING] == told
