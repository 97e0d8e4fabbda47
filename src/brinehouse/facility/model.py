"""The facility as checked: frozen, SI inside, ids as the file writes them.

Lengths are in m, areas in m², volumes in m³, flows in m³/s, powers in W, times in s, masses in kg, food
in kg/d, temperatures in °C and salinities as practical salinity.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from brinehouse import findings, units
from brinehouse.facility import copies, details

OUTSIDE = "outside"  # where a run starts or ends that leaves the drawing: the sea, the mains, the drain
NOWHERE = findings.Spot()
Range = details.Range
Band = details.Band
Chance = details.Chance
FailureRate = details.FailureRate
Upkeep = details.Upkeep
Address = details.Address
Source = details.Source
Notify = details.Notify
Window = details.Window
Shift = details.Shift
Zone = details.Zone
Stop = details.Stop
Round = details.Round


@dataclass(frozen=True, slots=True, kw_only=True)
class System:
    """Bodies of water that share one circulating volume; computed from the runs where it is not stated."""

    id: str
    name: str
    places: tuple[str, ...] = ()
    stated: bool = True
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Overflow:
    """What a place overflows through.

    ``size`` is the width of a ``weir`` [m], the angle of a ``notch`` [°] or the inside diameter of a
    ``standpipe`` [m].
    """

    kind: str
    size: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """Head that something takes: ``heads`` velocity heads, or ``points`` of (flow [m³/s], head [m])."""

    heads: float | None = None
    points: tuple[tuple[float, float], ...] = ()


Fittings = tuple[tuple[int, str], ...]  # how many of each, by the words of `fittings.WORDS`


@dataclass(frozen=True, slots=True, kw_only=True)
class Vessel:
    """A place water stands: a tank, a sump or any other vessel.

    Attributes
    ----------
    kind : str
        ``tank``, ``sump`` or ``vessel``.
    system : str
        Id of its system, stated or computed.
    volume, working : float or None
        Water it can hold, and water it holds in normal running. [m³]
    depth : float or None
        Water depth. [m]
    elevation, crest : float or None
        Of its floor, and of where it overflows, above the plant-room datum. [m]
    overflow : Overflow or None
        What it overflows through.
    rim : float or None
        Of its top edge, above the plant-room datum. [m]
    feed, light : float or None
        Food given there [kg/d], and power of its lamps. [W]
    temperature, salinity : float or None
        Starting values: the logbook rules once it has readings.
    top_up : float or None
        Flow of its top-up while that is open. [m³/s]
    top_up_by, top_up_from : str
        ``float valve``, ``level switch``, ``hand`` or empty; and the store it comes from.
    """

    id: str
    kind: str
    name: str
    system: str = ""
    volume: float | None = None
    working: float | None = None
    depth: float | None = None
    surface: float | None = None
    length: float | None = None
    width: float | None = None
    diameter: float | None = None
    elevation: float | None = None
    crest: float | None = None
    temperature: float | None = None
    salinity: float | None = None
    part_of: str = ""
    fed_by: tuple[str, ...] = ()
    stands_alone: bool = False
    overflow: Overflow | None = None
    rim: float | None = None
    feed: float | None = None
    light: float | None = None
    top_up: float | None = None
    top_up_by: str = ""
    top_up_from: str = ""
    zone: str = ""
    retired: str = ""
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Animals:
    """Animals that live at one place and use one range of depth."""

    at: str
    species: str
    id: str = ""
    mass: float | None = None
    count: int | None = None
    depth: tuple[float, float] | None = None  # shallow, deep [m]
    since: str = ""
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Pump:
    """One pump: ``curve`` is (flow [m³/s], head [m]) by rising flow; ``flow`` is the rated one.

    ``speed`` is a part of the curve's own, ``npsh`` the required one [m], ``best`` the flow of best
    efficiency. ``suction_…`` and ``strainer_loss`` tell of the pipe before it; ``check_valve`` may be None.
    """

    id: str
    name: str
    curve: tuple[tuple[float, float], ...] = ()
    flow: float | None = None
    power: float | None = None
    elevation: float | None = None
    strainer: bool | None = None
    strainer_loss: Loss | None = None
    suction_length: float | None = None
    suction_diameter: float | None = None
    suction_fittings: Fittings = ()
    check_valve: bool | None = None
    speed: float | None = None
    npsh: float | None = None
    best: float | None = None
    at: str = ""
    tag: str = ""
    board: str = ""
    serial: str = ""
    maker: str = ""
    bought: str = ""
    spares: tuple[str, ...] = ()
    manual: str = ""
    overhaul: float | None = None  # running time between two [s]
    retired: str = ""
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty:
    """Pumps of which ``keep`` are kept running; ``turn`` [s] is how long each runs before it rests.

    ``change_over`` [s] is how long until a standby runs; ``board`` feeds the change-over itself.
    ``enough`` of them still serve; people start one within ``hand_start``; resting pumps are started every
    ``test_starts``, the change-over is tried every ``test_change_over`` [s]; ``common_cause`` is the share
    of failures that take all at once.
    """

    id: str
    name: str
    pumps: tuple[str, ...]
    keep: int = 1
    turn: float | None = None
    standby: str = ""  # automatic, by hand, or empty where the file does not say
    change_over: float | None = None
    board: str = ""
    enough: int | None = None
    hand_start: float | None = None
    test_starts: float | None = None
    test_change_over: float | None = None
    common_cause: float | None = None
    common_cause_source: str = ""
    offset: float | None = None  # share of the hours between overhauls that wear is kept apart
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Equipment:
    """A machine that water passes: chiller, uv, screen, fractionator, degasser, filter and the like.

    ``height`` is that of a packing open to air, ``pool`` the height of the water under it [m]; ``approach``
    is the part of what could change that does change in one pass.
    """

    id: str
    kind: str
    name: str
    at: str = ""
    power: float | None = None
    flow: float | None = None
    volume: float | None = None
    elevation: float | None = None
    loss: Loss | None = None
    height: float | None = None
    pool: float | None = None
    approach: float | None = None
    tag: str = ""
    board: str = ""
    serial: str = ""
    maker: str = ""
    bought: str = ""
    spares: tuple[str, ...] = ()
    manual: str = ""
    retired: str = ""
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A path of water: ``source`` and ``target`` are places, machines, or `OUTSIDE`.

    ``open`` is how far its hand valve is open (0 to 1), ``outlet`` the height at which the pipe ends [m].
    """

    id: str
    name: str
    source: str
    target: str
    through: tuple[str, ...] = ()
    flow: float | None = None
    high: float | None = None
    length: float | None = None
    diameter: float | None = None
    material: str = ""
    roughness: float | None = None
    fittings: Fittings = ()
    loss: Loss | None = None
    open: float | None = None
    outlet: float | None = None
    siphon_break: bool | None = None
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """An electrical board, and the board that feeds it; empty where that is the mains."""

    id: str
    name: str
    fed_from: str = ""
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """Something kept at hand: ``battery air``, ``spare pump`` or ``make-up``.

    ``at`` are the places it helps, or the pumps and duty groups it fits; ``ready`` and ``lasts`` in s,
    ``flow`` in m³/s from the place ``store``; ``times`` is the exchange of gas over that of a quiet surface.
    """

    id: str
    kind: str
    name: str
    at: tuple[str, ...] = ()
    ready: float | None = None
    lasts: float | None = None
    times: float | None = None
    flow: float | None = None
    store: str = ""
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Does:
    """One thing that an own failure does: ``value`` in the unit that `network` has for that effect.

    m³/s of a top-up, m of a hole, a share of a valve or of what is blocked, times of food, °C of a room,
    mL of air in a litre of water; ``after`` in s.
    """

    effect: str
    part: str = ""
    value: float | None = None
    at: str = ""
    after: float = 0.0
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """A failure of the hall's own."""

    id: str
    title: str
    does: tuple[Does, ...] = ()
    noticed: str = ""
    first_steps: tuple[str, ...] = ()
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A test point: a place (or a machine or run with a tap) and a depth [m]."""

    id: str
    name: str
    at: str
    depth: float | None = None
    quantity: str = ""
    unit: str = ""
    expected: Range | None = None
    possible: Range | None = None
    instrument: str = ""
    retired: str = ""
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """One meter: what it measures, how exact its maker says it is, and how it is set.

    ``accuracy`` and ``resolution`` map a glossary word to the amount as stated; ``salinity_setting``
    is a practical salinity; ``barometer`` is ``station``, ``sea level``, ``own`` or empty.
    """

    id: str
    name: str
    measures: tuple[str, ...] = ()
    accuracy: Mapping[str, units.Amount] = field(default_factory=dict[str, units.Amount])
    resolution: Mapping[str, units.Amount] = field(default_factory=dict[str, units.Amount])
    salinity_setting: float | None = None
    barometer: str = ""
    serial: str = ""
    maker: str = ""
    bought: str = ""
    spares: tuple[str, ...] = ()
    manual: str = ""
    retired: str = ""
    spot: findings.Spot = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """Bands for a quantity at a place, a point or a system; ``at`` is empty for the whole facility."""

    quantity: str
    at: str = ""
    aim: Band | None = None
    watch: Band | None = None
    act: Band | None = None
    basis: str = ""  # what the amounts are counted as, where the quantity has a basis: N, ion ...
    source: str = ""
    text: str = ""  # the bands as the file writes them
    cause: str = ""
    consequence: str = ""
    harm: str = ""  # animals die, animals suffer, more work
    response: str = ""
    time: float | None = None  # to respond [s]
    dead_band: float = 0.0  # in the unit of the quantity
    delay: float = 0.0  # [s]
    second: bool = True
    spot: findings.Spot = NOWHERE

    @property
    def asks(self) -> bool:
        """Whether it asks somebody to do something: what has no cause or no response is only told."""
        return bool(self.cause and self.response)


@dataclass(frozen=True, slots=True, kw_only=True)
class Facility:
    """One site as its file tells it.

    Attributes
    ----------
    display : mapping
        Glossary word or kind of unit to the unit people want to see.
    systems, vessels, ... : mapping
        Id to object, in file order. ``vessels`` holds tanks, sumps and other vessels.
    spots : mapping
        Path in the file, e.g. ``tank.mangrove.volume``, to where it stands.
    digest : str
        SHA-256 of the text.
    """

    name: str
    altitude: float | None = None
    timezone: str = "UTC"
    language: str = "en"
    display: Mapping[str, str] = field(default_factory=dict[str, str])
    allowance: float = 0.02
    room_temperature: float | None = None
    room_humidity: float | None = None
    detection: float | None = None
    travel: float | None = None
    crews: int = 1
    quiet: tuple[int, int] | None = None
    notify: Mapping[str, Notify] = field(default_factory=dict[str, Notify])
    systems: Mapping[str, System] = field(default_factory=dict[str, System])
    vessels: Mapping[str, Vessel] = field(default_factory=dict[str, Vessel])
    pumps: Mapping[str, Pump] = field(default_factory=dict[str, Pump])
    duties: Mapping[str, Duty] = field(default_factory=dict[str, Duty])
    equipment: Mapping[str, Equipment] = field(default_factory=dict[str, Equipment])
    runs: Mapping[str, Run] = field(default_factory=dict[str, Run])
    boards: Mapping[str, Board] = field(default_factory=dict[str, Board])
    remedies: Mapping[str, Remedy] = field(default_factory=dict[str, Remedy])
    failures: Mapping[str, Failure] = field(default_factory=dict[str, Failure])
    points: Mapping[str, Point] = field(default_factory=dict[str, Point])
    instruments: Mapping[str, Instrument] = field(default_factory=dict[str, Instrument])
    limits: tuple[Limit, ...] = ()
    animals: tuple[Animals, ...] = ()
    sources: tuple[Source, ...] = ()
    rates: tuple[FailureRate, ...] = ()
    backup: copies.Copies | None = None
    upkeep: tuple[Upkeep, ...] = ()
    windows: tuple[Window, ...] = ()
    shifts: Mapping[str, Shift] = field(default_factory=dict[str, Shift])
    zones: Mapping[str, Zone] = field(default_factory=dict[str, Zone])
    rounds: Mapping[str, Round] = field(default_factory=dict[str, Round])
    spots: Mapping[str, findings.Spot] = field(default_factory=dict[str, findings.Spot])
    digest: str = ""

    @property
    def shown(self) -> units.Display:
        """The units people want to see."""
        return units.Display(**self.display)  # pyright: ignore[reportArgumentType]

    @property
    def places(self) -> tuple[Vessel, ...]:
        """Every tank, sump and vessel, in file order."""
        return tuple(self.vessels.values())

    @property
    def tanks(self) -> Mapping[str, Vessel]:
        """The places where animals live."""
        return {name: vessel for name, vessel in self.vessels.items() if vessel.kind == "tank"}

    @property
    def sumps(self) -> Mapping[str, Vessel]:
        """The low collecting basins."""
        return {name: vessel for name, vessel in self.vessels.items() if vessel.kind == "sump"}

    def place(self, name: str) -> Vessel | None:
        """The tank, sump or vessel of that id, or the one where a point or machine of that id is."""
        for _ in range(8):  # a point may be at a machine that is at a tank
            if name in self.vessels:
                return self.vessels[name]
            owner = self.points.get(name) or self.equipment.get(name) or self.pumps.get(name)
            if owner is None or not owner.at:
                return None
            name = owner.at
        return None

    def system_of(self, place: str) -> System | None:
        """The system to which the water at a place, point or machine belongs; a system's id gives itself."""
        if place in self.systems:
            return self.systems[place]
        vessel = self.place(place)
        if vessel is not None:
            return self.systems.get(vessel.system)
        point = self.points.get(place)
        return self._system_of_part(point.at if point else place)

    def _system_of_part(self, part: str) -> System | None:
        """The system of a machine or run, by the places its runs join."""
        groups = {duty.id for duty in self.duties.values() if part in duty.pumps}
        for run in self.runs.values():
            parts = {run.id, run.source, run.target, *run.through}
            if part in parts or groups & parts:
                for end in (run.target, run.source):
                    if end in self.vessels:
                        return self.systems.get(self.vessels[end].system)
        return None

    def zone_of(self, place: str) -> Zone | None:
        """The zone of a place, point or machine, or of the place where a run ends; None where not known."""
        vessel = self.place(place)
        if vessel is None:
            point = self.points.get(place)
            run = self.runs.get(point.at if point is not None else place)
            ends = (self.vessels.get(end) for end in (run.target, run.source)) if run is not None else ()
            vessel = next((end for end in ends if end is not None and end.zone), None)
        return self.zones.get(vessel.zone) if vessel is not None else None

    def shallow_end(self, place: str) -> float | None:
        """The least depth [m] that any animal there uses: it decides gas. None where none is stated."""
        vessel = self.place(place)
        if vessel is None:
            return None
        return min((a.depth[0] for a in self.animals if a.at == vessel.id and a.depth), default=None)

    def boards_behind(self, board: str) -> tuple[str, ...]:
        """A board, and every board that is dark when it is, by however many steps."""
        dark = {board: None}
        for _ in self.boards:
            dark |= {other.id: None for other in self.boards.values() if other.fed_from in dark}
        return tuple(dark)

    def fed_by_board(self, board: str) -> tuple[str, ...]:
        """Pumps and machines that stop with a board. A duty group's board is that of its change-over only."""
        dark = self.boards_behind(board)
        return tuple(
            part.id for part in (*self.pumps.values(), *self.equipment.values()) if part.board in dark
        )

    def animals_at(self, place: str) -> tuple[Animals, ...]:
        """The animals of a place, in file order."""
        vessel = self.place(place)
        return tuple(a for a in self.animals if vessel is not None and a.at == vessel.id)

    def limits_for(self, quantity: str, place: str) -> tuple[Limit, ...]:
        """The limits that hold for a quantity at a place, the most particular first."""
        vessel, system = self.place(place), self.system_of(place)
        wide = system.id if system and system.stated else ""  # a computed system borrows the id of a place
        ladder = [place, vessel.id if vessel else "", wide]
        ladder = [step for step in dict.fromkeys(ladder) if step] + [""]
        return tuple(
            limit
            for step in ladder
            for limit in self.limits
            if limit.quantity == quantity and limit.at == step
        )

    def find(self, name: str) -> str:
        """The table in which an id is defined (``tank``, ``pump``, ``point`` ...), or empty."""
        if name in self.vessels:
            return self.vessels[name].kind
        shelves: dict[str, Mapping[str, object]] = {
            "system": self.systems,
            "pump": self.pumps,
            "duty": self.duties,
            "equipment": self.equipment,
            "run": self.runs,
            "board": self.boards,
            "zone": self.zones,
            "round": self.rounds,
            "remedy": self.remedies,
            "failure": self.failures,
            "point": self.points,
            "instrument": self.instruments,
        }
        return next((table for table, shelf in shelves.items() if name in shelf), "")

    def retired(self, name: str) -> str:
        """The day from which a thing is no longer in use, or empty; a point goes with its tank or machine."""
        shelves: tuple[Mapping[str, Vessel | Pump | Equipment | Instrument], ...] = (
            self.vessels,
            self.pumps,
            self.equipment,
            self.instruments,
        )
        point = self.points.get(name)
        if point is not None:
            days = [point.retired, self.retired(point.at)]
            return min((day for day in days if day), default="")
        return next((shelf[name].retired for shelf in shelves if name in shelf), "")

    def in_use(self, name: str, on: str) -> bool:
        """Whether a thing is in use on a day, ``2026-03-14``; what is never retired always is.

        >>> Facility(name="", vessels={"T-1": Vessel(id="T-1", kind="tank", name="", retired="2026-03-01")}
        ... ).in_use("T-1", "2026-03-14")
        False
        """
        retired = self.retired(name)
        return not retired or on < retired
