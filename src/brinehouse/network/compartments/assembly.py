"""The equations of a plant at hand: for each species ``d(V x)/dt = M x + b``, and every term by its name.

One transport matrix serves all species; what a species meets on its way only scales it, what happens at a
place stands on the diagonal. M and b are tangent to the true rates at the water handed in, so that the same
assembly serves the steady state (solve M x = -b), a step in time, and a ledger of what came and went.
Species are taken in `ORDER`: each needs only those before it, but for limits near nothing (`left`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brinehouse.network.compartments import plant as plants
from brinehouse.network.compartments import transport
from brinehouse.science import carbonate, dissociation, exchange, gases, respiration
from brinehouse.science.constants import ARGON_IN_AIR, ATM, NITROGEN_IN_AIR, OXYGEN_IN_AIR

Floats = NDArray[np.float64]
AT, ROW, DISSOLVED = plants.AT, plants.ROW, plants.DISSOLVED
ORDER = (
    "temperature", "salinity", "tan", "nitrite", "nitrate", "oxygen", "nitrogen", "argon", "alkalinity",
    "carbon", "tracer",
)  # fmt: skip
IN_AIR = (OXYGEN_IN_AIR, NITROGEN_IN_AIR, ARGON_IN_AIR)
# Our own, so that amounts stay above nothing; says no biology. µmol/kg at which a use has fallen to 63 %.
NEAR_NOTHING = {"oxygen": 10.0, "alkalinity": 50.0}
# Nitrification without growth: mol of oxygen for each step, of charge for the first.
OXYGEN_STEPS, CHARGE = (1.5, 0.5), 2.0
MICRO = 1e6


def left(amount: Floats, species: str) -> Floats:
    """Share of a use that what is left still allows: one until nearly nothing is left, then less."""
    part = amount / NEAR_NOTHING[species]
    return np.where(part > 0.0, -np.expm1(-np.maximum(part, 0.0)), part)


def left_slope(amount: Floats, species: str) -> Floats:
    """How fast `left` falls, for each µmol/kg."""
    part = amount / NEAR_NOTHING[species]
    return np.exp(-np.maximum(part, 0.0)) / NEAR_NOTHING[species]


@dataclass(slots=True)
class Balance:
    """One species: M and b, what passages carry, and rates by name at each place and along passages."""

    matrix: Floats
    load: Floats
    out: Floats  # water at the end of each passage
    steps: Floats  # (positions, passages): what each machine changed
    terms: Mapping[str, Floats]  # at places: rate of V x


@dataclass(slots=True)
class Setting:
    """What temperature and salinity fix for the rest."""

    warm: Floats  # (positions, passages)
    salt: Floats
    held: Floats  # (gases, places): at balance with the air
    along: Floats  # (gases, positions, passages): at balance with a machine's gas
    transfer: Floats  # (gases, places): m³/s
    carbonic: dissociation.Constants
    passing: Mapping[int, dissociation.Constants]  # at positions where carbon dioxide is exchanged


class Assembly:
    """Balances of a plant; pure functions of the water ``x`` of shape (species, places)."""

    def __init__(self, plant: plants.Plant) -> None:
        self.plant = plant
        self.ways = plant.transport
        self.inside = self.ways.source >= 0
        self._stripping = [bool(np.any(row > 0.0)) for row in plant.machines.effectiveness[ROW["carbon"]]]
        self._acid: dict[int, Floats] = {}  # last pH by position, places at -1: a start for the next
        self._kept: tuple[bytes, Setting] | None = None

    # --- what is common ------------------------------------------------------------------------------------

    def _balance(
        self,
        taken: Floats,
        slopes: Floats,
        offsets: Floats,
        local: Mapping[str, tuple[Floats, Floats]],
        x: Floats,
    ) -> Balance:
        """From steps along passages, and terms at places as (rate, slope) at the water x."""
        water, whole = taken, np.ones_like(taken)
        steps = np.empty_like(slopes)
        for at, (slope, offset) in enumerate(zip(slopes, offsets, strict=True)):
            after = slope * water + offset
            steps[at] = after - water
            water, whole = after, whole * slope
        matrix = self.ways.matrix(whole)
        load = (water - np.where(self.inside, whole * taken, 0.0)) @ self.ways.arriving.T
        at = np.arange(len(self.ways.places))
        for rate, slope in local.values():
            matrix[at, at] += slope
            load += rate - slope * x
        return Balance(matrix, load, water, steps, {name: rate for name, (rate, _) in local.items()})

    def _taken(self, x: Floats, species: str) -> Floats:
        return self.ways.taken(x[AT[species]], self.plant.outside[AT[species]])

    def _still(self) -> tuple[Floats, Floats]:
        shape = self.plant.machines.heat.shape
        return np.ones(shape), np.zeros(shape)

    # --- heat and salt -------------------------------------------------------------------------------------

    def heat(self, x: Floats, states: list[Floats] | None = None) -> Balance:
        """Temperature; a chiller or heater works as far as it has power.

        ``states`` keeps how each found the water in the turn before (0 too cold for it to hold, 1 holding,
        2 too warm): one that would leap from side to side is tried holding first, or the search goes to and
        fro.
        """
        plant, machines, local = self.plant, self.plant.machines, self.plant.local
        taken = self._taken(x, "temperature")
        slopes, offsets = self._still()
        now = np.zeros_like(slopes)
        water = taken
        for at in range(len(slopes)):
            warm = water + machines.heat[at]
            over = warm - machines.setpoint[at]
            most = np.where(over > 0.0, machines.cooling[at], machines.warming[at])
            able = (machines.cooling[at] > 0.0) | (machines.warming[at] > 0.0)
            now[at] = np.where(able, np.where(np.abs(over) < most, 1.0, np.where(over > 0.0, 2.0, 0.0)), 0.0)
            if states:
                now[at] = np.where(np.abs(now[at] - states[-1][at]) > 1.5, 1.0, now[at])
            held = now[at] == 1.0
            after = np.where(
                held, machines.setpoint[at], warm - np.sign(over) * np.minimum(most, np.abs(over))
            )
            slopes[at] = np.where(held, 0.0, 1.0)
            offsets[at] = after - slopes[at] * water
            water = after
        if states is not None:
            states[:] = [now]
        per = plant.density * plant.heat_capacity
        here = x[0]
        warmth = local.warmth / per
        terms = {
            "room": (warmth * (plant.room_temperature - here), -warmth),
            "lamps": (local.lamps / per, np.zeros_like(here)),
            "its own heater or chiller": (local.own / per * (local.own_at - here), -local.own / per),
            "evaporation": (
                (local.heat + local.cooling * (here - local.about)) / per,
                local.cooling / per,
            ),
        }
        return self._balance(taken, slopes, offsets, terms, here)

    def salt(self, x: Floats) -> Balance:
        """Practical salinity: what evaporates leaves it behind, and fresh water comes in as a passage."""
        return self._balance(self._taken(x, "salinity"), *self._still(), {}, x[1])

    def setting(self, x: Floats) -> Setting:
        """What the water's warmth and salt fix; kept while both stay."""
        key = x[:2].tobytes()
        if self._kept is not None and self._kept[0] == key:
            return self._kept[1]
        plant, machines = self.plant, self.plant.machines
        heat, salt = self.heat(x), self._taken(x, "salinity")
        places, shape = len(self.ways.places), machines.heat.shape
        warm = self._taken(x, "temperature") + np.cumsum(heat.steps, axis=0)
        salty = np.broadcast_to(salt, shape)
        temperature = np.concatenate([x[0], warm.ravel()])
        salinity = np.clip(np.concatenate([x[1], salty.ravel()]), 0.0, None)
        vapour = gases.vapour_pressure(temperature, salinity)
        amounts = np.stack([
            gases.oxygen_at_saturation(temperature, salinity),
            gases.nitrogen_at_saturation(temperature, salinity),
            gases.argon_at_saturation(temperature, salinity),
            gases.carbon_dioxide_solubility(temperature, salinity) * MICRO / ATM,
        ])  # fmt: skip
        amounts[:3] /= ATM - vapour  # µmol/kg for each Pa of dry air; carbon dioxide for each Pa of its own
        here, there = amounts[:, :places], amounts[:, places:].reshape(4, *shape)
        held = here * (plant.station_pressure - vapour[:places])
        held[3] = here[3] * plant.pco2
        share = np.asarray([*IN_AIR, 1.0])[:, None, None]
        along = there * (machines.pressure - vapour[places:].reshape(shape)) * machines.mixture / share
        speed = exchange.transfer_coefficient(1.0, x[0])
        made = Setting(
            warm,
            salty,
            held,
            along,
            plant.local.velocity * speed,
            dissociation.constants(x[0], np.clip(x[1], 0.0, None)),
            {
                at: dissociation.constants(warm[at], np.clip(salty[at], 0.0, None))
                for at, strips in enumerate(self._stripping)
                if strips
            },
        )
        self._kept = (key, made)
        return made

    # --- nitrogen ------------------------------------------------------------------------------------------

    def _allowed(self, x: Floats) -> tuple[Floats, Floats]:
        """How far oxygen and alkalinity let nitrification go: at places, and along passages."""
        here = left(x[AT["oxygen"]], "oxygen") * left(x[AT["alkalinity"]], "alkalinity")
        here = np.clip(here, 0.0, 1.0)
        return here, self.ways.taken(here, np.ones(len(self.ways.passages)))

    def ammonia(self, x: Floats) -> Balance:
        """Ammonia nitrogen: from animals and feed, first order away."""
        local, here = self.plant.local, x[AT["tan"]]
        allowed, on_the_way = self._allowed(x)
        speed = local.turning[0] * self.ways.volumes * allowed
        slopes = 1.0 - self.plant.machines.ammonia * on_the_way
        terms = {
            "animals and feed": (local.ammonia * MICRO / self.plant.density, np.zeros_like(here)),
            "nitrification": (-speed * here, -speed),
        }
        return self._balance(self._taken(x, "tan"), slopes, np.zeros_like(slopes), terms, here)

    def nitrite(self, x: Floats, ammonia: Balance) -> Balance:
        """Nitrite: from ammonia, first order away."""
        local, here = self.plant.local, x[AT["nitrite"]]
        allowed, on_the_way = self._allowed(x)
        speed = local.turning[1] * self.ways.volumes * allowed
        slopes = 1.0 - self.plant.machines.nitrite * on_the_way
        terms = {
            "from ammonia": (-ammonia.terms["nitrification"], np.zeros_like(here)),
            "nitrification": (-speed * here, -speed),
        }
        return self._balance(self._taken(x, "nitrite"), slopes, -slopes * ammonia.steps, terms, here)

    def nitrate(self, x: Floats, ammonia: Balance, nitrite: Balance) -> Balance:
        """Nitrate: what nitrification ends in."""
        slopes, _ = self._still()
        made = -(ammonia.steps + nitrite.steps)
        terms = {"from nitrite": (-nitrite.terms["nitrification"], np.zeros_like(x[0]))}
        return self._balance(self._taken(x, "nitrate"), slopes, made, terms, x[AT["nitrate"]])

    # --- gases ---------------------------------------------------------------------------------------------

    def gas(
        self, x: Floats, gas: str, setting: Setting
    ) -> tuple[Floats, Floats, dict[str, tuple[Floats, Floats]]]:
        """Slopes, offsets and surface exchange of a gas that stays what it is."""
        row, machines, here = ROW[gas], self.plant.machines, x[AT[gas]]
        share = machines.effectiveness[row]
        speed = setting.transfer[row]
        surface = {"surface": (speed * (setting.held[row] - here), -speed)}
        return 1.0 - share, share * setting.along[row] + machines.air[row], surface

    def breathing(self, x: Floats) -> Floats:
        """Oxygen that animals would use where there is enough, in mol/s at each place."""
        local = self.plant.local
        used = respiration.oxygen_use(local.mass, x[0][local.home], activity=self.plant.activity)
        sums = np.bincount(local.home, weights=used * local.count, minlength=len(self.ways.places))
        return np.asarray(sums, dtype=np.float64)

    def inert(self, x: Floats, gas: str, setting: Setting) -> Balance:
        """Nitrogen or argon: only surfaces and machines move them."""
        return self._balance(self._taken(x, gas), *self.gas(x, gas, setting), x[AT[gas]])

    def oxygen(self, x: Floats, setting: Setting, ammonia: Balance, nitrite: Balance) -> Balance:
        """Oxygen: breathed, made in light, used by nitrification, exchanged."""
        here, local = x[AT["oxygen"]], self.plant.local
        slopes, offsets, terms = self.gas(x, "oxygen", setting)
        second = nitrite.steps + ammonia.steps  # less nitrite than came as ammonia: turned on to nitrate
        offsets = offsets + OXYGEN_STEPS[0] * ammonia.steps + OXYGEN_STEPS[1] * second
        per = MICRO / self.plant.density
        use = self.breathing(x) * per
        none = np.zeros_like(here)
        first = ammonia.terms["nitrification"]
        bacteria = OXYGEN_STEPS[0] * first + OXYGEN_STEPS[1] * nitrite.terms["nitrification"]
        terms["animals"] = (-use * left(here, "oxygen"), -use * left_slope(here, "oxygen"))
        terms["light"] = (local.photosynthesis * per, none)
        # its own limit falls with oxygen: the slope keeps the step from overshooting below nothing
        falling = left_slope(here, "oxygen") / np.maximum(left(here, "oxygen"), 1e-12)
        terms["nitrification"] = (bacteria, np.where(here > 0.0, bacteria * falling, 0.0))
        return self._balance(self._taken(x, "oxygen"), slopes, offsets, terms, here)

    # --- charge and carbon ---------------------------------------------------------------------------------

    def charge(self, x: Floats, ammonia: Balance) -> Balance:
        """Alkalinity: two for each ammonia turned over; given back where keepers do."""
        here = x[AT["alkalinity"]]
        slopes, _ = self._still()
        none = np.zeros_like(here)
        used = CHARGE * ammonia.terms["nitrification"]
        falling = left_slope(here, "alkalinity") / np.maximum(left(here, "alkalinity"), 1e-12)
        terms = {
            "nitrification": (used, np.where(here > 0.0, used * falling, 0.0)),
            "dosing": (self.dosing(ammonia), none),
        }
        if self.plant.alkalinity_kept:
            terms["nitrification"] = (used, none)
        return self._balance(self._taken(x, "alkalinity"), slopes, CHARGE * ammonia.steps, terms, here)

    def dosing(self, ammonia: Balance) -> Floats:
        """Bicarbonate given at places: what is stated, and what nitrification took where it is given back."""
        stated = self.plant.local.dosing * MICRO / self.plant.density
        if not self.plant.alkalinity_kept:
            return stated
        back = -CHARGE * (self.ways.arriving @ ammonia.steps.sum(axis=0))
        return stated - CHARGE * ammonia.terms["nitrification"] + back

    def carbon(self, x: Floats, setting: Setting, oxygen: Balance, ammonia: Balance) -> Balance:
        """Inorganic carbon: breathed out, bound in light, given with alkalinity, exchanged as a gas."""
        here, local, machines = x[AT["carbon"]], self.plant.local, self.plant.machines
        taken, per = self._taken(x, "carbon"), MICRO / self.plant.density
        slopes, offsets = self._still()
        water = taken
        for at in range(len(slopes)):
            if self._stripping[at]:
                share = machines.effectiveness[ROW["carbon"]][at]
                charge = self._taken(x, "alkalinity")
                known = setting.passing[at]
                free, slope = self._free(at, charge, water, (setting.warm[at], setting.salt[at]), known)
                level = setting.along[ROW["carbon"]][at]
                slopes[at] = 1.0 - share * slope
                offsets[at] = water - share * (free - level) - slopes[at] * water
            water = slopes[at] * water + offsets[at]
        free, slope = self._free(-1, x[AT["alkalinity"]], here, (x[0], x[1]), setting.carbonic)
        speed = setting.transfer[ROW["carbon"]]
        none = np.zeros_like(here)
        terms = {
            "surface": (speed * (setting.held[ROW["carbon"]] - free), -speed * slope),
            "animals": (-oxygen.terms["animals"] * respiration.RESPIRATORY_QUOTIENT, none),
            "light": (-local.photosynthesis * per, none),
            "dosing": (self.dosing(ammonia), none),
        }
        return self._balance(taken, slopes, offsets, terms, here)

    def _free(
        self,
        at: int,
        alkalinity: Floats,
        carbon: Floats,
        water: tuple[Floats, Floats],
        known: dissociation.Constants,
    ) -> tuple[Floats, Floats]:
        """Carbon dioxide in solution, and how it rises with carbon."""
        charge, amount = np.maximum(alkalinity, 1.0), np.maximum(carbon, 1.0)
        step = 1e-4 * amount
        both = np.stack([amount, amount + step])
        acid = carbonate.ph_of(charge, both, *water, start=self._acid.get(at), known=known)
        self._acid[at] = np.nan_to_num(acid, nan=8.0)
        hydrogen = np.exp(-dissociation.LN10 * self._acid[at])
        rest = known.first * (1.0 + known.second / hydrogen) / hydrogen
        free = both / (1.0 + rest)
        slope = np.clip((free[1] - free[0]) / step, 1e-6, 1.0)
        return free[0] + slope * np.minimum(carbon - amount, 0.0), slope

    def tracer(self, x: Floats) -> Balance:
        """A tracer or medicine: put in, first order away."""
        local, here = self.plant.local, x[AT["tracer"]]
        speed = self.plant.decay * self.ways.volumes
        slopes = 1.0 - self.plant.machines.removal
        terms = {
            "put in": (local.tracer, np.zeros_like(here)),
            "decay": (-speed * here, -speed),
        }
        return self._balance(self._taken(x, "tracer"), slopes, np.zeros_like(slopes), terms, here)


def every(assembly: Assembly, x: Floats) -> dict[str, Balance]:
    """Every species at this water, without solving anything: rates are ``M x + b``."""
    out = {"temperature": assembly.heat(x), "salinity": assembly.salt(x)}
    setting = assembly.setting(x)
    for species in ORDER[2:]:
        out[species] = of(assembly, species, x, setting, out)
    return out


def of(assembly: Assembly, species: str, x: Floats, setting: Setting, done: Mapping[str, Balance]) -> Balance:
    """One species, with those that come before it."""
    if species in ("nitrogen", "argon"):
        return assembly.inert(x, species, setting)
    if species == "tan":
        return assembly.ammonia(x)
    if species == "nitrite":
        return assembly.nitrite(x, done["tan"])
    if species == "nitrate":
        return assembly.nitrate(x, done["tan"], done["nitrite"])
    if species == "oxygen":
        return assembly.oxygen(x, setting, done["tan"], done["nitrite"])
    if species == "alkalinity":
        return assembly.charge(x, done["tan"])
    if species == "carbon":
        return assembly.carbon(x, setting, done["oxygen"], done["tan"])
    return assembly.tracer(x)


composed = transport.composed
