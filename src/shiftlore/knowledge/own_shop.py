"""What a shop sets for itself, in a file of its own: rate, tax, currency, prices, name, logo, unit sheets.

The file stands outside the program, so no update or other installation loses it. It holds only what differs from the
shop and the price book of the knowledge; prices in it are net, and what the program reckons with includes the tax.
"""

import contextlib
import json
import os
import re
import time
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path
from typing import Any

from msgspec import field

import shiftlore.reading as reading  # whose `set_value` brings a library that whoever only reads does without
from shiftlore.basics.holding import Hold
from shiftlore.basics.problems import KnowledgeError, Mark, Problem, UsageProblem
from shiftlore.basics.structs import Value
from shiftlore.basics.whole_files import new_file_mode, read_bounded, write_whole
from shiftlore.knowledge.files import SHOP_PLACE
from shiftlore.knowledge.forms import DEAREST, SHOP, Key
from shiftlore.knowledge.intake import NO_WORDS, Intake, Opened, keep_once
from shiftlore.knowledge.readers import KEY_READERS
from shiftlore.knowledge.rulebook import Knowledge, Price
from shiftlore.reading import KNOWLEDGE_BYTES, Fields, Node, known_words, number_of, quoted, read_yaml
from shiftlore.sheets import read_sheet

PRICES, SHEETS, TAX = "prices", "units", "tax_percent"
CASEBOOK, OVERLAY = "casebook", "overlay"
_TOOLS = ("tools", "tools_borrowed")
_SHOPS_MONEY = ("labour_per_hour", "comeback_cost", "day_cost", "return_cost", "borrow_cost")
"""What the shop asks, so that the tax comes on top; what a day is worth to the owner is none of it."""
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d{1,2}(?:/|$))")
"""A comma before one or two last digits is a decimal point, as half the world writes it; 1,234 is in doubt and refused."""
_HEADING = "shop"
_NOT_OWN = ("source", "invented")
_CURRENCY_LETTERS = 3
_SPAN = ("low", "typical", "high")
ODD_RATE = 5.0
"""Part or multiple of the example at which a rate of labour is hardly meant so (judgement)."""
_PATIENCE_SECONDS, _PAUSE_SECONDS = 10.0, 0.02
"""How long another program may hold the file; it takes a part of a second."""
KEYS: Mapping[str, Key] = {
    key.name: key if key.default == "" else key.vary(default=None) for key in SHOP.keys if key.name not in _NOT_OWN
} | {
    TAX: Key(TAX, "number", None, low=0, high=100),
    SHEETS: Key(SHEETS, "text", None),
    CASEBOOK: Key(CASEBOOK, "text", None),
    OVERLAY: Key(OVERLAY, "text", None),
}
"""Keys that the file may hold beside `prices`, as they are read; all may be left out."""


class OwnShop(Value, frozen=True):
    """What stands in a shop's own file.

    Args:
        path: the file, whether it is there or not.
        settings: key of `KEYS` -> value; folders and files as they are written.
        prices: entry of the price book -> its net price.
    """

    path: Path
    settings: Mapping[str, Any] = field(default_factory=dict)
    prices: Mapping[str, Price] = field(default_factory=dict)

    def file_at(self, name: str) -> Path:
        """Give the place of a file or folder that is named in the settings, from where they stand."""
        return self.path.parent / Path(name).expanduser()


def read_own_shop(path: Path, knowledge: Knowledge) -> OwnShop:
    """Read a shop's own file; one that is not there, or holds comments at most, says nothing.

    Args:
        knowledge: whose price book and tools are meant.
    Raises: KnowledgeError: carries every problem, each with its place and what to write instead.
    """
    if not path.exists() or _is_blank(path):
        return OwnShop(path)
    node, problems = read_yaml(path, str(path))
    found = OwnShop(path) if node is None else _read(node, problems, path, knowledge)
    _raise_for(problems)
    return found


def _is_blank(path: Path) -> bool:
    """Tell whether nothing is left in a file but comments, as when the last setting was taken back."""
    with contextlib.suppress(OSError):
        lines = read_bounded(path, KNOWLEDGE_BYTES).splitlines()
        return not any(line.strip() and not line.lstrip().startswith(b"#") for line in lines)
    return False


def peek_setting(path: Path, name: str) -> str:
    """Give one text of a shop's file without loading rules, so that of the rest only the names are judged; "" if it has none.

    Raises: KnowledgeError: the file cannot be read, or has a name that no shop has: this one may be meant.
    """
    if not path.exists() or _is_blank(path):
        return ""
    node, problems = read_yaml(path, str(path))
    said = ""
    if node is not None:
        fields = _fields_of(node, problems)
        said = fields.text(name, "")
        for key in (*KEYS, PRICES, *_NOT_OWN):
            fields.has(key)
        fields.finish()
    _raise_for(problems)
    return said


def _raise_for(problems: list[Problem]) -> None:
    if errors := [problem for problem in problems if problem.severity == "error"]:
        raise KnowledgeError(errors)


def _fields_of(node: Node, problems: list[Problem]) -> Fields:
    below = node.get(_HEADING) if [key.text for key, _ in node.pairs] == [_HEADING] else None
    return Fields(below or node, problems, "shop")


def _read(node: Node, problems: list[Problem], path: Path, knowledge: Knowledge) -> OwnShop:
    fields = _fields_of(node, problems)
    opened = Opened(fields, Intake(NO_WORDS, problems), "shop")
    settings = {name: KEY_READERS[key.holds](opened, key) for name, key in KEYS.items() if fields.has(name)}
    _judge_tools(fields, knowledge)
    code = settings.get("currency")
    if code is not None and not (len(code) == _CURRENCY_LETTERS and code.isascii() and code.isupper()):
        advice = "Write the three capital letters of ISO 4217, such as EUR, GBP or USD."
        fields.add(fields.value_mark("currency"), "015", f"{quoted(code)} is no currency code", advice)
    prices = {}
    for name, mark, value in fields.pairs(PRICES):
        if name not in knowledge.prices:
            fields.add(mark, "020", f"The price book has no {quoted(name)}", known_words(name, knowledge.prices))
        elif (price := _read_price(name, value, problems, knowledge)) is not None:
            prices[name] = price
    for key in _NOT_OWN:  # a copy of the shipped file may have them
        fields.has(key)
    fields.finish()
    return OwnShop(path, {name: value for name, value in settings.items() if value is not None}, prices)


def _judge_tools(fields: Fields, knowledge: Knowledge) -> None:
    """Tell every tool that nothing uses, which is one spelled wrong."""
    known = known_tools(knowledge)
    for word, mark in (item for name in _TOOLS for item in fields.marked_list(name)):
        if word not in known:
            fields.add(mark, "020", f"Nothing uses a tool {quoted(word)}", known_words(word, known))


def known_tools(knowledge: Knowledge) -> set[str]:
    """Name every tool that the shop has or that a check or job uses."""
    used = {tool for acts in (knowledge.checks, knowledge.jobs) for act in acts.values() for tool in act.tools}
    return used.union(*(getattr(knowledge.shop, name) for name in _TOOLS) if knowledge.shop else ())


def _read_price(name: str, node: Node, problems: list[Problem], knowledge: Knowledge) -> Price | None:
    """Read a price: one number, or low, typical and high."""
    before = len(problems)
    if node.kind == "mapping":
        fields = Fields(node, problems, "price")
        low, typical, high = (fields.number(key, 0, DEAREST) for key in _SPAN)
        fields.finish()
    else:
        low = typical = high = number_of(node, problems, 0, DEAREST, "a price") or 0.0
    if len(problems) == before and not low <= typical <= high:
        what, advice = f"The price of {name} goes down from low to high", "Write low, typical and high in this order."
        problems.append(Problem(node.mark, "K125", what, advice))
    if len(problems) > before:
        return None
    return Price(name, knowledge.prices[name].label, low=low, typical=typical, high=high, mark=node.mark)


def lay_over(knowledge: Knowledge, own: OwnShop) -> Knowledge:
    """Give the knowledge with the shop's own settings, prices and unit sheets in place of its examples.

    Returns: the same knowledge where nothing is set; else one whose prices and rate include the tax.
    Raises: KnowledgeError: an own unit sheet has problems.
    """
    if knowledge.shop is None or not (own.settings or own.prices):
        return knowledge
    settings = dict(own.settings)
    folder, tax = settings.pop(SHEETS, None), settings.pop(TAX, 0.0)
    for key in (CASEBOOK, OVERLAY):  # places that others read
        settings.pop(key, None)
    if settings.get("logo"):
        settings["logo"] = str(own.file_at(settings["logo"]))
    mine = {"labour": "labour_per_hour" in settings, "parts": bool(own.prices)}
    shop = knowledge.shop.vary(**settings)
    gross = 1.0 + tax / 100.0
    shop = shop.vary(
        **{name: getattr(shop, name) * gross for name in _SHOPS_MONEY},
        tax_percent=tax,
        invented=tuple(what for what in shop.invented if not mine.get(what)),
    )
    prices = {
        name: price.vary(**{end: getattr(price, end) * gross for end in _SPAN})
        for name, price in {**knowledge.prices, **own.prices}.items()
    }
    sheets = (
        knowledge.sheets if folder is None else {**knowledge.sheets, **_read_sheets(own.file_at(folder), knowledge)}
    )
    return knowledge.vary(shop=shop, prices=prices, sheets=sheets)


def list_oddities(knowledge: Knowledge, own: OwnShop, changed: Collection[str]) -> list[str]:
    """Say what of the settings that were changed is hardly meant so, and what to write instead."""
    assert knowledge.shop is not None, "it was asked for"
    odd, names, rate = list[str](), [_whole_name(name, knowledge) for name in changed], _SHOPS_MONEY[0]
    settings = {name: own.settings[name] for name in names if name in own.settings}
    currency = own.settings.get("currency", knowledge.shop.currency)
    is_foreign = currency != knowledge.shop.currency
    if 0 < settings.get(TAX, 0) < 1:
        odd.append(f"The tax is {settings[TAX]:g} %. Of {100 * settings[TAX]:g} % write {TAX}={100 * settings[TAX]:g}.")
    usual, asked = knowledge.shop.labour_per_hour, settings.get(rate)
    if asked is not None and (asked == 0 or not (is_foreign or usual / ODD_RATE <= asked <= usual * ODD_RATE)):
        odd.append(
            f"An hour of work costs {asked:g} {currency}. Write what an hour is sold for, such as {rate}={usual:g}."
        )
    if "currency" in settings and is_foreign and len(own.prices) < len(knowledge.prices):
        left = len(knowledge.prices) - len(own.prices)
        odd.append(
            f"Nothing is changed into {currency}: {left} example prices of parts, and whatever you did not set, stay the "
            f"numbers that they were in {knowledge.shop.currency}. Set those that you use: shiftlore shop --prices"
        )
    return odd


def _read_sheets(folder: Path, knowledge: Knowledge) -> dict[str, Any]:
    """Read every unit sheet of a folder."""
    problems: list[Problem] = []
    if not folder.is_dir():
        advice = "Make it, or set units to the folder with your own unit sheets."
        problems.append(Problem(Mark(str(folder)), "K001", "There is no such folder of unit sheets", advice))
    found: dict[str, Any] = {}
    for path in sorted(folder.glob("*.yaml")):
        sheet, told = read_sheet(path)
        problems += told
        if sheet is not None:
            problems += knowledge.judge_tags(sheet)
            keep_once(sheet, sheet.mark, found, problems)
    _raise_for(problems)
    return found


def change_own_shop(own: OwnShop, knowledge: Knowledge, changes: Mapping[str, str]) -> OwnShop:
    """Set or take back settings and prices in a shop's own file; comments in it stay, and what others set just now.

    Args:
        own: what stood there when it was read.
        changes: key or entry of the price book -> what is written for it; "" goes back to the example. A price is one
            number, or low/typical/high. A list is written with commas; +word and -word add to it or take from it.
    Returns: what then stands there; the file is written whole or not at all.
    Raises: KnowledgeError: a value cannot be. UsageProblem: the file cannot be written, or there is no such key.
    """
    try:
        own.path.parent.mkdir(parents=True, exist_ok=True)
        with _held(Path(os.path.realpath(own.path))):
            return _change(read_own_shop(own.path, knowledge), knowledge, changes)
    except OSError as error:
        advice = f"Name another place with --shop FILE or in {SHOP_PLACE}."
        raise UsageProblem(f"{own.path} cannot be written: {error.strerror or error}. {advice}") from error


@contextlib.contextmanager
def _held(path: Path) -> Iterator[None]:
    """Keep others out between reading and writing, lest one takes back what the other has set.

    Raises: UsageProblem: another program has had the file for too long.
    """
    hold, until = Hold(path), time.monotonic() + _PATIENCE_SECONDS
    while other := hold.take():
        if time.monotonic() > until:
            advice = f"Try again; if nobody does, delete {hold.place}"
            raise UsageProblem(f"{path} is being changed elsewhere ({other}). {advice}.")
        time.sleep(_PAUSE_SECONDS)
    try:
        yield
    finally:
        hold.release()


def _change(own: OwnShop, knowledge: Knowledge, changes: Mapping[str, str]) -> OwnShop:
    heading: tuple[str, ...] = ()
    text = ""
    if own.path.exists():
        text = read_bounded(own.path, KNOWLEDGE_BYTES).decode("utf-8")
        root = read_yaml(text)[0]
        heading = (_HEADING,) if root is not None and [key.text for key, _ in root.pairs] == [_HEADING] else ()
    for typed, said in changes.items():
        name = _whole_name(typed, knowledge)
        path = (name,) if name in KEYS else (PRICES, name)
        if len(path) > 1 and name not in knowledge.prices:
            raise UsageProblem(f"There is nothing to set called {quoted(name)}. {_near(name, knowledge)}")
        value = _write_value(name, said.strip(), own, knowledge)
        try:
            text = (
                _leave_comments(text)
                if value is None and _is_last(text, path)
                else reading.set_value(text, (*heading, *path), value)
            )
        except ValueError as error:
            raise UsageProblem(f"{own.path} cannot be changed from here: {error}. Change it in an editor.") from error
        if value is not None:
            _judge(name, said, path, value, knowledge)
    return _save(own.path, text, knowledge)


def _is_last(text: str, path: tuple[str, ...]) -> bool:
    """Tell whether this is all that a file still says, or nothing is."""
    node = read_yaml(text)[0] if text.strip() else None
    steps: list[str] = []
    while node is not None and node.kind == "mapping" and len(node.pairs) == 1:
        key, node = node.pairs[0]
        steps += [key.text] if steps or key.text != _HEADING else []
    return tuple(steps) == (() if node is None else path)


def _leave_comments(text: str) -> str:
    lines = map(str.strip, text.splitlines())
    return "".join(f"{line}\n" for line in lines if line.startswith("#"))


def _whole_name(typed: str, knowledge: Knowledge) -> str:
    """Give the key that alone begins with what was typed, such as `labour`; else what was typed."""
    begun = [name for name in KEYS if name.startswith(typed + "_")]
    return begun[0] if len(begun) == 1 and typed not in KEYS and typed not in knowledge.prices else typed


def _near(name: str, knowledge: Knowledge) -> str:
    return (
        known_words(name, (*KEYS, *knowledge.prices))
        + " `shiftlore shop` shows every key, `shiftlore shop WORDS` finds prices."
    )


def _write_value(name: str, said: str, own: OwnShop, knowledge: Knowledge) -> str | None:
    """Write a value as it stands in the file; None takes it out."""
    if not said:
        return None
    if name not in KEYS or KEYS[name].holds in ("number", "whole"):
        said = _DECIMAL_COMMA.sub(".", said)
    if name not in KEYS:
        parts = said.split("/")
        return f"{{{', '.join(map(': '.join, zip(_SPAN, parts, strict=True)))}}}" if len(parts) == len(_SPAN) else said
    if KEYS[name].holds == "texts":
        words = [word.strip() for word in said.split(",") if word.strip()]
        if all(word[0] in "+-" for word in words):
            now: tuple[str, ...] = own.settings.get(name) or getattr(knowledge.shop, name)
            gone, more = ({word[1:] for word in words if word[0] == sign} for sign in "-+")
            if unknown := sorted(gone - set(now)):
                raise UsageProblem(f"There is no {unknown[0]} to take out. {known_words(unknown[0], now)}")
            words = [*(word for word in now if word not in gone), *sorted(more - set(now))]
        return f"[{', '.join(words)}]"
    if KEYS[name].holds in ("number", "whole"):
        return said
    return json.dumps(said, ensure_ascii=False)


def _judge(name: str, said: str, path: tuple[str, ...], value: str, knowledge: Knowledge) -> None:
    """Refuse a value that cannot be, naming what was typed."""
    node, problems = read_yaml(reading.set_value("", path, value))
    if node is not None:
        _read(node, problems, Path(), knowledge)
    if problems:
        told = " ".join(f"{problem.what}. {problem.write_instead}" for problem in problems)
        raise UsageProblem(f"{name}={said}: {told}")


def _save(path: Path, text: str, knowledge: Knowledge) -> OwnShop:
    node, problems = read_yaml(text, str(path)) if _leave_comments(text) != text else (None, [])
    found = OwnShop(path) if node is None else _read(node, problems, path, knowledge)
    _raise_for(problems)
    write_whole(Path(os.path.realpath(path)), text.encode("utf-8"), new_file_mode())
    return found
