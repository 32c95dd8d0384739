"""Options of a few cases on the project's own knowledge, worked out once and shared by the tests."""

from functools import cache

from shiftlore.advising import Options, offer_options
from shiftlore.advising.options_outlook import OwnersView, look_ahead
from shiftlore.cases import Answer, Case
from shiftlore.compiling import CompiledCase, compile_case, compile_unit
from shiftlore.knowledge import load_knowledge

SLIPS = {"slips": "yes", "fluid_smell_burnt": "yes", "fluid_colour": "dark"}
HARSH = {"shift_harsh_any": "yes", "fluid_level": "right", "fluid_smell_burnt": "no"}


@cache
def compiled(name: str = "slips") -> CompiledCase:
    """Compile a vehicle that slips with burnt fluid, or one that only bangs (`harsh`)."""
    answers = {key: Answer(key, grade) for key, grade in (SLIPS if name == "slips" else HARSH).items()}
    complaint = ("slips",) if name == "slips" else ("shift_harsh_any",)
    case = Case("long5", odometer_km=190_000, complaint=complaint, findings=answers)
    return compile_case(compile_unit(load_knowledge(), "long5"), case)


@cache
def view(name: str = "slips") -> OwnersView:
    """Prepare it for its owner."""
    return look_ahead(compiled(name))


@cache
def offered(name: str = "slips", budget: float | None = None) -> Options:
    """Offer its options."""
    return offer_options(compiled(name), budget=budget)
