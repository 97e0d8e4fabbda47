"""Each relation's page says what goes in and comes out, in which unit and range, and by whose word."""

import inspect
import re

import pytest

from brinehouse.science import (
    barometer,
    bubbles,
    carbonate,
    dissociation,
    excess,
    exchange,
    gases,
    gases_by_author,
    heat,
    hydraulics,
    nitrogen,
    respiration,
    seawater,
    total_gas,
    weirs,
)

MODULES = (
    barometer, bubbles, carbonate, dissociation, excess, exchange, gases, gases_by_author, heat, hydraulics,
    nitrogen, respiration, seawater, total_gas, weirs,
)  # fmt: skip
RELATIONS = {
    f"{module.__name__.rsplit('.', 1)[1]}.{name}": function
    for module in MODULES
    for name, function in inspect.getmembers(module, inspect.isfunction)
    if function.__module__ == module.__name__ and not name.startswith("_")
}
UNIT = re.compile(r"\[[^\[\]]+\]")
# One word, one unit, wherever it stands.
UNITS = {
    "temperature": "°C",
    "salinity": "-",
    "station_pressure": "Pa",
    "delta_p": "Pa",
    "depth": "m",
    "altitude": "m",
    "oxygen_pressure": "Pa",
    "conductivity": "S/m",
}


def sections(page):
    parts = re.split(r"^(\w+)\n-+\n", inspect.cleandoc(page), flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def faults(page, arguments):
    """What a page lacks, in words."""
    found = sections(page)
    missing = [
        name for name in ("Parameters", "Returns", "Notes", "References", "Examples") if name not in found
    ]
    if missing:
        return [f"no section {name}" for name in missing]
    entries = re.split(r"^(?=\w+ : )", found["Parameters"], flags=re.MULTILINE)[1:]
    told = {entry.split(" : ")[0]: entry for entry in entries}
    lacks = [] if list(told) == list(arguments) else [f"{list(told)} for {list(arguments)}"]
    for name, entry in told.items():
        unit = UNIT.search(entry)
        if unit is None and name != "scale":
            lacks.append(f"no unit for {name}")
        elif name in UNITS and unit.group() != f"[{UNITS[name]}]":
            lacks.append(f"{name} in {unit.group()}")
    if not UNIT.search(found["Returns"]):
        lacks.append("no unit for what it returns")
    return lacks


@pytest.mark.parametrize("name", sorted(RELATIONS))
def test_every_page_is_whole(name):
    function = RELATIONS[name]
    assert faults(function.__doc__, inspect.signature(function).parameters) == []


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("References\n", "Sources\n", "no section References"),
        (
            "salinity : array_like",
            "salt : array_like",
            "['temperature', 'salt'] for ['temperature', 'salinity']",
        ),
        ("ITS-90. [°C]", "ITS-90. [K]", "temperature in [K]"),
        ("ITS-90. [°C]", "ITS-90.", "no unit for temperature"),
        ("[kg/m3]", "", "no unit for what it returns"),
    ],
)
def test_a_page_that_lacks_something_is_told(old, new, said):
    page = inspect.cleandoc(seawater.density.__doc__)
    assert old in page
    assert said in faults(page.replace(old, new), ["temperature", "salinity"])
