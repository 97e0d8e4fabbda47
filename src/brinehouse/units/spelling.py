"""From a unit as people write it to the one unit of the table; what can be read two ways is refused."""

from __future__ import annotations

import dataclasses
import difflib
import functools
import re

from brinehouse.units import faults, table

_SIGNS = str.maketrans(
    {
        "º": "°", "˚": "°", "μ": "µ", "−": "-", "⁻": "-", "⁰": "0", "¹": "1", "²": "2", "³": "3",
            "₂": "2", "₃": "3", "₄": "4",
        "·": " ", "⋅": " ", "•": " ", "*": " ", "∙": " ", "⁄": "/", "∕": "/", "^": "", "℃": "°C",
            "℉": "°F", "⁺": "+",
        "\u00a0": " ", "\u202f": " ", "\u2009": " ", "Δ": "Δ", "‐": "-", "–": "-",
    }
)  # fmt: skip

_WORDS: dict[str, tuple[str, ...]] = {
    "m": ("metre", "metres", "meter", "meters"),
    "cm": ("centimetre", "centimetres", "centimeter", "centimeters"),
    "mm": ("millimetre", "millimetres", "millimeter", "millimeters"),
    "µm": ("um", "micron", "microns", "micrometre", "micrometres", "micrometer", "micrometers"),
    "km": ("kilometre", "kilometres", "kilometer", "kilometers"),
    "in": ("inch", "inches"),
    "ft": ("foot", "feet"),
    "L": ("l", "litre", "litres", "liter", "liters", "ltr"),
    "mL": ("ml", "millilitre", "millilitres", "milliliter", "milliliters"),
    "µL": ("µl", "ul", "uL", "microlitre", "microlitres"),
    "m3": ("cubic metre", "cubic metres", "cubic meter", "cubic meters", "cbm", "cu m", "cu.m"),
    "cm3": ("cubic centimetre", "cubic centimetres"),
    "m2": ("square metre", "square metres", "square meter", "square meters", "sq m", "sqm"),
    "ft2": ("square foot", "square feet", "sq ft"),
    "ft3": ("cubic foot", "cubic feet", "cu ft"),
    "US gal": ("gal (US)", "gal US", "US gallon", "US gallons", "gallons (US)", "gallon (US)", "USgal",
        "U.S. gal", "US liquid gallon"),
    "imp gal": ("gal (imp)", "gal imp", "imperial gallon", "imperial gallons", "gallons (imperial)",
        "UK gal", "gal (UK)",
                "imperial gal", "UK gallon", "UK gallons", "imp gallon", "imp gallons", "gallons (imp)",
                    "Imp gal"),
    "US fl oz": ("fl oz (US)",),
    "imp fl oz": ("fl oz (imp)", "UK fl oz"),
    "s": ("sec", "secs", "second", "seconds"),
    "ms": ("millisecond", "milliseconds"),
    "min": ("mins", "minute", "minutes"),
    "h": ("hr", "hrs", "hour", "hours"),
    "d": ("day", "days"),
    "week": ("weeks", "wk", "wks"),
    "kg": ("kilogram", "kilograms", "kilo", "kilos"),
    "g": ("gram", "grams", "gramme", "grammes"),
    "mg": ("milligram", "milligrams"),
    "µg": ("ug", "mcg", "microgram", "micrograms"),
    "t": ("tonne", "tonnes", "metric ton", "metric tons"),
    "lb": ("lbs", "pound", "pounds"),
    "oz": ("ounce", "ounces"),
    "mol": ("mole", "moles"),
    "mmol": ("millimole", "millimoles"),
    "µmol": ("umol", "micromole", "micromoles"),
    "µM": ("uM",),
    "meq": ("mEq", "mval", "milliequivalent", "milliequivalents"),
    "µeq": ("ueq", "µEq", "uEq"),
    "Pa": ("pascal", "pascals"),
    "hPa": ("hectopascal", "hectopascals"),
    "kPa": ("kilopascal", "kilopascals"),
    "mbar": ("millibar", "millibars", "mb"),
    "bar": ("bars",),
    "dbar": ("decibar", "decibars"),
    "atm": ("atmosphere", "atmospheres"),
    "µatm": ("uatm",),
    "W": ("watt", "watts"),
    "kW": ("kilowatt", "kilowatts"),
    "BTU": ("Btu", "btu"),
    "mS": ("millisiemens",),
    "µS": ("uS", "microsiemens"),
    "µW": ("uW",),
    "mV": ("millivolt", "millivolts"),
    "V": ("volt", "volts"),
    "Hz": ("hertz",),
    "µE": ("uE",),
}  # fmt: skip

_SPECIES = {
    "N": "N", "NO3-N": "N", "NO2-N": "N", "NH3-N": "N", "NH4-N": "N", "TAN": "N", "nitrogen": "N",
        "N-NO3": "N",
    "N-NO2": "N", "N-NH4": "N", "NO3--N": "N", "NO2--N": "N", "NH4+-N": "N", "nitrate-N": "N",
        "nitrite-N": "N", "ammonia-N": "N",
    "NO3": "ion", "NO2": "ion", "NH4": "ion", "PO4": "ion", "NO3-": "ion", "NO2-": "ion", "NH4+": "ion",
        "PO43-": "ion", "ion": "ion",
    "the ion": "ion", "nitrate": "ion", "nitrite": "ion", "ammonium": "ion", "phosphate": "ion",
        "NH3": "NH3", "ammonia": "NH3",
    "P": "P", "PO4-P": "P", "phosphorus": "P", "CaCO3": "CaCO3", "O2": "O2", "DO": "O2", "oxygen": "O2",
        "Cl2": "Cl2",
    "Ca": "Ca", "Mg": "Mg", "Si": "Si", "SiO2": "SiO2", "C": "C", "CO2": "CO2", "O3": "O3", "Cu": "Cu",
        "K": "K", "Sr": "Sr",
}  # fmt: skip
_PARTS = "|".join(sorted(map(re.escape, _SPECIES), key=len, reverse=True))
_BASIS_LAST = re.compile(rf"(?P<unit>\S.*?)(?: as |\s*-\s*|\s+|_)\(?(?:as )?(?P<what>{_PARTS})\)?")
_BASIS_FIRST = re.compile(rf"(?P<top>[mµunk]?(?:g|mol))[ -](?P<what>{_PARTS})\s*/\s*(?P<rest>\S+)")
_CAN_HAVE_BASIS = {"mass concentration", "amount concentration", "amount content", "mass content",
    "mass rate", "volumetric rate",
                   "areal rate", "specific mass rate", "mass"}  # fmt: skip
_SUFFIXES = {
    "percent": {"saturation": ("% saturation", "% sat", "%sat", "% sat.", "percent saturation",
        "% air saturation")},
    "pressure": {
        "gauge": ("barg", "bar g", "bar(g)", "bar (g)", "psig", "psi g", "kPag", "kPa g", "kPa(g)",
            "kPa gauge", "bar gauge", "psi gauge", "mbarg", "mbar gauge"),
        "absolute": ("bara", "bar a", "bar(a)", "bar (a)", "psia", "psi a", "kPaa", "kPa a", "kPa(a)",
            "kPa abs", "kPa absolute", "bar abs", "bar absolute", "psi abs"),
    },
    "pH": {
        "total": ("pH total", "pH (total)", "pHT", "pH_T", "total scale"),
        "NBS": ("pH NBS", "pH (NBS)", "NBS", "pH_NBS", "NBS scale"),
        "free": ("pH free", "pH (free)", "pHF", "free scale"),
        "seawater": ("pH seawater", "pH (seawater)", "pHSWS", "pH SWS", "seawater scale"),
    },
}  # fmt: skip

_GALLONS = ("US gal", "imp gal")
_AMBIGUOUS: dict[str, tuple[str, tuple[str, ...]]] = {
    "C": ("may be degrees Celsius (C is also coulomb, and carbon)", ("°C",)),
    "F": ("may be degrees Fahrenheit (F is also farad)", ("°F",)),
    "deg": ("is not a unit of temperature: degrees of Celsius, of Fahrenheit or of an angle", ("°C", "°F")),
    "ppm": ("is by mass or by volume, of a kilogram or of a litre", ("mg/L", "mg/kg")),
    "ppb": ("is by mass or by volume, of a kilogram or of a litre", ("µg/L", "µg/kg")),
    "ppt": ("is a thousandth or a trillionth, by mass or by volume", ("g/kg", "g/L", "ng/L")),
    "gal": ("may be US (3.785 L) or imperial (4.546 L)", _GALLONS),
    "gpm": ("may be US (3.785 L) or imperial (4.546 L) gallons a minute", ("US gal/min", "imp gal/min")),
    "gph": ("may be US (3.785 L) or imperial (4.546 L) gallons an hour", ("US gal/h", "imp gal/h")),
    "gpd": ("may be US (3.785 L) or imperial (4.546 L) gallons a day", ("US gal/d", "imp gal/d")),
    "fl oz": ("may be US (29.57 mL) or imperial (28.41 mL)", ("US fl oz", "imp fl oz")),
    "ton": ("may be a tonne, a short or a long ton, or a ton of refrigeration", ("t",
        "ton of refrigeration")),
    "pt": ("may be US or imperial", ("US gal", "imp gal", "L")),
    "qt": ("may be US or imperial", ("US gal", "imp gal", "L")),
    "month": ("has no fixed length", ("d", "week")),
    "year": ("has no fixed length", ("d", "week")),
    "g%": ("may be by mass or by volume", ("g/L", "g/kg")),
    "S": ("may be practical salinity or siemens", ("PSU", "mS/cm")),
    "M": ("may be mol/L, mega or metres", ("mol/L", "m")),
}  # fmt: skip
_ALSO = {
    "deg": ("degrees", "degree", "°", "degs"), "gal": ("gallon", "gallons", "gals", "Gal"),
    "gpm": ("gal/min", "GPM", "gallons/min", "gal/minute"), "gph": ("gal/h", "gal/hr", "GPH", "gal/hour",
        "gallons/hour"),
    "gpd": ("gal/d", "gal/day", "GPD", "gallons/day"), "ppm": ("PPM", "ppm CaCO3", "ppm as CaCO3"),
        "ppb": ("PPB",), "ppt": ("PPT",), "ton": ("tons",), "pt": ("pint", "pints"),
    "qt": ("quart", "quarts"), "month": ("months", "mo"), "year": ("years", "yr", "a", "yrs"),
        "fl oz": ("floz", "fl. oz."),
    "g%": ("% w/v", "%w/v", "% v/v", "% w/w"),
}  # fmt: skip
_AMBIGUOUS_WORDS = {
    **{word: word for word in _AMBIGUOUS},
    **{also: word for word, all_ in _ALSO.items() for also in all_},
}
_BRIDGES = {
    frozenset({"salinity", "mass concentration"}): "the water's temperature",
    frozenset({"salinity", "specific gravity"}): "the instrument's own scale",
    frozenset({"salinity", "conductivity"}): "the water's temperature",
    frozenset({"salinity", "density"}): "the water's temperature",
    frozenset({"mass concentration", "mass content"}): "the water's density",
    frozenset({"amount concentration", "amount content"}): "the water's density",
    frozenset({"alkalinity", "amount content"}): "the water's density",
    frozenset({"mass concentration", "amount concentration"}): "the molar mass",
    frozenset({"pressure", "percent"}): "the barometer",
    frozenset({"illuminance", "photon flux"}): "the lamp's spectrum",
}  # fmt: skip

_ONLY_WITH_KIND = {"S"}

_ATOM = re.compile(r"([^\W\d_°%‰]+|[°%‰][A-Za-z]*|1)(-?[123])?")


def clean(text: str) -> str:
    """The spelling with look-alike signs made one: ``mg·L⁻¹`` is ``mg L-1``, ``m³`` is ``m3``."""
    return " ".join(text.translate(_SIGNS).split())


def _atoms() -> dict[str, str]:
    return {also: atom for atom, alsos in _WORDS.items() for also in alsos}


_ATOMS = _atoms()


def _split(part: str) -> list[str] | None:
    """The atoms of one side of a stroke; a spelling of several words counts as one atom."""
    if part in _ATOMS:
        return [_ATOMS[part]]
    if part in _WORDS:
        return [part]
    found: list[str] = []
    for piece in part.split(" "):
        met = _ATOM.fullmatch(piece)
        if met is None:
            return None
        name = piece if piece in _WORDS else _ATOMS.get(piece) or _ATOMS.get(met[1], met[1]) + (met[2] or "")
        found.append(name)
    return found


@functools.lru_cache(maxsize=4096)
def key(text: str) -> str:
    """A spelling by its parts: ``mg L-1``, ``mg/l`` and ``milligrams per litre`` have one key."""
    whole = re.sub(r"\s+per\s+|\s*/\s*|^per\s+", "/", clean(text))
    top: list[str] = []
    bottom: list[str] = []
    for place, part in enumerate(whole.split("/")):
        inner = part[1:-1] if place and part.startswith("(") and part.endswith(")") else part
        if place and inner is part and " " in part and part not in _ATOMS and part not in _WORDS:
            return whole
        atoms = [] if not part and not place else _split(inner)
        if atoms is None:
            return whole
        for atom in atoms:
            powered = re.fullmatch(r"(.+)-([123])", atom)
            name = atom if powered is None else powered[1] + ("" if powered[2] == "1" else powered[2])
            (bottom if (powered is not None) != bool(place) else top).append(name)
    top = [atom for atom in top if atom != "1"] or ["1"]
    return "/".join([" ".join(sorted(top)), *sorted(bottom)])


def _index() -> dict[str, list[table.Unit]]:
    found: dict[str, list[table.Unit]] = {}
    for unit in table.UNITS:
        ways = unit.spellings if unit.note else (unit.symbol, *unit.spellings)
        for way in ways:
            for entry in (clean(way), key(way)) if way else ("",):
                units = found.setdefault(entry, [])
                if unit not in units:
                    units.append(unit)
    for kind, bases in _SUFFIXES.items():
        for basis, ways in bases.items():
            for way in ways:
                stem = re.match(r"bar|mbar|psi|kPa", way)
                symbol = stem[0] if stem else table.SYMBOLS[kind][0]
                base = next(unit for unit in table.UNITS if unit.kind == kind and unit.symbol == symbol)
                found.setdefault(clean(way), []).append(dataclasses.replace(base, basis=basis, spellings=()))
    return found


_INDEX = _index()
_FOLDED: dict[str, list[str]] = {}
for _way in _INDEX:
    _FOLDED.setdefault(_way.casefold(), []).append(_way)


@functools.lru_cache(maxsize=4096)
def meanings(text: str) -> tuple[table.Unit, ...]:
    """Every unit that a spelling may be, of whatever kind; empty where there is none."""
    plain = clean(text)
    return tuple(_INDEX.get(plain) or _INDEX.get(key(plain)) or _with_basis(plain))


def _with_basis(plain: str) -> list[table.Unit]:
    first, last = _BASIS_FIRST.fullmatch(plain), _BASIS_LAST.fullmatch(plain)
    if first is not None:
        stem, what = f"{first['top']}/{first['rest']}", first["what"]
    elif last is not None:
        stem, what = last["unit"], last["what"]
    else:
        return []
    units = _INDEX.get(stem) or _INDEX.get(key(stem)) or []
    return [
        dataclasses.replace(unit, basis=_SPECIES[what], spellings=())
        for unit in units
        if unit.kind in _CAN_HAVE_BASIS
    ]


@functools.lru_cache(maxsize=4096)
def unit(text: str, kind: str | None = None) -> table.Unit:
    """The unit that a spelling means.

    Parameters
    ----------
    text : str
        As typed: ``m3/h``, ``cubic metres per hour``, ``mg·L⁻¹``, ``mg/L as N``.
    kind : str, optional
        What it is a unit of; without it a spelling of several kinds is the first of the table.

    Returns
    -------
    Unit
        With its basis, where the spelling says one, and a note where something was assumed.

    Raises
    ------
    NotUnderstood
        Where it is unknown, of another kind, or can be read two ways.

    Examples
    --------
    >>> unit("cubic metres per hour").symbol, unit("mg/L as N").basis
    ('m³/h', 'N')
    """
    if kind is not None and kind not in table.SYMBOLS:
        raise ValueError(f"no such kind of unit: {kind}")
    plain = clean(text)
    if not plain and kind not in table.UNITLESS:
        raise faults.NotUnderstood("units/no-unit", text, "there is no unit", _write(kind), choices(kind))
    found = meanings(plain)
    fitting = [candidate for candidate in found if candidate.kind == (kind or candidate.kind)]
    if kind is None and plain in _ONLY_WITH_KIND:
        fitting = []
    if fitting:
        return fitting[0]
    if plain in _AMBIGUOUS_WORDS:
        raise _ambiguous(text, plain, kind)
    if found:
        raise _wrong_kind(text, found[0], kind or "")
    raise _unknown(text, plain, kind)


def choices(kind: str | None) -> tuple[str, ...]:
    """The symbols of a kind."""
    return table.SYMBOLS.get(kind or "", ())


def _write(kind: str | None) -> str:
    known = choices(kind)
    if not known:
        return "write the unit behind the number, e.g. '12 m3'"
    return "write " + _list([f"'{symbol}'" for symbol in known[:6]])


def _list(words: list[str]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " or " + words[-1]


def _ambiguous(text: str, plain: str, kind: str | None) -> faults.NotUnderstood:
    why, ways = _AMBIGUOUS[_AMBIGUOUS_WORDS[plain]]
    fitting = tuple(way for way in ways if kind is None or any(u.kind == kind for u in meanings(way))) or ways
    if kind == "alkalinity" and plain.startswith("ppm"):
        fitting = ("mg/L CaCO3", "dKH", "meq/L")
    return faults.NotUnderstood(
        "units/ambiguous-unit", text, why, "write " + _list([f"'{way}'" for way in fitting]), fitting
    )


def _wrong_kind(text: str, found: table.Unit, kind: str) -> faults.NotUnderstood:
    needed = _BRIDGES.get(frozenset({found.kind, kind}))
    if needed:
        why = f"is a unit of {found.kind}; to read it as {kind} takes {needed}"
    else:
        why = f"is a unit of {found.kind}, not of {kind}"
    return faults.NotUnderstood("units/wrong-kind", text, why, _write(kind), choices(kind))


def _unknown(text: str, plain: str, kind: str | None) -> faults.NotUnderstood:
    """Another case of a known spelling, a near miss, or neither."""
    same = [way for way in _FOLDED.get(plain.casefold(), []) + _FOLDED.get(key(plain).casefold(), []) if way]
    units = [u for way in same for u in _INDEX[way] if kind is None or u.kind == kind]
    symbols = tuple(dict.fromkeys(u.symbol for u in units))
    if symbols:
        mega = any(part.startswith("M") for part in re.split(r"[/ ]", plain))
        why = "is written with capitals that change its meaning"
        if mega:
            why += " (M is mega, m is milli)"
        return faults.NotUnderstood(
            "units/ambiguous-unit", text, why, "write " + _list([f"'{s}'" for s in symbols[:4]]), symbols
        )
    nearest = _nearest(plain, kind)
    if nearest:
        hint = "did you mean " + _list([f"'{s}'" for s in nearest[:3]]) + "?"
        return faults.NotUnderstood("units/unknown-unit", text, "is not a unit known here", hint, nearest[:3])
    return faults.NotUnderstood(
        "units/unknown-unit", text, "is not a unit known here", _write(kind), choices(kind)
    )


def _nearest(plain: str, kind: str | None) -> tuple[str, ...]:
    """The symbols whose spellings are most like a text."""
    ways = {way: known for way, known in _INDEX.items() if way}
    ways |= {word: _INDEX[atom] for word, atom in _ATOMS.items() if atom in _INDEX}
    fitting = [way for way, known in ways.items() if kind is None or any(u.kind == kind for u in known)]
    near = difflib.get_close_matches(plain, fitting, n=3, cutoff=0.7)
    return tuple(dict.fromkeys(u.symbol for way in near for u in ways[way] if kind is None or u.kind == kind))
