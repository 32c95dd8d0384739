"""One option for the owner, and what comes with it."""

from dataclasses import dataclass

from shiftlore.advising.options_outlook import LikelyArea
from shiftlore.advising.pricing import OptionCost

NOTHING = "nothing"
"""Id and kind of doing nothing for now."""


@dataclass(frozen=True, slots=True)
class NeededFollowUp:
    """What must follow, and who can do it: `shop` or `equipped_shop`."""

    id: str
    label: str
    says: str
    who: str


LEAST_NAMED = 0.2
"""What would cure it more rarely after a failure is not named to the owner as what comes next: judgement."""


@dataclass(frozen=True, slots=True)
class IfNotCured:
    """What comes next if an option does not help.

    Args:
        jobs: ids of the next jobs; empty where nothing more is worth doing.
        label, cost: of these.
        saved_together: what would be saved by ordering both in one go, because things are opened once.
        already_paid: ids of levels that stay open, or of follow-ups that need not be done again.
        left: areas in which the fault then most likely lies.
        p_cured: chance that these jobs cure it then.
    """

    jobs: tuple[str, ...]
    label: str
    cost: OptionCost
    saved_together: float
    already_paid: tuple[str, ...]
    left: tuple[LikelyArea, ...]
    p_cured: float

    @property
    def is_guess(self) -> bool:
        """Whether nobody names them before the vehicle was looked at again."""
        return self.p_cured < LEAST_NAMED


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One option for the owner.

    Args:
        kind: ``nothing``, ``check``, ``service``, ``job``, ``bundle``, ``overhaul`` or ``exchange``.
        jobs: ids of jobs; of a check first, the job that it leads to most often.
        job_kinds: kinds of these jobs, in the same order.
        checks: ids of the checks, for a check first.
        check_ways: how they are made: `look`, `road`, `scan`, `measure`, `open`, or by asking.
        cost: of all that the option contains; of a check first with the job that it leads to, typical as expected.
        first_cost: what is to be paid before it is decided again; for a check first the check alone.
        p_cured: chance that the complaint is gone; low and high are its 5th and 95th percentile.
        expected_total: what the advice goes by: expected cost of it and of all that follows until the complaint is gone or
            given up, a vehicle that nobody cures counted in; of what a budget buys, with no more than it paid in all.
        paid_in_the_end: what is paid on average for it and all that follows, if the work goes on until the complaint is
            gone or nothing more is worth doing, whatever the budget; cured_in_the_end: how often it is then gone.
        days: how long the vehicle stands.
        within_budget: whether all of it is; of a check first, whether the check is.
        repair_within_budget: of a check first, whether the repair that it leads to is too.
        advised: whether it has the lowest expected total of those within the budget; a check that the next steps begin with
            goes before doing nothing, whose total counts that nothing may be wrong.
        asked: whether somebody asked for it by name.
        waiting: of a check first, what the time that the vehicle waits for it is worth; it is no part of the prices.
        tried: what came of such work when it was done for this before: ``came_back``, ``not_cured``, or "".
    """

    id: str
    kind: str
    label: str
    says: str
    jobs: tuple[str, ...] = ()
    job_kinds: tuple[str, ...] = ()
    checks: tuple[str, ...] = ()
    check_ways: tuple[str, ...] = ()
    cost: OptionCost
    first_cost: OptionCost
    p_cured: float = 0.0
    p_cured_low: float = 0.0
    p_cured_high: float = 0.0
    expected_total: float
    paid_in_the_end: float = 0.0
    cured_in_the_end: float = 0.0
    on_frontier: bool = True
    within_budget: bool
    repair_within_budget: bool = True
    days: float = 0.0
    follow_ups: tuple[NeededFollowUp, ...] = ()
    not_covered: str
    if_not_cured: IfNotCured | None = None
    if_nothing_done: str
    cautions: tuple[str, ...] = ()
    advised: bool = False
    asked: bool = False
    waiting: float = 0.0
    tried: str = ""

    @property
    def is_paid(self) -> bool:
        """Whether the budget pays all of it, the repair after a check included."""
        return self.within_budget and self.repair_within_budget
