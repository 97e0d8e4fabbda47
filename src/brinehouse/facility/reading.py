"""The facility file, read and checked: a frozen model, or every reason why not."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from brinehouse import findings
from brinehouse.facility import (
    building,
    cases,
    checks_copies,
    checks_lines,
    checks_mishaps,
    checks_names,
    checks_plumbing,
    checks_rates,
    checks_rounds,
    checks_turns,
    checks_upkeep,
    checks_values,
    checks_water,
    model,
    positions,
    shape,
    syntax,
    words,
)

CHECKS = (
    checks_names.too_alike,
    checks_names.references,
    checks_names.containment,
    checks_names.hidden_text,
    checks_values.impossible,
    checks_values.timezone,
    checks_values.pumps,
    checks_values.depths,
    checks_values.ranges,
    checks_values.limits,
    checks_values.rationalised,
    checks_values.instruments,
    checks_lines.addresses,
    checks_lines.secrets,
    checks_water.negative_flows,
    checks_water.balance,
    checks_water.sizes,
    checks_plumbing.rims,
    checks_plumbing.mouths,
    checks_plumbing.best_flows,
    checks_mishaps.boards,
    checks_mishaps.change_overs,
    checks_mishaps.top_ups,
    checks_mishaps.remedies,
    checks_mishaps.failures,
    checks_rates.rates,
    checks_rates.groups,
    checks_rounds.zones,
    checks_rounds.rounds,
    checks_rounds.order,
    checks_upkeep.upkeep,
    checks_upkeep.retired,
    checks_turns.windows,
    checks_turns.offsets,
    checks_copies.backup,
    checks_water.unconnected,
)
"""Every check, in the order in which they run."""


@dataclass(frozen=True, slots=True)
class Checked:
    """What came of a facility file: the model is None where a stopping finding stands."""

    facility: model.Facility | None
    findings: tuple[findings.Finding, ...]
    positions: positions.Positions


def read(text: bytes | str, name: str = "facility.toml") -> Checked:
    """Read a facility file and check all of it.

    Parameters
    ----------
    text : bytes or str
        The file as it is.
    name : str
        What messages call it.

    Returns
    -------
    Checked
        The model, unless a finding stops it, and every finding by line.

    Examples
    --------
    >>> checked = read('schema = 1')
    >>> checked.facility is None, len(checked.findings)
    (True, 2)
    """
    decoded, found = syntax.decode(text, name)
    if found:
        return Checked(None, tuple(found), positions.Positions(name))
    raw, found = syntax.parse(decoded, name)
    if raw is None:
        return Checked(None, tuple(found), positions.Positions(name))
    places = positions.scan(decoded.replace("\r\n", "\n"), name)
    refused = _unreadable(raw, places)
    if refused is not None:
        return Checked(None, (refused,), places)
    facility, found = _check(raw, places, decoded)
    found += _without_schema(raw, places)
    stopped = findings.worst(found) is findings.Level.STOP
    return Checked(None if stopped else facility, tuple(_by_line(found)), places)


def _check(
    raw: Mapping[str, Any], places: positions.Positions, text: str
) -> tuple[model.Facility, list[findings.Finding]]:
    draft = shape.take(raw, places)
    digest = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
    case = cases.Case(draft, building.build(draft, digest), raw, text)
    for check in CHECKS:
        check(case)
    return case.facility, draft.said


def _unreadable(raw: Mapping[str, Any], places: positions.Positions) -> findings.Finding | None:
    """Why a file is not read at all: it is empty, says no schema, or one we do not know."""
    if not raw:
        return _stop(
            places,
            "facility/empty",
            "nothing is defined: a schema, a facility and one tank are needed at least",
            "write 'brinehouse init' to make a first file from five questions",
        )
    schema = raw.get("schema", words.SCHEMA)
    if isinstance(schema, bool) or not isinstance(schema, int) or schema < 1:
        return _stop(
            places,
            "facility/wrong-kind",
            "'schema' is not a whole number above nought",
            f"write schema = {words.SCHEMA} as the first line",
        )
    if schema > words.SCHEMA:
        shown = str(schema) if schema < 10**6 else "a far larger number"
        return _stop(
            places,
            "facility/future-schema",
            f"the file says schema {shown}; this version knows up to {words.SCHEMA}. Nothing was changed",
            "use a newer Brinehouse, or the file as it was before",
        )
    return None


def _without_schema(raw: Mapping[str, Any], places: positions.Positions) -> list[findings.Finding]:
    if "schema" in raw:
        return []
    text = "the file has no 'schema': it tells how the file is to be read"
    return [_stop(places, "facility/missing", text, f"write schema = {words.SCHEMA} as the first line")]


def _stop(places: positions.Positions, code: str, text: str, hint: str) -> findings.Finding:
    spot = places.spot(("schema",))
    if spot.line is None:
        spot = findings.Spot(file=places.file, line=1, column=1, field="schema")
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint, spot=spot)


def _by_line(found: list[findings.Finding]) -> list[findings.Finding]:
    return sorted(found, key=lambda one: (one.spot.line or 0, one.spot.column or 0))
