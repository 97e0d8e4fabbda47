"""Bytes to a TOML document, or why not: line, column, and the line itself with a mark under the place."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any

from brinehouse import findings
from brinehouse.facility import hidden

LARGEST = 4_000_000  # bytes; a thousand tanks take a twentieth of it
_SECRET_KEY = re.compile(
    r"""(?ix) ^ (?P<key> [^=\#]* ["']? [\w.-]*
                 (?:passw|pwd|secret|token|api_?-?key|credential) [\w.-]* ["']? \s* =)"""
)
_IN_ADDRESS = re.compile(r"(?<=//)[^/\s@\"']+@")
_WHERE = re.compile(r"\(at (?:line (\d+), column (\d+)|end of document)\)")
_NUMBER_AND_UNIT = re.compile(
    r"=\s*([+-]?\d[\d.,]*\s*[^\W\d_°%][^#\n]*?|[+-]?\d[\d.,]*\s*[°%][^#\n]*?)\s*(?:#.*)?$"
)
_HEADING = re.compile(r"\s*\[")

# what the parser says: in our words, and the way out
_SAYINGS: tuple[tuple[str, str, str], ...] = (
    ("Unterminated string", "a text is opened and never closed", "close it with the quotes that open it"),
    ("Expected '=' after a key", "a word has no '=' after it", 'write word = "value"; a note starts with #'),
    ("Invalid value", "what stands after '=' is not a value", 'put text in quotes, amounts too: "58 m3"'),
    ("Cannot overwrite a value", "this word stands twice in the same table", "keep one of the two"),
    ("Cannot declare", "this table stands twice", "give one of them another id, or put both together"),
    ("Cannot mutate", "this adds to a list or braces that were closed before", "write it inside them"),
    ("Unclosed array", "a list is opened with '[' and never closed", "close it with ']'"),
    ("Unclosed inline table", "braces are opened with '{' and never closed", "close them with '}'"),
    ("Invalid statement", "this is neither a heading nor a word", 'write [tank.ID] or word = "value"'),
    ("Expected newline or end", "there is more behind the value", 'put text in quotes: "58 m3"'),
    (
        "Expected ']",
        "a heading is not closed",
        'write [tank.ID]; an id with blanks needs quotes: [tank."ID"]',
    ),
    ("Duplicate inline table key", "this word stands twice inside the braces", "keep one of the two"),
    ("Unescaped '\\' in a string", "a backslash starts a sign TOML does not know", "write two backslashes"),
    ("Invalid hex value", "a backslash code is not a number", "write the sign itself"),
    ("Escaped character", "a backslash code is not a sign", "write the sign itself"),
    ("Invalid initial character", "a word is missing here", "put words with blanks or accents in quotes"),
    ("Invalid date or datetime", "this is not a day that exists", "write it as 2026-03-01"),
    ("Expected \"'''\"", "a text is opened and never closed", "close it with the quotes that open it"),
    ("Expected", "something is missing here", "compare it with the example of 'brinehouse words'"),
)


def decode(raw: bytes | str, name: str) -> tuple[str, list[findings.Finding]]:
    """Bytes as text; a stopping finding where they are not UTF-8 or far too many."""
    if isinstance(raw, str):
        raw = raw.encode("utf-8", "surrogatepass")
    start = findings.Spot(file=name, line=1, column=1)
    if len(raw) > LARGEST:
        text = f"the file holds {len(raw)} bytes; a facility file holds at most {LARGEST}"
        return "", [_stop("facility/too-large", text, "name the facility file, not another", start)]
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "", [_stop("facility/not-utf8", "the file is UTF-16, not UTF-8", "save it as UTF-8", start)]
    try:
        return raw.decode("utf-8-sig"), []
    except UnicodeDecodeError as fault:
        # with a mark at the start, the decoder counts from behind it
        at = fault.start + (3 if raw.startswith(b"\xef\xbb\xbf") else 0)
        start = raw.rfind(b"\n", 0, at) + 1
        line = raw.count(b"\n", 0, at) + 1
        column = len(raw[start:at].decode("utf-8", "replace")) + 1
        text = f"line {line} is not UTF-8: it holds the byte 0x{raw[at]:02X}"
        spot = findings.Spot(file=name, line=line, column=column)
        return "", [_stop("facility/not-utf8", text, "save the file as UTF-8 in your editor", spot)]


def parse(text: str, name: str) -> tuple[Mapping[str, Any] | None, list[findings.Finding]]:
    """Text as a TOML document, or one stopping finding that shows the place."""
    try:
        return tomllib.loads(text), []
    except tomllib.TOMLDecodeError as fault:
        return None, [_explained(text, str(fault), name)]
    except RecursionError:
        return None, [
            _stop(
                "facility/too-deep",
                "the file nests lists or braces too deeply to be read",
                "write each thing as a table of its own",
                findings.Spot(file=name),
            )
        ]
    except ValueError:  # a whole number of thousands of digits
        return None, [
            _stop(
                "facility/not-toml",
                "the file holds a number with too many digits to be read",
                "write the number as it was measured",
                findings.Spot(file=name),
            )
        ]


def _explained(text: str, said: str, name: str) -> findings.Finding:
    where = _WHERE.search(said)
    lines = text.replace("\r\n", "\n").split("\n")
    if where is not None and where.group(1):
        line, column = int(where.group(1)), int(where.group(2))
    else:
        line = max((number for number, shown in enumerate(lines, 1) if shown.strip()), default=1)
        column = len(lines[line - 1]) + 1
    shown = lines[line - 1] if line <= len(lines) else ""
    what, hint, column = _in_our_words(said, shown, column, lines[: line - 1])
    safe, column = _without_secret(shown, column, "\n".join(lines[: line - 1]))
    picture, mark = _picture(safe, column)
    return _stop(
        "facility/not-toml",
        f"line {line}: {what}\n        {picture}\n        {mark}",
        hint,
        findings.Spot(file=name, line=line, column=column),
        line_text=picture,
    )


def _in_our_words(said: str, shown: str, column: int, before: list[str]) -> tuple[str, str, int]:
    if said.startswith("Illegal character"):
        return _illegal(shown, column)
    if said.startswith("Invalid value (at end"):
        return "the file ends before a value does", "close what is open: quotes, ']' or '}'", column
    for start, what, hint in _SAYINGS:
        if not said.startswith(start):
            continue
        bare = _NUMBER_AND_UNIT.search(shown)
        if start in ("Expected newline or end", "Invalid value") and bare is not None:
            amount = hidden.visible(bare.group(1))
            return "an amount stands without quotes", f'write "{amount}" in quotes', bare.start(1) + 1
        if start in ("Cannot overwrite a value", "Cannot declare"):
            what += _first_time(shown, before)
            column = len(shown) - len(shown.lstrip()) + 1
        return what, hint, column
    return "this is not TOML", "compare it with the example of 'brinehouse words'", column


def _illegal(shown: str, column: int) -> tuple[str, str, int]:
    if column <= len(shown):
        sign = hidden.named(shown[column - 1])
        return f"the character {sign} may not stand here", "take it out", column
    opened = _open_quote(shown)
    if opened:
        return "a text is opened here and not closed on its line", "close it with the same quote", opened
    return "the line ends too early", "finish it on the same line", column


def _open_quote(shown: str) -> int:
    """Column of the first quote of a line that is never closed, or 0."""
    at = 0
    while at < len(shown):
        if shown[at] == "#":
            return 0
        if shown[at] in "\"'":
            closed = _closing(shown, at)
            if closed < 0:
                return at + 1
            at = closed
        at += 1
    return 0


def _closing(shown: str, opened: int) -> int:
    quote, at = shown[opened], opened + 1
    while at < len(shown):
        if shown[at] == "\\" and quote == '"':
            at += 1
        elif shown[at] == quote:
            return at
        at += 1
    return -1


def _first_time(shown: str, before: list[str]) -> str:
    """``; first in line 9``, where the other one can be found."""
    heading = _HEADING.match(shown) is not None
    wanted = shown.split("#")[0].strip() if heading else shown.split("=")[0].strip()
    for number in range(len(before), 0, -1):
        line = before[number - 1]
        if heading and line.split("#")[0].strip() == wanted:
            return f"; first in line {number}"
        if not heading and line.split("=")[0].strip() == wanted and "=" in line:
            return f"; first in line {number}"
        if not heading and _HEADING.match(line):
            return ""
    return ""


def _without_secret(shown: str, column: int, before: str) -> tuple[str, int]:
    """The line with any secret in it covered."""
    for line in before.split("\n"):
        if _SECRET_KEY.match(line) and re.search(r"\"\"\"|'''|\[", line):
            return "(not shown: it may hold a secret)", 1
    hit = _SECRET_KEY.match(shown)
    if hit is not None:
        covered = hit.group("key") + " •••"
        return covered, min(column, len(hit.group("key")) + 2)
    return _IN_ADDRESS.sub("•••@", shown), column


def _picture(shown: str, column: int) -> tuple[str, str]:
    """At most 80 characters of the line around the column, and a caret under it."""
    start = max(0, column - 60)
    cut = shown[start : start + 80]
    text = "".join("·" if hidden.is_hidden(char) else char for char in cut)
    return text.rstrip(), " " * max(0, min(column - 1 - start, len(cut))) + "^"


def _stop(code: str, text: str, hint: str, spot: findings.Spot, **data: str) -> findings.Finding:
    return findings.Finding(
        code=code, level=findings.Level.STOP, text=text, hint=hint, spot=spot, data=dict(data)
    )
