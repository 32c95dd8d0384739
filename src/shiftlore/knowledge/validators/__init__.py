"""Every rule that the knowledge as a whole must keep: one function each, whose docstring is its manual page."""

from collections.abc import Callable

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.validators.coverage import (
    validate_idle_checks,
    validate_orphan_findings,
    validate_silent_causes,
    validate_uncured_causes,
)
from shiftlore.knowledge.validators.ids import (
    validate_areas,
    validate_check_ids,
    validate_code_findings,
    validate_damages,
    validate_general_findings,
    validate_hazards,
    validate_job_ids,
    validate_language_names,
    validate_look_alikes,
    validate_needed_prices,
    validate_stand_ins,
    validate_targets,
)
from shiftlore.knowledge.validators.numbers import validate_price_order, validate_probabilities, validate_shares
from shiftlore.knowledge.validators.shape import (
    validate_access_states,
    validate_grades,
    validate_instances,
    validate_state_cycles,
    validate_types,
)
from shiftlore.knowledge.validators.spelling import validate_file_names, validate_near_misses, validate_shared_ids
from shiftlore.knowledge.validators.textbook import validate_textbook_ids

VALIDATORS: tuple[Callable[[Knowledge], list[Problem]], ...] = (
    validate_targets,
    validate_look_alikes,
    validate_damages,
    validate_hazards,
    validate_stand_ins,
    validate_code_findings,
    validate_general_findings,
    validate_check_ids,
    validate_job_ids,
    validate_access_states,
    validate_needed_prices,
    validate_textbook_ids,
    validate_state_cycles,
    validate_grades,
    validate_instances,
    validate_types,
    validate_probabilities,
    validate_file_names,
    validate_shared_ids,
    validate_areas,
    validate_shares,
    validate_price_order,
    validate_silent_causes,
    validate_orphan_findings,
    validate_idle_checks,
    validate_uncured_causes,
    validate_near_misses,
    validate_language_names,
)

__all__ = ["VALIDATORS"]
