"""A comparison of meters from columns: a file, a form, a command."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from brinehouse import answers, findings
from brinehouse.engines.instruments import concluding, question
from brinehouse.science import statistics_meters


def answer(given: Mapping[str, str | Sequence[float]]) -> answers.Answer:
    """Offsets of meters and levels of places, from columns.

    Parameters
    ----------
    given : mapping
        By the names of the question's inputs; columns as lists or as text.

    Returns
    -------
    Answer
        State ``agree``, ``differ``, ``off``, ``disconnected`` or ``cannot-say``.
    """
    faults: list[findings.Finding] = []
    typed = {name: text for name, text in given.items() if isinstance(text, str) and text}
    meter, place = (tuple(_words(given.get(name, ()))) for name in ("meter", "place"))
    values = _numbers(given.get("value", ()), "value", faults)
    sitting = tuple(_words(given.get("sitting", ()))) or ("1",) * len(values)
    hours = _numbers(given.get("hours", ()), "hours", faults)
    order = list(dict.fromkeys(sitting))
    hours = hours or [float(order.index(name)) for name in sitting]
    if len({len(meter), len(place), len(values), len(sitting), len(hours)}) > 1:
        counts = f"{len(meter)} meters, {len(place)} places, {len(sitting)} sittings, {len(values)} values"
        text = f"the columns are not of one length: {counts}"
        faults.append(
            question.said(
                "instruments/unequal-columns",
                question.STOP,
                text,
                "give each reading one of each",
                field="value",
            )
        )
    unit = str(given.get("unit") or "%").strip()
    amount = {name: _amount(str(given.get(name) or ""), unit, name, faults) for name in ("u", "drift")}
    stated = _by_meter(str(given.get("accuracy") or ""), unit, meter, "accuracy", faults)
    checked = _by_meter(str(given.get("checked") or ""), unit, meter, "checked", faults)
    if faults:
        return concluding.refused(faults, typed)
    width = question.CHECKED.get(unit, 0.0) / math.sqrt(3)
    anchors = tuple(
        statistics_meters.Anchor(meter=name, value=value, u=width or 1e-6) for name, value in checked.items()
    )
    readings = statistics_meters.Readings(
        meter=meter, place=place, sitting=sitting, values=np.array(values), hours=np.array(hours), u=1.0,
        anchors=anchors,
    )  # fmt: skip
    study = question.Study(
        readings=readings, unit=unit, accuracies=stated, inputs=typed, order=tuple(dict.fromkeys(meter)),
        checks=tuple((name, "check") for name in checked),
    )  # fmt: skip
    return concluding.conclude(study, amount["u"], amount["drift"])


def _words(cells: str | Sequence[Any]) -> list[str]:
    parts: Sequence[Any] = (
        cells.replace(";", " ").replace(",", " ").split() if isinstance(cells, str) else cells
    )
    return [f"{part:g}" if isinstance(part, float) else str(part).strip() for part in parts]


def _numbers(cells: str | Sequence[Any], name: str, faults: list[findings.Finding]) -> list[float]:
    parts: Sequence[Any] = cells.replace(";", " ").split() if isinstance(cells, str) else cells
    out: list[float] = []
    for item, part in enumerate(parts, start=1):
        try:
            number = float(str(part))
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            text = f"{name} {item} is '{part}', which is not a number"
            faults.append(
                question.said(
                    "instruments/unreadable", question.STOP, text, "write it as 104.6", field=name, item=item
                )
            )
        out.append(number)
    return out


def _amount(text: str, unit: str, name: str, faults: list[findings.Finding]) -> float | None:
    from brinehouse import units

    if not text.strip():
        return None
    try:
        value = units.read_plain(text.strip())
        return units.read_amount(text).to(unit) if value is None else value
    except units.NotUnderstood as why:
        faults.append(
            question.said(
                "instruments/unreadable",
                question.STOP,
                f"{name} is '{text}': {why.why}",
                why.hint,
                field=name,
            )
        )
        return None


def _by_meter(
    text: str, unit: str, meters: Sequence[str], name: str, faults: list[findings.Finding]
) -> dict[str, float]:
    """``1 %`` for all meters, or ``A 0.7 %; B 1 %``."""
    out: dict[str, float] = {}
    for part in filter(None, (piece.strip() for piece in text.split(";"))):
        first, _, rest = part.partition(" ")
        whose = [first] if first in meters else list(dict.fromkeys(meters))
        value = _amount((rest if first in meters else part).lstrip("±").strip(), unit, name, faults)
        if value is not None:
            out |= dict.fromkeys(whose, value)
    return out
