"""The interview as a state machine: answered, taken back, next question; no input or output."""

from shiftlore.sessions.choosing_questions import Candidate, rank_questions
from shiftlore.sessions.interview import Interview
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
    "parse_reply",
    "rank_questions",
]
