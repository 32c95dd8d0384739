"""Every rule that the knowledge as a whole must keep: one function each, whose docstring is its manual page."""

from collections.abc import Callable

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.rulebook import Knowledge
from shiftlore.knowledge.validators import ids, oversights, shape

VALIDATORS: tuple[Callable[[Knowledge], list[Problem]], ...] = (
    ids.validate_targets, ids.validate_look_alikes, ids.validate_damages, ids.validate_hazards,
    ids.validate_stand_ins, ids.validate_code_findings, ids.validate_general_findings, ids.validate_check_ids,
    ids.validate_job_ids, shape.validate_access_states, ids.validate_needed_prices, ids.validate_textbook_ids,
    shape.validate_state_cycles, shape.validate_grades, shape.validate_instances, shape.validate_types,
    shape.validate_probabilities, oversights.validate_file_names, oversights.validate_shared_ids, ids.validate_areas,
    shape.validate_shares, shape.validate_price_order, shape.validate_logo, oversights.validate_silent_causes,
    oversights.validate_orphan_findings, oversights.validate_idle_checks, oversights.validate_uncured_causes,
    oversights.validate_near_misses, oversights.validate_tags, ids.validate_sayings,
    ids.validate_followers, shape.validate_simulated, shape.validate_lives,
)  # fmt: skip
