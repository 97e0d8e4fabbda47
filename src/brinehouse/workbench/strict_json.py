"""JSON as a phone sends it, read strictly: a fault inside one entry is that entry's, not the batch's."""

from __future__ import annotations

import json
import math
import re
from typing import Any

from brinehouse import findings
from brinehouse.workbench import mishaps

LARGEST = 512 * 1024  # bytes of a batch
DEEPEST = 64  # of a batch; one entry may be far less deep
DIGITS = 40
_ODD = re.compile("[\x00-\x08\x0b-\x1f\ud800-\udfff]")


class Bad:
    """Something that must not be taken, where it stood: a key twice, a number that is none."""

    def __init__(self, why: str) -> None:
        self.why = why


def read(body: bytes) -> Any:
    """What a body says; what is wrong inside stands as `Bad` where it was.

    Raises
    ------
    mishaps.Refused
        Too large, not UTF-8, not JSON, or nested beyond all sense.

    Examples
    --------
    >>> read(b'{"a": 1, "a": 2}').why
    "'a' stands twice"
    >>> read(b'[NaN, 1e999]')[0].why
    'NaN is not a number'
    """
    if len(body) > LARGEST:
        raise _refused(
            "round/too-large", f"The batch is larger than {LARGEST // 1024} KiB", "send fewer at a time"
        )
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError as fault:
        raise _refused(
            "round/not-json", f"Byte {fault.start} is not UTF-8", "send it as JSON in UTF-8"
        ) from None
    if _depth(text) > DEEPEST:
        raise _refused("round/too-deep", f"It is nested more than {DEEPEST} deep", "send plain entries")
    try:
        return json.loads(
            text, object_pairs_hook=_once, parse_constant=_constant, parse_int=_whole, parse_float=_real
        )
    except (ValueError, RecursionError) as fault:
        said = getattr(fault, "msg", "it is not JSON")
        raise _refused(
            "round/not-json", f"The batch is not JSON: {said}", "send it as JSON in UTF-8"
        ) from None


def fault(value: Any, deepest: int = 6) -> str:
    r"""Why a value cannot be kept: a bad part, a character no store takes, too deep; empty where it can.

    >>> fault({"a": ["b", 1]}), fault(["a\x00"])
    ('', 'it holds a character that cannot be stored')
    """
    if isinstance(value, Bad):
        return value.why
    if isinstance(value, str):
        return "it holds a character that cannot be stored" if _ODD.search(value) else ""
    if isinstance(value, dict | list):
        if deepest == 0:
            return "it is nested too deeply"
        parts = [*value.keys(), *value.values()] if isinstance(value, dict) else value  # pyright: ignore[reportUnknownVariableType]
        return next((why for part in parts if (why := fault(part, deepest - 1))), "")  # pyright: ignore[reportUnknownVariableType]
    return ""


def _once(pairs: list[tuple[str, Any]]) -> Any:
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            return Bad(f"'{name[:40]}' stands twice")
        found[name] = value
    return found


def _constant(name: str) -> Bad:
    return Bad(f"{name} is not a number")


def _whole(text: str) -> Any:
    return int(text) if len(text) <= DIGITS else Bad("a number has too many digits")


def _real(text: str) -> Any:
    value = float(text) if len(text) <= DIGITS else math.inf
    return value if math.isfinite(value) else Bad(f"{text[:DIGITS]} is not a number")


def _depth(text: str) -> int:
    """How deep the brackets go, strings left out."""
    deepest = depth = 0
    inside = escaped = False
    for sign in text:
        if inside:
            inside, escaped = (sign != '"' or escaped), (sign == "\\" and not escaped)
        elif sign == '"':
            inside = True
        elif sign in "[{":
            depth += 1
            deepest = max(deepest, depth)
        elif sign in "]}":
            depth -= 1
    return deepest


def _refused(code: str, text: str, hint: str) -> mishaps.Refused:
    return mishaps.Refused(findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint))
