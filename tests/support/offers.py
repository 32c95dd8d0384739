"""Options of a few cases on the project's own knowledge, worked out once and shared by the tests."""

from functools import cache

import numpy as np

from shiftlore.advising import Options, offer_options
from shiftlore.advising.options_outlook import OwnersView, look_ahead
from shiftlore.compiling import CompiledCase
from support.trade import compiled_of

SLIPS = {"slips": "yes", "fluid_smell_burnt": "yes", "fluid_colour": "dark"}
MILKY = {"fluid_milky": "yes", "shudder_light_throttle": "yes", "no_drive_any": "no"}
HARSH = {"shift_harsh_any": "yes", "fluid_level": "right", "fluid_smell_burnt": "no"}


@cache
def compiled(name: str = "slips") -> CompiledCase:
    """Compile a vehicle that slips with burnt fluid, one that only bangs (`harsh`), or one with water in it (`milky`)."""
    told = {"slips": (SLIPS, "slips"), "harsh": (HARSH, "shift_harsh_any"), "milky": (MILKY, "fluid_milky")}
    answers, complaint = told[name]
    return compiled_of(answers, odometer_km=190_000, complaint=(complaint,))


@cache
def view(name: str = "slips") -> OwnersView:
    """Prepare it for its owner."""
    return look_ahead(compiled(name))


@cache
def offered(name: str = "slips", budget: float | None = None) -> Options:
    """Offer its options."""
    return offer_options(compiled(name), budget=budget)


def only(severity: str) -> np.ndarray:
    """Be sure of the first cause of `compiled()` that ends so badly where it is driven on, shape (n_faults,)."""
    causes = compiled().expansion.causes
    position = next(
        i for i, cause in enumerate(compiled().causes) if causes[cause].cause.driven_on.severity == severity
    )
    p = np.zeros(len(compiled().faults.members))
    p[1 + position] = 1.0
    return p
