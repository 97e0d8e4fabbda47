"""A first facility file: from five answers, or a whole example that uses every word."""

from __future__ import annotations

import dataclasses
import importlib.resources
import json
import re
from collections.abc import Sequence

from brinehouse import findings, glossary
from brinehouse.facility import alike, hidden, reading

_ANSWERS = {
    "facility.name": "name",
    "facility.altitude": "altitude",
    "facility.timezone": "zone",
    "tank": "tanks",
    "instrument": "meters",
}
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_TANK_HINT = "write 'name, volume, depth', e.g. 'mangrove, 58 m3, 2.6 m', with decimal points"
_METER_HINT = "write 'name: what it measures', e.g. 'meter A: total gas pressure, oxygen'"


def write(
    *, name: str, altitude: str, zone: str, tanks: Sequence[str], meters: Sequence[str] = ()
) -> tuple[str | None, tuple[findings.Finding, ...]]:
    """A commented facility file from five answers, checked.

    Parameters
    ----------
    name : str
        What the facility is called.
    altitude : str
        Height above the sea with its unit, or blank where it is not known.
    zone : str
        Time zone.
    tanks : sequence of str
        Each ``name, volume, depth``; the depth may be left out.
    meters : sequence of str
        Each ``name: quantity, quantity``.

    Returns
    -------
    text : str or None
        None where a finding stops it.
    findings : tuple
        Each names in its spot's field the answer it is about.

    Examples
    --------
    >>> text, found = write(name="Hall", altitude="412 m", zone="Europe/London", tanks=["reef, 12 m3, 2 m"])
    >>> 'volume = "12 m3"' in text, [one.code for one in found]
    (True, ['facility/no-runs'])
    """
    faults: list[findings.Finding] = []
    if not tanks:
        faults.append(_fault("tanks", "no tank was named", _TANK_HINT))
    tables = [_tank(answer, faults) for answer in tanks] + [_meter(answer, faults) for answer in meters]
    faults += _hidden("name", name) + _hidden("altitude", altitude) + _hidden("zone", zone)
    faults += _same([heading for heading, _ in tables])
    if faults:
        return None, tuple(faults)
    text = _head(name, altitude, zone) + "".join(f"\n{heading}\n{body}" for heading, body in tables) + _TAIL
    checked = reading.read(text)
    said = tuple(_about_answer(found) for found in checked.findings)
    return (None if checked.facility is None else text), said


def example() -> str:
    """A whole facility file, invented, commented, that uses every word once at least."""
    return importlib.resources.files("brinehouse.facility").joinpath("example.toml").read_text("utf-8")


# -- pieces -------------------------------------------------------------------------------------------


def _head(name: str, altitude: str, zone: str) -> str:
    height = f"altitude = {_quoted(altitude)}" if altitude.strip() else '# altitude = "412 m"'
    return f"""\
# What the hall is made of. 'brinehouse check' reads this file and says what is not as it should be;
# 'brinehouse words' lists every word. Amounts are text with their unit; a note starts with #.
schema = 1

[facility]
name = {_quoted(name)}
{height:<38}# above the sea: gas saturation hangs on it
timezone = {_quoted(zone)}
"""


_TAIL = """
# Where readings are taken, and what to keep an eye on, when you come to it:
# [point.ID]
# at = "..."                          # the id of a tank
# depth = "0.5 m"
#
# [[limit]]
# quantity = "temperature"
# at = "..."
# watch = "outside 24 °C to 26 °C"
# source = "house rule"
"""


def _tank(answer: str, faults: list[findings.Finding]) -> tuple[str, str]:
    parts = [part.strip() for part in re.split(r"[,;]", answer)]
    faults += _hidden("tanks", answer)
    if len(parts) not in (2, 3) or not all(parts):
        faults.append(_fault("tanks", f"'{hidden.visible(answer)}' is not a tank", _TANK_HINT))
        return "", ""
    name, volume, *rest = parts
    lines = [f"name = {_quoted(name)}", f"volume = {_quoted(volume)}"]
    lines.append(f"depth = {_quoted(rest[0])}" if rest else '# depth = "2.6 m"')
    lines += [
        '# surface = "27 m2"                   # gas and heat pass through it',
        '# temperature = "25 °C"               # a starting value, as salinity; the logbook rules later',
        '# salinity = "34 ppt"',
    ]
    return f"[tank.{_key(name)}]", "\n".join(lines) + "\n"


def _meter(answer: str, faults: list[findings.Finding]) -> tuple[str, str]:
    name, colon, told = answer.partition(":")
    measures = [part.strip() for part in re.split(r"[,;]", told) if part.strip()]
    faults += _hidden("meters", answer)
    if not colon or not name.strip() or not measures:
        faults.append(_fault("meters", f"'{hidden.visible(answer)}' is not a meter", _METER_HINT))
        return "", ""
    words = [found.word if (found := glossary.quantity(measure)) else measure for measure in measures]
    lines = [
        f"name = {_quoted(name.strip())}",
        f"measures = [{', '.join(_quoted(word) for word in words)}]",
        "# accuracy = [...]                    # as its maker states it, one for each: how sure a reading is",
    ]
    if {"oxygen", "total gas pressure"} & set(words):
        lines += [
            '# salinity_setting = "34 ppt"         # look into its menu: oxygen in mg/L hangs on it',
            '# barometer = "own"                   # or "station", or "sea level"',
        ]
    return f"[instrument.{_key(name.strip())}]", "\n".join(lines) + "\n"


def _key(name: str) -> str:
    """An id from a name: lower case, hyphens for blanks."""
    plain = re.sub(r"[\s/]+", "-", name.strip()).casefold() if " " in name.strip() else name.strip()
    return plain if _BARE.fullmatch(plain) else _quoted(plain)


def _quoted(text: str) -> str:
    """A text as TOML writes it."""
    return json.dumps(text.strip(), ensure_ascii=False)


def _hidden(answer: str, text: str) -> list[findings.Finding]:
    signs = hidden.hidden(text)
    if not signs:
        return []
    about = f"'{hidden.visible(text)}' holds hidden characters: {', '.join(signs)}"
    return [_fault(answer, about, "type it anew", "facility/hidden-character")]


def _same(headings: Sequence[str]) -> list[findings.Finding]:
    seen: set[str] = set()
    faults: list[findings.Finding] = []
    for heading in filter(None, headings):
        table, _, name = heading.strip("[]").partition(".")
        folded = alike.fold(name.strip('"'))
        if folded in seen:
            text = f"two names make the id {name}"
            hint = "give them names that differ in more than their form"
            faults.append(_fault(_ANSWERS[table], text, hint, "facility/same-id"))
        seen.add(folded)
    return faults


def _fault(answer: str, text: str, hint: str, code: str = "facility/answer") -> findings.Finding:
    spot = findings.Spot(field=answer)
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint, spot=spot)


def _about_answer(found: findings.Finding) -> findings.Finding:
    """A finding of the file that was never written, said of the answer it came from."""
    where = found.spot.field
    answer = _ANSWERS.get(where) or _ANSWERS.get(where.split(".")[0].split("[")[0], "")
    spot = findings.Spot(field=answer, thing=found.spot.thing)
    return dataclasses.replace(found, spot=spot)
