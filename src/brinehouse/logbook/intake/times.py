"""Times as files write them: ISO, day counts, seconds since 1970, local times with clock changes."""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, tzinfo
from zoneinfo import ZoneInfo

from brinehouse.logbook.intake import saying

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
TICK = timedelta(microseconds=1)
AHEAD = timedelta(minutes=10)  # a clock may run ahead by so much
OLDEST = datetime(1900, 1, 1, tzinfo=UTC)
STEPS = {"seconds": 1_000_000, "milliseconds": 1_000, "microseconds": 1}
KINDS = ("serial-1900", "serial-1904", *STEPS, "by size")
SERIAL_BELOW = 200_000.0
COUNT_FROM = 100_000_000.0

_ISO = re.compile(
    r"(?P<year>[+-]?\d{4,6})-(?P<month>\d\d)-(?P<day>\d\d)(?:[T ](?P<hour>\d\d):(?P<minute>\d\d)"
    r"(?::(?P<second>\d\d)(?:[.,](?P<part>\d{1,9}))?)?)?\s*(?P<zone>[Zz]|UTC|[+-]\d\d(?::?\d\d)?)?",
    re.ASCII,
)
_DAY_FIRST = re.compile(
    r"(?P<one>\d{1,2})(?P<sign>[./-])(?P<two>\d{1,2})(?P=sign)(?P<year>\d{4})[T ,]+"
    r"(?P<hour>\d{1,2}):(?P<minute>\d\d)(?::(?P<second>\d\d))?\s*(?P<half>[AaPp][Mm])?",
    re.ASCII,
)
_NUMBER = re.compile(r"-?\d+(?:[.,]\d+)?", re.ASCII)
_SINCE = 316_051_200_000_000  # the day after GPS time began, 1980-01-07; earlier times are looked at
_DEAD = {(1970, 1, 1), (1969, 12, 31), (1980, 1, 1), (1980, 1, 6)}


def is_number(text: str) -> bool:
    """Whether a time is a bare number: a spreadsheet's day count or a count since 1970."""
    return _NUMBER.fullmatch(text.strip()) is not None


def order_of(text: str) -> str:
    """What a date of three short numbers says about their order: ``day``, ``month``, ``either`` or nothing.

    >>> order_of("31/03/2026 08:00"), order_of("03/31/2026 08:00"), order_of("03/04/2026 08:00")
    ('day', 'month', 'either')
    """
    found = _DAY_FIRST.fullmatch(text.strip())
    if found is None:
        return ""
    one, two = int(found["one"]), int(found["two"])
    return "day" if one > 12 else "month" if two > 12 else "either"


def as_serial(text: str, base: str) -> datetime | None:
    """The local time of a spreadsheet's day count, or None for a day that no calendar has.

    >>> as_serial("46083.3333333", "serial-1900"), as_serial("60", "serial-1900")
    (datetime.datetime(2026, 3, 2, 8, 0), None)
    """
    days = float(text.replace(",", "."))
    start = datetime(1904, 1, 1) if base == "serial-1904" else datetime(1899, 12, 30)  # noqa: DTZ001 - no zone in it
    if base == "serial-1900" and days < 61:
        if days >= 60:
            return None
        start += timedelta(days=1)
    try:
        found = start + timedelta(seconds=round(days * 86_400, 1))
    except OverflowError:
        return None
    return found


def step_of(text: str) -> str:
    """By its size, in which steps a count since 1970 is.

    >>> step_of("1772434800"), step_of("1772434860000"), step_of("1772434920000000")
    ('seconds', 'milliseconds', 'microseconds')
    """
    size = abs(float(text.replace(",", ".")))
    return "seconds" if size < 1e11 else "milliseconds" if size < 1e14 else "microseconds"


def as_count(text: str, step: str) -> int:
    """Microseconds since 1970 of a count."""
    whole, _, part = text.replace(",", ".").partition(".")
    return int(whole) * STEPS[step] + (round(float(f"0.{part}") * STEPS[step]) if part else 0)


def question(text: str) -> saying.Fault:
    """What a bare number in the time column may mean, for a person to choose."""
    size = abs(float(text.replace(",", ".")))
    shown = saying.shown(text)
    if size < SERIAL_BELOW:
        each = [f"{_when(as_serial(text, base))} counted from {base[7:]}" for base in KINDS[:2]]
        said = f"time {shown} looks like a spreadsheet's day count: {', '.join(each)}; it has no zone"
        return saying.ask("intake/serial-times", said, "time", ("serial-1900", "serial-1904"), "time")
    if size >= COUNT_FROM:
        step = step_of(text)
        ticks = as_count(text, step)
        became = _when(EPOCH + ticks * TICK) if abs(ticks) < 2.5e17 else "no date"
        said = f"time {shown} looks like {step} since 1970: {became} UTC"
        return saying.ask("intake/counted-times", said, "time", (*STEPS, "by size"), "time")
    hint = "write it like 2026-03-02T08:00:00+01:00"
    return saying.stop("intake/not-a-time", f"time {shown} is a number that no clock counts to", hint, "time")


def _when(time: datetime | None) -> str:
    return "a day that never was (29 February 1900)" if time is None else f"{time:%Y-%m-%d %H:%M:%S}"


@dataclass(slots=True)
class Reader:
    """Reads the time column of one file.

    Attributes
    ----------
    zone : tzinfo
        For times without an offset.
    now : datetime
        Aware; later than this and `AHEAD` is refused.
    kind : str
        What bare numbers are, where that was answered: one of `KINDS`.
    first : str
        ``day`` or ``month``, where dates are of three short numbers.
    fold, gap : str
        Answers about clock changes: ``file order``, ``first``, ``second``; ``not moved``.
    hour : str
        The time of day, ``09:00``, of rows that give only the day.
    """

    zone: tzinfo
    now: datetime
    kind: str = ""
    first: str = ""
    fold: str = ""
    gap: str = ""
    hour: str = ""
    local: int = 0  # how many times had no offset
    folds: int = 0  # how many were placed by an answer
    _latest: int = 0
    _last: dict[object, tuple[datetime, int]] = field(default_factory=dict[object, tuple[datetime, int]])

    def __post_init__(self) -> None:
        self._latest = (self.now + AHEAD - EPOCH) // TICK

    def read(self, text: str, series: object = None) -> int | saying.Fault:
        """Microseconds since 1970 UTC, or why not; `series` tells rows apart that follow one another."""
        try:
            time = datetime.fromisoformat(text)
        except ValueError:
            return self._slow(text, series)
        if len(text) < 16 or text[10] not in "T " or text[4] != "-" or text[11:13] == "24" or "W" in text:
            return self._slow(text, series)
        return self._settled(text, time, series)

    def _settled(self, text: str, time: datetime, series: object) -> int | saying.Fault:
        if time.tzinfo is None:
            ticks = self._here(text, time, series)
            if not isinstance(ticks, int):
                return ticks
        else:
            offset = time.utcoffset()
            if offset is not None and not -43_200 <= offset.total_seconds() <= 50_400:
                return _not_a_time(
                    text, "has an offset that no zone has", "zones reach from -12:00 to +14:00"
                )
            ticks = (time - EPOCH) // TICK
        return ticks if _SINCE < ticks <= self._latest else self._odd(text, ticks)

    def _odd(self, text: str, ticks: int) -> int | saying.Fault:
        """A time in the future, of a dead clock or long past."""
        shown = saying.shown(text)
        if ticks > self._latest:
            said = f"time {shown} is still to come (now is {self.now:%Y-%m-%d %H:%M} UTC)"
            hint = "look at the clock of what wrote it; up to 10 minutes ahead are taken"
            return saying.stop("intake/future", said, hint, "time")
        time = EPOCH + ticks * TICK
        if (time.year, time.month, time.day) in _DEAD:
            said = f"time {shown} is where a clock starts again after its battery died"
            return saying.stop(
                "intake/dead-clock", said, "set the clock, and give the time it was taken", "time"
            )
        if time < OLDEST:
            return saying.stop("intake/long-past", f"time {shown} is long past", "look at the year", "time")
        return ticks

    def _here(self, text: str, time: datetime, series: object) -> int | saying.Fault:
        """A local time in the zone, with the hour that is skipped and the one that comes twice."""
        self.local += 1
        early, late = time.replace(tzinfo=self.zone), time.replace(tzinfo=self.zone, fold=1)
        before, after = early.utcoffset(), late.utcoffset()
        if before is None or after is None or before == after:
            return (early - EPOCH) // TICK
        if before > after:
            return self._twice(text, time, early, late, series)
        if self.gap == "not moved":
            self.folds += 1
            return (time.replace(tzinfo=UTC) - before - EPOCH) // TICK
        said = f"time {saying.shown(text)} does not exist in {self.zone}: the clocks went forward over it"
        hint = "give the time with its offset, or answer 'gap=not moved' if the clock was not changed"
        return saying.ask("intake/skipped-hour", said, "gap", ("not moved",), "time", hint)

    def _twice(
        self, text: str, time: datetime, early: datetime, late: datetime, series: object
    ) -> int | saying.Fault:
        first, second = (early - EPOCH) // TICK, (late - EPOCH) // TICK
        if not self.fold:
            both = f"{early.astimezone(UTC):%H:%M} or {late.astimezone(UTC):%H:%M} UTC"
            said = f"time {saying.shown(text)} came twice in {self.zone} ({both}): the clocks went back"
            return saying.ask("intake/doubled-hour", said, "fold", ("file order", "first", "second"), "time")
        self.folds += 1
        if self.fold != "file order":
            return first if self.fold == "first" else second
        before, round_ = self._last.get(series, (datetime.min, 0))  # noqa: DTZ901 - local times are compared
        if before.date() == time.date() and time <= before:
            round_ = 1
        elif before.date() != time.date():
            round_ = 0
        self._last[series] = (time, round_)
        return second if round_ else first

    def _slow(self, text: str, series: object) -> int | saying.Fault:
        bare = text.strip()
        if not bare:
            return saying.stop("intake/no-time", "the time is missing", "give when it was taken", "time")
        if _NUMBER.fullmatch(bare):
            return self._counted(bare, series)
        found = _DAY_FIRST.fullmatch(bare)
        if found is not None:
            return self._three_numbers(bare, found, series)
        found = _ISO.fullmatch(bare)
        if found is None:
            return _not_a_time(text, "is not a time as known here")
        fault = _impossible(text, found)
        if fault is not None:
            return fault
        if found["hour"] is None:
            return self._day(text, f"{found['year']}-{found['month']}-{found['day']}", series)
        zone = (found["zone"] or "").upper().replace("UTC", "Z")
        part = f".{(found['part'] or '0')[:6]:0<6}"
        date = f"{found['year']}-{found['month']}-{found['day']}"
        plain = f"{date}T{found['hour']}:{found['minute']}:{found['second'] or '00'}{part}{zone}"
        try:
            return self._settled(text, datetime.fromisoformat(plain), series)
        except ValueError:
            return _not_a_time(text, "is not a time as known here")

    def _day(self, text: str, day: str, series: object) -> int | saying.Fault:
        """A day without a time of day: read at the hour that was told."""
        if self.hour:
            return self._settled(text, datetime.fromisoformat(f"{day}T{self.hour}"), series)
        said = f"time {saying.shown(text)} has no time of day"
        hint = "answer 'hour=09:00' for the whole file, with the hour at which the round is walked"
        return saying.ask("intake/no-hour", said, "hour", (), "time", hint)

    def _counted(self, text: str, series: object) -> int | saying.Fault:
        if not self.kind or len(text) > 25:
            return question(text[:25])
        if self.kind.startswith("serial"):
            time = as_serial(text, self.kind)
            if time is None:
                return _not_a_time(text, "is a day that no calendar has")
            return self._settled(text, time, series)
        ticks = as_count(text, step_of(text) if self.kind == "by size" else self.kind)
        if abs(ticks) > 2.5e17:
            return _not_a_time(text, f"read as {self.kind} since 1970 is thousands of years away")
        return ticks if _SINCE < ticks <= self._latest else self._odd(text, ticks)

    def _three_numbers(self, text: str, found: re.Match[str], series: object) -> int | saying.Fault:
        if not self.first:
            said = f"time {saying.shown(text)} can be read with the day or the month first"
            return saying.ask("intake/date-order", said, "dates", ("day first", "month first"), "time")
        day, month = (found["one"], found["two"]) if self.first == "day" else (found["two"], found["one"])
        hour = int(found["hour"])
        if found["half"]:
            hour = hour % 12 + (12 if found["half"].lower() == "pm" else 0)
        iso = f"{found['year']}-{month:0>2}-{day:0>2}T{hour:02d}:{found['minute']}:{found['second'] or '00'}"
        shape = _ISO.fullmatch(iso)
        fault = None if shape is None else _impossible(text, shape)
        return fault or self._settled(text, datetime.fromisoformat(iso), series)


def _impossible(text: str, found: re.Match[str]) -> saying.Fault | None:
    """Why a time of the right shape cannot be."""
    year, month, day = int(found["year"]), int(found["month"]), int(found["day"])
    if not 1 <= year <= 9999:
        return _not_a_time(text, f"has the year {year}")
    if not 1 <= month <= 12:
        return _not_a_time(text, f"has the month {month}")
    last = calendar.monthrange(year, month)[1]
    if not 1 <= day <= last:
        return _not_a_time(text, f"has day {day}, and that month has {last} days")
    if found["hour"] is None:
        return None
    if found["hour"] == "24":
        return _not_a_time(text, "has hour 24", "write 00:00 of the next day, if that is meant")
    if int(found["hour"]) > 24:
        return _not_a_time(text, f"has hour {int(found['hour'])}")
    if int(found["minute"]) > 59:
        return _not_a_time(text, f"has minute {int(found['minute'])}")
    second = int(found["second"] or 0)
    if second == 60:
        return _not_a_time(text, "has second 60 (a leap second)", "write the second before, 59")
    return _not_a_time(text, f"has second {second}") if second > 60 else _offset(text, found["zone"] or "")


def _offset(text: str, zone: str) -> saying.Fault | None:
    digits = zone[1:].replace(":", "")
    if zone[:1] in "+-" and digits and (int(digits[:2]) > 14 or int(digits[2:] or 0) > 59):
        return _not_a_time(text, f"has the offset {zone}", "zones reach from -12:00 to +14:00")
    return None


def _not_a_time(text: str, why: str, hint: str = "write it like 2026-03-02T08:00:00+01:00") -> saying.Fault:
    return saying.stop("intake/not-a-time", f"time {saying.shown(text)} {why}", hint, "time")


def named_zone(name: str) -> tzinfo | None:
    """The zone of a name, ``UTC``, or an offset like ``+01:00``; None where there is none.

    >>> named_zone("UTC") is UTC, named_zone("nowhere") is None
    (True, True)
    """
    bare = name.strip()
    if bare.upper() in {"UTC", "GMT", "Z"}:
        return UTC
    if re.fullmatch(r"[+-]\d\d:\d\d", bare, re.ASCII) and int(bare[1:3]) < 15:
        return datetime.fromisoformat(f"2000-01-01T00:00:00{bare}").tzinfo
    try:
        return ZoneInfo(bare) if bare and "/" in bare else None
    except (KeyError, ValueError, OSError):
        return None


def zone_of(name: str) -> tzinfo:
    """The zone of a name; UTC where there is none."""
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        return UTC
