"""The interview and the desk as state machines: answered, taken back, next question; no input or output."""

from shiftlore.sessions.choosing_questions import Asking, rank_questions
from shiftlore.sessions.desk import NAME_FIRST, Entry, follow_line, resume, take_outcome, take_reply, take_words
from shiftlore.sessions.interview import Interview
from shiftlore.sessions.new_sheet import (
    SheetDraft,
    SheetQuestion,
    answer_question,
    check_draft,
    go_back,
    next_question,
    write_sheet,
)
from shiftlore.sessions.questions import HELP_LINES, Choice, Command, Question, Reply, parse_reply

__all__ = [
    "HELP_LINES", "NAME_FIRST", "Asking", "Choice", "Command", "Entry", "Interview", "Question", "Reply",
    "SheetDraft", "SheetQuestion", "answer_question", "check_draft", "follow_line", "go_back", "next_question",
    "parse_reply", "rank_questions", "resume", "take_outcome", "take_reply", "take_words", "write_sheet",
]  # fmt: skip
