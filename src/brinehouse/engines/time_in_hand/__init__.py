"""How long the animals have after each failure, and what to do first."""

from brinehouse.engines.time_in_hand.asked import answer
from brinehouse.engines.time_in_hand.question import QUESTION

__all__ = ["QUESTION", "answer"]
