"""The exact engine as an oracle."""

from dataclasses import replace

import numpy as np
import pytest
from support.trade import slipping

from shiftlore.advising import prepare_situation
from shiftlore.compiling import Answer


def _oracle():
    return prepare_situation(slipping()).oracle


def test_belief__sums_to_one_and_follows_the_engine():
    compiled, oracle = slipping(), _oracle()
    assert 1.0 == pytest.approx(oracle.belief.sum(), abs=1e-12)
    best = int(np.argmax(compiled.p_faults))
    assert compiled.p_faults[best] == pytest.approx(oracle.belief[oracle.weighing.owner[best]], abs=1e-9)


def test_outcomes__what_is_expected_of_a_finding_is_what_the_engine_expects():
    compiled, oracle = slipping(), _oracle()
    name = next(iter(oracle.findings))
    expected = compiled.engine.predict(compiled.evidence, [name])[name] @ compiled.p_faults
    assert expected == pytest.approx(oracle.findings[name].likelihoods @ oracle.belief, abs=1e-6)


def test_outcomes__columns_sum_to_one_for_every_check():
    oracle = _oracle()
    for table in oracle.tables.values():
        assert np.ones(len(oracle.belief)) == pytest.approx(table.likelihoods.sum(axis=0), abs=1e-9)


def test_after__equals_the_case_with_that_answer():
    oracle = _oracle()
    check = next(key for key, table in oracle.tables.items() if len(table.answers[0]) == 1)
    said = oracle.tables[check].answers[1]
    later = slipping().with_answers([Answer(finding, grade) for finding, grade in said.items()])
    assert oracle.weighing.gather(later.p_faults) == pytest.approx(oracle.after(check, 1).belief, abs=1e-9)


def test_after__mixes_back_to_what_is_believed_now():
    oracle = replace(_oracle(), exact_checks=99)
    check = max(oracle.tables, key=lambda key: len(oracle.tables[key].labels))
    table = oracle.tables[check]
    assert oracle.belief == pytest.approx((table.likelihoods * oracle.belief).sum(axis=0), abs=1e-9)


def test_persists__repaired_cause_is_gone_and_the_rest_keep_their_odds():
    oracle = _oracle()
    missed = np.ones(len(oracle.weighing.hypotheses.causes))
    missed[0] = 0.0
    after, now = oracle.persists(missed).belief, oracle.belief
    paired = {other for member in oracle.weighing.hypotheses.members if 0 in member for other in member}
    untouched = [i for i, member in enumerate(oracle.weighing.hypotheses.members) if not paired & set(member)]
    assert 0.0 == after[0]
    assert now[untouched] / now[untouched].sum() == pytest.approx(after[untouched] / after[untouched].sum(), rel=1e-9)


def test_outcomes__a_check_that_tells_nothing_new_has_one_outcome():
    assert ({},) == _oracle().outcomes("no_such_check").answers


def test_after__outcomes_weighed_with_their_chance_average_back_to_now():
    """Law of total probability; the lumped hypothesis keeps its old shares, hence the tolerance."""
    oracle = _oracle()
    check = next(key for key, outcomes in oracle.tables.items() if len(outcomes.labels) == 2)
    p = oracle.outcomes(check).likelihoods @ oracle.belief
    mean = sum(p[i] * oracle.after(check, i).belief for i in range(len(p)))
    assert oracle.belief == pytest.approx(mean, abs=2e-3)


def test_tables__every_column_is_a_pmf():
    oracle = _oracle()
    for outcomes in oracle.tables.values():
        assert np.allclose(outcomes.likelihoods.sum(axis=0), 1.0, atol=1e-9)
        assert len(outcomes.labels) == len(outcomes.answers) == len(outcomes.likelihoods)


def test_persists__agrees_with_the_case_in_which_the_job_was_done():
    prepared = prepare_situation(slipping())
    job = next(job for job in prepared.situation.jobs if not job.gives_up and job.cures.max() > 0.5)
    later = prepared.oracle.persists(1.0 - job.cures).belief
    again = prepare_situation(slipping(done=(job.id,))).oracle.belief
    assert later == pytest.approx(again, abs=1e-9)
