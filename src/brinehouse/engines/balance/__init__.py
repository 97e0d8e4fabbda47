"""What steady state a plant will reach, how long it takes, what limits it, and what a change would do."""

from brinehouse.engines.balance.around import of as conditions
from brinehouse.engines.balance.asked import answer
from brinehouse.engines.balance.leaking import Drawn, drawn, spread
from brinehouse.engines.balance.question import QUANTITIES, QUESTION, Known, Plant
from brinehouse.engines.balance.surveying import Worked, survey, work

__all__ = [
    "QUANTITIES",
    "QUESTION",
    "Drawn",
    "Known",
    "Plant",
    "Worked",
    "answer",
    "conditions",
    "drawn",
    "spread",
    "survey",
    "work",
]
