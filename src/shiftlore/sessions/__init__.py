"""The interview and the desk as state machines: answered, taken back, next question; no input or output."""

from shiftlore.sessions.desk import (
    RESULTS,
    SURE,
    Desk,
    StepEntry,
    Turn,
    offer_steps,
    open_desk,
    recap,
    take_in,
    take_line,
)
from shiftlore.sessions.interview import Interview
from shiftlore.sessions.naming_steps import find_steps, read_order
from shiftlore.sessions.new_sheet import SheetDraft, answer_question, check_draft, go_back, next_question, write_sheet
from shiftlore.sessions.questions import HELP_LINES, LONGEST_LINE, Command, Question
from shiftlore.sessions.telling_clashes import tell_at_once
