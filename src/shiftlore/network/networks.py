"""A whole network, checked when it is made."""

from collections.abc import Mapping, Sequence
from functools import cached_property
from graphlib import CycleError, TopologicalSorter

from shiftlore.network.gates import Gate, NoisyMax, Table, Variable


class Network:
    """Variables and one gate for each; nothing can be changed afterwards.

    Args:
        variables: all variables.
        gates: exactly one per variable, in any order.
    Raises: ValueError: a gate is missing or doubled, a parent is unknown, a shape does not fit, or there is a cycle.
    """

    def __init__(self, variables: Sequence[Variable], gates: Sequence[Gate]) -> None:
        self.variables: Mapping[str, Variable] = {variable.id: variable for variable in variables}
        self.gates: Mapping[str, Gate] = {gate.child: gate for gate in gates}
        self._check_names(variables, gates)
        for gate in gates:
            self._check_shape(gate)
        self.order: tuple[str, ...] = self._sort()

    def _check_names(self, variables: Sequence[Variable], gates: Sequence[Gate]) -> None:
        """Refuse doubled ids and variables without exactly one gate."""
        if len(self.variables) != len(variables):
            raise ValueError("network: two variables carry the same id.")
        if len(self.gates) != len(gates):
            raise ValueError("network: a variable has two gates.")
        missing = self.variables.keys() ^ self.gates.keys()
        if missing:
            raise ValueError(f"network: exactly one gate per variable; look at {sorted(missing)}.")

    def _check_shape(self, gate: Gate) -> None:
        """Refuse unknown parents and tables whose axes do not fit the states."""
        unknown = [parent for parent in gate.parents if parent not in self.variables]
        if unknown:
            raise ValueError(f"{gate.child}: unknown parents {unknown}.")
        if gate.n_states != self.n_states(gate.child):
            raise ValueError(f"{gate.child}: {gate.n_states} states in the gate, {self.n_states(gate.child)} named.")
        wanted = tuple(self.n_states(parent) for parent in gate.parents)
        links = gate.links if isinstance(gate, NoisyMax) else ()
        found = gate.array.shape[:-1] if isinstance(gate, Table) else tuple(link.matrix.shape[0] for link in links)
        if found != wanted:
            raise ValueError(f"{gate.child}: the gate speaks of {found} parent states, the parents have {wanted}.")

    def _sort(self) -> tuple[str, ...]:
        """Put parents before children."""
        graph = {child: gate.parents for child, gate in self.gates.items()}
        try:
            return tuple(TopologicalSorter(graph).static_order())
        except CycleError as error:
            raise ValueError(f"network: the variables {error.args[1]} form a cycle.") from error

    def n_states(self, variable_id: str) -> int:
        """Count the states of one variable."""
        return self.variables[variable_id].n_states

    def is_root(self, variable_id: str) -> bool:
        """Tell whether a variable is a plain prior (a table without parents)."""
        gate = self.gates[variable_id]
        return isinstance(gate, Table) and not gate.parents

    @cached_property
    def roots(self) -> tuple[str, ...]:
        """Name the root variables, in the order of the variables."""
        return tuple(variable_id for variable_id in self.variables if self.is_root(variable_id))
