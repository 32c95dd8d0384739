"""Learn how people say things, once: what is learned from, the fitting by scikit-learn, and where the arrays are kept.

Two linear models: which finding a run of words speaks of (a support vector machine over sparse features, one class against the
rest, Fan et al. 2008, together with the middle of each class), and whether it says yes or no (logistic regression, all findings
together). Statements strung together, and parts of statements, are then read back, and runs that were named wrongly become
examples too.
"""

import contextlib
import hashlib
import json
import random
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zipfile import BadZipFile

import numpy as np

from shiftlore.knowledge import NAME_SLOT, Knowledge
from shiftlore.knowledge.files import read_kept, write_kept
from shiftlore.knowledge.rulebook import NEAR, SHIPPED
from shiftlore.words.trained import (
    COUNTS,
    LEAST_SURE,
    NONE,
    SHORTNESS,
    Feature,
    Features,
    Trained,
    cut,
    from_bytes,
    weigh,
)
from shiftlore.words.vocabulary import Token, Vocabulary

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

LEARNING = "Learning from the sayings of this knowledge, once; it takes a minute or two ..."
_DAMAGED = (OSError, ValueError, KeyError, EOFError, BadZipFile)
_KEPT = 6


def shipped_path(language: str) -> Path:
    """Give the file of the arrays that came with the program."""
    return Path(__file__).with_name(f"trained_{language}.npz")


def choose_trained(knowledge: Knowledge, vocabulary: Vocabulary, tell: Callable[[str], None]) -> Trained:
    """Give what was learned of this knowledge in this language.

    The knowledge that came with the program is read with the arrays that came with it, even while somebody changes its
    sayings; a test tells that they must be learned anew.

    Args:
        tell: is told in a sentence where it must be learned first.
    """
    language = vocabulary.language.id
    shipped, is_shipped = shipped_path(language), knowledge.worked_out.get(SHIPPED)
    if is_shipped and (trained := _read_trained(shipped.read_bytes)) is not None:
        return trained
    sources = hash_sources(knowledge, language)
    kept = f"words-{sources[:20]}.npz"
    for read in (shipped.read_bytes, partial(read_kept, kept)):
        if (trained := _read_trained(read)) is not None and trained.sources == sources:
            return trained
    tell(LEARNING)
    trained = fit(knowledge, vocabulary, sources)
    write_kept(kept, trained.to_bytes(), _KEPT)
    return trained


def _read_trained(read: Callable[[], bytes | None]) -> Trained | None:
    """Read arrays; None where there are none, or damaged ones."""
    with contextlib.suppress(*_DAMAGED):
        return None if (body := read()) is None else from_bytes(body)
    return None


NO_YES = ("no", "yes")
# A saying may leave a choice, its own or one of the language's `fills`; so many of its ways are learned from.
_CHOICE = re.compile(r"\{(?!name\})(\w+)\}|\(([^()]*\|[^()]*)\)")
_WAYS = 16
# What of a language the features rest on; another number here tells arrays of one state of this program from the next.
_HASHED = ("stemmer", "forms", "lists", "alike", "ordinals", "numbers", "levers", "amounts", "signs", "fills", "rows")
_EDITION = 5


def take_telling(vocabulary: Vocabulary, text: str) -> list[Token]:
    """Give the telling tokens of a text."""
    return [token for token in vocabulary.in_rows(vocabulary.split(text)) if token.is_telling]


def class_of(knowledge: Knowledge, key: str, answer: str) -> str:
    """Name the class of an answer: yes and no are one, other answers each have their own."""
    if answer == NEAR:
        return NONE
    return key if set(_answers_of(knowledge, key)) == set(NO_YES) else f"{key}:{answer}"


def _answers_of(knowledge: Knowledge, key: str) -> Sequence[str]:
    if key in knowledge.findings:
        return knowledge.findings[key].grades
    return tuple(knowledge.backgrounds[key].shares)


def list_sayings(knowledge: Knowledge, language: str) -> Iterator[tuple[str, str, str]]:
    """Give id, answer and text of everything that is learned from; a name's place is filled in the ways it is said."""
    records: dict[str, Any] = {**knowledge.findings, **knowledge.backgrounds}
    fills = knowledge.languages[language].fills if language in knowledge.languages else {}
    for key, said in knowledge.sayings.get(language, {}).items():
        for answer, texts in said.items() if key in records else ():
            if answer == NEAR or answer in _answers_of(knowledge, key):
                for text in texts:
                    yield from ((key, answer, filled) for filled in _fill(text, records[key], fills))
    for key, record in records.items():
        if "yes" in _answers_of(knowledge, key):
            for text in (record.label, record.ask.rstrip("?"), *record.words):
                yield key, "yes", text.replace(NAME_SLOT, "")


def _fill(text: str, record: Any, fills: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """Fill the place of a name, and choose among "(one|another|)" or a list, by chance but each time alike."""
    each = _name_of(record)
    chance = random.Random(text)
    ways = dict.fromkeys(_choose(text, fills, chance) for _ in range(_WAYS if _CHOICE.search(text) else 1))
    names = fills.get(each or "", ("",))
    for number, way in enumerate(ways):
        if NAME_SLOT not in way or each is None:
            yield way
        elif len(ways) > 1:
            yield way.replace(NAME_SLOT, names[number % len(names)])
        else:
            yield from (way.replace(NAME_SLOT, name) for name in names)


def _choose(text: str, fills: Mapping[str, Sequence[str]], chance: random.Random) -> str:
    for _ in range(2):  # a choice may hold another
        text = _CHOICE.sub(
            lambda found: chance.choice(found[2].split("|") if found[2] else fills.get(found[1], (found[0],))), text
        )
    return text


def hash_sources(knowledge: Knowledge, language: str) -> str:
    """Hash all that is learned from, and the features that are learned; equal hashes mean equal arrays."""
    kept = knowledge.languages.get(language)
    words = None if kept is None else [repr(getattr(kept, name)) for name in _HASHED]
    records: dict[str, Any] = {**knowledge.findings, **knowledge.backgrounds}
    told = [
        (key, record.label, record.ask, record.words, _answers_of(knowledge, key), _name_of(record))
        for key, record in records.items()
    ]
    content = [_EDITION, words, told, knowledge.sayings.get(language, {})]
    return hashlib.sha256(json.dumps(content, default=tuple).encode()).hexdigest()


def _name_of(record: Any) -> str | None:
    """Say of what a template is written for each: a gear, a shift; None where it has no name."""
    each: str | None = record.scope.each if hasattr(record, "scope") else None
    return each


# Judgement, tried on sentences_build.yaml.
_STRICTNESS, _ANSWER_STRICTNESS = 0.8, 3.0
_ROUNDS, _STRUNG = 1, 4000
_WHOLE, _PURE, _PART = 0.65, 0.8, 0.3
_FRAGMENT, _CHATTER = 0.35, 0.3
_MOST_WEIGHTS = 3_000_000
# How much the middle of a class counts beside the machine's weights, and how much better what says nothing stands.
_MIDDLE, _BETTER_NONE = 1.0, -0.1
_SEED = 1


_Example = tuple[list[Token], str]


def fit(knowledge: Knowledge, vocabulary: Vocabulary, sources: str) -> Trained:
    """Learn from the sayings of a language, and from labels and `words` of findings and backgrounds.

    Args:
        sources: hash of what is learned from, to be kept.
    """
    from threadpoolctl import threadpool_limits  # learning alone needs this, scipy and scikit-learn

    with threadpool_limits(1):  # small matrices: more threads only wait for each other
        return _fit(knowledge, vocabulary, sources)


def _fit(knowledge: Knowledge, vocabulary: Vocabulary, sources: str) -> Trained:
    features = Features(vocabulary)
    taken = [
        (_take_own(knowledge, vocabulary, key, text), key, answer)
        for key, answer, text in list_sayings(knowledge, vocabulary.language.id)
    ]
    said = _without_weaker([one for one in taken if not all(map(features.is_bare, one[0]))])
    when = {key for key, finding in knowledge.findings.items() if finding.condition}
    whole = [(tokens, class_of(knowledge, key, answer)) for tokens, key, answer in said if answer != NEAR]
    chatter = [(take_telling(vocabulary, text), NONE) for text in vocabulary.language.lists.get("chatter", ())]
    more = {"sources": sources, **_fit_answers([one for one in said if one[2] in NO_YES], features)}
    trained = _fit_classes([*whole, *chatter], features, more)
    nears = [(tokens, key) for tokens, key, answer in said if answer == NEAR]
    nothing = [*chatter, *_confused(nears, trained, features)]
    strings = random.Random(_SEED)
    for _ in range(_ROUNDS):
        wrong = [
            *_misread([*whole, *_repeated(chatter, len(whole))], trained, features, strings),
            *_fragments(whole, trained, features),
        ]
        nothing += [(tokens, name) for tokens, name, read in wrong if read not in when]
        trained = _fit_classes([*whole, *nothing], features, more)
    return trained


def _take_own(knowledge: Knowledge, vocabulary: Vocabulary, key: str, text: str) -> list[Token]:
    """Give the telling tokens of a saying; of a row of places, "drive or reverse", the one that its finding is of."""
    record = knowledge.findings.get(key) or knowledge.backgrounds[key]
    own = {token.stem for token in take_telling(vocabulary, record.label)}
    tokens = []
    for token in take_telling(vocabulary, text):
        places = [vocabulary.stem(vocabulary.language.levers[one]) for one in token.values if token.kind == "lever"]
        tokens.append(replace(token, stem=next((one for one in places if one in own), token.stem)))
    return tokens


_Said = tuple[list[Token], str, str]


def _without_weaker(said: list[_Said]) -> list[_Said]:
    """Leave out a no where the same words say something else is so: "fine once warm" is a yes to cold, not a no to heat."""
    words = [tuple(token.stem for token in tokens) for tokens, _, _ in said]
    so = {(one, key) for one, (_, key, answer) in zip(words, said, strict=True) if answer not in ("no", NEAR)}
    others = Counter(one for one, _ in so)
    return [
        kept for one, kept in zip(words, said, strict=True) if kept[2] != "no" or others[one] <= ((one, kept[1]) in so)
    ]


def _repeated(chatter: list[_Example], count: int) -> list[_Example]:
    """Give what tells nothing so often that it makes a part of whatever is strung together."""
    return [one for one in chatter if one[0]] * round(_CHATTER * count / max(1, len(chatter)))


def _fragments(whole: list[_Example], trained: Trained, features: Features) -> Iterator[_Said]:
    """Give small parts of statements that would be read as something by themselves, and are not said for it: as none.

    What they would be read as stands last: of when it happens, "slips now and then", a part may well speak.
    """
    said = {(tuple(token.stem for token in tokens), name) for tokens, name in whole}
    seen: set[tuple[str, ...]] = set()
    for tokens, _ in whole:
        weights = np.cumsum([0.0, *(trained.telling(token) for token in tokens)])
        for start, rows in enumerate(trained.runs(tokens, features)):
            labels, sures = weigh(rows)
            for length, (label, sure) in enumerate(zip(labels.tolist(), sures.tolist(), strict=True), 1):
                share = (weights[start + length] - weights[start]) / weights[-1]
                run = tuple(token.stem for token in tokens[start : start + length])
                name = trained.classes[label]
                if (
                    sure > LEAST_SURE
                    and share < _FRAGMENT
                    and name != NONE
                    and run not in seen
                    and (run, name) not in said
                ):
                    seen.add(run)
                    yield tokens[start : start + length], NONE, name


def _confused(nears: list[_Example], trained: Trained, features: Features) -> Iterator[_Example]:
    """Give what only sounds like a finding and would be read as it; what is read as another may well be that."""
    for tokens, key in nears:
        scores = next(iter(trained.runs(tokens, features)))[-1]
        if trained.classes[int(scores.argmax())].partition(":")[0] == key:
            yield tokens, NONE


def _fit_classes(examples: list[tuple[list[Token], str]], features: Features, more: dict[str, Any]) -> Trained:
    """Fit which class a run of words belongs to."""
    rows = [features.of_all(tokens) for tokens, _ in examples]
    counts = Counter(one for row in rows for one in set(row))
    counts = Counter({one: count for one, count in counts.items() if count > 1 or one[1] == COUNTS["word"]})
    keys = np.array(sorted({key for key, _ in counts}), dtype=np.uint32)
    place = {int(key): number for number, key in enumerate(keys)}
    tellings = np.zeros(len(keys), dtype=np.float32)
    for (key, weight), count in counts.items():
        tellings[place[key]] = weight * (np.log((1 + len(rows)) / (1 + count)) + 1)
    matrix = _matrix([_row(row, place, tellings) for row in rows], len(keys))
    names = [name for _, name in examples]
    if len(set(names)) < 2:
        names, matrix = [*names, NONE], _matrix([_row(row, place, tellings) for row in [*rows, []]], len(keys))
    from sklearn.svm import LinearSVC

    machine = LinearSVC(C=_STRICTNESS, tol=0.02, random_state=_SEED).fit(matrix, names)
    classes = tuple(map(str, machine.classes_))
    weights = machine.coef_ if len(classes) > 2 else np.vstack([-machine.coef_, machine.coef_])
    biases = machine.intercept_ if len(classes) > 2 else np.array([-machine.intercept_[0], machine.intercept_[0]])
    weights = weights + _MIDDLE * _middles(matrix, names, classes)
    biases = biases + np.array([_BETTER_NONE * (name == NONE) for name in classes])
    return Trained(classes=classes, keys=keys, tellings=tellings.astype(np.float16), biases=biases.astype(np.float32),
                   **_pruned(weights.T * tellings[:, None]), **more)  # fmt: skip


def _middles(matrix: "csr_matrix", names: Sequence[str], classes: Sequence[str]) -> np.ndarray:
    """Give the middle of what is said of each class, at length 1; what says nothing has none (Rocchio 1971)."""
    from scipy.sparse import csr_matrix

    places = {name: place for place, name in enumerate(classes) if name != NONE}
    spots = [(places[name], row) for row, name in enumerate(names) if name in places]
    owners, rows = zip(*spots, strict=True)
    sums = (csr_matrix((np.ones(len(rows)), (owners, rows)), shape=(len(classes), len(names))) @ matrix).toarray()
    lengths = np.sqrt((sums**2).sum(axis=1, keepdims=True))
    middles: np.ndarray = sums / np.maximum(lengths, 1e-9)
    return middles


def _row(row: list[Feature], place: Mapping[int, int], tellings: np.ndarray) -> dict[int, float]:
    counts = Counter(place[key] for key, _ in row if key in place)
    values = {one: float(tellings[one]) * min(count, 2) for one, count in counts.items()}
    length = (SHORTNESS * float(tellings.max()) ** 2 + sum(value**2 for value in values.values())) ** 0.5
    return {one: value / length for one, value in values.items()}


def _matrix(rows: list[dict[int, float]], width: int) -> "csr_matrix":
    from scipy.sparse import csr_matrix

    starts = np.cumsum([0, *(len(row) for row in rows)])
    columns = [one for row in rows for one in row]
    return csr_matrix(([value for row in rows for value in row.values()], columns, starts), shape=(len(rows), width))


def _pruned(weights: np.ndarray) -> dict[str, Any]:
    """Keep the largest weights, each as a small whole number of its class's scale."""
    from scipy.sparse import csr_matrix

    scales = np.abs(weights).max(axis=0) / 127 + 1e-12
    small = np.rint(weights / scales).astype(np.int8)
    sizes = np.abs(small) * scales
    bound = np.partition(sizes.ravel(), -_MOST_WEIGHTS)[-_MOST_WEIGHTS] if sizes.size > _MOST_WEIGHTS else 0.0
    small[sizes < bound] = 0
    sparse = csr_matrix(small)
    return {"starts": sparse.indptr.astype(np.uint32), "labels": sparse.indices.astype(np.uint16),
            "values": sparse.data.astype(np.int8), "scales": scales.astype(np.float32)}  # fmt: skip


def _fit_answers(said: list[tuple[list[Token], str, str]], features: Features) -> dict[str, Any]:
    """Fit whether words that speak of a finding say yes or no."""
    rows = [features.of_answer(tokens, key) for tokens, key, _ in said]
    keys = np.array(sorted({key for row in rows for key in row} | {0}), dtype=np.uint32)
    answers = [answer == "yes" for *_, answer in said]
    weights, bias = np.zeros(len(keys)), 1.0
    if len(set(answers)) > 1:
        place = {int(key): number for number, key in enumerate(keys)}
        matrix = _matrix([{place[key]: 1.0 for key in row} for row in rows], len(keys))
        from sklearn.linear_model import LogisticRegression

        line = LogisticRegression(C=_ANSWER_STRICTNESS, class_weight="balanced", solver="liblinear").fit(
            matrix, answers
        )
        weights, bias = line.coef_[0], float(line.intercept_[0])
    kept = (np.abs(weights) > 0.05) | (keys == 0)
    return {"answer_keys": keys[kept], "answer_weights": weights[kept].astype(np.float16), "answer_bias": bias}


def _misread(whole: list[_Example], trained: Trained, features: Features, strings: random.Random) -> Iterator[_Said]:
    """String statements together, read them, and give runs that were named wrongly: as what they say, or, parts, as none.

    What they were read as stands last.
    """
    allowed = np.zeros(len(trained.classes))
    known = {(tuple(token.stem for token in tokens), name) for tokens, name in whole}
    for _ in range(min(_STRUNG, 2 * len(whole))):
        parts = [strings.choice(whole) for _ in range(strings.choice((1, 2, 2, 3)))]
        tokens = [token for part, _ in parts for token in part]
        owners = [number for number, (part, _) in enumerate(parts) for _ in part]
        weights = [trained.telling(token) for token in tokens]
        for segment in cut(tokens, [0.0] * len(tokens), trained=trained, features=features, allowed=allowed):
            run = tokens[segment.start : segment.end]
            shares: dict[int, float] = {}
            for spot in range(segment.start, segment.end):
                shares[owners[spot]] = shares.get(owners[spot], 0.0) + weights[spot]
            owner, share = max(shares.items(), key=lambda one: one[1])
            found = share / sum(weight for weight, one in zip(weights, owners, strict=True) if one == owner)
            is_pure, is_said = (
                share > _PURE * sum(shares.values()),
                (tuple(t.stem for t in run), segment.label) in known,
            )
            if is_said or segment.label in {parts[one][1] for one in shares}:
                continue
            if not is_pure or not _PART < found < _WHOLE:
                yield run, parts[owner][1] if is_pure and found >= _WHOLE else NONE, segment.label
