"""The engine against going through every hidden configuration."""

import platform
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.hubs import (
    draw_evidence,
    draw_tables,
    fixing,
    hubs,
    lay_beside,
    predict_jointly,
    take_back,
    weigh_by_force,
)

from shiftlore.basics import ImpossibleEvidence
from shiftlore.exact import Doubted, Evidence, GateTable, HubEngine, HubTables, normalise
from shiftlore.exact.tables import cut_columns

law = settings(max_examples=60, deadline=None, derandomize=True)
few = settings(max_examples=30, deadline=None, derandomize=True)
Drawn = tuple[HubTables, Evidence]
MUCH = 1 << 24


def posterior_by_force(tables: HubTables, evidence: Evidence) -> np.ndarray:
    """Give the posterior by force."""
    joint = tables.prior * weigh_by_force(tables, evidence)
    return joint / joint.sum()


@given(hubs())
@law
def test_weigh__equals_going_through_every_configuration(drawn: Drawn) -> None:
    tables, evidence = drawn
    expected = np.log(weigh_by_force(tables, evidence))
    assert expected == pytest.approx(HubEngine(tables, MUCH).weigh(evidence), abs=1e-9)


@given(hubs(most_hidden=7, most_gates=9))
@law
def test_weigh__the_same_with_variables_fixed(drawn: Drawn) -> None:
    tables, evidence = drawn
    with fixing():
        found = HubEngine(tables, MUCH).weigh(evidence)
    assert np.log(weigh_by_force(tables, evidence)) == pytest.approx(found, abs=1e-9)


@given(hubs(sharp=0.3))
@law
def test_weigh__numbers_of_exactly_0_and_1(drawn: Drawn) -> None:
    """What cannot be has likelihood 0, not something small; where no state allows the answers, that is an error."""
    tables, evidence = drawn
    expected = weigh_by_force(tables, evidence)
    engine = HubEngine(tables, MUCH)
    if not np.any(expected * tables.prior > 1e-14):
        with pytest.raises(ImpossibleEvidence):
            engine.weigh(evidence)
        return
    assert expected == pytest.approx(np.exp(engine.weigh(evidence)), rel=1e-9, abs=1e-14)


@given(hubs())
@few
def test_posterior__is_bayes_rule_and_adds_up(drawn: Drawn) -> None:
    tables, evidence = drawn
    p, log_p = HubEngine(tables, MUCH).posterior(evidence)
    assert 1 == pytest.approx(p.sum(), abs=1e-12)
    assert posterior_by_force(tables, evidence) == pytest.approx(p, abs=1e-10)
    assert np.log(tables.prior @ weigh_by_force(tables, evidence)) == pytest.approx(log_p, abs=1e-9)


@given(hubs(), st.randoms(use_true_random=False))
@few
def test_posterior__the_order_of_answers_does_not_matter(drawn: Drawn, random: object) -> None:
    tables, evidence = drawn
    items = list(evidence.items())
    random.shuffle(items)  # type: ignore[attr-defined]
    expected = HubEngine(tables, MUCH).posterior(evidence)[0]
    assert expected == pytest.approx(HubEngine(tables, MUCH).posterior(dict(items))[0], abs=1e-11)


@given(hubs(), st.floats(0.01, 0.99))
@few
def test_posterior__a_finding_that_nothing_bears_on_changes_nothing(drawn: Drawn, leak: float) -> None:
    tables, evidence = drawn
    alone = GateTable("alone", 2, np.array([[1 - leak] * tables.n_root, [1.0] * tables.n_root]), (), np.zeros((0, 2)))
    wider = HubTables(
        tables.root, tables.root_states, tables.prior, tables.hidden, tables.p_hidden, {**tables.gates, "alone": alone}
    )
    expected = HubEngine(tables, MUCH).posterior(evidence)[0]
    for answer in (0, 1, Doubted(1, 0.3, 0.2)):
        assert expected == pytest.approx(HubEngine(wider, MUCH).posterior({**evidence, "alone": answer})[0], abs=1e-11)


@given(hubs())
@law
def test_predict__equals_answering_it(drawn: Drawn) -> None:
    tables, evidence = drawn
    open_findings = [key for key in tables.gates if key not in evidence]
    predicted = HubEngine(tables, MUCH).predict(evidence, open_findings)
    base = weigh_by_force(tables, evidence)
    for key in open_findings:
        rows = [weigh_by_force(tables, {**evidence, key: state}) / base for state in range(tables.gates[key].n_states)]
        assert np.array(rows) == pytest.approx(predicted[key], abs=1e-9), key


@given(hubs(most_gates=9))
@few
def test_predict__few_findings_as_all_of_them(drawn: Drawn) -> None:
    """The gates of few are laid one under the other anew, those of many are taken from memory."""
    tables, evidence = drawn
    engine, open_findings = HubEngine(tables, MUCH), [key for key in tables.gates if key not in evidence]
    whole = engine.predict(evidence, open_findings)
    for key in open_findings:
        assert whole[key] == pytest.approx(engine.predict(evidence, [key])[key], abs=1e-13)


@given(hubs())
@few
def test_predict__adds_up_over_the_states(drawn: Drawn) -> None:
    tables, evidence = drawn
    for table in (
        HubEngine(tables, MUCH).predict(evidence, [key for key in tables.gates if key not in evidence]).values()
    ):
        assert np.ones(tables.n_root) == pytest.approx(table.sum(axis=0), abs=1e-12)
        assert (table >= 0).all()


@given(hubs(most_gates=6))
@few
def test_predict_jointly__equals_answering_both_and_adds_up(drawn: Drawn) -> None:
    tables, evidence = drawn
    both = [key for key in tables.gates if key not in evidence][:2]
    engine, base = HubEngine(tables, MUCH), weigh_by_force(tables, evidence)
    sizes = [range(tables.gates[key].n_states) for key in both]
    grid = np.array(np.meshgrid(*sizes, indexing="ij")).reshape(len(both), -1).T if both else np.zeros((1, 0), int)
    assignments = [dict(zip(both, map(int, row), strict=True)) for row in grid]
    found = predict_jointly(engine, evidence, assignments)
    assert np.ones(tables.n_root) == pytest.approx(found.sum(axis=0), abs=1e-9)
    expected = [weigh_by_force(tables, {**evidence, **assignment}) / base for assignment in assignments]
    assert np.array(expected) == pytest.approx(found, abs=1e-9)


@given(hubs())
@few
def test_predict_jointly__of_one_finding_is_predict(drawn: Drawn) -> None:
    tables, evidence = drawn
    engine = HubEngine(tables, MUCH)
    for key in [key for key in tables.gates if key not in evidence][:2]:
        found = predict_jointly(engine, evidence, [{key: state} for state in range(tables.gates[key].n_states)])
        assert engine.predict(evidence, [key])[key] == pytest.approx(found, abs=1e-9)


@given(hubs(), st.data())
@law
def test_retract__equals_never_having_answered(drawn: Drawn, data: st.DataObject) -> None:
    tables, evidence = drawn
    groups = [[key] for key in evidence]
    groups += [data.draw(st.lists(st.sampled_from(sorted(evidence)), unique=True))] if evidence else []
    found = HubEngine(tables, MUCH).retract(evidence, groups)
    for group, row in zip(groups, found, strict=True):
        assert np.log(weigh_by_force(tables, take_back(evidence, group))) == pytest.approx(row, abs=1e-8), group


@given(hubs(most_hidden=7), st.data())
@few
def test_retract__the_same_with_variables_fixed(drawn: Drawn, data: st.DataObject) -> None:
    tables, evidence = drawn
    with fixing():
        engine = HubEngine(tables, MUCH)
        groups = [[key] for key in evidence] + ([sorted(evidence)[:3]] if evidence else [])
        found = engine.retract(evidence, groups)
    for group, row in zip(groups, found, strict=True):
        assert np.log(weigh_by_force(tables, take_back(evidence, group))) == pytest.approx(row, abs=1e-8), group


@given(hubs(sharp=0.25))
@law
def test_retract__answers_that_some_states_do_not_allow(drawn: Drawn) -> None:
    """A factor of 0 cannot be divided out."""
    tables, evidence = drawn
    if not np.any(weigh_by_force(tables, evidence) * tables.prior > 1e-14):
        return
    found = HubEngine(tables, MUCH).retract(evidence, [[key] for key in evidence])
    for key, row in zip(evidence, found, strict=True):
        expected = weigh_by_force(tables, take_back(evidence, [key]))
        assert expected == pytest.approx(np.exp(row), rel=1e-8, abs=1e-13), key


def test_retract__no_answers_and_no_groups() -> None:
    tables = draw_tables(np.random.default_rng(1), 3, 2, 4)
    assert (0, 3) == HubEngine(tables).retract({"f0": 1}, []).shape
    assert np.zeros((1, 3)) == pytest.approx(HubEngine(tables).retract({"f0": 1}, [["f0"]]), abs=1e-12)


def clash_tables() -> HubTables:
    """Two states; f0 shows under the first alone, f1 under the second alone, f2 under both."""

    def gate(key: str, below: list[float]) -> GateTable:
        return GateTable(key, 2, np.array([below, [1.0, 1.0]]), (), np.zeros((0, 2)))

    gates = {"f0": gate("f0", [0.2, 1.0]), "f1": gate("f1", [1.0, 0.2]), "f2": gate("f2", [0.5, 0.5])}
    return HubTables("root", ("a", "b"), np.array([0.5, 0.5]), (), np.zeros((0, 2)), gates)


def test_weigh__impossible_answers_name_a_smallest_clash() -> None:
    with pytest.raises(ImpossibleEvidence) as error:
        HubEngine(clash_tables()).weigh({"f2": 1, "f0": 1, "f1": 1})
    assert {"f0", "f1"} == set(error.value.clash)
    for method in ("posterior", "bound_posterior", "stand"):
        with pytest.raises(ImpossibleEvidence):
            getattr(HubEngine(clash_tables()), method)({"f0": 1, "f1": 1})


def test_weigh__a_state_of_prior_0_does_not_make_it_possible() -> None:
    tables = cut_columns(clash_tables(), np.array([0, 1]))
    tables.prior[:] = [1.0, 0.0]
    with pytest.raises(ImpossibleEvidence, match="f1"):
        HubEngine(tables).weigh({"f1": 1})


def test_posterior__one_state_ruled_out() -> None:
    assert [1.0, 0.0] == HubEngine(clash_tables()).posterior({"f0": 1, "f2": 0})[0].tolist()


@given(hubs(most_hidden=7, most_gates=9), st.sampled_from([0, 12, 64]))
@law
def test_stand__bounds_hold_the_exact_number(drawn: Drawn, most_cells: int) -> None:
    tables, evidence = drawn
    standing = HubEngine(tables, 3 * tables.n_root, most_cells).stand(evidence)
    exact = np.log(weigh_by_force(tables, evidence))
    assert (standing.log_low <= exact + 1e-9).all()
    assert (exact <= standing.log_high + 1e-9).all()
    assert (standing.log_low <= standing.log_likelihood + 1e-12).all()
    assert (standing.log_likelihood <= standing.log_high + 1e-12).all()
    assert standing.exact or standing.replaced


@given(hubs(most_hidden=7, most_gates=9), st.sampled_from([0, 12]))
@law
def test_bound_posterior__holds_the_exact_posterior(drawn: Drawn, most_cells: int) -> None:
    tables, evidence = drawn
    low, high = HubEngine(tables, 3 * tables.n_root, most_cells).bound_posterior(evidence)
    exact = posterior_by_force(tables, evidence)
    assert (low <= exact + 1e-9).all() and (exact <= high + 1e-9).all()


@given(hubs())
@few
def test_bound_posterior__is_the_posterior_where_it_is_exact(drawn: Drawn) -> None:
    tables, evidence = drawn
    engine = HubEngine(tables, MUCH)
    low, high = engine.bound_posterior(evidence)
    assert engine.posterior(evidence)[0].tolist() == low.tolist() == high.tolist()


def hard_drawn(seed: int) -> Drawn:
    """Draw tables whose telling answers are joined by many hidden variables."""
    rng = np.random.default_rng(seed)
    tables = draw_tables(rng, 4, 8, 10, most_states=2)
    return tables, {key: 1 for key in tables.gates}


@pytest.mark.parametrize("seed", range(6))
def test_stand__the_states_that_matter_are_worked_out_exactly(seed: int) -> None:
    """With room for the states that matter, the coarse pass leaves nothing that shows."""
    tables, evidence = hard_drawn(seed)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("shiftlore.exact.engine.COARSE_WORK", 4)
        engine = HubEngine(tables, 4 * tables.n_root, MUCH)
        standing = engine.stand(evidence)
        assert not standing.exact and standing.fine is not None
        assert np.log(weigh_by_force(tables, evidence)) == pytest.approx(standing.log_likelihood, abs=1e-9)
        assert posterior_by_force(tables, evidence) == pytest.approx(engine.posterior(evidence)[0], abs=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_predict__and_retract_where_states_were_worked_out_finely(seed: int) -> None:
    tables, evidence = hard_drawn(seed)
    kept, answered = next(iter(evidence)), {key: 1 for key in list(evidence)[1:]}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("shiftlore.exact.engine.COARSE_WORK", 4)
        engine = HubEngine(tables, 4 * tables.n_root, MUCH)
        base = weigh_by_force(tables, answered)
        shown = weigh_by_force(tables, {**answered, kept: 1}) / base
        assert shown == pytest.approx(engine.predict(answered, [kept])[kept][1], abs=1e-9)
        found = engine.retract(answered, [[key] for key in answered])
        assert engine.stand(answered).fine is not None
    for key, row in zip(answered, found, strict=True):
        assert np.log(weigh_by_force(tables, take_back(answered, [key]))) == pytest.approx(row, abs=1e-8)


@pytest.mark.parametrize("seed", range(6))
def test_predict__bounded_answers_still_give_probabilities(seed: int) -> None:
    tables, evidence = hard_drawn(seed)
    kept, answered = next(iter(evidence)), {key: 1 for key in list(evidence)[1:]}
    engine = HubEngine(tables, 4 * tables.n_root, 0)
    table = engine.predict(answered, [kept])[kept]
    assert not engine.stand(answered).exact
    assert np.ones(tables.n_root) == pytest.approx(table.sum(axis=0), abs=1e-12)
    assert np.isfinite(engine.retract(answered, [[key] for key in answered])).all()


def test_stand__draws_of_a_hard_case_stay_with_their_bounds() -> None:
    tables, evidence = hard_drawn(1)
    standing = HubEngine(lay_beside([tables, tables]), 4 * tables.n_root).stand(evidence)
    exact = np.tile(np.log(weigh_by_force(tables, evidence)), 2)
    assert standing.fine is None and not standing.exact
    assert (standing.log_low <= exact + 1e-9).all() and (exact <= standing.log_high + 1e-9).all()


def test_stand__the_same_answers_are_remembered_whatever_their_order() -> None:
    tables = draw_tables(np.random.default_rng(3), 3, 3, 5)
    engine = HubEngine(tables)
    assert engine.stand({"f0": 0, "f1": 1}) is engine.stand({"f1": 1, "f0": 0})
    assert engine.stand({"f0": 0}) is not engine.stand({"f0": 1})


def test_stand__only_so_many_are_remembered() -> None:
    tables = draw_tables(np.random.default_rng(3), 2, 1, 2)
    engine = HubEngine(tables)
    first = engine.stand({"f0": Doubted(0, 0.0, 0.5)})
    for i in range(80):
        engine.stand({"f0": Doubted(0, 0.0, i / 100)})
    assert first is not engine.stand({"f0": Doubted(0, 0.0, 0.005)})
    assert len(engine._standings) <= 64


@given(hubs())
@few
def test_p_present__equals_asking_by_force(drawn: Drawn) -> None:
    """A hidden variable's own finding, surely shown by it and by nothing else, says whether it is there."""
    tables, evidence = drawn
    n, never = tables.n_root, np.ones((2, tables.n_root))
    shows = {
        f"is_h{h}": GateTable(f"is_h{h}", 2, never, (h,), np.array([[0.0, 1.0]])) for h in range(len(tables.hidden))
    }
    wider = HubTables(
        tables.root, tables.root_states, tables.prior, tables.hidden, tables.p_hidden, {**tables.gates, **shows}
    )
    engine, base = HubEngine(tables, MUCH), weigh_by_force(tables, evidence)
    found = engine.p_present(engine.stand(evidence))
    assert (len(tables.hidden), n) == found.shape
    for h, key in enumerate(shows):
        assert weigh_by_force(wider, {**evidence, key: 1}) / base == pytest.approx(found[h], abs=1e-9)


@given(st.integers(0, 2**32 - 1), st.integers(1, 5))
@few
def test_weigh__draws_side_by_side_as_one_by_one(seed: int, n_draws: int) -> None:
    """Draws share their shape; kinds of columns are found in the first three and hold for all."""
    rng = np.random.default_rng(seed)
    first = draw_tables(rng, 3, 4, 6)
    draws = [first]
    for _ in range(n_draws - 1):
        other = {
            key: GateTable(
                key,
                gate.n_states,
                gate.cum_root ** rng.uniform(0.5, 2),
                gate.hidden,
                gate.cum_hidden ** rng.uniform(0.5, 2),
            )
            for key, gate in first.gates.items()
        }
        p_hidden = first.p_hidden ** rng.uniform(0.5, 2)
        draws.append(HubTables(first.root, first.root_states, first.prior, first.hidden, p_hidden, other))
    evidence = draw_evidence(rng, first)
    expected = np.concatenate([HubEngine(tables, MUCH).weigh(evidence) for tables in draws])
    assert expected == pytest.approx(HubEngine(lay_beside(draws), MUCH).weigh(evidence), abs=1e-10)


@given(hubs())
@few
def test_weigh__of_some_columns_as_of_all(drawn: Drawn) -> None:
    tables, evidence = drawn
    columns = np.arange(0, tables.n_root, 2)
    expected = HubEngine(tables, MUCH).weigh(evidence)[columns]
    assert expected == pytest.approx(HubEngine(cut_columns(tables, columns), MUCH).weigh(evidence), abs=1e-12)


@given(st.lists(st.floats(-700, 700), min_size=1, max_size=6))
def test_normalise__whatever_the_scale(logs: list[float]) -> None:
    p, log_total = normalise(np.array(logs))
    assert 1 == pytest.approx(p.sum(), abs=1e-12)
    assert max(logs) <= log_total + 1e-12 <= max(logs) + np.log(len(logs)) + 1e-9
    assert [log - log_total for log in logs if log - log_total > -30] == pytest.approx(
        [float(np.log(value)) for log, value in zip(logs, p, strict=True) if log - log_total > -30], abs=1e-9
    )


@given(hubs())
@law
def test_weigh_apart__each_answer_as_though_it_were_the_only_one(drawn: Drawn) -> None:
    tables, evidence = drawn
    engine = HubEngine(tables, MUCH)
    for (finding, answer), row in zip(evidence.items(), engine.weigh_apart(evidence), strict=True):
        assert weigh_by_force(tables, {finding: answer}) == pytest.approx(row, abs=1e-12)


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="about the allocator of glibc")
def test_memory__arrays_of_one_turn_are_used_again_by_the_next() -> None:
    code = (
        "import resource, numpy as np, shiftlore.exact\n"
        "def turn(): return [np.ones(250_000) for _ in range(8)] and None\n"
        "def count(): return resource.getrusage(resource.RUSAGE_SELF).ru_minflt\n"
        "turn(); begun = count(); [turn() for _ in range(20)]; print(count() - begun)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert int(done.stdout) < 400  # of some 80,000 pages that are filled
