"""Names that look or sound alike: what was meant, and what cannot be told apart."""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Iterable

_HYPHENS = dict.fromkeys(
    map(ord, "\u00ad\u02d7\u058a\u2010\u2011\u2012\u2013\u2014\u2015\u2043\u2212\ufe58\ufe63\uff0d_"), "-"
)


def fold(name: str) -> str:
    """A name without case, forms of letters and kinds of hyphen.

    >>> fold("T‑1") == fold("t-1")
    True
    """
    plain = unicodedata.normalize("NFKC", name).casefold().translate(_HYPHENS)
    return " ".join(unicodedata.normalize("NFKC", plain).split())


def meant(word: str, candidates: Iterable[str], most: int = 3) -> list[str]:
    """The candidates that a misspelt name may have meant, the likeliest first.

    >>> meant("T-3", ["T-1", "T-2", "S-1", "mangrove"])
    ['T-1', 'T-2']
    """
    by_fold: dict[str, str] = {}
    for candidate in candidates:
        by_fold.setdefault(fold(candidate), candidate)
    wanted = fold(word)[:200]
    near = difflib.get_close_matches(wanted, by_fold, n=most, cutoff=0.6)
    ratios = {name: -difflib.SequenceMatcher(None, wanted, name).ratio() for name in near}
    return [by_fold[name] for name in sorted(near, key=lambda name: (ratios[name], name))]


def offer(names: list[str]) -> str:
    """A question back that offers the names.

    >>> offer(["T-1", "T-2"])
    "did you mean 'T-1' or 'T-2'?"
    """
    if not names:
        return ""
    quoted = [f"'{name}'" for name in names]
    listed = quoted[0] if len(quoted) == 1 else ", ".join(quoted[:-1]) + " or " + quoted[-1]
    return f"did you mean {listed}?"
