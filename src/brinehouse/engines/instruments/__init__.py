"""Which meter is off, by how much, and what each place really reads."""

from brinehouse.engines.instruments.columns import answer
from brinehouse.engines.instruments.question import QUESTION
from brinehouse.engines.instruments.steadiness import survey

__all__ = ["QUESTION", "answer", "survey"]
