"""Practice on made-up vehicles: drawn, asked about, checked, repaired, paid for, and judged beside the planner."""

from shiftlore.practising.appraising import (
    Appraisal,
    JudgedAct,
    Planned,
    PlannerWork,
    judge_act,
    judge_round,
    plan_next,
    run_planner,
)
from shiftlore.practising.exercises import LEVELS, Wish, choose_area, choose_unit, draw_exercise
from shiftlore.practising.practice_files import Practice, load_practice, resume, save_practice
from shiftlore.practising.published_cases import choose_repair, find_repair, make_exercise
from shiftlore.practising.recorded_drives import RecordedDrive
from shiftlore.practising.rounds import IN_ORDER, NOT_FOUND, Made, Move, Round, begin_round, introduce, name_act
from shiftlore.practising.typing_in import (
    HELP_LINES,
    OpenedAct,
    Reaction,
    Show,
    Workplace,
    is_recorded,
    list_checks,
    list_jobs,
    list_known,
    make_ready,
    offer_acts,
    open_act,
    price_act,
    take_line,
)
