"""Options of a few cases on the project's own knowledge, worked out once and shared by the tests."""

from functools import cache

from shiftlore.advising import Options, offer_options
from shiftlore.advising.options_outlook import OwnersView, look_ahead
from shiftlore.compiling import CompiledCase
from support.trade import compiled_of

SLIPS = {"slips": "yes", "fluid_smell_burnt": "yes", "fluid_colour": "dark"}
HARSH = {"shift_harsh_any": "yes", "fluid_level": "right", "fluid_smell_burnt": "no"}


@cache
def compiled(name: str = "slips") -> CompiledCase:
    """Compile a vehicle that slips with burnt fluid, or one that only bangs (`harsh`)."""
    answers, complaint = (SLIPS, "slips") if name == "slips" else (HARSH, "shift_harsh_any")
    return compiled_of(answers, odometer_km=190_000, complaint=(complaint,))


@cache
def view(name: str = "slips") -> OwnersView:
    """Prepare it for its owner."""
    return look_ahead(compiled(name))


@cache
def offered(name: str = "slips", budget: float | None = None) -> Options:
    """Offer its options."""
    return offer_options(compiled(name), budget=budget)
