"""From a case to advice: the next steps and the owner's options, with prices and reasons.

Explanations and the owner's options are imported when they are first asked for.
"""

from typing import TYPE_CHECKING

from shiftlore.advising.job_cures import cures_of
from shiftlore.advising.looks_first import is_made_for, place_check
from shiftlore.advising.pricing import PriceSpan
from shiftlore.advising.reasons import (
    BUDGET,
    MOST_CHECKS,
    RARE,
    CheckReason,
    JobReason,
    OutcomeReason,
    explain_check,
    explain_job,
    name_cause,
    name_job,
    name_jobs,
    say_outcome,
    say_share,
    tell_check,
    tell_job,
)
from shiftlore.advising.situations import (
    EXCHANGE,
    CaseSituation,
    EngineOracle,
    choose_safely,
    closing_first,
    least_cure,
    list_open_checks,
    offered_jobs,
    open_reveals,
    price_acts,
    tabulate_findings,
)
from shiftlore.advising.stepping import CLOSED, NextStep, NextSteps, describe_step, next_steps
from shiftlore.basics import open_later

if TYPE_CHECKING:
    from shiftlore.advising.explaining import Explanation, Told, explain_record
    from shiftlore.advising.offering import Options, offer_options
    from shiftlore.advising.options_asked import LeftOut, name_asked
    from shiftlore.advising.options_records import Option
    from shiftlore.advising.options_risks import Risk, put_likely_first
    from shiftlore.advising.options_sureness import NotChecked

__getattr__ = open_later(
    __name__,
    {
        "explaining": ("Explanation", "Told", "explain_record"),
        "offering": ("Options", "offer_options"),
        "options_asked": ("LeftOut", "name_asked"),
        "options_records": ("Option",),
        "options_risks": ("Risk", "put_likely_first"),
        "options_sureness": ("NotChecked",),
    },
)

__all__ = [
    "BUDGET",
    "CLOSED",
    "EXCHANGE",
    "MOST_CHECKS",
    "RARE",
    "CaseSituation",
    "CheckReason",
    "EngineOracle",
    "Explanation",
    "JobReason",
    "LeftOut",
    "NextStep",
    "NextSteps",
    "NotChecked",
    "Option",
    "Options",
    "OutcomeReason",
    "PriceSpan",
    "Risk",
    "Told",
    "choose_safely",
    "closing_first",
    "cures_of",
    "describe_step",
    "explain_check",
    "explain_job",
    "explain_record",
    "is_made_for",
    "least_cure",
    "list_open_checks",
    "name_asked",
    "name_cause",
    "name_job",
    "name_jobs",
    "next_steps",
    "offer_options",
    "offered_jobs",
    "open_reveals",
    "place_check",
    "price_acts",
    "put_likely_first",
    "say_outcome",
    "say_share",
    "tabulate_findings",
    "tell_check",
    "tell_job",
]
