"""Pure numbers: what is believed, what acts cost, and which to do next."""

from shiftlore.planning.batches import PlanValue, evaluate_plan, plan_exactly
from shiftlore.planning.beliefs import NOTHING_WRONG, SOMETHING_ELSE, Hypotheses, Weighing, weigh_faults
from shiftlore.planning.choosing import NO_GAIN, Decision, LookAhead, Step, StepCost, Stop, choose_step, start_bench
from shiftlore.planning.costs import AccessNode, AccessTree, PricedCheck, PricedJob, Situation
from shiftlore.planning.ordering import bound_inside, bound_known_fault, order_by_access, order_with_updates
from shiftlore.planning.outlook import Bench, Outlook, PlanBook, bind_plans, write_book
from shiftlore.planning.plans import JobPlan, plan_jobs, plan_quickly, touch_probabilities
from shiftlore.planning.readings import (
    FindingTable,
    Layout,
    Oracle,
    Outcomes,
    join_independently,
    join_outcomes,
    lay_out,
    tabulate_check,
    tabulate_finding,
)
from shiftlore.planning.trees import Branch, TreeNode, count_nodes, grow_tree

__all__ = [
    "NOTHING_WRONG",
    "NO_GAIN",
    "SOMETHING_ELSE",
    "AccessNode",
    "AccessTree",
    "Bench",
    "Branch",
    "Decision",
    "FindingTable",
    "Hypotheses",
    "JobPlan",
    "Layout",
    "LookAhead",
    "Oracle",
    "Outcomes",
    "Outlook",
    "PlanBook",
    "PlanValue",
    "PricedCheck",
    "PricedJob",
    "Situation",
    "Step",
    "StepCost",
    "Stop",
    "TreeNode",
    "Weighing",
    "bind_plans",
    "bound_inside",
    "bound_known_fault",
    "choose_step",
    "count_nodes",
    "evaluate_plan",
    "grow_tree",
    "join_independently",
    "join_outcomes",
    "lay_out",
    "order_by_access",
    "order_with_updates",
    "plan_exactly",
    "plan_jobs",
    "plan_quickly",
    "start_bench",
    "tabulate_check",
    "tabulate_finding",
    "touch_probabilities",
    "weigh_faults",
    "write_book",
]
