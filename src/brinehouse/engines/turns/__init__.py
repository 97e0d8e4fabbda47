"""Which pumps run tomorrow, and when each is due for its overhaul, trial start or change-over test."""

from brinehouse.engines.turns.asked import answer
from brinehouse.engines.turns.question import QUESTION, TRIAL, ChangeOver, Counter, History, Lock, Overhaul
from brinehouse.engines.turns.surveying import Survey, survey

__all__ = [
    "QUESTION",
    "TRIAL",
    "ChangeOver",
    "Counter",
    "History",
    "Lock",
    "Overhaul",
    "Survey",
    "answer",
    "survey",
]
