"""What was typed, understood: amounts in the kernel's units, each with where its uncertainty comes from."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from brinehouse import findings, units
from brinehouse.engines.gas_budget import kernel, question
from brinehouse.science import barometer, constants, seawater

MMHG = float(units.convert(1.0, "mmHg", "Pa"))
STATION = (500.0 * constants.MMHG, 800.0 * constants.MMHG)
WEATHER = 8.0 * constants.MMHG  # Pa; how far weather moves the barometer, common practice, no source
UNIFORM = 1.0 / math.sqrt(3.0)

DEFAULTS: Mapping[str, tuple[float, str]] = {
    "temperature": (0.2 * UNIFORM, "±0.2 °C, USGS SIR 2004-5249"),
    "salinity": (0.5 * UNIFORM, "±0.5, common practice, no source"),
    "barometer": (2.5 * MMHG * UNIFORM, "±2.5 mmHg, USGS SIR 2004-5249"),
    "tgp": (1.0 * UNIFORM, "±1 %, USGS SIR 2004-5249"),
    "oxygen": (0.2 * UNIFORM, "±0.2 mg/L, common practice, no source"),
    "depth": (0.05 * UNIFORM, "±0.05 m, common practice, no source"),
}
"""Standard uncertainty where nobody said, in the kernel's units, and where it is from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One input in the kernel's unit: its standard uncertainty, and the part that rounding alone makes.

    ``shown`` is what the display said where `value` was put right for a known bias: the meter itself
    reckoned with that.
    """

    value: float
    u: float
    rounding: float
    text: str = ""
    source: str = ""
    shown: float | None = None

    @property
    def display(self) -> float:
        """What the meter itself reckoned with."""
        return self.value if self.shown is None else self.shown


@dataclass(slots=True, kw_only=True)
class Given:
    """Everything that was typed, as understood. Pressures in Pa, oxygen in mg/L, percentages in %."""

    temperature: Quantity | None = None
    salinity: Quantity | None = None
    barometer: Quantity | None = None
    total: Quantity | None = None
    total_kind: kernel.Total = "percent"
    oxygen: Quantity | None = None
    saturation: Quantity | None = None
    nitrogen: Quantity | None = None
    carbon_dioxide: Quantity | None = None
    depth: Quantity | None = None
    altitude: float | None = None
    meter_salinity: float | None = None
    second_temperature: Quantity | None = None
    sea_level: bool = False
    limits: Mapping[str, tuple[str, float]] = field(default_factory=dict[str, tuple[str, float]])
    notes: list[str] = field(default_factory=list[str])


class Reader:
    """Reads one amount after another and collects what is wrong with them."""

    def __init__(self, given: Mapping[str, str | Sequence[float]]) -> None:
        self.typed = {name: str(value).strip() for name, value in given.items() if str(value).strip()}
        self.faults: list[findings.Finding] = []
        self.notes: list[str] = []
        self.labels = {item.name: item.label for item in question.QUESTION.inputs}

    def stop(self, code: str, name: str, text: str, hint: str) -> None:
        """Keep a finding that refuses one input."""
        self.faults.append(
            findings.Finding(
                code=code,
                level=findings.Level.STOP,
                text=text,
                hint=hint,
                spot=findings.Spot(field=name),
            )
        )

    def amount(self, name: str, kinds: tuple[str, ...]) -> units.Amount | None:
        """The amount typed under a name; None where there is none or it cannot be used (a fault says so)."""
        text = self.typed.get(name)
        if text is None or units.read_missing(text):
            return None
        label = self.labels.get(name, name)
        try:
            found = units.read_amount(text)
            if found.kind not in kinds:
                found = units.read_amount(text, _possible(text, kinds))
        except units.NotUnderstood as fault:
            self.stop(fault.code, name, f"{label} is '{text}': {fault.why}", fault.hint)
            return None
        if found.bound:
            word = "below" if found.bound == "<" else "above"
            self.stop(
                "gas/bound",
                name,
                f"{label} is only known to lie {word} {text.lstrip('<>≤≥= ')}: a budget needs the number",
                "read it on a range that shows it, or leave it out",
            )
            return None
        self.notes += [note for note in found.notes if note not in self.notes]
        return found

    def quantity(
        self, name: str, kind: str, to: str, *, default: str = "", scale: float = 1.0
    ) -> Quantity | None:
        """An amount of one kind in one unit, with its uncertainty."""
        found = self.amount(name, (kind,))
        if found is None:
            return None
        step = _slope(found, to) * scale
        return self.with_doubt(name, found.to(to) * scale, step * 10.0**-found.decimals, default, found.text)

    def with_doubt(self, name: str, value: float, step: float, default: str, text: str) -> Quantity:
        """A value with its uncertainty: as typed, else the default's, and the rounding of its last digit."""
        rounding = abs(step) / math.sqrt(12.0)
        stated, source = DEFAULTS.get(default, (0.0, ""))
        typed = self.typed_u(f"u_{default}") if default else None
        if typed is not None:
            stated, source = typed, "as given"
        return Quantity(
            value=value,
            u=math.hypot(stated, rounding),
            rounding=rounding,
            text=text,
            source=source,
        )

    def typed_u(self, name: str) -> float | None:
        """A standard uncertainty as typed, in the kernel's unit."""
        kinds = {
            "u_temperature": ("temperature difference", "K", 1.0),
            "u_salinity": ("salinity", "PSU", 1.0),
            "u_barometer": ("pressure", "Pa", 1.0),
            "u_tgp": ("percent", "%", 1.0),
            "u_oxygen": ("mass concentration", "mg/L", 1.0),
            "u_depth": ("length", "m", 1.0),
        }
        if name not in kinds or name not in self.typed:
            return None
        kind, unit, scale = kinds[name]
        found = self.amount(name, (kind, "pressure") if name == "u_tgp" else (kind,))
        if found is None:
            return None
        return found.to("Pa" if found.kind == "pressure" else unit) * scale


def _possible(text: str, kinds: tuple[str, ...]) -> str:
    """The kind, of those that would do, that the text can be read as; else the first."""
    for kind in kinds:
        try:
            units.read_amount(text, kind)
        except units.NotUnderstood:
            continue
        return kind
    return kinds[0]


def _slope(found: units.Amount, to: str) -> float:
    """How much the target unit moves for one of the typed unit."""
    one = replace(found, value=found.value + 1.0)
    return one.to(to) - found.to(to)


def read(given: Mapping[str, str | Sequence[float]]) -> tuple[Given, list[findings.Finding]]:
    """What was typed, and what is wrong with it."""
    reader = Reader(given)
    out = Given()
    out.temperature = reader.quantity("temperature", "temperature", "°C", default="temperature")
    out.second_temperature = reader.quantity("second_temperature", "temperature", "°C", default="temperature")
    out.salinity = _salinity(reader, out.temperature)
    out.depth = reader.quantity("depth", "length", "m", default="depth")
    altitude = reader.quantity("altitude", "length", "m")
    out.altitude = altitude.value if altitude else None
    _read_barometer(reader, out)
    _read_total(reader, out)
    _read_oxygen(reader, out)
    out.nitrogen = reader.quantity("nitrogen", "percent", "%")
    out.carbon_dioxide = _carbon_dioxide(reader)
    setting = reader.quantity("meter_salinity", "salinity", "PSU")
    out.meter_salinity = setting.value if setting else None
    out.limits = _limits(reader)
    _check_ranges(reader, out)
    out.notes = reader.notes
    return out, reader.faults


def _salinity(reader: Reader, temperature: Quantity | None) -> Quantity | None:
    kinds = ("salinity", "mass concentration", "conductivity")
    found = reader.amount("salinity", kinds)
    if found is None:
        return None
    if found.kind == "salinity":
        return reader.with_doubt("salinity", found.value, 10.0**-found.decimals, "salinity", found.text)
    if temperature is None:
        reader.stop(
            "gas/needs-temperature",
            "salinity",
            f"Salinity is '{found.text}', which needs the water's temperature",
            "give the temperature as well",
        )
        return None
    step = 10.0**-found.decimals
    if found.kind == "mass concentration":
        value, more = (
            float(seawater.salinity_from_grams_per_litre(found.to("g/L") + k * found_step, temperature.value))
            for k, found_step in ((0, 0.0), (1, step * _slope(found, "g/L")))
        )
    else:
        value, more = (
            float(seawater.salinity_from_conductivity(found.to("S/m") + k, temperature.value))
            for k in (0.0, step * _slope(found, "S/m"))
        )
    reader.notes.append(f"salinity {value:.2f} was worked out from '{found.text}' at {temperature.text}")
    return reader.with_doubt("salinity", value, more - value, "salinity", found.text)


def _read_barometer(reader: Reader, out: Given) -> None:
    kind = reader.typed.get("barometer_kind", "station").lower().replace("-", " ")
    if kind not in ("station", "sea level"):
        hint = "write station or sea level"
        reader.stop("gas/barometer-kind", "barometer_kind", f"'{kind}' is no kind of air pressure", hint)
    out.sea_level = kind == "sea level"
    found = reader.quantity("barometer", "pressure", "Pa", default="barometer")
    if found is None:
        if "barometer" not in reader.typed and out.altitude is not None:
            value = float(barometer.station_pressure_from_altitude(out.altitude))
            out.barometer = Quantity(
                value=value, u=WEATHER, rounding=WEATHER, source="standard atmosphere, weather ±16 mmHg"
            )
            reader.notes.append(
                f"air pressure {value / MMHG:.0f} mmHg was taken from the altitude; weather moves it ±16 mmHg"
            )
        return
    if not out.sea_level:
        out.barometer = found
        return
    if out.altitude is None:
        reader.stop(
            "gas/altitude-needed",
            "barometer",
            f"Air pressure {found.text} is a sea-level pressure, and the altitude is not given",
            "give the altitude, or the pressure where the meter stands",
        )
        return
    value = float(barometer.station_pressure_from_sea_level_pressure(found.value, out.altitude))
    reader.notes.append(
        f"sea-level pressure {found.text} is {value / MMHG:.1f} mmHg at {out.altitude:g} m (ISA)"
    )
    out.barometer = replace(found, value=value)


def _read_total(reader: Reader, out: Given) -> None:
    found = reader.amount("tgp", ("percent", "pressure"))
    if found is not None and found.kind == "percent":
        out.total = reader.with_doubt("tgp", found.value, 10.0**-found.decimals, "tgp", found.text)
        return
    excess = reader.amount("delta_p", ("pressure",))
    chosen, out.total_kind = (found, "pressure") if found is not None else (excess, "delta")
    if chosen is None:
        out.total_kind = "percent"
        return
    value = chosen.to("Pa")
    if found is not None and value < 300.0 * MMHG:
        reader.stop(
            "gas/looks-like-delta-p",
            "tgp",
            f"Total gas pressure {found.text} is far below any air pressure: it looks like ΔP",
            "give it as ΔP (--delta-p)",
        )
        return
    step = _slope(chosen, "Pa") * 10.0**-chosen.decimals
    rounding = abs(step) / math.sqrt(12.0)
    air = out.barometer.value if out.barometer else constants.ATM
    typed = reader.typed_u("u_tgp")
    share = typed if typed is not None else DEFAULTS["tgp"][0]
    stated = share if typed is not None and "%" not in reader.typed["u_tgp"] else 0.01 * share * air
    source = "as given" if typed is not None else DEFAULTS["tgp"][1]
    out.total = Quantity(
        value=value, u=math.hypot(stated, rounding), rounding=rounding, text=chosen.text, source=source
    )


def _read_oxygen(reader: Reader, out: Given) -> None:
    out.saturation = reader.quantity("saturation", "percent", "%")
    kinds = ("mass concentration", "amount concentration", "amount content")
    if (reader.typed.get("oxygen") or "").rstrip().endswith("%") and "saturation" not in reader.typed:
        reader.typed["saturation"] = reader.typed.pop("oxygen")
        out.saturation = reader.quantity("saturation", "percent", "%")
        return
    found = reader.amount("oxygen", kinds)
    if found is None:
        return
    if found.kind == "mass concentration":
        to, scale = "mg/L", 1.0
    elif found.kind == "amount concentration":
        to, scale = "µmol/L", constants.OXYGEN_MOLAR_MASS * 1e-3
    elif out.temperature and out.salinity:
        density = float(seawater.density(out.temperature.value, out.salinity.value))
        to, scale = "µmol/kg", constants.OXYGEN_MOLAR_MASS * density * 1e-6
    else:
        return
    step = _slope(found, to) * scale * 10.0**-found.decimals
    out.oxygen = reader.with_doubt("oxygen", found.to(to) * scale, step, "oxygen", found.text)


def _carbon_dioxide(reader: Reader) -> Quantity | None:
    found = reader.quantity("carbon_dioxide", "pressure", "Pa")
    if found is None:
        return None
    u = math.hypot(0.2 * found.value * UNIFORM, found.rounding)
    return replace(found, u=u, source="±20 %, common practice, no source")


def _limits(reader: Reader) -> dict[str, tuple[str, float]]:
    out: dict[str, tuple[str, float]] = {}
    for name in ("watch", "act"):
        found = reader.amount(name, ("percent", "pressure"))
        if found is not None:
            percent = found.kind == "percent"
            out[name] = ("percent", found.value) if percent else ("delta", found.to("Pa"))
    return out


def _check_ranges(reader: Reader, out: Given) -> None:
    air = out.barometer
    if air is not None and not STATION[0] <= air.value <= STATION[1]:
        typed = reader.typed.get("barometer", f"{air.value / MMHG:.0f} mmHg")
        reader.stop(
            "gas/barometer-range",
            "barometer",
            f"Air pressure {typed} is outside what stands above any hall (500 to 800 mmHg)",
            "check the unit, and that it is the pressure where the meter stands",
        )
        out.barometer = None
    spans = (
        ("temperature", out.temperature, -2.0, 40.0),
        ("salinity", out.salinity, 0.0, 42.0),
        ("oxygen", out.oxygen, 0.0, 60.0),
    )
    for name, found, low, high in spans:
        if found is not None and not low <= found.value <= high:
            reader.stop(
                "gas/out-of-range",
                name,
                f"{reader.labels[name]} {found.text} is outside the known range, {low:g} to {high:g}",
                "check the number and its unit",
            )
    if out.depth is not None and out.depth.value < 0:
        reader.stop("gas/out-of-range", "depth", f"Depth {out.depth.text} is negative", "count it downwards")
