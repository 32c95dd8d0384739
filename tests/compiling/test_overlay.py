"""Learned numbers laid over the rules: as they are read, and what they change."""

from pathlib import Path

import pytest
from support.trade import make_case, shipped, unit_of

from shiftlore.basics import KnowledgeError
from shiftlore.compiling import Learned, Overlay, compile_case, compile_unit, read_overlay, with_overlay
from shiftlore.compiling.overlay import scale_faults
from shiftlore.reports.trials_text import render_overlay

WHOLE = Overlay(
    {"pump_worn": Learned(9.0, 11.46, 1.0, 0.01)},
    {("pump_worn", "line_pressure_low"): Learned(0.8, 0.9, 3.2, 3.4)},
    Learned(1.0, 1.5, 6.0, 4.0),
    {"cured": 3},
)


def read(tmp_path: Path, text: str) -> Overlay:
    path = tmp_path / "overlay.yaml"
    path.write_text(text, encoding="utf-8")
    return read_overlay(path, shipped())


def test_read_overlay__reads_what_was_written(tmp_path: Path) -> None:
    assert WHOLE == read(tmp_path, render_overlay(WHOLE))


@pytest.mark.parametrize(
    "old, new, says",
    [
        ("pump_worn: {rules: 9", "pump_wron: {rules: 9", ':8:3: error O020: The rules have no "pump_wron".'),
        ("line_pressure_low:", "line_presure_low:", ':11:5: error O020: The rules have no "line_presure_low".'),
        ("learned: 0.9", "learned: 9", ":11:46: error O016: "),
        ("learned: 0.9", "learned: 0", ":11:24: error O015: Nothing can be learned to be 0."),
        ("learned: 0.9", "learned: .nan", ":11:46: error O013: "),
        ("strengths:", "strenths:", ':9:1: error O012: A list of learned numbers has no key "strenths".'),
    ],
)
def test_read_overlay__tells_what_is_wrong_with_its_place(tmp_path: Path, old: str, new: str, says: str) -> None:
    with pytest.raises(KnowledgeError) as caught:
        read(tmp_path, render_overlay(WHOLE).replace(old, new))
    assert says in str(caught.value)


def test_with_overlay__moves_base_rates_and_strengths_and_comes_off_again() -> None:
    case = make_case(
        "long5", {"line_pressure_idle": "low"} if "line_pressure_idle" in unit_of().expansion.findings else {}
    )
    laid = compile_unit(with_overlay(shipped(), WHOLE), "long5")
    plain, link = unit_of().expansion, laid.expansion.states["line_pressure_low"].links
    assert laid.expansion.causes["pump_worn"].share == pytest.approx(plain.causes["pump_worn"].share * 11.46 / 9)
    (own,) = (1 - one.rows[1][0] for one in link if one.parent == "pump_worn")
    (before,) = (1 - one.rows[1][0] for one in plain.states["line_pressure_low"].links if one.parent == "pump_worn")
    assert own / (1 - own) == pytest.approx(before / (1 - before) * (0.9 / 0.1) / (0.8 / 0.2))
    off = compile_unit(with_overlay(with_overlay(shipped(), WHOLE), Overlay()), "long5")
    shares = [compile_case(unit, case).p_causes for unit in (unit_of(), off)]
    assert shares[0] == pytest.approx(shares[1], abs=1e-12)


def test_scale_faults__what_is_sound_stays_sound() -> None:
    assert (1.0, 0.0) == scale_faults((1.0, 0.0), lambda p: 2 * p)
