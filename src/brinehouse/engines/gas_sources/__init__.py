"""Where in the loop excess gas comes from, what takes it out, and what a change of plant would do."""

from brinehouse.engines.gas_sources.question import QUESTION, Change, Given, Sample, Suction, Turn
from brinehouse.engines.gas_sources.surveying import joined, survey

__all__ = ["QUESTION", "Change", "Given", "Sample", "Suction", "Turn", "joined", "survey"]
