"""Signs of one made-up vehicle that cannot be had together, or only together: each is drawn by itself, and settled here."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace

from shiftlore.compiling import CompiledCase, Expansion, find_makers, is_ruled_out
from shiftlore.simulating import Drawn

MOST_ROUNDS = 4
"""A sign that is settled may bring another with it; no chain in the rules is longer."""


def settle_vehicle(case: CompiledCase, vehicle: Drawn, kept: Collection[str] = ()) -> Drawn:
    """Give the vehicle with its signs settled; it has come in with what it then shows; `kept` as of `settle_signs`."""
    expansion = case.expansion
    readings = settle_signs([case.causes[cause] for cause in vehicle.causes], expansion, vehicle.readings, kept)
    records = expansion.finding_records
    shown = tuple(name for name in readings if records[name].complaint and readings[name])
    return replace(vehicle, readings=readings, complaints=shown)


def settle_signs(
    causes: Collection[str], expansion: Expansion, readings: Mapping[str, int], kept: Collection[str] = ()
) -> dict[str, int]:
    """Settle signs of one vehicle: finding -> state.

    What a sign rules out is not there, nor what speaks against it; what it says too is there; two views of one thing show the
    same. What asks in general stays as it was drawn, for it weighs beside its parts: see `name_closer`.
    """
    signs = _Signs(causes, expansion, readings, kept)
    for _ in range(MOST_ROUNDS):
        before = dict(signs.readings)
        signs.settle()
        if before == signs.readings:
            break
    return signs.readings


def find_ruling(expansion: Expansion, readings: Mapping[str, int], finding: str) -> str | None:
    """Find the sign of a vehicle beside which another need not be spoken of: that it does not move, of how it shifts."""
    template = expansion.finding_records[finding].id
    for key, state in readings.items():
        if state and (template in expansion.finding_records[key].includes or is_ruled_out(expansion, key, finding)):
            return find_ruling(expansion, readings, key) or key
    return None


def name_closer(expansion: Expansion, readings: Mapping[str, int], finding: str) -> tuple[str, ...]:
    """Name what a vehicle shows of a sign that asks in general, where that was drawn as not there: its whine, of a noise."""
    if readings[finding]:
        return (finding,)
    parts = [
        key for name in expansion.finding_records[finding].general_of for key in expansion.of_template.get(name, ())
    ]
    closer = [one for part in parts if part in readings for one in name_closer(expansion, readings, part)]
    return tuple(dict.fromkeys(one for one in closer if readings[one])) or (finding,)


class _Signs:
    """The signs of one vehicle while they are settled."""

    def __init__(
        self, causes: Collection[str], expansion: Expansion, readings: Mapping[str, int], kept: Collection[str]
    ):
        self.expansion, self.readings, self.kept = expansion, dict(readings), kept
        self.causes, self._reached = causes, dict[str, frozenset[str]]()

    def settle(self) -> None:
        """Go through all signs once."""
        records = self.expansion.finding_records
        for key in self.readings:
            record = records[key]
            if len(record.includes) > 1 and all(self.readings.get(one) for one in record.includes):
                self._put(key, 1)
            if self.readings[key]:
                for name in record.includes:
                    self._put(name, 1)
                for name in self._named((*record.never_with, *record.denied_by)):
                    if self.expansion.findings[name].grades == ("no", "yes") and is_ruled_out(
                        self.expansion, key, name
                    ):
                        self._put(name, 0)
            for name in self._named(record.shows_with, key.removeprefix(record.id)):
                self._join(key, name)

    def _join(self, one: str, other: str) -> None:
        """Let two views of one thing show the same, unless a cause shows in one of them alone."""
        if any((cause in self._causes_of(one)) != (cause in self._causes_of(other)) for cause in self.causes):
            return
        held = [self.readings[name] for name in (one, other) if name in self.kept]
        state = held[0] if held else max(self.readings[one], self.readings[other])
        self._put(one, state)
        self._put(other, state)

    def _causes_of(self, finding: str) -> frozenset[str]:
        """List what a finding shows, by itself or through states."""
        if finding not in self._reached:
            self._reached[finding] = find_makers(self.expansion, finding)
        return self._reached[finding]

    def _named(self, templates: Collection[str], own: str = "") -> Iterator[str]:
        """Give the findings of this vehicle by their ids as written, and not what stands for one of them: reverse for a gear.

        Args:
            own: of templates the part that is meant; "" for all.
        """
        records = self.expansion.finding_records
        for template in templates:
            for name in self.expansion.of_template.get(template, ()):
                is_own = not own or name == template + own
                if name in self.readings and is_own and records[name].id == template:
                    yield name

    def _put(self, finding: str, state: int) -> None:
        if finding in self.readings and finding not in self.kept:
            self.readings[finding] = state
