"""Where everything stands in a TOML text: path to line and column, counted from one.

Made for text that ``tomllib`` has accepted: it looks for places and leaves judging to the parser.
"""

from __future__ import annotations

import bisect
import re
from dataclasses import dataclass, field

from brinehouse import findings
from brinehouse.facility import hidden

Path = tuple[str | int, ...]

_GAP = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BASIC = re.compile(r'"((?:[^"\\\n]|\\.)*)"')
_LITERAL = re.compile(r"'([^'\n]*)'")
_LONG_BASIC = re.compile(r'"""(?:[^"\\]|\\.|"(?!"")|""(?!"))*"{3,5}', re.DOTALL)
_LONG_LITERAL = re.compile(r"'''(?:[^']|'(?!'')|''(?!'))*'{3,5}", re.DOTALL)
_SCALAR = re.compile(r"[^\s,\]}#]+(?: \d\d:\d\d[^\s,\]}#]*)?")
_ESCAPE = re.compile(r"\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|(.))")
_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", "e": "\x1b"}
_DEPTH = 100  # arrays nested deeper than this get the place of their parent


@dataclass(frozen=True, slots=True)
class Place:
    """Where a key and its value begin; of a table, both are its heading."""

    line: int
    column: int
    value_line: int
    value_column: int


@dataclass(frozen=True, slots=True)
class Positions:
    """Every path of one text and its place."""

    file: str = ""
    places: dict[Path, Place] = field(default_factory=dict[Path, Place])

    def place(self, path: Path) -> Place | None:
        """The place of a path, or of the nearest parent that has one."""
        for end in range(len(path), 0, -1):
            found = self.places.get(path[:end])
            if found is not None:
                return found
        return None

    def spot(self, path: Path, thing: str = "", *, key: bool = False) -> findings.Spot:
        """Where a finding about this path points: the value, or the key where `key` is true."""
        found = self.place(path)
        exact = path in self.places
        line = column = None
        if found is not None:
            wants_key = key or not exact
            line = found.line if wants_key else found.value_line
            column = found.column if wants_key else found.value_column
        return findings.Spot(
            file=self.file, line=line, column=column, field=hidden.visible(written(path), 200), thing=thing
        )


def written(path: Path) -> str:
    """A path as text.

    >>> written(("limit", 0, "act"))
    'limit[0].act'
    """
    text = ""
    for step in path:
        text += f"[{step}]" if isinstance(step, int) else f".{step}" if text else step
    return text


def scan(text: str, file: str = "") -> Positions:
    r"""Find the place of every table, key, value and list item.

    >>> found = scan('[tank.mangrove]\nvolume = "58 m3"\n')
    >>> str(found.spot(("tank", "mangrove", "volume")))
    '2:10'
    """
    scanner = _Scanner(text)
    scanner.document()
    return Positions(file, scanner.places)


class _Scanner:
    """One walk over one text."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.places: dict[Path, Place] = {}
        self.implied: set[Path] = set()
        self.counts: dict[Path, int] = {}
        self.starts = [0] + [hit.end() for hit in re.finditer("\n", text)]

    def document(self) -> None:
        """The whole text; stops quietly where it cannot follow."""
        table: Path = ()
        while True:
            self._skip(_GAP)
            if self.at >= len(self.text):
                return
            before = self.at
            if self.text[self.at] == "[":
                table = self._heading()
            else:
                self._pair(table, 0)
            if self.at <= before:
                return

    # -- pieces -------------------------------------------------------------------------------------

    def _skip(self, pattern: re.Pattern[str]) -> str:
        hit = pattern.match(self.text, self.at)
        if hit is None:
            return ""
        self.at = hit.end()
        return hit.group()

    def _peek(self) -> str:
        return self.text[self.at : self.at + 1]

    def _where(self, offset: int) -> tuple[int, int]:
        row = bisect.bisect_right(self.starts, offset) - 1
        return row + 1, offset - self.starts[row] + 1

    def _note(self, path: Path, key: int, value: int, *, implied: bool = False) -> None:
        """Keep the place of a path; a place of its own outdoes one that a longer path implied."""
        if path in self.places and (implied or path not in self.implied):
            return
        self.places[path] = Place(*self._where(key), *self._where(value))
        (self.implied.add if implied else self.implied.discard)(path)

    def _key(self) -> list[str]:
        """A key, dotted or not."""
        parts: list[str] = []
        while True:
            self._skip(_SPACE)
            hit = _BARE_KEY.match(self.text, self.at)
            if hit is not None:
                parts.append(hit.group())
            elif (hit := _BASIC.match(self.text, self.at)) is not None:
                parts.append(unescape(hit.group(1)))
            elif (hit := _LITERAL.match(self.text, self.at)) is not None:
                parts.append(hit.group(1))
            else:
                return parts
            self.at = hit.end()
            self._skip(_SPACE)
            if self._peek() != ".":
                return parts
            self.at += 1

    def _heading(self) -> Path:
        start = self.at
        several = self.text.startswith("[[", start)
        self.at += 2 if several else 1
        parts = self._key()
        self.at = self._line_end()
        path: Path = ()
        for part in parts[:-1]:
            path = self._inside((*path, part))
            self._note(path, start, start, implied=True)
        path = (*path, *parts[-1:])
        if several:
            self.counts[path] = self.counts.get(path, -1) + 1
            self._note(path, start, start)
            path = (*path, self.counts[path])
        else:
            path = self._inside(path)
        self._note(path, start, start)
        return path

    def _line_end(self) -> int:
        end = self.text.find("\n", self.at)
        return len(self.text) if end < 0 else end

    def _inside(self, path: Path) -> Path:
        """The newest item, where the path is a list of tables."""
        return (*path, self.counts[path]) if path in self.counts else path

    def _pair(self, table: Path, depth: int) -> None:
        start = self.at
        parts = self._key()
        self._skip(_SPACE)
        if not parts or self._peek() != "=":
            return
        self.at += 1
        self._skip(_SPACE)
        path = table
        for part in parts[:-1]:
            path = (*path, part)
            self._note(path, start, start, implied=True)
        path = (*path, parts[-1])
        self._note(path, start, self.at)
        self._value(path, depth)

    def _value(self, path: Path, depth: int) -> None:
        char = self._peek()
        if char == "[" and depth < _DEPTH:
            self._array(path, depth)
        elif char == "{" and depth < _DEPTH:
            self._inline(path, depth)
        elif self.text.startswith('"""', self.at):
            self._skip(_LONG_BASIC)
        elif self.text.startswith("'''", self.at):
            self._skip(_LONG_LITERAL)
        elif char == '"':
            self._skip(_BASIC)
        elif char == "'":
            self._skip(_LITERAL)
        else:
            self._skip(_SCALAR)

    def _array(self, path: Path, depth: int) -> None:
        self.at += 1
        index = 0
        while True:
            self._skip(_GAP)
            if self._peek() in ("]", ""):
                self.at += 1
                return
            before = self.at
            self._note((*path, index), self.at, self.at)
            self._value((*path, index), depth + 1)
            index += 1
            self._skip(_GAP)
            if self._peek() == ",":
                self.at += 1
            if self.at <= before:
                return

    def _inline(self, path: Path, depth: int) -> None:
        self.at += 1
        while True:
            self._skip(_GAP)
            if self._peek() in ("}", ""):
                self.at += 1
                return
            before = self.at
            self._pair(path, depth + 1)
            self._skip(_GAP)
            if self._peek() == ",":
                self.at += 1
            if self.at <= before:
                return


def unescape(text: str) -> str:
    r"""A basic string's inside, escapes resolved.

    >>> unescape(r"a\u00e9")
    'aé'
    """
    if "\\" not in text:
        return text

    def one(hit: re.Match[str]) -> str:
        number = hit.group(1) or hit.group(2)
        if number:
            code = int(number, 16)
            return chr(code) if code <= 0x10FFFF else "\ufffd"
        return _ESCAPES.get(hit.group(3), hit.group(3))

    return _ESCAPE.sub(one, text)
