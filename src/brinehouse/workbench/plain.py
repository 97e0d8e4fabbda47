"""Plain data for JSON: what is not a finite number becomes null."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def finite(data: Any) -> Any:
    """The same data without NaN and infinities, NumPy scalars as Python's own.

    >>> finite({"low": float("-inf"), "value": 1.0})
    {'low': None, 'value': 1.0}
    """
    if isinstance(data, float):
        return data if data - data == 0.0 else None
    if isinstance(data, Mapping):
        return {str(name): finite(value) for name, value in data.items()}
    if isinstance(data, list | tuple):
        return [finite(value) for value in data]
    if hasattr(data, "item"):
        return finite(data.item())
    return data
