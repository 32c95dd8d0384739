"""What to do next, what it costs, and when to stop checking."""

from shiftlore.decisions.access import AccessNode, AccessTree
from shiftlore.decisions.acts import Check, Job, Situation
from shiftlore.decisions.batches import PlanValue, evaluate_plan, plan_exactly
from shiftlore.decisions.beliefs import Hypotheses
from shiftlore.decisions.bounds import bound_inside, bound_known_fault
from shiftlore.decisions.choosing import Choice, LookAhead, Step, StepCost, Stop, choose_step
from shiftlore.decisions.naming import name_answer, name_cause, name_job, name_jobs
from shiftlore.decisions.options import (
    CHECK_FIRST,
    NOTHING,
    BudgetAdvice,
    Complaint,
    FollowUp,
    IfNotCured,
    LikelyArea,
    Option,
    Options,
    offer_options,
)
from shiftlore.decisions.options_costs import CostLine, OptionCost
from shiftlore.decisions.options_risks import Risk
from shiftlore.decisions.options_sureness import ChangingCheck, NotChecked, Sureness
from shiftlore.decisions.oracles import Oracle, Outcomes, TableOracle, join_outcomes
from shiftlore.decisions.ordering import (
    Block,
    order_by_access,
    order_by_odds,
    order_inspections,
    order_plainly,
    order_with_updates,
)
from shiftlore.decisions.persistence import believe_after_failure, carry_over
from shiftlore.decisions.planbook import PlanBook, write_book
from shiftlore.decisions.plans import JobPlan, plan_jobs
from shiftlore.decisions.policies import (
    cheapest_check_first,
    follow_planner,
    in_fixed_order,
    likeliest_cause_first,
    straight_to,
)
from shiftlore.decisions.quick import Action, Policy, QuickPlanner, choose_quickly
from shiftlore.decisions.ranking import (
    Audit,
    Fit,
    RankedArea,
    RankedCause,
    Ranking,
    Reason,
    audit_ranking,
    rank_causes,
)
from shiftlore.decisions.reasons import (
    CheckReason,
    JobReason,
    OutcomeReason,
    Shift,
    explain_check,
    explain_job,
)
from shiftlore.decisions.reviewing import Review, TextbookResult, review_knowledge, textbook_as_case
from shiftlore.decisions.schemas import next_schema, simulate_schema
from shiftlore.decisions.simulation import (
    DrawnVehicle,
    PolicyResult,
    Run,
    Vehicle,
    run_vehicle,
    simulate_policies,
    summarise_runs,
)
from shiftlore.decisions.situations import CaseSituation, prepare_situation
from shiftlore.decisions.stepping import (
    CostLines,
    Cured,
    NextStep,
    NextSteps,
    PlannedJobs,
    StopAdvice,
    next_steps,
)
from shiftlore.decisions.trees import Branch, TreeNode, count_nodes, grow_tree
from shiftlore.decisions.unit_simulation import Simulation, simulate_unit
from shiftlore.decisions.worth import value_information

__all__ = [
    "CHECK_FIRST",
    "NOTHING",
    "AccessNode",
    "AccessTree",
    "Action",
    "Audit",
    "Block",
    "Branch",
    "BudgetAdvice",
    "CaseSituation",
    "ChangingCheck",
    "Check",
    "CheckReason",
    "Choice",
    "Complaint",
    "CostLine",
    "CostLines",
    "Cured",
    "DrawnVehicle",
    "Fit",
    "FollowUp",
    "Hypotheses",
    "IfNotCured",
    "Job",
    "JobPlan",
    "JobReason",
    "LikelyArea",
    "LookAhead",
    "NextStep",
    "NextSteps",
    "NotChecked",
    "Option",
    "OptionCost",
    "Options",
    "Oracle",
    "OutcomeReason",
    "Outcomes",
    "PlanBook",
    "PlanValue",
    "PlannedJobs",
    "Policy",
    "PolicyResult",
    "QuickPlanner",
    "RankedArea",
    "RankedCause",
    "Ranking",
    "Reason",
    "Review",
    "Risk",
    "Run",
    "Shift",
    "Simulation",
    "Situation",
    "Step",
    "StepCost",
    "Stop",
    "StopAdvice",
    "Sureness",
    "TableOracle",
    "TextbookResult",
    "TreeNode",
    "Vehicle",
    "audit_ranking",
    "believe_after_failure",
    "bound_inside",
    "bound_known_fault",
    "carry_over",
    "cheapest_check_first",
    "choose_quickly",
    "choose_step",
    "count_nodes",
    "evaluate_plan",
    "explain_check",
    "explain_job",
    "follow_planner",
    "grow_tree",
    "in_fixed_order",
    "join_outcomes",
    "likeliest_cause_first",
    "name_answer",
    "name_cause",
    "name_job",
    "name_jobs",
    "next_schema",
    "next_steps",
    "offer_options",
    "order_by_access",
    "order_by_odds",
    "order_inspections",
    "order_plainly",
    "order_with_updates",
    "plan_exactly",
    "plan_jobs",
    "prepare_situation",
    "rank_causes",
    "review_knowledge",
    "run_vehicle",
    "simulate_policies",
    "simulate_schema",
    "simulate_unit",
    "straight_to",
    "summarise_runs",
    "textbook_as_case",
    "value_information",
    "write_book",
]
