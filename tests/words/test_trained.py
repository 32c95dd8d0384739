"""Features are numbers, a run scores the sum of its words, a sentence is cut the best way, and no other file is read."""

import io
from itertools import combinations
from types import SimpleNamespace
from zlib import crc32

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.sayings import learned
from support.trade import shipped

from shiftlore.words.trained import (
    COUNTS,
    LONGEST,
    SHORTNESS,
    Features,
    Segment,
    _best_cut,
    _is_part,
    _said_beside,
    _Trust,
    cut,
    feature,
    from_bytes,
    weigh,
)  # fmt: skip
from shiftlore.words.training import take_telling
from shiftlore.words.vocabulary import choose_vocabulary

ENGLISH = choose_vocabulary(shipped())
FEATURES = Features(ENGLISH)


def keys(text):
    return {key for key, _ in FEATURES.of_all(take_telling(ENGLISH, text))}


def test_feature__is_the_crc_of_its_text():
    """Source: CRC-32 of ISO 3309, by the standard library."""
    assert (crc32(b"word slip"), 1.0) == feature("word", "slip")


def test_of_token__a_word_comes_first():
    assert feature("word", "slip") == FEATURES.of_token(take_telling(ENGLISH, "slips")[0])[0]


def test_of_token__a_denied_word_says_so():
    assert feature("denied", "slip") in FEATURES.of_token(take_telling(ENGLISH, "never slips")[1])
    assert feature("denied", "slip") not in FEATURES.of_token(take_telling(ENGLISH, "slips")[0])


def test_of_token__a_mistyped_word_shares_letters():
    assert len(keys("shudders") & keys("shuders")) > 5


@pytest.mark.parametrize(
    ("one", "other"), [("bangs into second", "slams into 2nd"), ("slips in third", "slips in 4th")]
)
def test_of_all__words_of_one_sense_share_neighbours(one, other):
    likes = {key for key, count in FEATURES.of_all(take_telling(ENGLISH, one)) if count == COUNTS["like"]}
    assert likes & keys(other)


@given(st.lists(st.sampled_from(["slips", "in", "third", "when", "hot", "never", "bang"]), max_size=8))
def test_of_all__is_the_sum_of_its_parts(words):
    tokens = take_telling(ENGLISH, " ".join(words))
    parts = [one for token in tokens for one in FEATURES.of_token(token)]
    parts += [one for both in zip(tokens, tokens[1:], strict=False) for one in FEATURES.of_pair(*both)]
    parts += [one for three in zip(tokens, tokens[1:], tokens[2:], strict=False) for one in FEATURES.of_triple(*three)]
    assert sorted(parts) == sorted(FEATURES.of_all(tokens))


def test_of_answer__a_denial_changes_what_is_seen():
    yes, no = (set(FEATURES.of_answer(take_telling(ENGLISH, text), "slips")) for text in ("it slips", "it never slips"))
    assert yes - no and no - yes
    assert set(FEATURES.of_answer(take_telling(ENGLISH, "it slips"), "noise")) - yes


def scores(text):
    vocabulary, features, trained = learned()
    return list(trained.runs(take_telling(vocabulary, text), features))


def test_runs__each_start_and_end_once():
    rows = scores("slips in third gear when hot and never when cold or wet")
    assert list(range(len(rows), 0, -1)) == [len(row) for row in rows] if len(rows) <= LONGEST else True


def test_runs__a_run_scores_what_its_features_sum_to():
    """Brute force: every feature of the run on its own."""
    vocabulary, features, trained = learned()
    tokens = take_telling(vocabulary, "slips badly in third")
    dense = np.zeros((len(trained.keys), len(trained.classes)))
    for row in range(len(trained.keys)):
        span = slice(int(trained.starts[row]), int(trained.starts[row + 1]))
        dense[row, trained.labels[span]] = trained.values[span] * trained.scales[trained.labels[span]]
    places = {int(key): place for place, key in enumerate(trained.keys)}
    listed = [places[key] for key, _ in features.of_all(tokens) if key in places]
    square = SHORTNESS * float(trained.tellings.max()) ** 2 + (trained.tellings[listed].astype(float) ** 2).sum()
    unknown = sum(features.of_token(token)[0][0] not in places for token in tokens)
    square += unknown * float(trained.tellings.max()) ** 2 / 2
    assert dense[listed].sum(axis=0) / square**0.5 + trained.biases == pytest.approx(
        scores("slips badly in third")[0][-1], abs=1e-4
    )


@pytest.mark.parametrize("text", ["slips badly in third", "slips xyzzyq", "low on fluid, whines"])
def test_whole__scores_as_the_longest_run_does(text):
    vocabulary, features, trained = learned()
    tokens = take_telling(vocabulary, text)
    assert scores(text)[0][-1] == pytest.approx(trained.whole(tokens, features), abs=1e-6)


def test_runs__nothing_said():
    assert [] == scores("")


def test_runs__best_class_of_a_plain_saying():
    _, _, trained = learned()
    for text, name in (("slips in third gear", "slips_gear"), ("low on fluid", "fluid_level:low")):
        assert name == trained.classes[int(scores(text)[0][-1].argmax())]


@pytest.mark.parametrize(
    ("text", "yes"), [("slips in third", True), ("never slips in third", False), ("no noise", False)]
)
def test_yes__denials(text, yes):
    vocabulary, features, trained = learned()
    finding = "noise_any" if "noise" in text else "slips_gear"
    assert yes == (trained.yes(take_telling(vocabulary, text), finding, features) > 0.5)


def test_telling__a_word_of_many_sayings_tells_less():
    vocabulary, _, trained = learned()
    common, rare, unknown = take_telling(vocabulary, "slips dipstick xyzzyq")
    assert trained.telling(common) < trained.telling(rare) <= trained.telling(unknown)


def test_knows__words_that_were_met_in_learning():
    vocabulary, _, trained = learned()
    slips, unknown = take_telling(vocabulary, "slips xyzzyq")
    assert (True, False) == (trained.knows(slips), trained.knows(unknown))


def test_from_bytes__gives_back_the_same():
    _, _, trained = learned()
    again = from_bytes(trained.to_bytes())
    assert (trained.sources, trained.classes, trained.answer_bias) == (again.sources, again.classes, again.answer_bias)
    assert np.array_equal(trained.values, again.values) and np.array_equal(trained.keys, again.keys)


@pytest.mark.parametrize("content", [b"", b"PK", b"nonsense"])
def test_from_bytes__another_file_raises(content):
    with pytest.raises((ValueError, OSError, EOFError)):
        from_bytes(content)


def test_from_bytes__never_runs_what_it_reads():
    """Source: the numpy manual, allow_pickle; an array of objects would be unpickled."""
    stream = io.BytesIO()
    np.savez(stream, sources=np.array([object()], dtype=object))
    with pytest.raises(ValueError, match="allow_pickle"):
        from_bytes(stream.getvalue())


def labels(text):
    vocabulary, features, trained = learned()
    tokens = take_telling(vocabulary, text)
    return [
        one.label
        for one in cut(
            tokens, [0.0] * len(tokens), trained=trained, features=features, allowed=np.zeros(len(trained.classes))
        )
    ]


def test_cut__each_statement_once():
    assert ["slips_gear", "noise_any"] == labels("slips in third gear makes a noise")


def test_cut__what_says_nothing_is_left_out():
    assert [] == labels("could you look at it on thursday")


def test_cut__nothing_that_is_not_allowed():
    vocabulary, features, trained = learned()
    tokens = take_telling(vocabulary, "slips in third gear")
    allowed = np.array([-9.0 if name.startswith("slips") else 0.0 for name in trained.classes])
    assert "slips_gear" not in [
        one.label for one in cut(tokens, [0.0] * len(tokens), trained=trained, features=features, allowed=allowed)
    ]


def test_cut__layers_are_cut_each_for_itself():
    vocabulary, features, trained = learned()
    tokens = take_telling(vocabulary, "slips in third gear when hot")
    layers = np.array([int(name == "worse_hot") for name in trained.classes])
    found = cut(
        tokens,
        [0.0] * len(tokens),
        trained=trained,
        features=features,
        allowed=np.zeros(len(trained.classes)),
        layers=layers,
    )
    assert ["slips_gear", "worse_hot"] == [one.label for one in found]


@pytest.mark.parametrize(
    ("one", "other", "part"),
    [
        (Segment(2, 3, "x", 0.5), Segment(0, 4, "y", 0.9), True),
        (Segment(2, 3, "x", 0.9), Segment(0, 4, "y", 0.9), False),
        (Segment(0, 3, "x", 0.5), Segment(0, 4, "y", 0.9), False),
        (Segment(3, 5, "x", 0.5), Segment(0, 4, "y", 0.9), False),
    ],
)
def test_is_part__of_a_surer_and_longer_one(one, other, part):
    assert part == _is_part(one, other)


def test_weigh__shares_of_the_best():
    labels, sures = weigh(np.array([[0.5, -1.0, -1.0], [0.2, 0.2, -1.0]]))
    assert [0, 0] == labels.tolist()
    assert sures[0] > 0.99 and abs(sures[1] - 0.5) < 0.01


@given(st.dictionaries(st.tuples(st.integers(0, 5), st.integers(1, 3)), st.floats(0.1, 9), max_size=7))
def test_best_cut__is_worth_most(worths):
    """Brute force over every set of segments."""
    runs = {(start, start + size): worth for (start, size), worth in worths.items()}
    candidates = {run: (worth, Segment(*run, "x", 1.0)) for run, worth in runs.items()}
    best = max(
        sum(runs[run] for run in chosen)
        for count in range(len(runs) + 1)
        for chosen in combinations(runs, count)
        if all(one[1] <= two[0] or two[1] <= one[0] for one, two in combinations(chosen, 2))
    )
    found = _best_cut(8, candidates)
    assert abs(best - sum(runs[one.start, one.end] for one in found)) < 1e-9
    assert found == sorted(found, key=lambda one: one.start)


def test_cut__what_is_said_together_is_read_together_where_both_are_likely():
    tokens = take_telling(ENGLISH, "slips in third")
    _, features, trained = learned()
    row = next(iter(trained.runs(tokens, features)))[-1]
    other = int(np.argsort(row)[-2])
    likely = np.where(np.arange(len(row)) == other, row.max() - row[other], 0.0)
    beside = np.isin(np.arange(len(row)), [int(row.argmax()), other])
    kin = np.eye(len(row), dtype=bool) | (beside[:, None] & beside)
    for lift, found in ((likely, 2), (likely - 9.0, 1)):
        read = cut(
            tokens,
            [0.0] * len(tokens),
            trained=trained,
            features=features,
            allowed=lift * (likely > 0),
            beside=beside,
            kin=kin,
        )
        assert found == len({one.label for one in read if (one.start, one.end) == (0, len(tokens))})


def one_run(score, place, count, classes=3):
    row = np.full(classes, -0.9)
    row[place] = score
    return np.tile(row, (count, 1))


def tops_of(scores):
    return [rows.argmax(axis=1) for rows in scores]


def test_said_beside__what_a_part_says_first_of_all():
    trained = SimpleNamespace(classes=("none", "leak", "drips"))
    scores = [one_run(0.5, 1, 3), one_run(0.6, 2, 2), one_run(-0.5, 2, 1)]
    found = list(
        _said_beside(Segment(0, 3, "leak", 1.0), scores, tops_of(scores), np.array([False, True, True]), trained)
    )
    assert {("leak", 0, 3), ("drips", 1, 2)} == {(one.label, one.start, one.end) for one in found}


def trust_of(score, start, end, parts=(0.0, 0.0, 0.0, 0.0)):
    trained = SimpleNamespace(place_of={"leak": 1})
    scores = [one_run(score, 1, len(parts) - place) for place in range(len(parts))]
    segment = Segment(start, end, "leak", 1.0)
    return (
        _Trust(trained, scores, tops_of(scores), np.arange(len(parts) + 1.0), parts, None).judge(segment, segment).trust
    )


def test_trust__grows_with_score_and_words():
    assert trust_of(0.1, 1, 2) < trust_of(0.4, 1, 2) < trust_of(0.4, 1, 3)


def test_trust__grows_at_the_joints_of_a_sentence():
    assert trust_of(0.4, 1, 3) < trust_of(0.4, 1, 3, (0.0, 0.8, 0.0, 0.0)) < trust_of(0.4, 1, 3, (0.0, 0.8, 0.0, 0.8))


def test_trust__a_part_has_the_words_and_joints_of_the_whole():
    trained = SimpleNamespace(place_of={"leak": 1})
    scores = [one_run(0.4, 1, 3 - place) for place in range(3)]
    trust = _Trust(trained, scores, tops_of(scores), weights=np.arange(4.0), parts=(0.0, 0.0, 0.0), kin=None)
    part, whole = Segment(1, 2, "leak", 1.0), Segment(0, 3, "leak", 1.0)
    assert abs(trust.judge(part, whole).trust - trust.judge(whole, whole).trust) < 1e-9
    assert trust.judge(part, part).trust < trust.judge(part, whole).trust


def test_is_bare__names_of_parts_and_gears_are():
    assert [True, True, False] == [FEATURES.is_bare(one) for one in take_telling(ENGLISH, "third fluid slips")]


def test_of_answer__the_lowest_gear_is_seen():
    vocabulary = choose_vocabulary(shipped())
    features = Features(vocabulary)
    first, second, third = (
        set(features.of_answer(vocabulary.split(f"starts in {gear}"), "starts_in_higher_gear"))
        for gear in ("first", "second", "third")
    )
    assert second == third != first
