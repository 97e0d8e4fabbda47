"""Copies of the hall as its facility file asks for them."""

from __future__ import annotations

from dataclasses import dataclass, field

from brinehouse import findings


@dataclass(frozen=True, slots=True, kw_only=True)
class Copies:
    """Where copies go, how often they are made, and which of them stay.

    Attributes
    ----------
    to : str
        A folder on another disk; a path that is not whole is taken from the hall's folder.
    every : float
        Time between two copies. [s]
    at : tuple of int
        Times of the day at which they are made, in minutes after midnight; none: `every` alone says when.
    newest, daily, weekly : int
        How many of the newest stay, and the last copy of how many days and weeks.
    keys : bool
        Whether the secrets of the folder are copied too.
    one_file : bool
        Whether a copy is one .tar in place of a folder.
    """

    to: str
    every: float = 86_400.0
    at: tuple[int, ...] = ()
    newest: int = 7
    daily: int = 30
    weekly: int = 52
    keys: bool = False
    one_file: bool = False
    spot: findings.Spot = field(default_factory=findings.Spot)
