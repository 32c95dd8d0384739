"""What contradicts something else in the case is told at its own place, with that of the other."""

import pytest

from shiftlore.basics import CaseError
from shiftlore.cases import Known, read_case

FULL = Known(
    backgrounds={"engine_service": ("no", "yes")},
    units=["long5"],
    events=["engine_service"],
    codes=["P0732", "P0715"],
    code_findings={"P0732": "ratio_code_gear_2", "P0715": "lamp"},
    findings={
        "lamp": ("off", "on"),
        **dict.fromkeys(
            ("no_codes", "no_drive_any", "no_reverse", "suddenly", "slips", "ratio_code_gear_2", "sluggish_pull_away"),
            ("no", "yes"),
        ),
    },
    excludes={"no_codes": ("ratio_code_gear_2",)},
    includes={"no_drive_any": ("no_reverse",)},
    denied_by={"no_drive_any": ("slips", "sluggish_pull_away")},
    checks=["module_scan"],
    onset_says={"at_once": {"suddenly": "yes"}, "slowly": {"suddenly": "no"}},
    event_says={"engine_service": ("yes",)},
    measures={"line_pressure": ("kPa", "bar"), "slip_gear_2": ("rpm",)},
    grade_measured=lambda name, value: {"slips": "yes" if value > 100 else "no"} if name == "slip_gear_2" else {},
)
HEAD = "shiftlore: 1\nunit: long5\n"


def problems_of(text: str) -> list[str]:
    with pytest.raises(CaseError) as caught:
        read_case(HEAD + text, FULL, "c.yaml")
    return [f"{problem.mark} {problem.code} {problem.what}" for problem in caught.value.problems]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "complaint: [slips]\nfindings:\n  slips: no\n",
            "c.yaml:3:13 C025 The complaint is slips, but line 5, column 3 says no",
        ),
        (
            "findings:\n  P0732: yes\n  ratio_code_gear_2: no\n",
            "c.yaml:4:3 C025 The code P0732 means ratio_code_gear_2, but line 5, column 3 says no",
        ),
        (
            "findings:\n  no_codes: yes\n  P0732: yes\n",
            "c.yaml:4:3 C025 no_codes says that there is no ratio_code_gear_2, but line 5, column 3 says yes",
        ),
        (
            "findings:\n  no_codes: yes\n  ratio_code_gear_2: yes\n",
            "c.yaml:4:3 C025 no_codes says that there is no ratio_code_gear_2, but line 5, column 3 says yes",
        ),
        (
            "onset: {after: [engine_service]}\nbackground:\n  engine_service: no\n",
            "c.yaml:3:17 C025 It began after engine_service, but line 5, column 3 says no",
        ),
        (
            "onset: {how: slowly}\nfindings: {suddenly: yes}\n",
            "c.yaml:3:8 C025 slowly means suddenly: no, but line 4, column 12 says yes",
        ),
        (
            "odometer_km: 90000\nonset: {odometer_km: 120000}\n",
            "c.yaml:4:8 C025 It began at 120000 km, but line 3, column 14 says 90000 km",
        ),
        (
            "findings: {slips: no, lamp: off}\n".replace("off", '"off"') + 'either: [[slips, {lamp: "on"}]]\n',
            "c.yaml:4:10 C025 One of these should be there, but line 3, column 12 says no, as of all others",
        ),
        (
            "findings: {slips: no}\nmeasured: {slip_gear_2: {value: 250}}\n",
            "c.yaml:4:12 C025 slip_gear_2 of 250 rpm means slips: yes, but line 3, column 12 says no",
        ),
    ],
)
def test_read_case__a_contradiction_has_both_places(text: str, expected: str) -> None:
    assert [expected] == problems_of(text)


@pytest.mark.parametrize(
    "text",
    [
        "complaint: [slips]\nfindings: {slips: yes}\n",
        "findings: {P0732: no, ratio_code_gear_2: yes}\n",
        "findings: {no_codes: no, P0732: yes}\n",
        "done: [module_scan]\nfindings: {no_codes: yes, P0715: yes}\n",
        "findings: {no_drive_any: yes, no_reverse: yes}\n",
        "onset: {after: [engine_service], how: at_once}\nfindings: {suddenly: yes}\n",
        "odometer_km: {at_least: 90000}\nonset: {odometer_km: 120000}\n",
        "findings: {slips: no}\neither: [[slips, sluggish_pull_away]]\n",
        "findings: {slips: yes}\nmeasured: {slip_gear_2: {value: 250}}\n",
    ],
)
def test_read_case__what_fits_is_left_alone(text: str) -> None:
    assert () == read_case(HEAD + text, FULL, "c.yaml").warnings


def test_read_case__a_number_without_known_limits_is_kept_with_a_warning() -> None:
    case = read_case(HEAD + "measured: {line_pressure: {value: 4, unit: bar}}\n", FULL, "c.yaml")
    (warning,) = case.warnings
    assert ("c.yaml:3:12", "C034") == (str(warning.mark), warning.code) and 4 == case.measured["line_pressure"].value


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "findings: {no_codes: yes, P0715: yes}\n",
            "c.yaml:3:12 C025 no_codes says that there is no P0715, but line 3, column 27 says yes",
        ),
        (
            "findings: {no_drive_any: yes, no_reverse: no}\n",
            "c.yaml:3:12 C025 no_drive_any says no_reverse too, but line 3, column 31 says no",
        ),
        (
            "complaint: [no_drive_any]\nfindings: {no_reverse: no}\n",
            "c.yaml:3:13 C025 no_drive_any says no_reverse too, but line 4, column 12 says no",
        ),
        (
            "complaint: [no_drive_any]\nfindings: {slips: yes}\n",
            "c.yaml:4:12 C025 slips says that there is no no_drive_any, but line 3, column 13 says yes",
        ),
    ],
)
def test_read_case__what_hardly_goes_together_is_a_warning(text: str, expected: str) -> None:
    told = read_case(HEAD + text, FULL, "c.yaml").warnings
    assert [expected] == [f"{problem.mark} {problem.code} {problem.what}" for problem in told]
