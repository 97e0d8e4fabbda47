"""Where numba is present, functions of numbers and arrays are compiled; elsewhere they run as they stand."""

from __future__ import annotations

import hashlib
import importlib
from collections.abc import Callable, Sequence
from importlib import resources
from importlib.util import find_spec
from typing import Any, TypeVar

Function = TypeVar("Function", bound=Callable[..., Any])
COMPILED = find_spec("numba") is not None


def inner(function: Function) -> Function:
    """A function that only compiled functions call and that makes no array; small ones vanish."""
    if not COMPILED:
        return function
    numba: Any = importlib.import_module("numba")
    return numba.njit(error_model="numpy", _nrt=False)(function)


def maker(function: Function) -> Function:
    """A function that only compiled functions call and that makes arrays."""
    if not COMPILED:
        return function
    numba: Any = importlib.import_module("numba")
    return numba.njit(error_model="numpy")(function)


def outer(function: Function) -> Function:
    """A function that is called from outside: compiled once for all, and kept on disk.

    What is kept is found again by the text of the function, the machine and what the function encloses: let
    it enclose `mark` of all it calls, or a change there would go unseen.
    """
    if not COMPILED:
        return function
    numba: Any = importlib.import_module("numba")
    try:
        return numba.njit(cache=True, nogil=True, error_model="numpy")(function)
    except RuntimeError:  # nowhere to keep it
        return numba.njit(nogil=True, error_model="numpy")(function)


def mark(modules: Sequence[str]) -> int:
    """A number that changes with the text of any of these modules."""
    text = hashlib.sha256()
    for module in modules:
        package, _, name = module.rpartition(".")
        text.update(resources.files(package).joinpath(f"{name}.py").read_bytes())
    return int.from_bytes(text.digest()[:7], "big")
