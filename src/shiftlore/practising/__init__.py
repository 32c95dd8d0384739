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
    JudgedAct,
    Planned,
    PlannerWork,
    Verdict,
    judge_act,
    judge_round,
    plan_next,
    run_planner,
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
from shiftlore.practising.published_cases import choose_repair, find_repair, make_exercise
from shiftlore.practising.rounds import Made, Move, Round, begin_round, introduce, name_act, replay
from shiftlore.practising.typing_in import (
    HELP_LINES,
    OpenedAct,
    Reaction,
    Show,
    Workplace,
    list_checks,
    list_jobs,
    list_known,
    make_ready,
    offer_acts,
    open_act,
    price_act,
    take_line,
)

__all__ = [
    "HARDEST", "HELP_LINES", "HIGHEST_SEED", "LEVELS", "Exercise", "JudgedAct", "Made", "Move", "OpenedAct",
    "Planned", "PlannerWork", "Practice", "Reaction", "Round", "Score", "Show", "Verdict", "Wish", "Workplace",
    "begin_round", "check_area", "choose_area", "choose_repair", "choose_unit", "draw_exercise", "find_repair",
    "introduce", "judge_act", "judge_round", "list_checks", "list_jobs", "list_known", "load_practice",
    "make_exercise", "make_ready", "name_act", "offer_acts", "open_act", "plan_next", "price_act", "read_practice",
    "render_practice", "replay", "resume", "run_planner", "save_practice", "take_line",
]  # fmt: skip
