"""The workbench of the people who keep a large closed seawater facility alive."""

from brinehouse._version import __version__

TYPE_CHECKING = False  # typing's own constant: importing it would cost three times as much as all the rest
if TYPE_CHECKING:
    from typing import Any

    open: Any  # noqa: A001 - the word a notebook wants

__all__ = ["__version__", "open"]


def __getattr__(name: str) -> "Any":
    """``brinehouse.open(folder)`` without the cost of loading the workbench at import."""
    if name == "open":
        import importlib

        return importlib.import_module("brinehouse.workbench.hall").open_hall
    raise AttributeError(f"module 'brinehouse' has no attribute {name!r}")
