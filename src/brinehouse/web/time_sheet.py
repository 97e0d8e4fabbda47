"""Time in hand as its sheet shows it: a line for each failure, cards, and the courses of one failure."""

from __future__ import annotations

import collections
import dataclasses
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import quote, urlencode

from markupsafe import Markup

from brinehouse.facility import model
from brinehouse.web import catalogue, gas_sheet, svg, time_drawing
from brinehouse.workbench import time_told

MOST = 40  # rows shown before the rest is asked for
EACH = 3  # of each kind, where no kind is chosen
FIRST = 10  # limits of one failure before the rest is folded away
CUTS = 24  # sets told
PARTS = 10  # parts told
AT_ONCE = 1.0 / 120.0  # hours: less is not told from the beginning
PLAIN = ("", "1", "-", "pH")  # units that are not written
HAPPENS = ("spills", "dry", "uncovered")  # bands that are no limit of a file
WINDOWS = (2.0, 6.0, 12.0, 24.0, 48.0)  # hours that a course may be drawn over
OWN = ("level", "tracer")  # quantities that only this sheet shows


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One failure on the sheet."""

    id: str
    title: str
    kind: str
    hours: str
    spread: str
    first: str
    where: str
    level: str
    word: str
    helps: str
    gains: str
    margin: str
    bites: Sequence[str]
    drawn: Markup
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick:
    """One choice of a filter: plain words with an address."""

    name: str
    href: str
    current: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """What hangs by the plant: one failure, its hours, its steps."""

    id: str
    key: str
    title: str
    kind: str
    hours: str
    unit: str
    spread: str
    until: str
    there: str
    level: str
    word: str
    steps: Sequence[str]
    gains: Sequence[tuple[str, str]]
    cautions: Sequence[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A line of the table of crossings, signs or margins."""

    place: str
    quantity: str
    limit: str
    hours: str
    spread: str
    margin: str
    remark: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class InSets:
    """A part, and in how many of the least sets it stands."""

    name: str
    sets: int
    of: int
    share: float
    least: str


class Teller:
    """Words and names of one hall, for all parts of the sheet."""

    def __init__(self, table: time_told.Table, facility: model.Facility, t: catalogue.Words) -> None:
        self.table, self.facility, self.t = table, facility, t

    # -- rows -----------------------------------------------------------------------------------------

    def line(self, row: time_told.Row, query: str = "") -> Line:
        """One failure."""
        t, first = self.t, row.first
        level = time_told.level(row, self.table)
        best = row.helps[0] if row.helps else None
        return Line(
            id=row.id,
            title=row.title,
            kind=self.kind(row.kind),
            hours=span(row.hours, t) if first else "",
            spread=self.spread(first) if first and first.low is not None else "",
            first=self.limit(first.line) if first else "",
            where=self.place(first.place) if first else "",
            level=level,
            word=self.word(row, level),
            helps=best.title if best else "",
            gains=self.gains(best.gained, best.hours) if best else "",
            margin=self.margin(row.least_margins[0]) if row.least_margins else "",
            bites=[self.title_of(id) for id in row.bites_with],
            drawn=self.drawn(row, level),
            href=address(row.id, query=query),
        )

    def drawn(self, row: time_told.Row, level: str) -> Markup:
        """Its dimension line."""
        first = row.first
        hours = first.hours if first is not None and math.isfinite(first.hours) else None
        said = (
            self.t("hand.line_said", title=row.title, hours=span(row.hours, self.t))
            if hours is not None
            else self.t("hand.line_none", title=row.title, hours=f"{self.table.asked.hours:.0f}")
        )
        return time_drawing.line(
            hours,
            low=first.low if first is not None else None,
            high=first.high if first is not None else None,
            lost=time_told.lost(self.table),
            level=level,
            label=said,
            longest=self.table.asked.hours,
        )

    def word(self, row: time_told.Row, level: str) -> str:
        """What is abnormal about it."""
        if level == "act":
            return self.t("hand.too_late")
        return self.t("hand.short", hours=svg.digits(self.table.asked.less_than)) if level else ""

    def kind(self, kind: str) -> str:
        """A kind of failure, or of two, in words."""
        parts = [part.strip() for part in kind.split(" + ")]
        return ", ".join(dict.fromkeys(part.replace("-", " ") for part in parts))

    def place(self, id: str) -> str:
        """What the keeper calls a place."""
        return gas_sheet.named(self.facility, id)

    def quantity(self, name: str) -> str:
        """A quantity in words."""
        return self.t(f"hand.q_{name}" if name in OWN else f"balance.q_{name}")

    def limit(self, line: time_told.Line) -> str:
        """A limit in words: quantity and where it lies, or what happens."""
        if line.band in HAPPENS:
            return self.t("hand.band_left" if time_told.is_left(line) else f"hand.band_{line.band}")
        return f"{self.quantity(line.quantity)} {bound(line.text)}"

    def spread(self, one: time_told.Crossing) -> str:
        """The interval, or that it is still being worked out."""
        if one.low is None:
            return self.t("hand.computing") if self.table.intervals == "computing" else ""
        high = one.high if one.high is not None else math.inf
        if math.isinf(high):
            return self.t(
                "hand.interval_open", low=span(one.low, self.t), most=f"{self.table.asked.hours:.0f}"
            )
        return self.t("hand.interval", low=span(one.low, self.t), high=span(high, self.t))

    def gains(self, gained: float | None, hours: float | None) -> str:
        """What a step brings."""
        if gained is None:
            return ""
        if math.isinf(gained) or (hours is not None and math.isinf(hours)):
            return self.t("hand.clears", hours=f"{self.table.asked.hours:.0f}")
        return self.t("hand.gains", hours=span(gained, self.t))

    def margin(self, one: time_told.Margin) -> str:
        """How near a limit came that was not crossed."""
        return self.t(
            "hand.margin",
            place=self.place(one.line.place),
            limit=self.limit(one.line),
            margin=amount(one.margin, one.line.unit),
        )

    def title_of(self, id: str) -> str:
        """The title of a failure."""
        found = time_told.find(self.table, id)
        return found.title if found else id

    def assumed(self) -> list[tuple[str, str, str]]:
        """What was assumed: what, how much, from where."""
        return [(one.what, amount(one.value, one.unit), one.source) for one in self.table.assumed]

    def beyond(self) -> str:
        """Limits that are beyond at the start without any failure."""
        told = [
            self.t("hand.first_at", limit=self.limit(line), place=self.place(line.place))
            for line in self.table.start.crossed
        ]
        return "; ".join(told)

    # -- one failure ----------------------------------------------------------------------------------

    def limits(self, row: time_told.Row) -> list[Limit]:
        """Every limit that is crossed, and what is seen before, soonest first."""
        told = [(one, False) for one in row.crossings] + [(one, True) for one in row.signs]
        told.sort(key=lambda pair: pair[0].hours)
        return [self._limit(one.line, sign=sign, crossing=one) for one, sign in told]

    def margins(self, row: time_told.Row) -> list[Limit]:
        """Limits that are not crossed, nearest first."""
        return [self._limit(one.line, margin=one) for one in row.least_margins]

    def _limit(
        self,
        line: time_told.Line,
        *,
        sign: bool = False,
        crossing: time_told.Crossing | None = None,
        margin: time_told.Margin | None = None,
    ) -> Limit:
        hours = crossing.hours if crossing else margin.hours if margin else math.inf
        anyway = crossing is not None and crossing.anyway
        return Limit(
            place=self.place(line.place),
            quantity="" if line.band in HAPPENS else self.quantity(line.quantity),
            limit=self.limit(line) if line.band in HAPPENS else bound(line.text),
            hours=span(hours, self.t),
            spread=self.spread(crossing) if crossing and crossing.low is not None else "",
            margin=amount(margin.margin, line.unit) if margin else "",
            remark=self.t("hand.sign") if sign else self.t("hand.anyway") if anyway else "",
            source=line.source,
        )

    def card(self, row: time_told.Row) -> Card:
        """The card of one failure."""
        t, first, level = self.t, row.first, time_told.level(row, self.table)
        if first is not None and math.isfinite(row.hours):
            number, unit = parted(row.hours, t)
            until = t("hand.until", limit=self.limit(first.line), place=self.place(first.place))
        else:
            number, unit = f"> {self.table.asked.hours:.0f}", t("hand.unit_h")
            until = self.margin(row.least_margins[0]) if row.least_margins else ""
        left = row.left
        there = t("hand.left", hours=span(left, t)) if left is not None and left > 0.0 else ""
        return Card(
            id=row.id,
            key="".join(one if one.isalnum() else "-" for one in row.id),
            title=row.title,
            kind=self.kind(row.kind),
            hours=number,
            unit=unit,
            spread=self.spread(first) if first and first.low is not None else "",
            until=until,
            there=there,
            level=level,
            word=self.word(row, level),
            steps=[step.text for step in time_told.own_steps(self.table, row)],
            gains=[(one.text, self.gains(one.gained, one.hours)) for one in time_told.gaining(row)],
            cautions=time_told.cautions(self.table, row),
        )

    def heading(self, shown: Sequence[time_told.Row]) -> str:
        """The sentence over the sheet."""
        short, hours = time_told.short(self.table, shown), svg.digits(self.table.asked.less_than)
        first = shown[0] if shown else None
        if first is None and self.table.asked.pairs:
            return self.t("hand.heading_no_pair")
        if first is None or math.isinf(first.hours):
            return self.t("hand.heading_none", count=len(shown), hours=svg.digits(self.table.asked.hours))
        told = {"title": first.title, "time": span(first.hours, self.t)}
        if len(first.failures) > 1:
            return self.t.many("hand.heading_pairs", len(shown), **told)
        if not short:
            return self.t("hand.heading_long", hours=hours, **told)
        return self.t("hand.heading", short=short, count=len(shown), hours=hours, **told)

    def title(self, row: time_told.Row) -> str:
        """The sentence over a failure's page."""
        first = row.first
        if first is None or math.isinf(row.hours):
            return self.t("hand.title_none", title=row.title, hours=svg.digits(self.table.asked.hours))
        return self.t(
            "hand.title_one",
            title=row.title,
            hours=span(row.hours, self.t),
            limit=self.limit(first.line),
            place=self.place(first.place),
        )

    def courses(self, row: time_told.Row, known: Sequence[time_told.Course]) -> list[tuple[str, Markup]]:
        """The courses of the quantities that matter, each with its limits and the nights."""
        return [
            (f"{self.place(one.place)}, {self.quantity(one.quantity)}", self._course(row, one))
            for one in known
        ]

    def _window(self, one: time_told.Course, first: time_told.Crossing | None) -> int:
        """How many of the known hours are drawn: enough past the crossing, not so many that it is hidden."""
        wanted = 4.0 * first.hours if first else self.table.asked.hours
        longest = next((hours for hours in WINDOWS if hours >= wanted), max(one.hours))
        return max(sum(1 for hour in one.hours if hour <= longest + 1e-9), 2)

    def _course(self, row: time_told.Row, one: time_told.Course) -> Markup:
        crossed = [c for c in row.crossings if (c.place, c.quantity) == (one.place, one.quantity)]
        first = next((c for c in crossed if math.isfinite(c.hours)), None)
        unit = one.unit if one.unit not in PLAIN else ""
        count = self._window(one, first)
        one = dataclasses.replace(one, hours=one.hours[:count], values=one.values[:count])
        values = [value for value in one.values if math.isfinite(value)]
        said = self.t(
            "hand.course_said",
            place=self.place(one.place),
            quantity=self.quantity(one.quantity),
            low=amount(min(values), unit) if values else "",
            high=amount(max(values), unit) if values else "",
            hours=svg.digits(max(one.hours)),
        )
        return time_drawing.course(
            time_drawing.Course(
                hours=one.hours,
                values=one.values,
                edges=[
                    time_drawing.Edge(
                        value=line.value, upper=line.upper, level="watch" if line.band == "watch" else "act"
                    )
                    for line in one.lines
                ],
                crossed=first.hours if first else None,
                lost=time_told.lost(self.table),
                clock=self.table.start.clock,
                label=said,
                over=f"{self.quantity(one.quantity)} {unit}".strip(),
                below=self.t("hand.hours_after"),
                level="act" if first else "",
            )
        )

    # -- cut sets -------------------------------------------------------------------------------------

    def sets(self) -> list[tuple[str, str, str, str]]:
        """Least sets of two failures: hours, titles, what comes first, address. Those of one are the rows."""
        return [
            (
                span(one.hours, self.t),
                self.t("hand.and").join(one.titles),
                self.t(
                    "hand.first_at",
                    limit=self.limit(one.crossing.line),
                    place=self.place(one.crossing.place),
                ),
                address(" + ".join(one.failures)),
            )
            for one in time_told.sets_of_two(self.table)[:CUTS]
        ]

    def part(self, id: str) -> str:
        """What the keeper calls a part, with its tag."""
        f = self.facility
        for shelf in (f.duties, f.pumps, f.equipment, f.boards):
            if id in shelf:
                name = shelf[id].name
                return f"{name} ({id})" if name and name != id else id
        return self.place(id)

    def parts(self) -> list[InSets]:
        """Parts that stand in most of the least sets."""
        return [
            InSets(
                name=self.part(one.name),
                sets=one.sets,
                of=one.of,
                share=one.sets / one.of if one.of else 0.0,
                least=span(one.shortest, self.t),
            )
            for one in list(self.table.parts)[:PARTS]
        ]


# -- filters ----------------------------------------------------------------------------------------------


def read(
    given: dict[str, str], facility: model.Facility, table_kinds: Sequence[str] = ()
) -> time_told.Wanted:
    """What the address asks for; what is not known is left out."""
    return time_told.Wanted(
        begin="worst" if given.get("from") == "worst" else "now",
        pairs=given.get("show") == "pairs",
        system=given["system"] if given.get("system") in facility.systems else "",
        kind=given.get("kind", "") if not table_kinds or given.get("kind") in table_kinds else "",
        within=hours_of(given.get("within", "")) or time_told.LESS_THAN,
    )


def hours_of(text: str) -> float | None:
    """Hours as typed, within sense; None where it is none.

    >>> hours_of("6"), hours_of("6,5"), hours_of("-1"), hours_of("x")
    (6.0, 6.5, None, None)
    """
    try:
        value = float(text.strip().removesuffix("h").strip().replace(",", "."))
    except ValueError:
        return None
    return value if 0.0 < value <= time_told.HOURS else None


def query(wanted: time_told.Wanted, **changed: str) -> str:
    """The filter as the part of an address after its ``?``."""
    parts = {
        "from": wanted.begin if wanted.begin != "now" else "",
        "show": "pairs" if wanted.pairs else "",
        "system": wanted.system,
        "kind": wanted.kind,
        "within": svg.digits(wanted.within) if wanted.within != time_told.LESS_THAN else "",
        **changed,
    }
    return urlencode({name: value for name, value in parts.items() if value})


def hidden(wanted: time_told.Wanted) -> list[tuple[str, str]]:
    """What the form of kind and hours keeps of the other filters."""
    kept = {
        "from": wanted.begin if wanted.begin != "now" else "",
        "show": "pairs" if wanted.pairs else "",
    }
    return [(name, value) for name, value in kept.items() if value]


def address(id: str, page: str = "", query: str = "") -> str:
    """The address of a failure's page, its card or its drill.

    >>> address("stop:P-201"), address("power + stop:P-201", "card")
    ('/time/stop%3AP-201', '/time/card/power%20%2B%20stop%3AP-201')
    """
    way = f"/time/{page}/" if page else "/time/"
    return way + quote(id, safe="") + (f"?{query}" if query else "")


def picks(wanted: time_told.Wanted, t: catalogue.Words) -> list[tuple[str, list[Pick]]]:
    """Every filter of two choices, as plain links."""

    def pick(name: str, current: bool, **changed: str) -> Pick:
        asked = query(wanted, **changed)
        return Pick(name=name, href=f"/time?{asked}" if asked else "/time", current=current)

    return [
        (
            t("hand.from"),
            [
                pick(t("hand.from_now"), wanted.begin == "now", **{"from": ""}),
                pick(t("hand.from_worst"), wanted.begin == "worst", **{"from": "worst"}),
            ],
        ),
        (
            t("hand.show"),
            [
                pick(t("hand.singles"), not wanted.pairs, show=""),
                pick(t("hand.pairs"), wanted.pairs, show="pairs"),
            ],
        ),
    ]


def kind_picks(wanted: time_told.Wanted, table: time_told.Table, teller: Teller) -> list[Pick]:
    """Every kind of failure with how many there are, as plain links."""

    def pick(name: str, kind: str) -> Pick:
        asked = query(wanted, kind=kind)
        return Pick(name=name, href=f"/time?{asked}" if asked else "/time", current=wanted.kind == kind)

    counts = collections.Counter(row.kind for row in table.rows)
    every = [pick(teller.t("hand.all"), "")]
    return every + [pick(f"{teller.kind(kind)}\u00a0{count}", kind) for kind, count in counts.items()]


# -- numbers ----------------------------------------------------------------------------------------------


def parted(hours: float, t: catalogue.Words) -> tuple[str, str]:
    """A time as number and unit: minutes below an hour, hours above.

    >>> parted(0.2, catalogue.Words()), parted(1.0, catalogue.Words()), parted(26.0, catalogue.Words())
    (('12', 'min'), ('1.0', 'h'), ('26', 'h'))
    >>> parted(0.03, catalogue.Words())
    ('1.8', 'min')
    """
    if abs(hours) < 0.99:
        minutes = abs(hours) * 60.0
        return svg.digits(minutes, 1 if 0.0 < minutes < 9.95 else 0), t("hand.unit_min")
    return svg.digits(hours, 1 if hours < 10.0 else 0), t("hand.unit_h")


def span(hours: float | None, t: catalogue.Words) -> str:
    r"""A time in hand in words; nothing where it is endless.

    >>> span(0.75, catalogue.Words()), span(float("inf"), catalogue.Words())
    ('45\xa0min', '')
    """
    if hours is None or not math.isfinite(hours):
        return ""
    if abs(hours) < AT_ONCE:
        return t("hand.at_once")
    return "\u00a0".join(parted(hours, t))


def bound(text: str) -> str:
    r"""The words of a limit, number and unit kept on one line.

    >>> bound("below 4.5 mg/L")
    'below 4.5\xa0mg/L'
    """
    return re.sub(r"(?<=\d) (?=\S)", "\u00a0", text)


def amount(value: float, unit: str) -> str:
    """A margin with its unit, three figures.

    >>> amount(0.1234, "mg/L"), amount(120.0, "1")
    ('0.123 mg/L', '120')
    """
    digits = svg.digits(float(f"{value:.3g}"))
    return f"{digits} {unit}".strip() if unit not in PLAIN else digits
