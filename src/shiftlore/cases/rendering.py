"""Write a case as YAML that reads back as the same case, and that a person can go on editing."""

import json
import re

from shiftlore.cases.records import FORMAT_VERSION, Answer, Case
from shiftlore.reading import FORBIDDEN, bare_meaning

_PLAIN = re.compile(r"[A-Za-z_][A-Za-z0-9_]*([ -][A-Za-z0-9_]+)*")
_YES_NO = ("yes", "no")
_OTHER_READERS = ("y", "n")


def render_case(case: Case) -> str:
    """Write a case as YAML text; keys that say nothing are left out."""
    lines = [f"shiftlore: {FORMAT_VERSION}", f"unit: {_text(case.unit)}", f"odometer_km: {_number(case.odometer_km)}"]
    if case.background:
        lines += ["background:", *(f"  {_text(key)}: {_answer_word(value)}" for key, value in case.background.items())]
    if case.complaint:
        lines.append(f"complaint: [{', '.join(map(_text, case.complaint))}]")
    if case.findings or case.unanswered:
        lines += ["findings:", *(f"  {_text(key)}: {_answer(answer)}" for key, answer in case.findings.items())]
        lines += [f"  {_text(key)}: null" for key in case.unanswered if key not in case.findings]
    if case.done:
        lines.append(f"done: [{', '.join(map(_text, case.done))}]")
    if case.access:
        lines.append(f"access: {_text(case.access)}")
    if case.budget is not None:
        lines.append(f"budget: {_number(case.budget)}")
    if case.asked:
        lines.append(f"asked: [{', '.join(map(_text, case.asked))}]")
    lines += [f"{key}: {_quoted(value)}" for key, value in (("shop", case.shop), ("note", case.note)) if value.strip()]
    return "\n".join(lines) + "\n"


def _answer(answer: Answer) -> str:
    if answer.doubt is None:
        return _answer_word(answer.grade)
    return f"{{is: {_answer_word(answer.grade)}, doubt: {_text(answer.doubt)}}}"


def _answer_word(word: str) -> str:
    """Write yes and no bare, because the place asks for them."""
    return word if word in _YES_NO else _text(word)


def _text(text: str) -> str:
    """Write a text bare where YAML leaves it alone (some readers also turn y and n), else in quotes."""
    is_safe = _PLAIN.fullmatch(text) and bare_meaning(text) is None and text.lower() not in _OTHER_READERS
    return text if is_safe else _quoted(text)


def _quoted(text: str) -> str:
    """Write a text in double quotes; JSON's escapes are YAML's too. Unprintable characters become spaces."""
    return json.dumps(FORBIDDEN.sub(" ", text), ensure_ascii=False)


def _number(value: float | None) -> str:
    if value is None:
        return "null"
    return str(int(value)) if value == int(value) else f"{value:.6f}".rstrip("0").rstrip(".")
