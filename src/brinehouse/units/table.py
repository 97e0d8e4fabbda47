"""The closed table of the trade's units: kind, symbol, factor and offset to the kind's base.

A value in the base is ``value * factor + offset``. The first unit of a kind is its base: SI, or the
field's own where it has one (degree Celsius, practical salinity, mg/L, mV, percent).
Defined values follow the SI brochure (9th edition), NIST SP 811 (2008) appendix B and, for the gallons, their
legal definitions (231 in³; 4.54609 L); conventional mercury (13 595.1 kg/m³) and water (1 000 kg/m³) columns.
"""

from __future__ import annotations

from dataclasses import dataclass

INCH = 0.0254
FOOT = 0.3048
POUND = 0.45359237
GRAVITY = 9.80665
US_GALLON = 231 * INCH**3
IMPERIAL_GALLON = 4.54609e-3
FOOT3 = FOOT**3
MERCURY = 13595.1 * GRAVITY
WATER = 1000 * GRAVITY
PSI = POUND * GRAVITY / INCH**2
HORSEPOWER = 550 * FOOT * POUND * GRAVITY
BTU = 1055.05585262
HOUR = 3600.0
DAY = 86400.0
MINUTE = 60.0
DKH = 10 / 56.0774 * 2
"""meq/L: one degree is 10 mg/L of CaO (DIN 38409-7); M(CaO) = 56.0774 g/mol, two equivalents a mole."""
CACO3 = 2 / 100.0869
"""meq/L in one mg/L of CaCO3, M = 100.0869 g/mol."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of one kind.

    Attributes
    ----------
    symbol : str
        The one way it is stored and shown.
    kind : str
        What it is a unit of.
    factor, offset : float
        Base value = value * factor + offset.
    basis : str
        What the amount is counted as, where the spelling said so: ``N``, ``ion``, ``CaCO3``, ``gauge`` ...
    note : str
        What was assumed in reading it.
    spellings : tuple of str
        Further ways to write it that are not built from its parts.
    """

    symbol: str
    kind: str
    factor: float
    offset: float = 0.0
    basis: str = ""
    note: str = ""
    spellings: tuple[str, ...] = ()


_PPT = "read as practical salinity's number; the two are up to 0.5 % apart"

Row = tuple[str, float] | tuple[str, float, tuple[str, ...]]

_ROWS: dict[str, tuple[Row, ...]] = {
    "length": (("m", 1), ("cm", 1e-2), ("mm", 1e-3), ("µm", 1e-6), ("km", 1e3), ("in", INCH), ("ft", FOOT)),
    "area": (("m²", 1), ("cm²", 1e-4), ("mm²", 1e-6), ("ft²", FOOT**2), ("in²", INCH**2)),
    "volume": (
        ("m³", 1), ("L", 1e-3), ("mL", 1e-6), ("µL", 1e-9), ("cm³", 1e-6, ("cc",)), ("US gal", US_GALLON),
        ("imp gal", IMPERIAL_GALLON), ("ft³", FOOT3), ("US fl oz", US_GALLON / 128), ("imp fl oz",
            IMPERIAL_GALLON / 160),
    ),
    "flow": (
        ("m³/s", 1), ("m³/h", 1 / HOUR), ("m³/d", 1 / DAY), ("m³/min", 1 / MINUTE), ("L/s", 1e-3),
        ("L/min", 1e-3 / MINUTE, ("lpm", "LPM", "Lpm")), ("L/h", 1e-3 / HOUR, ("lph", "LPH", "Lph")),
            ("L/d", 1e-3 / DAY),
        ("mL/min", 1e-6 / MINUTE), ("mL/h", 1e-6 / HOUR), ("mL/s", 1e-6), ("mL/d", 1e-6 / DAY),
        ("US gal/min", US_GALLON / MINUTE, ("US gpm", "gpm (US)", "gpm US", "USgpm", "US GPM")),
        ("US gal/h", US_GALLON / HOUR, ("US gph", "gph (US)", "gph US", "USgph", "US GPH")),
        ("US gal/d", US_GALLON / DAY, ("US gpd", "gpd (US)")),
        ("imp gal/min", IMPERIAL_GALLON / MINUTE, ("imp gpm", "gpm (imp)", "imp GPM", "igpm")),
        ("imp gal/h", IMPERIAL_GALLON / HOUR, ("imp gph", "gph (imp)", "imp GPH", "igph")),
        ("imp gal/d", IMPERIAL_GALLON / DAY, ("imp gpd", "gpd (imp)")),
        ("ft³/min", FOOT3 / MINUTE, ("cfm", "CFM")), ("ft³/s", FOOT3), ("ft³/h", FOOT3 / HOUR, ("cfh",
            "CFH")),
    ),
    "pressure": (
        ("Pa", 1), ("hPa", 1e2, ("hpa",)), ("kPa", 1e3, ("kpa",)), ("MPa", 1e6), ("mbar", 1e2), ("bar",
            1e5, ("Bar",)), ("dbar", 1e4),
        ("mmHg", MERCURY * 1e-3, ("mm Hg", "mmhg", "mm of mercury")), ("inHg", MERCURY * INCH, ("in Hg",
            "inhg", "inches of mercury")),
        ("Torr", 101325 / 760, ("torr",)), ("atm", 101325), ("µatm", 0.101325), ("matm", 101.325),
            ("psi", PSI, ("PSI", "Psi", "lbf/in2")),
        ("mH2O", WATER, ("m H2O", "mWC", "m of water", "mwc", "mWG", "metres of water")), ("cmH2O",
            WATER * 1e-2, ("cm H2O", "cm of water", "cmWC")),
        ("mmH2O", WATER * 1e-3, ("mm H2O", "mm of water", "mmWC")),
        ("inH2O", WATER * INCH, ("in H2O", "inches of water")), ("ftH2O", WATER * FOOT, ("ft H2O",
            "feet of water")),
    ),
    "power": (
        ("W", 1), ("mW", 1e-3), ("kW", 1e3), ("MW", 1e6), ("hp", HORSEPOWER, ("HP", "Hp", "horsepower")),
        ("PS", 75 * GRAVITY, ("metric hp", "metric horsepower")), ("BTU/h", BTU / HOUR, ("BTUH", "Btuh")),
        ("kcal/h", 4186.8 / HOUR),
        ("ton of refrigeration", 12000 * BTU / HOUR, ("tons of refrigeration", "TR", "refrigeration ton",
            "refrigeration tons")),
    ),
    "energy": (
        ("J", 1), ("kJ", 1e3), ("MJ", 1e6), ("Wh", HOUR, ("W h",)), ("kWh", 1e3 * HOUR, ("kW h",)),
            ("MWh", 1e6 * HOUR),
        ("BTU", BTU), ("kcal", 4186.8),
    ),
    "mass": (
        ("kg", 1), ("g", 1e-3), ("mg", 1e-6), ("µg", 1e-9), ("t", 1e3), ("lb", POUND), ("oz", POUND / 16),
    ),
    "mass concentration": (
        ("mg/L", 1), ("µg/L", 1e-3), ("ng/L", 1e-6), ("g/L", 1e3), ("kg/m³", 1e3), ("g/m³", 1), ("mg/m³",
            1e-3), ("mg/mL", 1e3), ("µg/mL", 1),
    ),
    "amount concentration": (
        ("µmol/L", 1, ("µM",)), ("mmol/L", 1e3, ("mM",)), ("mol/L", 1e6), ("nmol/L", 1e-3, ("nM",)),
            ("mol/m³", 1e3), ("mmol/m³", 1),
    ),
    "amount content": (("µmol/kg", 1), ("mmol/kg", 1e3), ("mol/kg", 1e6), ("nmol/kg", 1e-3)),
    "mass content": (("mg/kg", 1), ("µg/kg", 1e-3), ("g/kg", 1e3), ("mg/g", 1e3), ("µg/g", 1)),
    "conductivity": (("S/m", 1), ("mS/cm", 0.1), ("µS/cm", 1e-4), ("mS/m", 1e-3), ("S/cm", 1e2)),
    "specific gravity": (("SG", 1, ("", "1", "sg", "s.g.", "S.G.", "specific gravity")),),
    "density": (("kg/m³", 1), ("g/cm³", 1e3), ("g/mL", 1e3), ("kg/L", 1e3), ("g/L", 1)),
    "percent": (("%", 1, ("percent", "per cent", "pct")),),
    "ratio": (("1", 1, ("",)), ("%", 1e-2, ("percent", "per cent")), ("‰", 1e-3)),
    "pH": (("pH", 1, ("", "1", "pH units", "pH unit")),),
    "count": (("1", 1, ("", "pieces", "animals", "pcs")),),
    "alkalinity": (
        ("meq/L", 1), ("mmol/L", 1), ("µeq/L", 1e-3), ("µmol/L", 1e-3),
        ("dKH", DKH, ("dkh", "DKH", "°dKH", "°KH", "degrees KH", "deg KH")),
        ("mg/L CaCO3", CACO3, ("mg/L as CaCO3", "mg CaCO3/L", "mg/L (as CaCO3)", "mg/L (CaCO3)",
            "mg/L-CaCO3", "mg/L CaCO₃", "mg/L as CaCO₃", "mg CaCO₃/L")),
    ),
    "time": (("s", 1), ("ms", 1e-3), ("min", MINUTE), ("h", HOUR), ("d", DAY), ("week", 7 * DAY)),
    "rate": (("1/s", 1), ("1/min", 1 / MINUTE), ("1/h", 1 / HOUR), ("1/d", 1 / DAY), ("1/week",
        1 / (7 * DAY))),
    "frequency": (("Hz", 1), ("kHz", 1e3), ("rpm", 1 / MINUTE, ("RPM", "r/min", "rev/min", "1/min"))),
    "speed": (
        ("m/s", 1), ("cm/s", 1e-2), ("mm/s", 1e-3), ("m/min", 1 / MINUTE), ("m/h", 1 / HOUR, ("m3/m2/h",
            "m3/(m2 h)")), ("m/d", 1 / DAY), ("ft/s", FOOT), ("ft/min", FOOT / MINUTE),
    ),
    "voltage": (("mV", 1), ("V", 1e3), ("kV", 1e6)),
    "current": (("A", 1), ("mA", 1e-3)),
    "turbidity": (("NTU", 1, ("ntu",)), ("FNU", 1, ("fnu",)), ("FTU", 1, ("ftu",))),
    "irradiance": (("W/m²", 1), ("mW/cm²", 10), ("µW/cm²", 1e-2)),
    "UV dose": (("mJ/cm²", 1, ("mW s/cm2", "mWs/cm2", "mW·s/cm2")), ("J/m²", 0.1), ("µW s/cm²", 1e-3,
        ("µWs/cm2", "µW·s/cm2"))),
    "illuminance": (("lx", 1, ("lux", "Lux")), ("klx", 1e3, ("klux",))),
    "photon flux": (("µmol/m²/s", 1, ("µmol/(m2 s)", "PAR", "µE/m2/s")),),
    "heat transfer": (("W/m²/K", 1, ("W/(m2 K)", "W/m2/°C", "W/(m2 °C)")), ("kW/m²/K", 1e3)),
    "heat conductance": (("W/K", 1, ("W/°C",)), ("kW/K", 1e3, ("kW/°C",))),
    "heat capacity": (("J/kg/K", 1, ("J/(kg K)",)), ("kJ/kg/K", 1e3, ("kJ/(kg K)",))),
    "pressure gradient": (("Pa/m", 1), ("kPa/m", 1e3), ("mbar/m", 1e2), ("bar/m", 1e5)),
    "mass rate": (
        ("g/d", 1), ("kg/d", 1e3), ("mg/d", 1e-3), ("g/h", 24), ("kg/h", 24e3), ("mg/h", 24e-3),
            ("mg/min", 1.44), ("g/min", 1440), ("kg/s", 86.4e6), ("lb/d", POUND * 1e3),
    ),
    "specific mass rate": (("mg/kg/h", 1), ("g/kg/d", 1e3 / 24), ("mg/kg/d", 1 / 24), ("mg/kg/min", 60),
        ("g/kg/h", 1e3)),
    "areal rate": (("g/m²/d", 1), ("mg/m²/h", 24e-3), ("mg/m²/d", 1e-3), ("g/m²/h", 24)),
    "volumetric rate": (("mg/L/h", 1), ("mg/L/d", 1 / 24), ("mg/L/min", 60), ("g/m³/d", 1 / 24),
        ("kg/m³/d", 1e3 / 24)),
    "specific area": (("m²/m³", 1), ("ft²/ft³", 1 / FOOT)),
    "attenuation": (("1/m", 1), ("1/cm", 1e2)),
    "viscosity": (("Pa s", 1, ("Pa·s",)), ("mPa s", 1e-3, ("mPa·s", "cP"))),
    "kinematic viscosity": (("m²/s", 1), ("mm²/s", 1e-6, ("cSt",))),
    "count concentration": (("1/mL", 1, ("CFU/mL", "cfu/mL", "cells/mL", "CFU/ml", "cells/ml")), ("1/L",
        1e-3, ("cells/L", "CFU/L")), ("1/100 mL", 1e-2, ("CFU/100 mL", "MPN/100 mL", "CFU/100mL",
        "MPN/100mL"))),
    "stocking": (("kg/m³", 1), ("g/L", 1), ("lb/ft³", POUND / FOOT3)),
}  # fmt: skip

_SPECIAL = (
    Unit("°C", "temperature", 1.0, spellings=("deg C", "degC", "deg. C", "celsius", "Celsius",
        "degrees C", "degrees Celsius", "degree Celsius", "° C", "Deg C", "DegC", "deg c", "degc", "°c")),
    Unit("°F", "temperature", 5 / 9, -160 / 9, spellings=("deg F", "degF", "deg. F", "fahrenheit",
        "Fahrenheit", "degrees F", "degrees Fahrenheit", "degree Fahrenheit", "° F", "Deg F", "DegF",
        "deg f", "degf", "°f")),
    Unit("K", "temperature", 1.0, -273.15, spellings=("kelvin", "Kelvin")),
    Unit("K", "temperature difference", 1.0, spellings=("kelvin", "Kelvin")),
    Unit("°C", "temperature difference", 1.0, spellings=("deg C", "degC", "celsius", "degrees C",
        "degrees Celsius")),
    Unit("°F", "temperature difference", 5 / 9, spellings=("deg F", "degF", "fahrenheit", "degrees F",
        "degrees Fahrenheit")),
    Unit("PSU", "salinity", 1.0, spellings=("psu", "PSS-78", "PSS78", "practical salinity")),
    Unit("PSU", "salinity", 1.0, note=f"'ppt' was {_PPT}", spellings=("ppt",)),
    Unit("PSU", "salinity", 1.0, note=f"'‰' was {_PPT}", spellings=("‰", "o/oo", "0/00")),
    Unit("PSU", "salinity", 1.0, note=f"'g/kg' was {_PPT}", spellings=("g/kg",)),
    Unit("PSU", "salinity", 1.0, note="'S' was read as practical salinity", spellings=("S",)),
)  # fmt: skip


def _build() -> tuple[Unit, ...]:
    rows = [
        Unit(row[0], kind, float(row[1]), spellings=row[2] if len(row) > 2 else ())
        for kind, table in _ROWS.items()
        for row in table
    ]
    return (*_SPECIAL, *rows)


UNITS: tuple[Unit, ...] = _build()
"""Every unit, base first within its kind."""

KINDS: tuple[str, ...] = tuple(dict.fromkeys(unit.kind for unit in UNITS))

SYMBOLS: dict[str, tuple[str, ...]] = {
    kind: tuple(dict.fromkeys(unit.symbol for unit in UNITS if unit.kind == kind)) for kind in KINDS
}
"""Kind to its symbols, base first."""

UNITLESS = frozenset({"pH", "ratio", "specific gravity", "count"})
"""Kinds whose values may stand without a unit."""
