"""Which pump's running goes with the gas pressure, and what kind of gas comes in."""

from brinehouse.engines.gas_changes.comparing import answer, survey
from brinehouse.engines.gas_changes.fitting import exposure
from brinehouse.engines.gas_changes.question import QUESTION, Change, Sample, Turn

__all__ = ["QUESTION", "Change", "Sample", "Turn", "answer", "exposure", "survey"]
