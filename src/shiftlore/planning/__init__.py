"""Pure numbers: what is believed, what acts cost, and which to do next."""

from shiftlore.planning.beliefs import NOTHING_WRONG, SOMETHING_ELSE, Hypotheses, Weighing, weigh_faults
from shiftlore.planning.budgets import leaves_for_budget, list_steps, look_beyond
from shiftlore.planning.choosing import (
    RARE,
    Decision,
    LookAhead,
    Step,
    Stop,
    choose_step,
)
from shiftlore.planning.costs import (
    LEAST_MEANT,
    AccessNode,
    AccessTree,
    PricedCheck,
    PricedJob,
    SharedWork,
    Situation,
)
from shiftlore.planning.outlook import Bench, Outlook, PlanBook, bind_plans, start_bench, write_book
from shiftlore.planning.plans import JobPlan, plan_jobs, plan_quickly, tidy_plan
from shiftlore.planning.readings import (
    FindingTable,
    Layout,
    Oracle,
    Outcomes,
    join_outcomes,
    lay_out,
    tabulate_check,
    tabulate_grades,
    weigh_outcomes,
)
from shiftlore.planning.trees import DEPTH, LEAVING, Branch, Chance, TreeNode, grow_tree
from shiftlore.planning.waiting import NO_GAIN, change_first_work, find_first_work

__all__ = [
    "DEPTH",
    "LEAST_MEANT",
    "LEAVING",
    "NOTHING_WRONG",
    "NO_GAIN",
    "RARE",
    "SOMETHING_ELSE",
    "AccessNode",
    "AccessTree",
    "Bench",
    "Branch",
    "Chance",
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
    "PricedCheck",
    "PricedJob",
    "SharedWork",
    "Situation",
    "Step",
    "Stop",
    "TreeNode",
    "Weighing",
    "bind_plans",
    "change_first_work",
    "choose_step",
    "find_first_work",
    "grow_tree",
    "join_outcomes",
    "lay_out",
    "leaves_for_budget",
    "list_steps",
    "look_beyond",
    "plan_jobs",
    "plan_quickly",
    "start_bench",
    "tabulate_check",
    "tabulate_grades",
    "tidy_plan",
    "weigh_faults",
    "weigh_outcomes",
    "write_book",
]
