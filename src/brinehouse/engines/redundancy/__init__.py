"""What duty and standby pumps are worth: how often too few run, why, and what would help most."""

from brinehouse.engines.redundancy.question import QUESTION, Turn
from brinehouse.engines.redundancy.surveying import survey

__all__ = ["QUESTION", "Turn", "survey"]
