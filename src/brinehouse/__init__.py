"""The workbench of the people who keep a large closed seawater facility alive."""

import importlib
from typing import Any

from brinehouse._version import __version__

__all__ = ["__version__", "open"]


def __getattr__(name: str) -> Any:
    """``brinehouse.open(folder)`` without the cost of loading the workbench at import."""
    if name == "open":
        return importlib.import_module("brinehouse.workbench.hall").open_hall
    raise AttributeError(f"module 'brinehouse' has no attribute {name!r}")
