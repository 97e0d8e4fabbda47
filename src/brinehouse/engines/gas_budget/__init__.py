"""What is in the water, and can these numbers be true together?"""

from brinehouse.engines.gas_budget.answering import answer
from brinehouse.engines.gas_budget.question import QUESTION

__all__ = ["QUESTION", "answer"]
