"""Numbers that cases have taught, laid over the rules: base rates, strengths of lines, and how often signs show by themselves.

The rules stay as they are written. An overlay says for each number what the rules hold, what it became, and on how much
that rests, so that a person can judge each line and strike it out.
"""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from shiftlore.basics import KnowledgeError, Mark, Problem
from shiftlore.compiling.expansion import ExpandedNode, Expansion, NodeLink
from shiftlore.knowledge import Knowledge
from shiftlore.knowledge.rulebook import OVERLAY
from shiftlore.reading import REQUIRED, Fields, Node, known_words, quoted, read_yaml

LETTER = "O"
HIGHEST_RATE = 1000.0
HIGHEST_SCALE = 1000.0
_P_LEAST = 1e-4


@dataclass(frozen=True, slots=True)
class Learned:
    """One number.

    Args:
        rules: what the rules hold; learned: what it became.
        there, of: how often it was so, and out of how many, as far as the cases can tell (parts of vehicles).
    """

    rules: float
    learned: float
    there: float = 0.0
    of: float = 0.0


_AS_IT_IS = Learned(1.0, 1.0)


@dataclass(frozen=True)
class Overlay:
    """All numbers that were learned.

    Args:
        base_rates: cause -> its share of complaints, per thousand.
        strengths: (cause or state, state or finding) -> how often the first brings the second about, 0 to 1.
        unexplained: factor on how often findings show by themselves.
        cases: how it was known (a word of an outcome, or a kind of record) -> number of cases.
    """

    base_rates: Mapping[str, Learned] = field(default_factory=dict)
    strengths: Mapping[tuple[str, str], Learned] = field(default_factory=dict)
    unexplained: Learned = _AS_IT_IS
    cases: Mapping[str, int] = field(default_factory=dict)


def with_overlay(knowledge: Knowledge, overlay: Overlay) -> Knowledge:
    """Give the same rules with these numbers laid over them; an overlay that lay there before is taken off."""
    _, plain = knowledge.worked_out.get(OVERLAY, (None, knowledge))
    laid = plain.vary()
    laid.worked_out[OVERLAY] = (overlay, plain)
    return laid


def count_taught(knowledge: Knowledge) -> str:
    """Say how many cases taught the numbers that lie over these rules."""
    overlay, _ = knowledge.worked_out.get(OVERLAY, (Overlay(), knowledge))
    total = sum(overlay.cases.values())
    return f"{total} {'case' if total == 1 else 'cases'}"


def lay_overlay(expansion: Expansion, overlay: Overlay) -> Expansion:
    """Give the rules of one unit with the numbers of an overlay; its states have links from causes alone.

    A strength moves the odds of every line that it speaks of by the same factor, so the gears keep their order.
    """
    templates = {key: cause.template for key, cause in expansion.causes.items()}
    templates |= {key: node.template for key, node in expansion.states.items()}

    def lay(node: ExpandedNode, factor: float) -> ExpandedNode:
        leak = scale_faults(node.leak, lambda p: min(p * factor, 1 - _P_LEAST))
        links = tuple(
            _lay_on_link(link, overlay.strengths.get((templates[link.parent], node.template))) for link in node.links
        )
        return node.vary(leak=leak, links=links)

    causes = dict(expansion.causes)
    for key, cause in causes.items():
        if (rate := overlay.base_rates.get(cause.template)) is not None:
            causes[key] = cause.vary(share=cause.share * rate.learned / rate.rules)
    scale = overlay.unexplained.learned / overlay.unexplained.rules
    return expansion.vary(
        causes=causes,
        states={key: lay(node, 1.0) for key, node in expansion.states.items()},
        findings={key: lay(node, scale) for key, node in expansion.findings.items()},
    )


def _lay_on_link(link: NodeLink, learned: Learned | None) -> NodeLink:
    if learned is None:
        return link
    factor = odds_of(learned.learned) / odds_of(learned.rules)
    rows = tuple(scale_faults(row, lambda p: p if p >= 1.0 else p * factor / (1 - p + p * factor)) for row in link.rows)
    return link.vary(rows=rows)


def scale_faults(pmf: tuple[float, ...], change: Callable[[float], float]) -> tuple[float, ...]:
    """Change how likely any grade but the sound one is; the faulty grades keep their proportions.

    Example:
        >>> scale_faults((0.5, 0.25, 0.25), lambda p: p / 2)
        (0.75, 0.125, 0.125)
    """
    fault = 1 - pmf[0]
    if fault <= 0:
        return pmf
    changed = change(fault)
    return (1 - changed, *(p * changed / fault for p in pmf[1:]))


def odds_of(p: float) -> float:
    """Give the odds of a chance, kept away from nothing and from certainty."""
    kept = min(max(p, _P_LEAST), 1 - _P_LEAST)
    return kept / (1 - kept)


def read_overlay(path: Path, knowledge: Knowledge) -> Overlay:
    """Read an overlay.

    Args:
        knowledge: the rules that it is laid over.
    Raises: KnowledgeError: carries every problem, each with its place and what to write instead.
    """
    node, problems = read_yaml(path, str(path), LETTER)
    overlay = Overlay() if node is None else _OverlayReader(node, problems, knowledge).read()
    if errors := [problem for problem in problems if problem.severity == "error"]:
        raise KnowledgeError(errors)
    return overlay


class _OverlayReader:
    """Reads the keys of an overlay; gathers problems."""

    def __init__(self, node: Node, problems: list[Problem], knowledge: Knowledge):
        self.fields, self.problems = Fields(node, problems, "list of learned numbers"), problems
        self.causes, self.parents = knowledge.causes, {one.id for one in knowledge.parents}
        self.children = {one.id for one in knowledge.children}

    def read(self) -> Overlay:
        """Read every key in turn."""
        self.fields.has("shiftlore")
        cases = {name: int(node.text) for name, _, node in self.fields.pairs("cases") if node.text.isdecimal()}
        rates = self._table(self.fields, self.fields.pairs("base_rates"), self.causes, HIGHEST_RATE)
        strengths: dict[tuple[str, str], Learned] = {}
        for parent, mark, node in self.fields.pairs("strengths"):
            if self._is_known(self.fields, parent, mark, self.parents):
                own = Fields(node, self.problems, "list of strengths")
                table = self._table(own, own.own_pairs(), self.children, 1.0)
                strengths |= {(parent, child): learned for child, learned in table.items()}
        scale = self.fields.get("unexplained")
        unexplained = _AS_IT_IS if scale is None else self._number(scale, HIGHEST_SCALE)
        self.fields.finish()
        return Overlay(rates, strengths, unexplained, cases)

    def _table(
        self, fields: Fields, pairs: Iterable[tuple[str, Mark, Node]], known: Collection[str], most: float
    ) -> dict[str, Learned]:
        return {
            name: self._number(node, most) for name, mark, node in pairs if self._is_known(fields, name, mark, known)
        }

    def _is_known(self, fields: Fields, name: str, mark: Mark, known: Collection[str]) -> bool:
        if name in known:
            return True
        fields.add(mark, "020", f"The rules have no {quoted(name)}", known_words(name, known))
        return False

    def _number(self, node: Node, most: float) -> Learned:
        fields, n_before = Fields(node, self.problems, "learned number"), len(self.problems)
        rules, learned = (fields.number(key, 0, most, REQUIRED) for key in ("rules", "learned"))
        there, of = (fields.number(key, 0, None, 0.0) for key in ("there", "of"))
        fields.finish()
        if len(self.problems) == n_before and min(rules, learned) <= 0:
            fields.add(
                fields.mark, "015", "Nothing can be learned to be 0", "Write a number above 0, or strike this line out."
            )
        return Learned(rules, learned, there, of)
