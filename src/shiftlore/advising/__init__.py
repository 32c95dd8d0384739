"""From a case to advice: the next steps and the owner's options, with prices and reasons."""

from shiftlore.advising.offering import (
    CHECK_FIRST,
    NOTHING,
    BudgetAdvice,
    Complaint,
    IfNotCured,
    LikelyArea,
    NeededFollowUp,
    Option,
    Options,
    offer_options,
)
from shiftlore.advising.options_risks import Risk
from shiftlore.advising.options_sureness import ChangingCheck, NotChecked, Sureness
from shiftlore.advising.pricing import CostLine, OptionCost
from shiftlore.advising.reasons import (
    CheckReason,
    JobReason,
    OutcomeReason,
    Shift,
    explain_check,
    explain_job,
    name_answer,
    name_cause,
    name_job,
    name_jobs,
)
from shiftlore.advising.situations import CaseSituation, offered_jobs, open_reveals, prepare_situation, price_acts
from shiftlore.advising.stepping import CostLines, Cured, NextStep, NextSteps, PlannedJobs, StopAdvice, next_steps

__all__ = [
    "CHECK_FIRST",
    "NOTHING",
    "BudgetAdvice",
    "CaseSituation",
    "ChangingCheck",
    "CheckReason",
    "Complaint",
    "CostLine",
    "CostLines",
    "Cured",
    "IfNotCured",
    "JobReason",
    "LikelyArea",
    "NeededFollowUp",
    "NextStep",
    "NextSteps",
    "NotChecked",
    "Option",
    "OptionCost",
    "Options",
    "OutcomeReason",
    "PlannedJobs",
    "Risk",
    "Shift",
    "StopAdvice",
    "Sureness",
    "explain_check",
    "explain_job",
    "name_answer",
    "name_cause",
    "name_job",
    "name_jobs",
    "next_steps",
    "offer_options",
    "offered_jobs",
    "open_reveals",
    "prepare_situation",
    "price_acts",
]
