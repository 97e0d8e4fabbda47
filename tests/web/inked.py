"""A loop drawing read back: where its texts, lines and boxes stand, by their own numbers."""

import itertools
import re
import xml.etree.ElementTree as ET

from brinehouse.web import letters

SOLID = frozenset(
    {"l-pipe", "l-head", "l-gas", "l-vessel", "l-surface", "l-then-gas", "l-then-head", "l-small-pipe"}
)
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
STEP = re.compile(r"([MLHVZhvlmz])([^MLHVZhvlmz]*)")
SIZES = {"name": 14.0}


def tree(markup):
    return ET.fromstring(re.sub(r'xmlns="[^"]*"', "", str(markup)))


def texts(markup):
    """Every free text: (words, box); letters inside a symbol are left to their symbol."""
    found = []
    for node in tree(markup).iter("text"):
        kinds = (node.get("class") or "").split()
        if "l-in" in kinds:
            continue
        size = next((SIZES[kind] for kind in kinds if kind in SIZES), 13.0)
        words = node.text or ""
        wide, x, y = letters.width(words, size), float(node.get("x")), float(node.get("y"))
        left = x - wide / 2 if "middle" in kinds else x - wide if "end" in kinds else x
        found.append((words, (left, y - 0.76 * size, left + wide, y + 0.22 * size)))
    return found


def segments(markup):
    """Every straight piece of a drawn line of the way, as (kind, one, two)."""
    for node in tree(markup).iter("path"):
        kinds = set((node.get("class") or "").split()) & SOLID
        if kinds:
            for line in _points(node.get("d")):
                for one, two in itertools.pairwise(line):
                    yield min(kinds), one, two


def _points(path):
    lines, at = [], (0.0, 0.0)
    for letter, rest in STEP.findall(path):
        numbers = [float(one) for one in NUMBER.findall(rest)]
        for k in range(0, len(numbers), 2 if letter in "LMlm" else 1):
            at = _moved(at, letter, numbers[k : k + 2])
            if letter in "Mm":
                lines.append([at])
            else:
                lines[-1].append(at)
    return lines


def _moved(at, letter, numbers):
    x, y = at
    if letter in "LM":
        return numbers[0], numbers[1]
    if letter in "lm":
        return x + numbers[0], y + numbers[1]
    if letter in "Hh":
        return (numbers[0], y) if letter == "H" else (x + numbers[0], y)
    return (x, numbers[0]) if letter == "V" else (x, y + numbers[0])


def over(one, other, spare=0.0):
    """Whether two boxes share a place."""
    return (
        one[0] < other[2] - spare
        and other[0] < one[2] - spare
        and one[1] < other[3] - spare
        and other[1] < one[3] - spare
    )


def crosses(box, one, two):
    """Whether a straight piece goes through a box (Liang and Barsky's clipping)."""
    (x0, y0), (x1, y1) = one, two
    start, end = 0.0, 1.0
    for step, low, high, at in ((x1 - x0, box[0], box[2], x0), (y1 - y0, box[1], box[3], y0)):
        if abs(step) < 1e-9:
            if at <= low or at >= high:
                return False
            continue
        a, b = sorted(((low - at) / step, (high - at) / step))
        start, end = max(start, a), min(end, b)
        if start >= end:
            return False
    return True


def touching(markup):
    """Pairs of texts that stand over one another, and texts that a line of the way goes through."""
    said = texts(markup)
    faults = [
        (one[0], other[0]) for one, other in itertools.combinations(said, 2) if over(one[1], other[1], 0.5)
    ]
    for kind, one, two in segments(markup):
        faults += [(kind, words) for words, box in said if crosses(box, one, two)]
    return faults
