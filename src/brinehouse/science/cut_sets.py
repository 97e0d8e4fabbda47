"""What must fail together before something is lost: least sets of parts, their probability, what matters."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import NamedTuple

Cut = frozenset[str]


class Importance(NamedTuple):
    """What one part means for the whole."""

    contribution: float
    """Fussell-Vesely: share of the losses in which a set with this part has failed. [-]"""
    sensitivity: float
    """Birnbaum: change of the whole's probability for each of the part's. [-]"""
    if_failed: float
    """The whole's probability with the part out, over that now. [-]"""
    if_perfect: float
    """The whole's probability now, over that with a part that never fails; endless if none remain. [-]"""


def least(sets: Iterable[Collection[str]]) -> list[Cut]:
    """Keep the sets that hold no other.

    Parameters
    ----------
    sets : iterable of collections
        Parts that, failed together, lose what is looked at. [-]

    Returns
    -------
    list of frozenset
        The least sets, smallest first, then by name. [-]

    Notes
    -----
    No range.

    References
    ----------
    .. [1] IEC 61025 (fault tree analysis), from memory.

    Examples
    --------
    >>> [sorted(cut) for cut in least([{"pump", "board"}, {"board"}])]
    [['board']]
    """
    kept: list[Cut] = []
    for cut in sorted({frozenset(one) for one in sets}, key=lambda one: (len(one), sorted(one))):
        if not any(smaller <= cut for smaller in kept):
            kept.append(cut)
    return kept


def _checked(sets: Iterable[Collection[str]], out: Mapping[str, float]) -> tuple[Cut, ...]:
    cuts = least(sets)
    for part in sorted({part for cut in cuts for part in cut}):
        if part not in out:
            raise KeyError(f"no probability is known for {part!r}")
        if not 0.0 <= out[part] <= 1.0:
            raise ValueError(f"the probability of {part!r} is {out[part]}; it must lie from 0 to 1")
    return tuple(cuts)


def _split(cuts: tuple[Cut, ...], out: Mapping[str, float], known: dict[tuple[Cut, ...], float]) -> float:
    """Probability that any set has failed: with the commonest part out, and with it good."""
    if not cuts:
        return 0.0
    if not cuts[0]:
        return 1.0
    if cuts not in known:
        counts: dict[str, int] = {}
        for cut in cuts:
            for part in cut:
                counts[part] = counts.get(part, 0) + 1
        pivot = min(counts, key=lambda part: (-counts[part], part))
        failed = _split(tuple(least(cut - {pivot} for cut in cuts)), out, known)
        good = _split(tuple(cut for cut in cuts if pivot not in cut), out, known)
        known[cuts] = out[pivot] * failed + (1.0 - out[pivot]) * good
    return known[cuts]


def probability(sets: Iterable[Collection[str]], out: Mapping[str, float]) -> float:
    """Exact probability that at least one set has failed whole.

    Parameters
    ----------
    sets : iterable of collections
        Sets of parts; they need not be least. [-]
    out : mapping
        Probability that each part is out, each independent of the others. [-]

    Returns
    -------
    float
        Probability. [-]

    Notes
    -----
    No range. A shared cause belongs into the sets as a part of its own. Work grows with the sets that hang
    together; some dozens of parts are quick.

    References
    ----------
    .. [1] Shannon's expansion, as in binary decision diagrams.

    Examples
    --------
    >>> probability([{"a", "b"}, {"c"}], {"a": 0.1, "b": 0.2, "c": 0.3})
    0.314
    """
    return _split(_checked(sets, out), out, {})


def rare_event(sets: Iterable[Collection[str]], out: Mapping[str, float]) -> float:
    """Sum of the sets' probabilities: never too low, and close while all are rare.

    Parameters
    ----------
    sets : iterable of collections
        Sets of parts; they need not be least. [-]
    out : mapping
        Probability that each part is out, each independent of the others. [-]

    Returns
    -------
    float
        Upper bound of the probability; it can exceed one. [-]

    Notes
    -----
    Sets rarer than about 0.1 (from memory).

    References
    ----------
    .. [1] IEC 61025 (fault tree analysis), from memory.

    Examples
    --------
    >>> rare_event([{"a", "b"}, {"c"}], {"a": 0.1, "b": 0.2, "c": 0.3})
    0.32
    """
    from math import prod

    return sum(prod(out[part] for part in cut) for cut in _checked(sets, out))


def importances(sets: Iterable[Collection[str]], out: Mapping[str, float]) -> dict[str, Importance]:
    """What each part means for the whole, the greatest contribution first.

    Parameters
    ----------
    sets : iterable of collections
        Sets of parts; they need not be least. [-]
    out : mapping
        Probability that each part is out, each independent of the others. [-]

    Returns
    -------
    dict of Importance
        By part, for every part in a least set. [-]

    Notes
    -----
    No range; all from exact probabilities. Where the whole cannot fail, shares are 0 and ratios 1.

    References
    ----------
    .. [1] Fussell (1975), IEEE Trans. Reliab. R-24:169-174; Birnbaum (1969), both from memory.

    Examples
    --------
    >>> importances([{"a", "b"}, {"c"}], {"a": 0.1, "b": 0.2, "c": 0.3})["c"].contribution
    0.955
    """
    cuts = _checked(sets, out)
    whole = _split(cuts, out, {})
    found = {part: _importance(part, cuts, out, whole) for part in {part for cut in cuts for part in cut}}
    return dict(sorted(found.items(), key=lambda item: (-item[1].contribution, item[0])))


def _importance(part: str, cuts: tuple[Cut, ...], out: Mapping[str, float], whole: float) -> Importance:
    failed = _split(cuts, {**out, part: 1.0}, {})
    good = _split(cuts, {**out, part: 0.0}, {})
    if whole <= 0.0:
        return Importance(0.0, failed - good, 1.0, 1.0)
    through = _split(tuple(cut for cut in cuts if part in cut), out, {})
    spared = whole / good if good > 0.0 else float("inf")
    return Importance(through / whole, failed - good, failed / whole, spared)
