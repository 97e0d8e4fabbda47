"""Who asks: a person with a role, on a phone or machine of the hall; or whoever sits at an open one."""

from __future__ import annotations

from dataclasses import dataclass

ROLES = ("reader", "keeper", "lead", "veterinarian", "administrator")
"""What a person may be here, from the least to the most; `open` is a hall that has no people yet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Who:
    """Whoever makes a request.

    Attributes
    ----------
    number : int or None
        The person's number; None where nobody signed in.
    name : str
    role : str
        One of `ROLES`; ``open`` in a hall without people, which is served to its own machine only;
        ``nobody`` where people exist and none of them signed in.
    device : str
        The phone or machine, where it is known.
    """

    number: int | None
    name: str
    role: str
    device: str = ""


OPEN = Who(number=None, name="", role="open")
NOBODY = Who(number=None, name="", role="nobody")
