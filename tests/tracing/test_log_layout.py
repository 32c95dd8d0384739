from pathlib import Path

import pytest

from shiftlore.tracing import LogProblem
from shiftlore.tracing.log_layout import LogLayout, find_layout, is_number


def laid_out(folder: Path, content: str | bytes, encoding: str = "utf-8") -> LogLayout:
    """Find out how a content is written."""
    path = folder / "log.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode(encoding))
    return find_layout(path)


ROWS = "".join(f"{n / 50:.2f},{700 + n % 7},0.0\n" for n in range(40))


@pytest.mark.parametrize(
    ("content", "separator", "decimal", "skipped"),
    [
        ("t,n,v\n" + ROWS, ",", ".", 1),
        ("t;n;v\n" + ROWS.replace(",", ";").replace(".", ","), ";", ",", 1),
        ("t\tn\tv\n" + ROWS.replace(",", "\t"), "\t", ".", 1),
        ("t|n|v\n" + ROWS.replace(",", "|"), "|", ".", 1),
        ("Recorder\n\nmade on Monday, of course\nt,n,v\n" + ROWS, ",", ".", 4),
        ("t,n,v\ns,rpm,km/h\n" + ROWS, ",", ".", 2),
        ("\n\nt,n,v\n" + ROWS, ",", ".", 3),
    ],
)
def test_find_layout__how_it_is_written(
    tmp_path: Path, content: str, separator: str, decimal: str, skipped: int
) -> None:
    found = laid_out(tmp_path, content)
    assert (separator, decimal, skipped, ("t", "n", "v")) == (
        found.separator,
        found.decimal,
        found.skipped,
        found.headers,
    )


def test_find_layout__units_in_a_second_row_of_headers(tmp_path: Path) -> None:
    assert ("s", "rpm", "km/h") == laid_out(tmp_path, "t,n,v\ns,1/min,kph\n" + ROWS).units


def test_find_layout__quoted_headers_and_figures_with_decimal_commas(tmp_path: Path) -> None:
    rows = "".join(f'"{n / 50:.2f}","{700 + n % 7},5","0,0"\n'.replace(".", ",") for n in range(40))
    found = laid_out(tmp_path, '"t, all","n","v"\n' + rows)
    assert (("t, all", "n", "v"), ",", True) == (found.headers, found.decimal, found.quoted)


@pytest.mark.parametrize(
    ("spell", "is_grouped", "decimal"), [("2,450", True, "."), ("2,450.5", True, "."), ("2,4", False, ",")]
)
def test_find_layout__a_comma_parts_thousands_where_all_of_them_do(
    tmp_path: Path, spell: str, is_grouped: bool, decimal: str
) -> None:
    """With a decimal comma some figure has other than three places behind it, or begins with 0."""
    found = laid_out(tmp_path, "t;n;v\n" + "".join(f"{n};{spell};80\n" for n in range(40)))
    assert (is_grouped, decimal) == (found.grouped, found.decimal)


def test_find_layout__no_header_at_all(tmp_path: Path) -> None:
    found = laid_out(tmp_path, ROWS)
    assert (False, ("#1", "#2", "#3"), 0) == (found.has_header, found.headers, found.skipped)


@pytest.mark.parametrize(
    ("encoding", "expected"),
    [
        ("utf-8-sig", "utf-8-sig"),
        ("utf-16", "utf-16"),
        ("utf-16-le", "utf-16-le"),
        ("utf-16-be", "utf-16-be"),
        ("cp1252", "cp1252"),
    ],
)
def test_find_layout__in_which_letters(tmp_path: Path, encoding: str, expected: str) -> None:
    found = laid_out(tmp_path, "t,n °,v\n" + ROWS, encoding)
    assert (expected, ("t", "n °", "v")) == (found.encoding, found.headers)


@pytest.mark.parametrize(
    ("content", "match"),
    [
        (b"", "empty"),
        (b"\x00" * 5000, "empty"),
        (b"\n \n", "empty"),
        (b"t,n,v\n", "no rows of figures"),
        (b"Dear sir,\nno log,\nbye,\n", "no rows of figures"),
        (b"PK\x03\x04rest", "spreadsheet"),
        (b"PAR1rest", "Parquet"),
        (bytes(range(256)) * 40, "binary"),
        (b"1\n2\n3\n", "no columns"),
    ],
)
def test_find_layout__what_is_no_log_is_told_in_a_sentence(tmp_path: Path, content: bytes, match: str) -> None:
    with pytest.raises(LogProblem, match=match):
        laid_out(tmp_path, content)


def test_find_layout__a_file_of_two_gigabytes_is_not_opened(tmp_path: Path) -> None:
    path = tmp_path / "huge.csv"
    with path.open("wb") as stream:
        stream.truncate(2 * 10**9)
    with pytest.raises(LogProblem, match=r"2,000 MB; at most 419 MB"):
        find_layout(path)


def test_find_layout__samples_come_from_the_whole_file(tmp_path: Path) -> None:
    long = "".join(f"{n / 50:.2f},{n}\n" for n in range(200_000))
    numbers = [int(row[1]) for row in laid_out(tmp_path, "t,n\n" + long).samples]
    assert max(numbers) > 190_000
    assert sorted(numbers) == numbers


@pytest.mark.parametrize(
    ("text", "expected"), [("1", True), ("-1,5e3", True), (".5", True), ("1.2.3", False), ("", False), ("nan", False)]
)
def test_is_number__points_and_commas(text: str, expected: bool) -> None:
    assert expected == is_number(text)
