"""The tables of one case as a network that remembers its YAML lines, for whoever wants to look at it, check it or hand it on.

The network has one root, the fault; hidden states that the fault brings about; and findings that the fault and the
states bring about (leaky noisy-OR and noisy-MAX). It says the same as the tables that the engine works on.
"""

from collections.abc import Mapping

import numpy as np

from shiftlore.compiling.expansion import Expansion
from shiftlore.compiling.gates import ROOT
from shiftlore.exact import Doubted, FloatArray, HubTables
from shiftlore.network import Gate, Network, NoisyLink, NoisyMax, Table, Variable

NOT_ABOVE, REACHED = "__not_above", "__reached"
"""What is put behind a doubted finding's id: two signs of their own say what the doubtful words say."""


def assemble_network(
    tables: HubTables, expansion: Expansion, evidence: Mapping[str, int | Doubted] | None = None
) -> Network:
    """Write tables as a network.

    Args:
        expansion: where nodes, their grades and their places come from.
        evidence: answers; for doubted ones the signs that `observe` names are added.
    """
    variables = [Variable(ROOT, tables.root_states)]
    gates: list[Gate] = [Table(ROOT, (), tables.prior)]
    for key, p_hidden in zip(tables.hidden, tables.p_hidden, strict=True):
        node = expansion.states[key]
        variables.append(Variable(key, node.grades))
        gates.append(_write_gate(key, np.array([1 - p_hidden, np.ones_like(p_hidden)]), [], node.mark))
    for key, gate in tables.gates.items():
        node = expansion.findings[key]
        variables.append(Variable(key, node.grades))
        parents = [(tables.hidden[h], row) for h, row in zip(gate.hidden, gate.cum_hidden, strict=True)]
        gates.append(_write_gate(key, gate.cum_root, parents, node.mark))
        answer = (evidence or {}).get(key)
        if isinstance(answer, Doubted):
            for name, cum_root, own in _write_doubt(key, gate.cum_root, parents, answer):
                variables.append(Variable(name, ("no", "yes")))
                gates.append(_write_gate(name, cum_root, own, node.mark))
    return Network(variables, gates)


def observe(evidence: Mapping[str, int | Doubted]) -> dict[str, int]:
    """Give the observations that say the same as the answers: variable -> state."""
    observed: dict[str, int] = {}
    for key, answer in evidence.items():
        if not isinstance(answer, Doubted):
            observed[key] = int(answer)
            continue
        observed[key + NOT_ABOVE] = 0
        if answer.grade:
            observed[key + REACHED] = 1
    return observed


Parents = list[tuple[str, FloatArray]]


def _write_doubt(
    key: str, cum_root: FloatArray, parents: Parents, answer: Doubted
) -> list[tuple[str, FloatArray, Parents]]:
    """Write a doubted answer as signs: nothing noticed above the grade, something seen or imagined at it."""
    j, seen = answer.grade, 1 - answer.overlooked

    def two(below: FloatArray) -> FloatArray:
        return np.array([below, np.ones_like(below)])

    thinned = [(name, two(1 - seen * (1 - row[j]))) for name, row in parents]
    signs: list[tuple[str, FloatArray, Parents]] = [(key + NOT_ABOVE, two(1 - seen * (1 - cum_root[j])), thinned)]
    if j:
        reached = [(name, two(_over(row[j - 1], row[j]))) for name, row in parents]
        signs.append((key + REACHED, two((1 - answer.imagined) * _over(cum_root[j - 1], cum_root[j])), reached))
    return signs


def _write_gate(key: str, cum_root: FloatArray, parents: Parents, mark: object) -> NoisyMax:
    """Write one gate: the leak, one link from the fault, one from each state."""
    leak = cum_root[:, :1]
    relative = np.minimum(np.divide(cum_root, leak, out=np.ones_like(cum_root), where=leak > 0), 1.0)
    links = []
    if np.any(relative[:-1] < 1):
        links.append(NoisyLink(ROOT, _part(relative.T)))
    links += [NoisyLink(name, _part(np.array([np.ones_like(row), row]))) for name, row in parents]
    return NoisyMax(key, _part(leak[:, 0]), tuple(links), mark=mark)


def _over(below: FloatArray, top: FloatArray) -> FloatArray:
    """Divide; 0 where the top is 0: what is surely above the grade never falls short of it."""
    return np.divide(below, top, out=np.zeros_like(below), where=top > 0)


def _part(cumulated: FloatArray) -> FloatArray:
    """Turn cumulated rows into pmfs; where two grades are equal but for rounding nothing is left between them."""
    return np.maximum(np.diff(cumulated, axis=-1, prepend=0.0), 0.0)
