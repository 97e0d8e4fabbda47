"""What the flows really are, and which meter, house-file figure or leak does not fit."""

from brinehouse.engines.flows.question import QUESTION, Turn
from brinehouse.engines.flows.surveying import survey

__all__ = ["QUESTION", "Turn", "survey"]
