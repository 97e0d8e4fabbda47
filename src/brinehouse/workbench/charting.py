"""Charts of what was read: any quantities, places and times, thinned so that no excursion is lost."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinehouse import findings, glossary, units
from brinehouse.facility import model
from brinehouse.workbench import clock, hall, mishaps, times, told

Floats = NDArray[np.float64]
MOST_SERIES = 8
MOST_POINTS = 700  # of one line: more are drawn as least, mean and greatest of a stretch
MOST_EVENTS = 120
LONGEST_GAP = 3.0  # usual intervals: a longer one stays a gap
SPANS = {"1": 1, "3": 3, "7": 7, "30": 30, "90": 90, "365": 365}
FIRST = "7"
EVENTS = (
    "event",
    "work",
    "change-over",
    "renewal",
    "instrument-check",
    "instrument-setting",
    "note",
    "lock-out",
)
HOLLOW = ("doubtful", "fault")
DAY = timedelta(days=1)
MINUTE = timedelta(minutes=1)
KEPT = 16  # series of the last looks
AROUND = timedelta(days=3660)  # the longest time that is drawn at once
FIRST_QUANTITIES = ("temperature", "oxygen", "total gas pressure")


@dataclass(frozen=True, slots=True)
class Pair:
    """One quantity at one place or test point."""

    place: str
    quantity: str

    @property
    def text(self) -> str:
        """As an address has it."""
        return f"{self.place}:{self.quantity}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is to be drawn, and from when until when."""

    pairs: tuple[Pair, ...]
    since: datetime
    until: datetime
    span: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Readings of one pair by one way of reading, in order of time, as they are drawn.

    Attributes
    ----------
    sensor : bool
        Read by a sensor: a line; else by hand: marks.
    times : ndarray
        Seconds since 1970, UTC.
    values, low, high : ndarray
        In the pair's unit: of a stretch its mean, least and greatest; else all three are one reading.
    counts : ndarray
        Readings in each.
    hollow : ndarray of bool
        Marked doubtful or faulty; of a stretch, any of it.
    gap : float
        Seconds beyond which two neighbours are not joined.
    """

    sensor: bool
    times: Floats
    values: Floats
    low: Floats
    high: Floats
    counts: NDArray[np.int64]
    hollow: NDArray[np.bool_]
    gap: float

    @property
    def thinned(self) -> bool:
        """Whether a mark stands for several readings."""
        return bool(self.counts.size) and int(self.counts.max()) > 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """One pair with its lines; `left_out` readings could not be given in its unit."""

    pair: Pair
    name: str
    unit: str
    lines: tuple[Line, ...]
    count: int
    left_out: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A limit: ``aim``, ``watch`` or ``act``, for one pair, in its unit; an end that is None is open."""

    pair: Pair
    level: str
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """All series of one unit, one below the other with those of other units."""

    quantity: str
    unit: str
    series: tuple[Series, ...]
    bands: tuple[Band, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happened, as a numbered mark and in words."""

    id: str
    at: datetime
    kind: str
    words: str
    place: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Charts:
    """Everything that is drawn."""

    wanted: Wanted
    panels: tuple[Panel, ...]
    events: tuple[Event, ...]
    more_events: int = 0

    @property
    def count(self) -> int:
        """Readings in all."""
        return sum(series.count for panel in self.panels for series in panel.series)

    @property
    def newest(self) -> datetime | None:
        """When the newest reading drawn was taken."""
        ends = [
            float(line.times[-1])
            for panel in self.panels
            for series in panel.series
            for line in series.lines
            if line.times.size
        ]
        return datetime.fromtimestamp(max(ends), UTC) if ends else None


def read(place: hall.Hall, pairs: Iterable[str], given: Mapping[str, str]) -> Wanted:
    """What an address asks for.

    Parameters
    ----------
    place : Hall
    pairs : iterable of str
        ``place:quantity`` each.
    given : mapping
        ``days`` (one of `SPANS`), or ``since`` and ``until``, as typed.

    Raises
    ------
    mishaps.Refused
        A place or quantity that is not there, too many of them, or a time that is none.
    """
    found = tuple(dict.fromkeys(_pair(place.facility, text) for text in pairs if text.strip(": ")))
    if len(found) > MOST_SERIES:
        hint = "take some of them away"
        raise mishaps.Refused(_stop("chart/too-many", f"At most {MOST_SERIES} are drawn together", hint))
    since, until, span = _window(place.facility.timezone, given)
    return Wanted(pairs=found or _first(place), since=since, until=until, span=span)


def _pair(facility: model.Facility, text: str) -> Pair:
    where, _, what = text.partition(":")
    where = where.strip()
    quantity = glossary.quantity(what.strip())
    if quantity is None:
        near = ", ".join(glossary.nearest(what.strip(), glossary.words())[:3])
        hint = f"write one of: {near}" if near else "choose one of those shown"
        raise mishaps.Refused(_stop("chart/no-quantity", f"'{what.strip()}' is not a quantity", hint))
    if where and not facility.find(where):
        raise mishaps.Refused(
            _stop("chart/no-place", f"'{where}' is not a place of this hall", "choose one of those shown")
        )
    return Pair(where, quantity.word)


def _window(zone: str, given: Mapping[str, str]) -> tuple[datetime, datetime, str]:
    now = clock.now().replace(second=0, microsecond=0) + MINUTE  # page and script ask for the same
    since, until = given.get("since", "").strip(), given.get("until", "").strip()
    if not since and not until:
        span = given.get("days", FIRST)
        span = span if span in SPANS else FIRST
        return now - SPANS[span] * DAY, now, span
    end = _moment(until, zone) if until else now
    if until and len(until) == 10:
        end += DAY  # a day given as the last is within
    begin = _moment(since, zone) if since else end - SPANS[FIRST] * DAY
    if not begin < end:
        raise mishaps.Refused(
            _stop("chart/backwards", "The end lies before the beginning", "turn them round")
        )
    return max(begin, end - AROUND), end, ""


def _moment(text: str, zone: str) -> datetime:
    """A time typed in the hall's zone, or seconds since 1970 as the page's own script sends them."""
    if text.replace(".", "", 1).isdigit() and len(text) > 8:
        return datetime.fromtimestamp(min(float(text), 2e10), UTC)
    return times.local(text, zone)


def _first(place: hall.Hall) -> tuple[Pair, ...]:
    """What is drawn where nothing was chosen: the usual quantities of the first tank."""
    tank = next(iter(place.facility.tanks), "")
    return tuple(Pair(tank, quantity) for quantity in FIRST_QUANTITIES) if tank else ()


def look(place: hall.Hall, wanted: Wanted, *, points: int = MOST_POINTS) -> Charts:
    """The charts of what is wanted.

    Parameters
    ----------
    place : Hall
    wanted : Wanted
    points : int
        How many marks of a line at most.
    """
    written = hall.Hall.has_book(place.folder)
    made = [_known(place, pair, wanted, points) if written else _unread(place, pair) for pair in wanted.pairs]
    panels: dict[tuple[str, str], list[Series]] = {}
    for series in made:
        panels.setdefault((series.pair.quantity, series.unit), []).append(series)
    events, more = _events(place, wanted) if written else ((), 0)
    return Charts(
        wanted=wanted,
        panels=tuple(
            Panel(quantity=key[0], unit=key[1], series=tuple(group), bands=_bands(place.facility, group))
            for key, group in panels.items()
        ),
        events=events,
        more_events=more,
    )


def unit_of(quantity: str) -> str:
    """The unit a quantity is drawn in."""
    known = glossary.quantity(quantity)
    return known.unit if known is not None else ""


def called(facility: model.Facility, where: str) -> str:
    """What people call a place or a test point; the hall itself where it is none."""
    vessel, point = facility.vessels.get(where), facility.points.get(where)
    return vessel.name if vessel is not None else point.name if point is not None else where or facility.name


def columns(place: hall.Hall, pair: Pair, since: datetime, until: datetime) -> Mapping[str, Any]:
    """Readings of a pair: of a test point alone, or of all points of a place."""
    point = place.facility.points.get(pair.place)
    at = (place.facility.place(pair.place) if point is not None else None) or None
    where = at.id if at is not None else point.at if point is not None else pair.place
    found = place.readings(places=[where], quantities=[pair.quantity], since=since, until=until)
    if point is None:
        return found
    names = found["point_names"]
    mine = names[found["point"]] == pair.place if len(names) else np.zeros(0, bool)
    rows = {name for name in found if not name.endswith("_names")}
    return {name: column[mine] if name in rows else column for name, column in found.items()}


_kept: OrderedDict[tuple[object, ...], Series] = OrderedDict()


def _known(place: hall.Hall, pair: Pair, wanted: Wanted, points: int) -> Series:
    """A series as it was drawn a moment ago, where nothing was written down since; else read anew."""
    stamp = (*place.book.head(), place.facility.digest)
    asked = (str(place.folder.resolve()), stamp, pair, wanted.since, wanted.until, points)
    if asked not in _kept:
        _kept[asked] = _series(place, pair, wanted, points)
        while len(_kept) > KEPT:
            _kept.popitem(last=False)
    return _kept[asked]


def _unread(place: hall.Hall, pair: Pair) -> Series:
    name = called(place.facility, pair.place)
    return Series(pair=pair, name=name, unit=unit_of(pair.quantity), lines=(), count=0)


def _series(place: hall.Hall, pair: Pair, wanted: Wanted, points: int) -> Series:
    unit, name = unit_of(pair.quantity), called(place.facility, pair.place)
    found = columns(place, pair, wanted.since, wanted.until)
    values = _in_unit(found, unit)
    known = np.isfinite(values)
    seconds = found["time"].astype(np.float64) / 1e6
    sensor = _is(found, "source", ("sensor",))
    hollow = _is(found, "quality", HOLLOW) | ~_is(found, "bound", ("",))
    lines = tuple(
        thinned(seconds[chosen], values[chosen], hollow[chosen], sensor=by_sensor, points=points)
        for by_sensor in (True, False)
        if (chosen := known & (sensor if by_sensor else ~sensor)).any()
    )
    lost = int(np.isfinite(found["value"]).sum() - known.sum())
    return Series(pair=pair, name=name, unit=unit, lines=lines, count=int(known.sum()), left_out=lost)


def _is(found: Mapping[str, Any], column: str, wanted: Sequence[str]) -> NDArray[np.bool_]:
    """Which rows have one of some texts in a column."""
    names = found[f"{column}_names"]
    fits = np.array([name in wanted for name in names], dtype=bool)
    return fits[found[column]] if len(names) else np.zeros(len(found[column]), bool)


def _in_unit(found: Mapping[str, Any], unit: str) -> Floats:
    """Values in one unit; what cannot be given in it is no number."""
    values = np.array(found["value"], dtype=np.float64)
    for code, name in enumerate(found["unit_names"]):
        if name == unit:
            continue
        mine = found["unit"] == code
        try:
            values[mine] = units.convert(values[mine], name, unit)
        except units.NotUnderstood:
            values[mine] = np.nan
    return values


def thinned(
    seconds: Floats, values: Floats, hollow: NDArray[np.bool_], *, sensor: bool, points: int = MOST_POINTS
) -> Line:
    """A line of at most so many marks: each keeps the least and the greatest of its stretch.

    Examples
    --------
    >>> line = thinned(np.arange(6.0), np.array([1.0, 9.0, 1.0, 1.0, 1.0, 2.0]), np.zeros(6, bool),
    ...     sensor=True, points=2)
    >>> line.high.tolist(), line.counts.tolist()
    ([9.0, 2.0], [3, 3])
    """
    steps = np.diff(seconds)
    usual = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
    gap = LONGEST_GAP * usual
    if seconds.size <= points:
        ones = np.ones(seconds.size, np.int64)
        return Line(
            sensor=sensor, times=seconds, values=values, low=values, high=values, counts=ones, hollow=hollow,
            gap=gap,
        )  # fmt: skip
    width = (seconds[-1] - seconds[0]) / points or 1.0
    bucket = np.minimum(((seconds - seconds[0]) / width).astype(np.int64), points - 1)
    starts = np.flatnonzero(np.diff(bucket, prepend=-1))
    counts = np.diff(starts, append=seconds.size)
    return Line(
        sensor=sensor,
        times=np.add.reduceat(seconds, starts) / counts,
        values=np.add.reduceat(values, starts) / counts,
        low=np.minimum.reduceat(values, starts),
        high=np.maximum.reduceat(values, starts),
        counts=counts,
        hollow=np.logical_or.reduceat(hollow, starts),
        gap=max(gap, LONGEST_GAP * width),
    )


def _bands(facility: model.Facility, group: Sequence[Series]) -> tuple[Band, ...]:
    """The limits of every series of a panel, the most particular of each level; the same is drawn once."""
    found: dict[tuple[str, float | None, float | None], Band] = {}
    for series in group:
        rules = facility.limits_for(series.pair.quantity, series.pair.place)
        for level in ("aim", "watch", "act"):
            band = next((one for rule in rules if (one := getattr(rule, level)) is not None), None)
            if band is not None:
                made = Band(pair=series.pair, level=level, low=band.low, high=band.high)
                found.setdefault((level, band.low, band.high), made)
    return tuple(found.values())


def _events(place: hall.Hall, wanted: Wanted) -> tuple[tuple[Event, ...], int]:
    """What happened meanwhile at the places drawn, or in the whole hall; the newest where they are many."""
    facility = place.facility
    places = {vessel.id for pair in wanted.pairs if (vessel := facility.place(pair.place)) is not None}
    facts = [
        fact
        for fact in place.facts(kinds=EVENTS, since=wanted.since, until=wanted.until)
        if not fact.place or fact.place in places
    ]
    made = [
        Event(
            id=fact.id, at=fact.measured, kind=fact.kind, words=told.line(fact) or fact.note, place=fact.place
        )
        for fact in facts
    ]
    return tuple(made[-MOST_EVENTS:]), max(len(made) - MOST_EVENTS, 0)


def _stop(code: str, text: str, hint: str) -> findings.Finding:
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint)
