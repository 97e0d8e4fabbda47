"""Characters one cannot see: found, named, and made visible."""

from __future__ import annotations

import unicodedata

_BLANKS = {
    "\u115f": "HANGUL CHOSEONG FILLER",
    "\u1160": "HANGUL JUNGSEONG FILLER",
    "\u2800": "BRAILLE PATTERN BLANK",
    "\u3164": "HANGUL FILLER",
    "\uffa0": "HALFWIDTH HANGUL FILLER",
}
_CONTROLS = {
    0: "NULL",
    7: "BELL",
    8: "BACKSPACE",
    9: "TAB",
    10: "LINE FEED",
    13: "CARRIAGE RETURN",
    27: "ESCAPE",
}
TURNS = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Characters that turn the direction of what follows: they can make a text read otherwise than it is."""

LONGEST = 60  # characters of a text from the file that a message shows


def is_hidden(char: str) -> bool:
    r"""Whether a character shows nothing: controls, format characters, separators of lines, fillers.

    >>> is_hidden("\u202e"), is_hidden("é")
    (True, False)
    """
    return (not char.isprintable() and unicodedata.category(char) != "Zs") or char in _BLANKS


def hidden(text: str) -> list[str]:
    r"""The hidden characters of a text, each once, named.

    >>> hidden("Kelp\u0007\u001b[31m")
    ['U+0007 BELL', 'U+001B ESCAPE']
    """
    if text.isprintable() and not any(char in text for char in _BLANKS):
        return []
    return [named(char) for char in dict.fromkeys(text) if is_hidden(char)]


def named(char: str) -> str:
    """A character as U+ number and name."""
    number = ord(char)
    name = _BLANKS.get(char) or _CONTROLS.get(number) or unicodedata.name(char, "CONTROL CHARACTER")
    return f"U+{number:04X} {name}"


def visible(text: str, longest: int = LONGEST) -> str:
    r"""A text for a message: hidden characters as their numbers, shortened.

    >>> visible("Reef \u202e)metsys")
    'Reef ‹U+202E›)metsys'
    """
    cut = text if len(text) <= longest else text[: longest - 1] + "…"
    return "".join(f"‹U+{ord(char):04X}›" if is_hidden(char) else char for char in cut)


def plain(text: str) -> str:
    r"""A message with no hidden character left in it but its own line breaks.

    >>> plain("two\nlines\x07")
    'two\nlines‹U+0007›'
    """
    if text.isprintable():
        return text
    return "\n".join(visible(line, len(line)) for line in text.split("\n"))


def bare(text: str) -> str:
    r"""What is left to see of a text.

    >>> bare("\u200b\u200b ")
    ''
    """
    return "".join(char for char in text if not is_hidden(char)).strip()
