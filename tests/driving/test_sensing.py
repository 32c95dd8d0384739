"""Sensors: teeth, noise, lost and frozen signals; statistics with their tolerance."""

import numpy as np
from pytest import approx, mark

from shiftlore.driving.sensing import PLAIN, WHEELS, count_teeth, sense_columns, spoil_sensors
from shiftlore.sheets import DriveDefect

TIME = np.arange(0, 60, 0.02)


def _steady(rpm: float, name: str = "input_rpm", time_s: np.ndarray = TIME) -> np.ndarray:
    return count_teeth(np.full(len(time_s), rpm), time_s, WHEELS[name], np.random.default_rng(1))


@mark.parametrize("rpm", [400.0, 1234.0, 3000.0, 6000.0])
@mark.parametrize("name", sorted(WHEELS))
def test_count_teeth__is_right_on_average_and_noisy_by_its_wheel(rpm: float, name: str) -> None:
    # Two edges, each off by a share u of a tooth, over k teeth: standard deviation u * sqrt(2) / k, and the step's own.
    teeth, uneven, step = WHEELS[name]
    found = _steady(rpm, name)[20:]
    passed = max(rpm / 60 * 0.02 * teeth, 1)
    most = rpm * uneven * 2**0.5 / passed + step
    assert rpm == approx(found.mean(), rel=2e-3)
    assert found.std() < 1.5 * most
    assert 0 == approx(np.abs(found / step - np.round(found / step)).max(), abs=1e-9)


def test_count_teeth__shows_noise_at_all() -> None:
    assert len(set(_steady(2000.3).tolist())) > 1


def test_count_teeth__reads_nothing_where_no_tooth_comes() -> None:
    assert 0.0 == _steady(0.0).max()
    assert 0.0 == _steady(3.0)[100:].min()


def test_count_teeth__does_not_see_the_direction() -> None:
    assert _steady(900.0).tolist() == _steady(-900.0).tolist()


def test_count_teeth__follows_a_ramp_half_a_row_late_at_most() -> None:
    true = 500 + 200 * TIME / 10
    found = count_teeth(true, TIME, WHEELS["output_rpm"], np.random.default_rng(2))
    assert np.abs(found - true)[20:].max() < 6


def test_count_teeth__falls_to_nothing_soon_after_a_stop() -> None:
    true = np.where(TIME < 30, 1000.0, 0.0)
    found = count_teeth(true, TIME, WHEELS["input_rpm"], np.random.default_rng(2))
    assert 0.0 == found[TIME > 30.3].max()


def test_count_teeth__is_coarser_in_short_rows() -> None:
    fast = _steady(600.0, time_s=np.arange(0, 20, 0.005))
    assert fast[50:].std() >= _steady(600.0)[50:].std()


def _columns(rows: int = 20_000) -> dict[str, np.ndarray]:
    truth = {"time_s": np.arange(rows) * 0.02, **{name: np.full(rows, 1500.0) for name in WHEELS}}
    return truth | {"gear_commanded": np.full(rows, "3"), **{name: np.full(rows, 50.03) for name in PLAIN}}


def test_sense_columns__noise_has_its_mean_and_spread() -> None:
    truth = _columns()
    found = sense_columns(truth, np.random.default_rng(7))
    for name, (spread, step) in PLAIN.items():
        wide = (spread**2 + step**2 / 12) ** 0.5
        assert 50.03 == approx(found[name].mean(), abs=step / 2 + 5 * wide / len(found[name]) ** 0.5)
        assert found[name].std() <= 1.2 * wide
    assert found["gear_commanded"] is truth["gear_commanded"]


def test_sense_columns__zero_stays_zero_and_nothing_falls_below() -> None:
    truth = _columns(500) | {"throttle_percent": np.zeros(500), "road_kmh": np.full(500, 0.01)}
    found = sense_columns(truth, np.random.default_rng(7))
    assert 0.0 == np.abs(found["throttle_percent"]).max()
    assert found["road_kmh"].min() >= 0


@mark.parametrize(("kind", "times"), [("dropout", 4), ("freeze", 1)])
def test_spoil_sensors__spoils_so_many_rows_of_one_column(kind: str, times: int) -> None:
    columns = sense_columns(_columns(), np.random.default_rng(7))
    columns["input_rpm"] = columns["input_rpm"] + np.arange(20_000)
    before = {name: column.copy() for name, column in columns.items()}
    spoiled = spoil_sensors(columns, [DriveDefect(kind, "input_rpm", 1.0)], np.random.default_rng(3))
    assert times == len(spoiled)
    for told, name, first, last in spoiled:
        assert (kind, "input_rpm", 50) == (told, name, last - first + 1)
        assert 1 == len(set(columns["input_rpm"][first : last + 1].tolist()))
    assert (before["input_rpm"] != columns["input_rpm"]).sum() <= 50 * times
    assert before["output_rpm"].tolist() == columns["output_rpm"].tolist()


def test_spoil_sensors__leaves_other_defects_alone() -> None:
    columns = _columns(100)
    assert [] == spoil_sensors(columns, [DriveDefect("slip", "c1", 0.5)], np.random.default_rng(3))
