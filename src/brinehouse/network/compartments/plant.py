"""A plant as numbers only: what the equations need, in arrays over places, passages and machines.

Species in the order of `SPECIES`: temperature in °C, practical salinity, then µmol/kg; the tracer in g/m³.
Water is counted as mass at one density for the whole plant, so that amounts are conserved exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.compartments import transport

Floats = NDArray[np.float64]

SPECIES = (
    "temperature", "salinity", "oxygen", "nitrogen", "argon", "carbon", "alkalinity", "tan", "nitrite",
    "nitrate", "tracer",
)  # fmt: skip
AT = {name: index for index, name in enumerate(SPECIES)}
DISSOLVED = ("oxygen", "nitrogen", "argon")  # gases that stay what they are
ROW = {"oxygen": 0, "nitrogen": 1, "argon": 2, "carbon": 3}  # rows of arrays over gases


@dataclass(slots=True, kw_only=True)
class Machines:
    """What water meets along passages: (positions, passages), positions along the water.

    Attributes
    ----------
    heat : ndarray
        Warming. [K]
    cooling, warming, setpoint : ndarray
        The most a chiller or heater can do [K], and the temperature it holds. [°C]
    effectiveness, pressure, mixture : ndarray
        (gases, positions, passages): share of the way to balance; total pressure of the gas [Pa]; its share.
    air, lost : ndarray
        (gases, positions, passages): air drawn in that dissolves, and that leaves again. [µmol/kg]
    carried : ndarray
        (gases, positions, passages): air carried under by a fall. [µmol/kg]
    ammonia, nitrite : ndarray
        Shares turned over in a pass. [-]
    removal : ndarray
        Share of the tracer taken. [-]
    term, part : ndarray
        Number of the ledger's word in `words`; name of the machine.
    """

    heat: Floats
    cooling: Floats
    warming: Floats
    setpoint: Floats
    effectiveness: Floats
    pressure: Floats
    mixture: Floats
    air: Floats
    lost: Floats
    carried: Floats
    ammonia: Floats
    nitrite: Floats
    removal: Floats
    term: NDArray[np.intp]
    part: NDArray[np.object_]

    @classmethod
    def idle(cls, positions: int, passages: int) -> Machines:
        """No machine anywhere."""
        flat, deep = (positions, passages), (len(ROW), positions, passages)
        return cls(
            heat=np.zeros(flat), cooling=np.zeros(flat), warming=np.zeros(flat), setpoint=np.zeros(flat),
            effectiveness=np.zeros(deep), pressure=np.full(deep, 101325.0), mixture=np.zeros(deep),
            air=np.zeros(deep), lost=np.zeros(deep), carried=np.zeros(deep), ammonia=np.zeros(flat),
            nitrite=np.zeros(flat), removal=np.zeros(flat), term=np.zeros(flat, dtype=np.intp),
            part=np.full(flat, "", dtype=object),
        )  # fmt: skip


WORDS = (
    "pumps", "chillers", "heaters", "lamps in machines", "columns and contactors", "fractionators",
    "pressurised gas", "biofilters", "air drawn in", "air carried under", "treatment",
)  # fmt: skip
WORD = {name: index for index, name in enumerate(WORDS)}


@dataclass(slots=True, kw_only=True)
class Places:
    """What acts at places: arrays over places, none where zero.

    ``warmth`` W/K; ``heat`` W that evaporation brings at ``about`` °C, ``cooling`` its slope in W/K;
    ``own`` W/K with which a heater or chiller of the place's own holds ``own_at`` °C;
    ``velocity`` (gases, places) m³/s at 20 °C; ``mass``, ``count`` (groups) with
    ``home``; ``photosynthesis``, ``ammonia``, ``dosing`` mol/s; ``tracer`` g/s; ``turning`` (2, places) 1/s;
    ``evaporation``, ``top_up`` m³/s.
    """

    warmth: Floats
    heat: Floats
    cooling: Floats
    about: Floats
    lamps: Floats
    own: Floats
    own_at: Floats
    velocity: Floats
    home: NDArray[np.intp]
    mass: Floats
    count: Floats
    photosynthesis: Floats
    ammonia: Floats
    dosing: Floats
    tracer: Floats
    turning: Floats
    evaporation: Floats


@dataclass(slots=True, kw_only=True)
class Plant:
    """All that `assembly.Assembly` needs."""

    places: tuple[str, ...]
    transport: transport.Transport
    outside: Floats  # (species, passages)
    rates: Floats  # m³/s by which the water in each place changes
    machines: Machines
    local: Places
    start: Floats  # (species, places)
    station_pressure: float
    pco2: float
    room_temperature: float
    density: float  # kg/m³, one for all
    heat_capacity: float  # J/kg/K
    activity: float
    decay: float
    alkalinity_kept: bool
    pipes: tuple[tuple[int, ...], ...] = field(default=())  # cells of each delayed passage, for transients
    whole: int = 0  # places that are no pipe cells

    @property
    def weight(self) -> Floats:
        """Ledger units of each species for one of it in a cubic metre: J, kg of salt, mol, g of tracer."""
        out = np.full(len(SPECIES), self.density * 1e-6)
        out[AT["temperature"]] = self.density * self.heat_capacity
        out[AT["salinity"]] = self.density * 1e-3
        out[AT["tracer"]] = 1.0
        return out
