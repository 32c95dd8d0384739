"""Every rule that the knowledge as a whole must keep; one small function a file, each its own manual page."""

from collections.abc import Callable

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.validators.access_states import validate_access_states
from shiftlore.knowledge.validators.areas import validate_areas
from shiftlore.knowledge.validators.check_ids import validate_check_ids
from shiftlore.knowledge.validators.code_findings import validate_code_findings
from shiftlore.knowledge.validators.damages import validate_damages
from shiftlore.knowledge.validators.file_names import validate_file_names
from shiftlore.knowledge.validators.general_findings import validate_general_findings
from shiftlore.knowledge.validators.grades import validate_grades
from shiftlore.knowledge.validators.hazards import validate_hazards
from shiftlore.knowledge.validators.idle_checks import validate_idle_checks
from shiftlore.knowledge.validators.instances import validate_instances
from shiftlore.knowledge.validators.job_ids import validate_job_ids
from shiftlore.knowledge.validators.look_alikes import validate_look_alikes
from shiftlore.knowledge.validators.near_misses import validate_near_misses
from shiftlore.knowledge.validators.needed_prices import validate_needed_prices
from shiftlore.knowledge.validators.orphan_findings import validate_orphan_findings
from shiftlore.knowledge.validators.price_order import validate_price_order
from shiftlore.knowledge.validators.probabilities import validate_probabilities
from shiftlore.knowledge.validators.shared_ids import validate_shared_ids
from shiftlore.knowledge.validators.shares import validate_shares
from shiftlore.knowledge.validators.silent_causes import validate_silent_causes
from shiftlore.knowledge.validators.stand_ins import validate_stand_ins
from shiftlore.knowledge.validators.state_cycles import validate_state_cycles
from shiftlore.knowledge.validators.targets import validate_targets
from shiftlore.knowledge.validators.textbook_ids import validate_textbook_ids
from shiftlore.knowledge.validators.types import validate_types
from shiftlore.knowledge.validators.uncured_causes import validate_uncured_causes

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
)

__all__ = ["VALIDATORS"]
