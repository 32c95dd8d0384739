"""A cause is read with its numbers, links and look-alikes."""

import pytest

from shiftlore.knowledge.causes import read_cause


@pytest.fixture
def pump(folder):
    return (folder() / "causes/pump/worn_pump.yaml").read_text()


def test_read_cause__reads_every_key(taken, pump):
    cause, told = taken(read_cause, pump)
    assert [] == told
    assert ("worn_pump", "pump", "draft", 2.2) == (cause.id, cause.area, cause.status, cause.wear)
    assert ("usage", "towing", 1.8) == (
        cause.raised_by[0].background,
        cause.raised_by[0].grade,
        cause.raised_by[0].ratio,
    )
    assert (("line_pressure_idle",), ("worn_lining",)) == (cause.looks_like[0].tells_apart, cause.driven_on.damages)


def test_read_cause__without_look_alikes_is_told(taken, pump):
    _, told = taken(read_cause, pump.replace("looks_like:", "loks_like:"))
    assert [("a.yaml:1:1", "K011"), ("a.yaml:13:1", "K012")] == told


def test_read_cause__every_missing_key_is_told_at_once(taken):
    _, told = taken(read_cause, "id: x\n")
    assert {("a.yaml:1:1", "K011")} == set(told)
    assert 9 == len(told)
