"""What a loop profile is made of: plain frozen data, metres and pascals, no words and no pixels.

Along the way the place of a thing is a number `s`: stop `k` of a reach lies from `2 k` to `2 k + 1`, the pipe
to the next one from `2 k + 1` to `2 k + 2`. A face stretches each of these to the width it needs; what is
straight between two whole numbers stays straight.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

GRAVITY = 9.80665  # standard gravity, exact by definition [m/s²]
PLACES = frozenset({"tank", "sump", "vessel"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Excess:
    """How far the pressure of the gas in the water stands above the air's, in Pa.

    Attributes
    ----------
    value, low, high : float
        ΔP and its 95 % interval. [Pa]
    when : str
        When it was read, ISO 8601; empty where it was not read.
    basis : str
        ``read`` at this place, ``carried`` on from the last reading up the way, or ``computed``.
    total, total_half : float or None
        The same as total gas pressure, and half its 95 % interval, where that was worked out. [%]
    old : bool
        Read long before the newest one.
    """

    value: float
    low: float
    high: float
    when: str = ""
    basis: str = "read"
    total: float | None = None
    total_half: float | None = None
    old: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Height:
    """A height above the plant-room datum with its 95 % interval. [m]."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Animals:
    """Animals of one place at the shallow end of the depth they use.

    Attributes
    ----------
    shallow, deep : float
        The depths they use. [m]
    above : float or None
        How far the shallow end stands above the gas line; below it, negative. None without a gas line. [m]
    low, high : float or None
        Its 95 % interval. [m]
    state : str
        ``above`` the gas line, ``may be``, ``below`` or ``unknown``.
    """

    species: str
    shallow: float
    deep: float
    above: float | None = None
    low: float | None = None
    high: float | None = None
    state: str = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One pump: its height, whether it runs, and the head at its suction, in metres.

    ``air`` is ``yes``, ``no`` or ``may be``: whether its suction stands below air pressure.
    """

    id: str
    name: str
    elevation: float | None
    running: bool
    flow: float | None = None
    head: float | None = None
    suction: float | None = None
    suction_low: float | None = None
    suction_high: float | None = None
    air: str = "no"
    strainer: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Return:
    """A way back that needs no drawing of its own: where it ends, through what, with which flow [m³/s]."""

    run: str
    target: str
    over: tuple[str, ...] = ()
    flow: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One thing on the way: a place where water stands, a machine, pumps, or a flag where the way goes on.

    Attributes
    ----------
    kind : str
        ``tank``, ``sump``, ``vessel``, ``pumps``, ``flag`` or the kind of the machine.
    elevation : float or None
        Of the floor of a place, of the middle of a machine. [m]
    surface, crest, rim : float or None
        Of the water, of where it overflows, and of its top edge. [m]
    area : float or None
        Of the surface. [m²]
    top, pool, packing : float or None
        Where water enters a packed column, where it stands under it, and how high its packing is. [m]
    gas : Excess or None
        What its water holds.
    line : Height or None
        The gas line in it.
    flag : str
        Of a flag: ``from``, ``to``, ``outside``; and of a tee where a branch leaves: its letter in `letters`.
    """

    id: str
    kind: str
    name: str
    tag: str = ""
    elevation: float | None = None
    surface: float | None = None
    crest: float | None = None
    rim: float | None = None
    area: float | None = None
    top: float | None = None
    pool: float | None = None
    packing: float | None = None
    density: float = 1025.0
    gas: Excess | None = None
    line: Height | None = None
    animals: tuple[Animals, ...] = ()
    members: tuple[Member, ...] = ()
    keep: int = 0
    returns: tuple[Return, ...] = ()
    letters: tuple[str, ...] = ()
    flag: str = ""
    assumed: bool = False

    @property
    def place(self) -> bool:
        """Whether water stands here."""
        return self.kind in PLACES

    @property
    def depth(self) -> float | None:
        """Of the water. [m]."""
        return None if self.surface is None or self.elevation is None else self.surface - self.elevation


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """A corner of a line: where along the way, how high, with its 95 % interval [m]."""

    s: float
    z: float
    low: float
    high: float
    run: str = ""
    part: str = ""
    where: str = ""
    basis: str = "computed"


Line = tuple[Dot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One row of the table: a point of the way with all its heights [m], flow [m³/s] and excess."""

    run: str
    part: str
    where: str
    s: float
    elevation: float | None
    head: float | None
    low: float | None
    high: float | None
    basis: str
    flow: float | None
    gas: Excess | None
    line: float | None
    air: bool = False
    density: float = 1025.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """A stretch of the way drawn in one go.

    Attributes
    ----------
    pipe : tuple of lines
        The pipe at its own height, its corners in `s`.
    tinted : tuple of lines
        The parts of the pipe that stand above the gas line.
    under : tuple of lines
        The parts of the pipe that stand above the static head: air can be drawn in there.
    head, gas : tuple of lines
        Static head and gas line, broken where they have no meaning.
    """

    stops: tuple[Stop, ...]
    runs: tuple[str, ...] = ()
    pipe: tuple[Line, ...] = ()
    tinted: tuple[Line, ...] = ()
    under: tuple[Line, ...] = ()
    head: tuple[Line, ...] = ()
    gas: tuple[Line, ...] = ()
    stations: tuple[Station, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """What the drawing would need: the thing, the word of the facility file, and where it stands."""

    thing: str
    name: str
    word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """One system drawn the way its water goes.

    Attributes
    ----------
    reaches : tuple of Reach
        The main way first, then branches.
    alone : tuple of Stop
        Places that the drawing of the way cannot hold: each with its own gas line.
    closed : bool
        Whether the water of the main way comes back to where it began.
    missing : tuple of Missing
        What the facility file would have to say for more.
    basis : str
        ``computed`` or ``stated`` flows; empty where no way is drawn.
    blamed : str
        The pump with which gas comes in, where readings have named one.
    """

    system: str
    name: str
    reaches: tuple[Reach, ...] = ()
    alone: tuple[Stop, ...] = ()
    closed: bool = False
    missing: tuple[Missing, ...] = ()
    basis: str = ""
    blamed: str = ""
    names: Mapping[str, str] = field(default_factory=dict[str, str])

    @property
    def stops(self) -> tuple[Stop, ...]:
        """Every stop, in the order in which it is drawn, and those that stand alone."""
        return (*(stop for reach in self.reaches for stop in reach.stops), *self.alone)
