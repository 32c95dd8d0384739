"""What to do next, what it costs, and when to stop checking."""

from shiftlore.decisions.access import AccessNode, AccessTree
from shiftlore.decisions.acts import Check, Job, Situation
from shiftlore.decisions.batches import PlanValue, evaluate_plan, plan_exactly
from shiftlore.decisions.beliefs import Hypotheses
from shiftlore.decisions.bounds import bound_inside, bound_known_fault
from shiftlore.decisions.choosing import Choice, LookAhead, Step, StepCost, Stop, choose_step
from shiftlore.decisions.oracles import Oracle, Outcomes, TableOracle, join_outcomes
from shiftlore.decisions.ordering import Block, order_by_access, order_by_odds, order_plainly, order_with_updates
from shiftlore.decisions.planbook import PlanBook, write_book
from shiftlore.decisions.plans import JobPlan, plan_jobs
from shiftlore.decisions.worth import value_information

__all__ = [
    "AccessNode",
    "AccessTree",
    "Block",
    "Check",
    "Choice",
    "Hypotheses",
    "Job",
    "JobPlan",
    "LookAhead",
    "Oracle",
    "Outcomes",
    "PlanBook",
    "PlanValue",
    "Situation",
    "Step",
    "StepCost",
    "Stop",
    "TableOracle",
    "bound_inside",
    "bound_known_fault",
    "choose_step",
    "evaluate_plan",
    "join_outcomes",
    "order_by_access",
    "order_by_odds",
    "order_plainly",
    "order_with_updates",
    "plan_exactly",
    "plan_jobs",
    "value_information",
    "write_book",
]
