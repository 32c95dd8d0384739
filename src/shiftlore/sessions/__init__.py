"""The interview as a state machine: answered, taken back, next question; no input or output."""

from shiftlore.sessions.choosing_questions import Candidate, rank_questions
from shiftlore.sessions.interview import Interview
from shiftlore.sessions.new_sheet import (
    SheetDraft,
    SheetQuestion,
    answer_question,
    check_draft,
    go_back,
    next_question,
    start_sheet,
    write_sheet,
)
from shiftlore.sessions.questions import Choice, Question, Reply
from shiftlore.sessions.replies import HELP_LINES, Command, parse_reply

__all__ = [
    "HELP_LINES",
    "Candidate",
    "Choice",
    "Command",
    "Interview",
    "Question",
    "Reply",
    "SheetDraft",
    "SheetQuestion",
    "answer_question",
    "check_draft",
    "go_back",
    "next_question",
    "parse_reply",
    "rank_questions",
    "start_sheet",
    "write_sheet",
]
