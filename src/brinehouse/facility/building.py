"""From what was understood of a file to the model: frozen objects, each with its spot."""

from __future__ import annotations

from typing import Any

from brinehouse import findings
from brinehouse.facility import copies, model, positions, shape, systems

_GRAMS = 1000.0
_MILLI = 1000.0  # mL in a litre
VALUES = {
    "top-up": "flow",
    "leak": "hole",
    "valve": "open",
    "blocked": "blocked",
    "feed": "times",
    "room": "temperature",
    "air": "air",
}
"""Effect of an own failure to the word that says how much."""


def build(draft: shape.Draft, digest: str = "") -> model.Facility:
    """The facility of a draft; what was not understood is left out or empty."""
    head = next(iter(draft.of("facility")), None)
    told = head.values if head is not None else {}
    facility = model.Facility(
        name=told.get("name", ""),
        altitude=told.get("altitude"),
        timezone=told.get("timezone", "UTC"),
        language=told.get("language", "en"),
        display=told.get("units", {}),
        allowance=told.get("allowance", 0.02),
        room_temperature=told.get("room_temperature"),
        room_humidity=told.get("room_humidity"),
        detection=told.get("detection"),
        travel=told.get("travel"),
        crews=told.get("crews", 1),
        quiet=told.get("quiet"),
        notify={e.id: _notify(draft, e) for e in draft.of("notify")},
        systems={e.id: _system(draft, e) for e in draft.of("system")},
        vessels={e.id: _vessel(draft, e) for e in _by_line(draft, draft.of("tank", "sump", "vessel"))},
        pumps={e.id: _pump(draft, e) for e in draft.of("pump")},
        duties={e.id: _duty(draft, e) for e in draft.of("duty")},
        equipment={e.id: _equipment(draft, e) for e in draft.of("equipment")},
        runs={e.id: _run(draft, e) for e in draft.of("run")},
        boards={e.id: _board(draft, e) for e in draft.of("board")},
        remedies={e.id: _remedy(draft, e) for e in draft.of("remedy")},
        failures={e.id: _failure(draft, e) for e in draft.of("failure")},
        points={e.id: _point(draft, e) for e in draft.of("point")},
        instruments={e.id: _instrument(draft, e) for e in draft.of("instrument")},
        limits=tuple(_limit(draft, e) for e in draft.of("limit")),
        animals=tuple(_animals(draft, e) for e in draft.of("animals")),
        sources=tuple(_source(draft, e) for e in draft.of("source")),
        rates=tuple(_rate(draft, e) for e in draft.of("rate")),
        upkeep=tuple(_upkeep(draft, e) for e in draft.of("upkeep")),
        backup=next((_backup(draft, e) for e in draft.of("backup")), None),
        windows=tuple(_window(draft, e) for e in draft.of("window")),
        shifts={e.id: _shift(draft, e) for e in draft.of("shift")},
        zones={e.id: _zone(draft, e) for e in draft.of("zone")},
        rounds={e.id: _round(draft, e) for e in draft.of("round")},
        spots=_spots(draft.places),
        digest=digest,
    )
    return systems.complete(facility)


def _by_line(draft: shape.Draft, entries: list[shape.Entry]) -> list[shape.Entry]:
    """File order across tables."""
    return sorted(entries, key=lambda entry: _spot(draft, entry).line or 0)


def _spot(draft: shape.Draft, entry: shape.Entry) -> findings.Spot:
    return draft.places.spot(entry.path, entry.thing)


def _spots(places: positions.Positions) -> dict[str, findings.Spot]:
    return {
        positions.written(path): findings.Spot(
            file=places.file, line=place.value_line, column=place.value_column
        )
        for path, place in places.places.items()
    }


def _system(draft: shape.Draft, entry: shape.Entry) -> model.System:
    return model.System(id=entry.id, name=entry.values.get("name", entry.id), spot=_spot(draft, entry))


def _vessel(draft: shape.Draft, entry: shape.Entry) -> model.Vessel:
    told: dict[str, Any] = {"name": entry.id} | entry.values
    if "feed" in told:
        told["feed"] /= _GRAMS  # amounts of a mass rate are read in g/d
    return model.Vessel(id=entry.id, kind=entry.table, spot=_spot(draft, entry), **told)


def _pump(draft: shape.Draft, entry: shape.Entry) -> model.Pump:
    told: dict[str, Any] = {"name": entry.id} | entry.values
    return model.Pump(id=entry.id, spot=_spot(draft, entry), **told)


def _duty(draft: shape.Draft, entry: shape.Entry) -> model.Duty:
    told: dict[str, Any] = {"name": entry.id, "pumps": ()} | entry.values
    return model.Duty(id=entry.id, spot=_spot(draft, entry), **told)


def _equipment(draft: shape.Draft, entry: shape.Entry) -> model.Equipment:
    told: dict[str, Any] = {"name": entry.id, "kind": ""} | entry.values
    return model.Equipment(id=entry.id, spot=_spot(draft, entry), **told)


def _run(draft: shape.Draft, entry: shape.Entry) -> model.Run:
    told: dict[str, Any] = {"name": entry.id} | entry.values
    source, target = told.pop("from", ""), told.pop("to", "")
    return model.Run(id=entry.id, source=source, target=target, spot=_spot(draft, entry), **told)


def _board(draft: shape.Draft, entry: shape.Entry) -> model.Board:
    told: dict[str, Any] = {"name": entry.id} | entry.values
    return model.Board(id=entry.id, spot=_spot(draft, entry), **told)


def _remedy(draft: shape.Draft, entry: shape.Entry) -> model.Remedy:
    told: dict[str, Any] = {"name": entry.id, "kind": ""} | entry.values
    return model.Remedy(id=entry.id, spot=_spot(draft, entry), **told)


def _failure(draft: shape.Draft, entry: shape.Entry) -> model.Failure:
    told: dict[str, Any] = {"title": entry.id} | entry.values
    does = [e for e in draft.of("failure.does") if e.path[: len(entry.path)] == entry.path]
    return model.Failure(
        id=entry.id, does=tuple(_does(draft, e) for e in does), spot=_spot(draft, entry), **told
    )


def _does(draft: shape.Draft, entry: shape.Entry) -> model.Does:
    told = entry.values
    word = VALUES.get(told.get("effect", ""), "")
    value = told.get(word)
    return model.Does(
        effect=told.get("effect", ""),
        part=told.get("part", ""),
        value=None if value is None else value * (_MILLI if word == "air" else 1.0),
        at=told.get("at", ""),
        after=told.get("after", 0.0),
        spot=_spot(draft, entry),
    )


def _point(draft: shape.Draft, entry: shape.Entry) -> model.Point:
    told: dict[str, Any] = {"name": entry.id, "at": ""} | entry.values
    return model.Point(id=entry.id, spot=_spot(draft, entry), **told)


def _instrument(draft: shape.Draft, entry: shape.Entry) -> model.Instrument:
    told: dict[str, Any] = {"name": entry.id} | entry.values
    return model.Instrument(id=entry.id, spot=_spot(draft, entry), **told)


def _notify(draft: shape.Draft, entry: shape.Entry) -> model.Notify:
    told: dict[str, Any] = {"to": "", "what": ""} | entry.values
    told["whom"], told["level"] = told.pop("for", ()), told.pop("from", "act")
    return model.Notify(id=entry.id, spot=_spot(draft, entry), **told)


_OF_LIMITS = ("cause", "consequence", "harm", "response", "time", "dead_band", "delay", "second")


def _limit(draft: shape.Draft, entry: shape.Entry) -> model.Limit:
    told = entry.values
    bands = {name: told[name] for name in ("aim", "watch", "act") if name in told}
    return model.Limit(
        quantity=told.get("quantity", ""),
        at=told.get("at", ""),
        basis=next((basis for *_, basis in bands.values() if basis), ""),
        source=told.get("source", ""),
        text="; ".join(f"{name} {written}" for name, (_, written, _) in bands.items()),
        spot=_spot(draft, entry),
        **{name: told[name] for name in _OF_LIMITS if name in told},
        **{name: band for name, (band, *_) in bands.items()},
    )


def _rate(draft: shape.Draft, entry: shape.Entry) -> model.FailureRate:
    told: dict[str, Any] = {"of": "", "mode": "", "source": ""} | entry.values
    return model.FailureRate(spot=_spot(draft, entry), **told)


def _upkeep(draft: shape.Draft, entry: shape.Entry) -> model.Upkeep:
    told: dict[str, Any] = {"of": "", "what": ""} | entry.values
    when, text, _ = told.pop("when", (None, "", ""))
    return model.Upkeep(when=when, text=text, spot=_spot(draft, entry), **told)


def _zone(draft: shape.Draft, entry: shape.Entry) -> model.Zone:
    told: dict[str, Any] = {"name": entry.id} | entry.values
    return model.Zone(id=entry.id, spot=_spot(draft, entry), **told)


def _round(draft: shape.Draft, entry: shape.Entry) -> model.Round:
    told: dict[str, Any] = {"name": entry.id} | entry.values
    stops = [e for e in draft.of("round.stop") if e.path[: len(entry.path)] == entry.path]
    return model.Round(
        id=entry.id, stops=tuple(_stop(draft, e) for e in stops), spot=_spot(draft, entry), **told
    )


def _stop(draft: shape.Draft, entry: shape.Entry) -> model.Stop:
    told: dict[str, Any] = {"at": ""} | entry.values
    return model.Stop(instruments=told.pop("with", ()), spot=_spot(draft, entry), **told)


def _backup(draft: shape.Draft, entry: shape.Entry) -> copies.Copies:
    told: dict[str, Any] = {"to": ""} | entry.values
    return copies.Copies(spot=_spot(draft, entry), **told)


def _window(draft: shape.Draft, entry: shape.Entry) -> model.Window:
    told: dict[str, Any] = {"of": ()} | entry.values
    return model.Window(spot=_spot(draft, entry), **told)


def _shift(draft: shape.Draft, entry: shape.Entry) -> model.Shift:
    told: dict[str, Any] = {"name": entry.id} | entry.values
    begins, ends = told.pop("hours", (0, 0))
    return model.Shift(id=entry.id, begins=begins, ends=ends, spot=_spot(draft, entry), **told)


def _animals(draft: shape.Draft, entry: shape.Entry) -> model.Animals:
    told: dict[str, Any] = {"at": "", "species": ""} | entry.values
    return model.Animals(spot=_spot(draft, entry), **told)


def _source(draft: shape.Draft, entry: shape.Entry) -> model.Source:
    told: dict[str, Any] = {"id": "", "kind": ""} | entry.values
    lines = [e for e in draft.of("source.map") if e.path[: len(entry.path)] == entry.path]
    addresses = tuple(
        model.Address(**({"point": ""} | line.values), spot=_spot(draft, line))  # pyright: ignore[reportArgumentType]
        for line in lines
    )
    return model.Source(spot=_spot(draft, entry), map=addresses, **told)
