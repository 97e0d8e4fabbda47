"""What a form sends, as plain text; nothing of it is trusted."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Annotated

from fastapi import Depends
from starlette.requests import Request

from brinehouse.workbench import people

LONGEST = 20_000  # characters of one box
LARGEST = 128 * 1024 * 1024  # bytes of one file that comes by a form; a command takes larger ones


async def read(request: Request) -> dict[str, str]:
    """The text boxes of a form; a file, and a box that is far too long, is left out."""
    async with request.form(max_files=1, max_fields=200, max_part_size=4 * 1024 * 1024) as form:
        return signed(request, texts(form.items()))


def signed(request: Request, given: dict[str, str]) -> dict[str, str]:
    """What was sent, under the name of whoever is signed in: nobody writes as somebody else."""
    asking = getattr(request.state, "who", people.OPEN)
    return given if asking.number is None else {**given, "by": asking.name}


def texts(items: Iterable[tuple[str, object]]) -> dict[str, str]:
    """The boxes of a form that hold text of a sensible length."""
    return {name: clean(value) for name, value in items if isinstance(value, str) and len(value) <= LONGEST}


Given = Annotated[dict[str, str], Depends(read)]
"""A handler that takes this runs in a thread of its own, after the form was read."""


def clean(text: str) -> str:
    """Text without what no keyboard writes: control characters but line ends, and lone surrogates.

    >>> clean(f"a{chr(0)}b{chr(13)}c").splitlines()
    ['ab', 'c']
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(
        one
        for one in lines
        if one in "\n\t" or (ord(one) >= 32 and ord(one) != 127 and not 0xD800 <= ord(one) < 0xE000)
    )


def lines(text: str) -> Sequence[str]:
    """The lines of a box that hold something."""
    return [line.strip() for line in text.splitlines() if line.strip()]
