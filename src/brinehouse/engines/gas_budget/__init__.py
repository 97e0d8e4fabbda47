"""The gas budget: what is in the water, and whether the numbers can be true together."""

from brinehouse.engines.gas_budget.answering import answer
from brinehouse.engines.gas_budget.many_rows import Explained, bulk, columns, explain_columns
from brinehouse.engines.gas_budget.question import QUESTION
from brinehouse.engines.gas_budget.series import examine_series
from brinehouse.engines.gas_budget.surveying import survey

__all__ = [
    "QUESTION",
    "Explained",
    "answer",
    "bulk",
    "columns",
    "examine_series",
    "explain_columns",
    "survey",
]
