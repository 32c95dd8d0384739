"""`shiftlore shop`: what is shown, what is set, and that every command that prices reads it."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from support.trade import EXAMPLES

CASE = str(next(EXAMPLES.glob("*car.yaml")))
INVENTED = "Prices of labour and parts are examples until you set yours: shiftlore shop."


def flat(text: str) -> str:
    """Give a text in one line."""
    return " ".join(text.split())


@pytest.fixture
def mine(tmp_path: Path) -> str:
    return str(tmp_path / "mine" / "shop.yaml")


def test_shop__shows_what_is_an_example(run: Callable, mine: str) -> None:
    ended = run("shop", "--shop", mine)
    assert 0 == ended.code and "all below are examples" in flat(ended.out)
    assert "85 [example]" in ended.out and "0 of" in ended.out
    assert max(map(len, ended.out.splitlines())) <= 80
    assert not Path(mine).exists(), "showing writes nothing"


def test_shop__sets_finds_and_takes_back(run: Callable, mine: str) -> None:
    assert (0, "") == run("shop", "--shop", mine, "labour_per_hour=140", "atf_litre=11/14/19", "name=Mill Lane")[:2]
    shown = run("shop", "--shop", mine).out
    assert "140 [yours]" in shown and "Mill Lane [yours]" in shown and "1 of" in shown
    found = run("shop", "--shop", mine, "fluid", "litre").out
    assert "14     19  Transmission fluid, a litre" in found and "[yours]" in found and "filter_kit" not in found
    run("shop", "--shop", mine, "labour_per_hour=")
    assert "85 [example]" in run("shop", "--shop", mine).out


def test_shop__lists_the_whole_price_book(run: Callable, mine: str) -> None:
    from support.trade import shipped

    listed = run("shop", "--shop", mine, "--prices").out
    assert [] == [name for name in shipped().prices if f"\n{name} " not in listed]
    assert max(map(len, listed.splitlines())) <= 80


def test_shop__json_has_settings_and_prices(run: Callable, mine: str) -> None:
    run("shop", "--shop", mine, "tax_percent=19", "filter_kit=40")
    found = json.loads(run("shop", "--shop", mine, "--format", "json").out)
    assert (mine, {"tax_percent": 19}, 40) == (
        found["file"],
        found["settings"],
        found["prices"]["filter_kit"]["typical"],
    )


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ("labour_per_hour=dear", "labour_per_hour=dear: "),
        ("labor=3", "shows every key"),
        ("units=nowhere", "no folder nowhere"),
        ("logo=nothing.png", "nothing.png"),
        ("crystal ball", "nothing with"),
    ],
)
def test_shop__what_cannot_be_is_told(run: Callable, mine: str, change: str, told: str) -> None:
    ended = run("shop", "--shop", mine, change)
    assert (2, "") == (ended.code, ended.out) and told in ended.err
    assert not Path(mine).exists()


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ("tax=0.19", "Of 19 % write tax_percent=19."),
        ("labour=0", "Write what an hour is sold for"),
        ("labour=9500", "such as labour_per_hour=85."),
        ("currency=GBP", "Nothing is changed into GBP"),
    ],
)
def test_shop__what_is_hardly_meant_is_set_and_told(run: Callable, mine: str, change: str, told: str) -> None:
    ended = run("shop", "--shop", mine, change)
    assert (0, True) == (ended.code, told in flat(ended.err)) and Path(mine).exists()
    assert max(map(len, ended.err.splitlines()[1:])) <= 80


def test_shop__what_is_usual_is_set_without_a_word(run: Callable, mine: str) -> None:
    ended = run("shop", "--shop", mine, "labour=140", "tax=20", "currency=EUR")
    assert flat(f"Set in {mine}: labour, tax, currency.") == flat(ended.err)


def test_shop__names_a_folder_by_its_full_path(run: Callable, mine: str, tmp_path: Path) -> None:
    run("shop", "--shop", mine, f"units={tmp_path}/./")
    assert str(tmp_path) in Path(mine).read_text(encoding="utf-8")


def test_options_and_next__price_by_it_and_no_longer_call_it_an_example(run: Callable, mine: str) -> None:
    """The second is tried with a fluid that costs nothing: a plain service must get cheaper by its litres."""
    before = run("options", CASE).out
    assert INVENTED in flat(before)
    run("shop", "--shop", mine, "labour_per_hour=140", "currency=GBP", "atf_litre=14", "tax_percent=20")
    for command in ("options", "next"):
        text = flat(run(command, CASE, "--shop", mine).out)
        assert INVENTED not in text and "EUR" not in text and "Prices include 20 % tax." in text
    found = json.loads(run("options", CASE, "--shop", mine, "--format", "json").out)
    assert (20, []) == (found["tax_percent"], found["invented"])


def test_options__a_shop_in_the_environment_counts(run: Callable, mine: str, monkeypatch: pytest.MonkeyPatch) -> None:
    run("shop", "--shop", mine, "currency=GBP")
    monkeypatch.setattr("shiftlore.knowledge.find_own_shop", lambda: Path(mine))
    text = flat(run("options", CASE).out)
    assert "GBP" in text and INVENTED in text, "a currency alone prices nothing"


def test_simulate__says_that_prices_are_examples(run: Callable) -> None:
    assert INVENTED in flat(run("simulate", "long5", "--vehicles", "1", "--policy", "overhaul").out)


def test_next__a_shop_file_that_is_not_there(run: Callable) -> None:
    ended = run("next", CASE, "--shop", "nowhere.yaml")
    assert 2 == ended.code and "no shop file nowhere.yaml" in ended.err and "labour_per_hour=95" in ended.err


def test_options__the_page_says_that_prices_are_examples(run: Callable, mine: str, tmp_path: Path) -> None:
    run("shop", "--shop", mine, "labour_per_hour=95", "atf_litre=14", "tax_percent=19")
    pages = [tmp_path / "example.html", tmp_path / "mine.html"]
    run("options", CASE, "--sheet", str(pages[0]))
    run("options", CASE, "--sheet", str(pages[1]), "--shop", mine)
    example, own = (path.read_text(encoding="utf-8") for path in pages)
    assert "these prices are invented" in example and "All prices include" not in example
    assert "these prices are invented" not in own and "All prices include 19 % tax." in own
