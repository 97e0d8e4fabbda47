"""Checks on zones and rounds: nobody walks back from a dirtier zone, and every stop asks for something."""

from __future__ import annotations

from brinehouse.facility import cases, hidden, model, shape


def zones(case: cases.Case) -> None:
    """Where zones are drawn, every tank in use lies in one."""
    facility = case.facility
    if not facility.zones:
        return
    loose = [tank for tank in facility.tanks.values() if not tank.zone and not tank.retired]
    for tank in loose:
        shown = hidden.visible(tank.id)
        case.note(
            "facility/zone",
            ("tank", tank.id),
            f"tank {shown} lies in no zone: a round comes to it as if it were of the cleanest",
            f'write zone = "{hidden.visible(next(iter(facility.zones)))}", or the zone it lies in',
            about=f"tank {shown}",
        )


def rounds(case: cases.Case) -> None:
    """Every stop asks for something that can be had there."""
    for entry in case.draft.of("round.stop"):
        stop = _stop_of(case.facility, entry)
        if stop is not None:
            _asks_nothing(case, entry, stop)
            _meter(case, entry, stop)
            _retired(case, entry, stop)


def _stop_of(facility: model.Facility, entry: shape.Entry) -> model.Stop | None:
    whole = facility.rounds.get(str(entry.path[1]))
    return next((stop for stop in whole.stops if stop.spot.thing == entry.thing), None) if whole else None


def _asks_nothing(case: cases.Case, entry: shape.Entry, stop: model.Stop) -> None:
    point = case.facility.points.get(stop.at)
    own = point is not None and point.quantity
    if stop.read or stop.look or stop.feed or own:
        return
    case.say(
        "facility/round",
        entry.path,
        f"{entry.thing} asks for nothing: {hidden.visible(stop.at)} has no quantity of its own",
        'write read = ["temperature"], look = ["appetite"] or feed = "mysis"',
        key=True,
        about=entry.thing,
    )


def _meter(case: cases.Case, entry: shape.Entry, stop: model.Stop) -> None:
    meters = [
        case.facility.instruments[name] for name in stop.instruments if name in case.facility.instruments
    ]
    known = {word for meter in meters for word in meter.measures}
    strange = [word for word in stop.read if word not in known]
    if not meters or not strange:
        return
    case.ask(
        "facility/round",
        (*entry.path, "with"),
        f"{entry.thing}: none of its meters measures {strange[0]}",
        "name the meter it is read with too, or give it a stop of its own",
        about=entry.thing,
    )


def _retired(case: cases.Case, entry: shape.Entry, stop: model.Stop) -> None:
    for word, name in (("at", stop.at), *(("with", meter) for meter in stop.instruments)):
        since = case.facility.retired(name) if name else ""
        if since:
            case.ask(
                "facility/retired",
                (*entry.path, word),
                f"{entry.thing} names {hidden.visible(name)}, which is retired since {since}",
                "take it out there, or name what stands in its place",
                about=entry.thing,
                named=name,
            )


def order(case: cases.Case) -> None:
    """A round goes from the cleanest zone to the dirtiest, and never back."""
    facility = case.facility
    if not facility.zones:
        return
    for entry in case.draft.of("round"):
        _walk(case, facility, facility.rounds[entry.id], entry)


def _walk(case: cases.Case, facility: model.Facility, whole: model.Round, entry: shape.Entry) -> None:
    dirtiest: model.Zone | None = None
    for index, stop in enumerate(whole.stops):
        zone = facility.zone_of(stop.at)
        if zone is None:
            continue
        if dirtiest is not None and zone.order < dirtiest.order:
            case.ask(
                "facility/round-order",
                (*entry.path, "stop", index),
                f"{stop.spot.thing or entry.thing}: {hidden.visible(stop.at)} lies in {zone.name}, and the "
                f"round has been in {dirtiest.name}: nobody walks back from a dirtier zone to a cleaner one",
                "move the stop before the dirtier ones, or into a round of its own",
                key=True,
                about=entry.thing,
            )
            return
        dirtiest = zone if dirtiest is None or zone.order > dirtiest.order else dirtiest
