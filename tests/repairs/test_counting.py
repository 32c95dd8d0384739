"""Numbers learned from vehicles with a known or half-known end: against published examples, pgmpy, and drawn vehicles."""

import math
from collections.abc import Mapping
from functools import cache
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from support.trade import make_case, write_small

from shiftlore.cases import Case
from shiftlore.compiling import Learned, Overlay, compile_case, compile_unit, with_overlay
from shiftlore.compiling.expansion import NodeLink
from shiftlore.compiling.exporting import assemble_network
from shiftlore.compiling.gates import ROOT
from shiftlore.fleet import open_workers
from shiftlore.knowledge import Knowledge, load_knowledge
from shiftlore.repairs import Confirmed, learn_numbers
from shiftlore.repairs.counting import CHUNK, count_vehicles

pytest.importorskip("pyagrum")
from support.oracles import prepare_pyagrum

COIN = """\
id: {name}
label: Coin {name}
says: A coin.
area: pump
status: draft
how_common: {{per_thousand: {rate}}}
wear: chance
leads_to: {{toss: {{strength: {{counted: {{hits: 3, of: 6}}}}, where: any}}}}
looks_like: {{{other}: Another coin.}}
driven_on: {{severity: gets_worse, says: Nothing.}}
source: common practice
"""
TOSS = """\
source: common practice
findings:
- {id: toss, label: "Heads in {name}", ask: Heads?, each: gear, group: drive, got_by: road, words: [heads]}
"""
TEN = "id: ten\nlabel: Ten\nkind_only: yes\ngears: {" + ", ".join(f"{n}: {{on: []}}" for n in range(1, 11)) + "}\n"
HEADS = (5, 9, 8, 4, 7)
"""Heads in five turns of ten tosses."""
NOT_COINS = (
    "causes/pump/worn_pump.yaml", "causes/elements/worn_lining.yaml", "states/all.yaml", "textbook/worn_pump.yaml",
    "jobs/all.yaml", "findings/all.yaml", "checks/all.yaml", "codes/all.yaml",
)  # fmt: skip


@cache
def coins(told: bool = False, **rates: int) -> Knowledge:
    """Give a knowledge of coins alone, tossed ten times each, with their rates per thousand.

    Args:
        told: whether the owner tells how they fell, or somebody looks.
    """
    names, toss = [*rates], TOSS.replace("got_by: road", "got_by: owner") if told else TOSS
    changes = {
        f"causes/{name}.yaml": COIN.format(name=name, rate=rate, other=names[i - 1])
        for i, (name, rate) in enumerate(rates.items())
    }
    with TemporaryDirectory() as folder:
        where = write_small(Path(folder), "", changes | {"findings/coins.yaml": toss, "units/ten.yaml": TEN})
        for name in NOT_COINS:
            (where / name).unlink()
        return load_knowledge(where)


def by_the_rules(knowledge: Knowledge) -> NodeLink:
    return compile_unit(knowledge, "ten").expansion.findings["toss_1"].links[0]


def tossed(heads: int) -> Case:
    return make_case("ten", {f"toss_{n}": "yes" if n <= heads else "no" for n in range(1, 11)})


def start_at(knowledge: Knowledge, p: Mapping[str, float]) -> Overlay:
    rules = 1 - by_the_rules(knowledge).rows[1][0]
    return Overlay(strengths={(name, "toss"): Learned(rules, now) for name, now in p.items()})


def test_learning__two_coins() -> None:
    """Do and Batzoglou 2008, Nature Biotechnology 26: .71 / .58 after one round, .80 / .52 after ten."""
    knowledge, p, path = coins(a=10, b=10), {"a": 0.6, "b": 0.5}, []
    vehicles = [Confirmed(tossed(heads), causes=("a", "b")) for heads in HEADS]
    for _ in range(10):
        counts = count_vehicles(knowledge, start_at(knowledge, p), vehicles)
        p = {name: counts.fired[name, "toss"] / counts.tried[name, "toss"] for name in p}
        path.append((p["a"], p["b"]))
    assert path[0] == pytest.approx((0.7130122, 0.5813393), abs=1e-6)
    assert path[9] == pytest.approx((0.7967441, 0.5196587), abs=1e-6)


def test_learning__coins_that_are_known() -> None:
    """Do and Batzoglou 2008: where it is known which coin it was, the shares of heads are .80 and .45."""
    names = ("b", "a", "a", "b", "a")
    vehicles = [Confirmed(tossed(heads), causes=(name,)) for heads, name in zip(HEADS, names, strict=True)]
    counts = count_vehicles(coins(a=10, b=10), Overlay(), vehicles)
    shares = [counts.fired[name, "toss"] / counts.tried[name, "toss"] for name in "ab"]
    assert shares == pytest.approx([0.8, 0.45])


def test_learning__a_strength_is_the_mean_of_its_beta() -> None:
    """Conjugate update of a Beta by successes and failures. Source: NUREG/CR-6823, chapter 6."""
    knowledge = coins(a=10, b=10)
    link = by_the_rules(knowledge)
    vehicles = [Confirmed(tossed(heads), causes=("a",)) for heads in (2, 1)]
    learned = learn_numbers(knowledge, vehicles, rounds=1).overlay.strengths["a", "toss"]
    rules = 1 - link.rows[1][0]
    assert learned.learned == pytest.approx((link.weight * rules + 3) / (link.weight + 20))
    assert (learned.rules, learned.there, learned.of) == pytest.approx((rules, 3, 20))


@pytest.mark.parametrize("rounds", [1, 4])
def test_learning__base_rates_are_the_mean_of_their_dirichlet(monkeypatch: pytest.MonkeyPatch, rounds: int) -> None:
    """Conjugate update: 4, 3, 2, 1 and then 6, 1, 0, 3 give shares of .5, .2, .1, .2."""
    monkeypatch.setattr("shiftlore.repairs.counting.RULES_COUNT", 100.0)
    knowledge, seen = coins(a=40, b=30, c=20, d=10), {"a": 6, "b": 1, "d": 3}
    vehicles = [Confirmed(Case("ten"), causes=(name,)) for name, count in seen.items() for _ in range(count)]
    found = learn_numbers(knowledge, vehicles, rounds=rounds).overlay.base_rates
    assert [found[name].learned / 100 for name in "abcd"] == pytest.approx([0.5, 0.2, 0.1, 0.2])


@cache
def small() -> Knowledge:
    with TemporaryDirectory() as folder:
        return load_knowledge(write_small(Path(folder)))


SEEN = {"line_pressure_idle": "yes", "gear_slips_2": "yes", "gear_slips_3": "no", "fluid_colour": "dark"}
LINES = [
    ("worn_pump", "line_pressure_low"), ("worn_pump", "element_slips"), ("worn_pump", "fluid_colour"),
    ("worn_lining", "element_slips"), ("line_pressure_low", "line_pressure_idle"), ("element_slips", "gear_slips"),
]  # fmt: skip


def ln_p_by_pyagrum(overlay: Overlay, answers: Mapping[str, str]) -> float:
    """Give ln P(answers, one of the causes) from lazy propagation."""
    compiled = compile_case(compile_unit(with_overlay(small(), overlay), "long5"), make_case("long5", answers))
    evidence = dict(compiled.evidence)
    network = assemble_network(compiled.prepared.single.tables, compiled.expansion, evidence)
    parts = []
    for given in (evidence, {**evidence, ROOT: 0}):  # all root states, and the one without any cause
        engine = prepare_pyagrum(network, given)
        engine.makeInference()
        parts.append(engine.evidenceProbability())
    return math.log(parts[0] - parts[1])


@pytest.mark.parametrize("line", LINES)
@pytest.mark.parametrize(
    "answers", [SEEN, {"gear_slips_4": "yes"}, {"line_pressure_idle": "no", "fluid_colour": "black"}]
)
def test_count__is_the_slope_of_the_likelihood(line: tuple[str, str], answers: dict[str, str]) -> None:
    """Fisher's identity: by the log of its odds, a line gains what it is expected to have shown beyond what it would."""
    counts = count_vehicles(small(), Overlay(), [Confirmed(make_case("long5", answers))])
    step, sides = 1e-4, []
    for sign in (1, -1):
        odds = math.exp(sign * step)
        sides.append(ln_p_by_pyagrum(Overlay(strengths={line: Learned(0.5, odds / (1 + odds))}), answers))
    slope = (sides[0] - sides[1]) / (2 * step)
    assert counts.fired.get(line, 0.0) - counts.meant.get(line, 0.0) == pytest.approx(slope, abs=1e-6)


def draw_vehicles(truth: Overlay, n: int, seed: int) -> list[Confirmed]:
    """Draw vehicles of the small trade with other numbers; every second one does not tell what it was."""
    rng, unit = np.random.default_rng(seed), compile_unit(with_overlay(small(), truth), "long5")
    blank = compile_case(unit, make_case("long5"))
    tables = blank.prepared.single.tables
    found = []
    for i in range(n):
        cause = int(rng.choice(len(blank.causes), p=blank.prepared.chances.weights))
        present = rng.random(len(tables.hidden)) < tables.p_hidden[:, cause + 1]
        answers = {}
        for name, gate in tables.gates.items():
            highest = 0  # the strongest of all contributions shows
            for cumulated in (gate.cum_root[:, cause + 1], *gate.cum_hidden[present[list(gate.hidden)]]):
                highest = max(highest, int(np.searchsorted(cumulated, rng.random())))
            answers[name] = unit.expansion.findings[name].grades[highest]
        found.append(Confirmed(make_case("long5", answers), (blank.causes[cause],) if i % 2 else ()))
    return found


def test_learn_numbers__errors_fall_with_the_root_of_the_number_of_vehicles() -> None:
    line, true = ("worn_lining", "element_slips"), 0.35
    link = compile_unit(small(), "long5").expansion.states["element_slips_c1"].links
    rules = 1 - next(one for one in link if "worn_lining" in one.parent).rows[1][0]
    errors = {}
    for n in (20, 100):
        drawn = (draw_vehicles(Overlay(strengths={line: Learned(rules, true)}), n, seed) for seed in range(2))
        found = [learn_numbers(small(), vehicles).overlay.strengths[line].learned for vehicles in drawn]
        errors[n] = float(np.sqrt(np.mean([(one - true) ** 2 for one in found])))
    assert rules - true > 0.2 and errors[100] < 0.08 and errors[20] / errors[100] > 2, errors


def test_learn_numbers__what_is_known_grows_likelier_with_every_round() -> None:
    vehicles = draw_vehicles(Overlay(strengths={("worn_lining", "element_slips"): Learned(0.75, 0.35)}), 60, 3)
    path = learn_numbers(small(), vehicles).log_likelihoods
    assert len(path) > 3 and all(after > before - 0.05 for before, after in pairwise(path))


def test_learn_numbers__a_vehicle_that_cannot_be_is_told() -> None:
    impossible = Confirmed(make_case("ten", {"toss_1": "yes"}), causes=("no_such_coin",))
    learning = learn_numbers(coins(a=10, b=10), [impossible, Confirmed(tossed(3), causes=("a",))], rounds=1)
    assert (impossible,) == learning.refused and learning.overlay.base_rates["a"].there == pytest.approx(1.0)


def test_count__what_an_owner_did_not_tell_counts_half_heartedly() -> None:
    """A sign that three of ten owners tell unasked, and this one did not, is a failure by its likelihood: Bayes' rule."""
    knowledge = coins(a=10, b=10, told=True)
    counts = count_vehicles(knowledge, Overlay(), [Confirmed(Case("ten"), causes=("a",), told_unasked=0.3)])
    p = 1 - by_the_rules(knowledge).rows[1][0]
    assert counts.fired["a", "toss"] / counts.tried["a", "toss"] == pytest.approx(0.7 * p / (1 - 0.3 * p))


def many_tosses() -> list[Confirmed]:
    """Give more vehicles than one chunk holds."""
    vehicles = [Confirmed(tossed(heads), causes=("a", "b")) for heads in HEADS] * 9
    assert len(vehicles) > 2 * CHUNK
    return vehicles


def test_learn_numbers__the_same_digits_in_whatever_order_the_chunks_come_back() -> None:
    knowledge, vehicles = coins(a=500, b=500), many_tosses()

    def spread(function, tasks):  # type: ignore[no-untyped-def]
        rules = knowledge.vary()
        yield from reversed([(place, function(rules, task)) for place, task in enumerate(tasks)])

    here, there = learn_numbers(knowledge, vehicles), learn_numbers(knowledge, vehicles, spread=spread)
    assert here.overlay == there.overlay and here.log_likelihoods == there.log_likelihoods


def test_learn_numbers__the_same_digits_in_two_processes() -> None:
    knowledge, vehicles = coins(a=500, b=500), many_tosses()
    here = learn_numbers(knowledge, vehicles)
    with open_workers(knowledge, 2) as spread:
        there = learn_numbers(knowledge, vehicles, spread=spread)
    assert here.overlay == there.overlay and here.log_likelihoods == there.log_likelihoods


def test_counts__are_added_up() -> None:
    knowledge, vehicles = coins(a=500, b=500), many_tosses()
    first, second = (count_vehicles(knowledge, Overlay(), part) for part in (vehicles[:5], vehicles[5:]))
    whole = count_vehicles(knowledge, Overlay(), vehicles)
    first.add(second)
    assert whole.log_likelihood == pytest.approx(first.log_likelihood, rel=1e-12)
    assert whole.causes == pytest.approx(first.causes) and whole.fired == pytest.approx(first.fired)
