"""What acts on the water of a plant: room, animals, feed, light, machines; stated, or a named default.

Everything here may be left out. `building.build` fills what is missing and lists what it assumed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

GASES = ("oxygen", "nitrogen", "argon", "carbon")

# Defaults with their sources; (value, source).
ROOM_TEMPERATURE = (20.0, "common practice, no source")
HUMIDITY = (0.6, "common practice, no source")
TRANSFER_VELOCITY = (2.0e-5, "common practice, no source")  # m/s at 20 °C for oxygen: 7 cm/h
ROOM_COEFFICIENT = (10.0, "common practice, no source")  # W/m²/K, warmth carried and radiated by a surface
COLUMN_NUMBERS = {  # G of a packed column
    "oxygen": (1.705, "Dawson and Marking (1986), Prog. Fish-Cult. 48:281"),
    "nitrogen": (1.825, "Dawson and Marking (1986), Prog. Fish-Cult. 48:281"),
    "argon": (1.705, "as oxygen; common practice, no source"),
    "carbon": (0.7, "common practice, no source"),
}
FRACTIONATOR = (0.3, 0.3, "common practice, no source")  # share of the way, at a depth of so many m
FALL = (0.1, 0.3, "common practice, no source")  # m carried under, share of the way; runs without a pump
CARRIED_AIR = (50.0, "common practice, no source")  # mL/L at 0 °C and 1 atm, carried under by a fall
BIOFILTER_PASS = (0.4, "common practice, no source")  # share of the ammonia taken in one pass
PROTEIN = (0.45, "common practice, no source")  # of feed
ALKALINITY = (2300.0, "common practice, no source")  # µmol/kg
PCO2 = (42.0e-6 * 1.01325e6, "some 420 ppm in room air; common practice, no source")  # Pa
CHILLER = (1.0, "its stated power taken as the cold it gives; common practice, no source")


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """Food given to a place.

    Attributes
    ----------
    rate : float
        As fed. [kg/s]
    protein : float
        Share of it. [-]
    """

    rate: float
    protein: float = PROTEIN[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """A machine in which water meets gas.

    Attributes
    ----------
    effectiveness : mapping
        Gas to the share of the way to balance that a pass goes. [-]
    pressure : float or None
        Absolute pressure of the gas with its vapour; the air's at the place where None. [Pa]
    mixture : mapping or None
        Gas to its share when dry; air where None. ``{"oxygen": 1.0}`` is pressurised oxygen.
    """

    effectiveness: Mapping[str, float]
    pressure: float | None = None
    mixture: Mapping[str, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Fall:
    """Air carried under where water falls in: depth [m], share of the way to balance there, air [mL/L].

    ``carbon`` is the share for carbon dioxide, which leaves to the air above.
    """

    depth: float = FALL[0]
    approach: float = FALL[1]
    air: float = CARRIED_AIR[0]
    carbon: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak:
    """Air drawn in at a pump's suction: mL at 0 °C and 1 atm for each litre it moves; share dissolving."""

    air: float
    dissolved: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """Water from outside; what is not told is as in balance with the air, without nitrogen or tracer."""

    temperature: float = 15.0
    salinity: float = 34.0
    alkalinity: float | None = None
    values: Mapping[str, float] = field(default_factory=dict[str, float])


@dataclass(frozen=True, slots=True, kw_only=True)
class Exchange:
    """Water changed at a place: as much in as out, in m³/s."""

    flow: float
    water: Supply = Supply()


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What acts on the water; what is None or missing is filled with a named default.

    Attributes
    ----------
    station_pressure, pco2 : float or None
        Of the air, and of carbon dioxide in it. [Pa]
    room_temperature, humidity, air_speed : float
        Of the room. [°C], [-], [m/s]
    running : mapping
        Pump to whether it runs; the first ``keep`` of a duty group where not told.
    start : mapping
        Place to species to value, as `plant.SPECIES` counts them.
    volumes : mapping
        Place to the water in it. [m³]
    feed, light, photosynthesis, dosing, tracer : mapping
        By place: food, heat of lamps in the water [W], oxygen made [mol/s], alkalinity given [mol/s], and
        tracer or medicine put in. [g/s]
    activity : float
        Of animals, over resting. [-]
    decay : float
        Of the tracer, first order. [1/s]
    nitrifying : mapping
        Place to the rates at which what lives there turns ammonia and nitrite over. [1/s]
    passing : mapping
        Machine to the shares of ammonia and of nitrite it turns over in a pass. [-]
    contacts, falls, leaks : mapping
        By machine, run, and pump. A run without a pump falls, if not told otherwise, as `FALL` has it.
    removal : mapping
        Machine to the share of the tracer it takes in a pass. [-]
    transfer, warmth : mapping
        Place to oxygen's transfer velocity at 20 °C [m/s], and to the loss to the room. [W/K]
    setpoints, capacities : mapping
        Chiller or heater to the temperature it holds at its outlet [°C] and to its power. [W]
    warming : mapping
        Chiller to the power with which its circuit also warms; none where not told. [W]
    own : mapping
        Place to the temperature that a heater or chiller of its own holds [°C], and how strongly. [W/K]
    evaporation : mapping
        Place to water lost [kg/s]; worked out from its surface where not told.
    top_up : bool
        Whether fresh water replaces what evaporates.
    top_up_water : Supply
        What it is topped up with.
    exchange : mapping
        Place to water changed.
    outside : mapping
        Run to the water it brings from outside.
    alkalinity_kept : bool
        Whether keepers give back the alkalinity that nitrification takes, place by place.
    """

    station_pressure: float | None = None
    pco2: float | None = None
    room_temperature: float | None = None
    humidity: float | None = None
    air_speed: float = 0.0
    running: Mapping[str, bool] = field(default_factory=dict[str, bool])
    start: Mapping[str, Mapping[str, float]] = field(default_factory=dict[str, Mapping[str, float]])
    volumes: Mapping[str, float] = field(default_factory=dict[str, float])
    feed: Mapping[str, Feed] | None = None
    light: Mapping[str, float] | None = None
    photosynthesis: Mapping[str, float] = field(default_factory=dict[str, float])
    dosing: Mapping[str, float] = field(default_factory=dict[str, float])
    tracer: Mapping[str, float] = field(default_factory=dict[str, float])
    activity: float = 1.75
    decay: float = 0.0
    nitrifying: Mapping[str, tuple[float, float]] = field(default_factory=dict[str, tuple[float, float]])
    passing: Mapping[str, tuple[float, float]] = field(default_factory=dict[str, tuple[float, float]])
    contacts: Mapping[str, Contact] = field(default_factory=dict[str, Contact])
    falls: Mapping[str, Fall] = field(default_factory=dict[str, Fall])
    leaks: Mapping[str, Leak] = field(default_factory=dict[str, Leak])
    removal: Mapping[str, float] = field(default_factory=dict[str, float])
    transfer: Mapping[str, float] = field(default_factory=dict[str, float])
    warmth: Mapping[str, float] = field(default_factory=dict[str, float])
    setpoints: Mapping[str, float] = field(default_factory=dict[str, float])
    capacities: Mapping[str, float] = field(default_factory=dict[str, float])
    warming: Mapping[str, float] = field(default_factory=dict[str, float])
    own: Mapping[str, tuple[float, float]] = field(default_factory=dict[str, tuple[float, float]])
    pump_heat: Mapping[str, float] = field(default_factory=dict[str, float])
    evaporation: Mapping[str, float] = field(default_factory=dict[str, float])
    top_up: bool = True
    top_up_water: Supply = Supply(salinity=0.0, alkalinity=0.0)
    exchange: Mapping[str, Exchange] = field(default_factory=dict[str, Exchange])
    outside: Mapping[str, Supply] = field(default_factory=dict[str, Supply])
    alkalinity_kept: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumed:
    """A number nobody stated, that the answer rests on."""

    what: str
    value: float
    unit: str
    source: str
