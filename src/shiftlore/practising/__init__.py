"""Practice on made-up vehicles: drawn, asked about, checked, repaired, paid for, and judged beside the planner."""

from shiftlore.practising.exercises import (
    HARDEST,
    LEVELS,
    Exercise,
    Score,
    Wish,
    check_area,
    choose_area,
    choose_unit,
    draw_exercise,
)
from shiftlore.practising.judging import (
    Judged,
    Planned,
    PlannerWork,
    Verdict,
    judge_act,
    judge_round,
    plan_next,
    run_planner,
)
from shiftlore.practising.lines import (
    HELP_LINES,
    Bench,
    Opened,
    Show,
    Turn,
    list_checks,
    list_jobs,
    list_known,
    offer_acts,
    open_act,
    price_act,
    take_line,
)
from shiftlore.practising.practice_files import (
    HIGHEST_SEED,
    Practice,
    load_practice,
    read_practice,
    render_practice,
    resume,
    save_practice,
)
from shiftlore.practising.rounds import Act, Made, Round, begin_round, introduce, name_act, replay

__all__ = [
    "HARDEST", "HELP_LINES", "HIGHEST_SEED", "LEVELS", "Act", "Bench", "Exercise", "Judged", "Made", "Opened", "Planned",
    "PlannerWork", "Practice", "Round", "Score", "Show", "Turn", "Verdict", "Wish", "begin_round", "check_area", "choose_area",
    "choose_unit", "draw_exercise", "introduce", "judge_act", "judge_round", "list_checks", "list_jobs", "list_known",
    "load_practice", "name_act", "offer_acts", "open_act", "plan_next", "price_act", "read_practice", "render_practice",
    "replay", "resume", "run_planner", "save_practice", "take_line",
]  # fmt: skip
