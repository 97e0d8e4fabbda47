"""The question as the generic page asks it: one tank with one sump, from a few amounts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from brinehouse import answers, findings
from brinehouse.engines.balance import around, question, surveying
from brinehouse.facility import amounts, reading
from brinehouse.network import flows as flows_of

SHARE = 0.9  # of the water stands in the tank, the rest in its sump: common practice, no source
_KINDS = {
    "volume": "volume",
    "surface": "area",
    "mass": "mass",
    "feed": "mass",
    "temperature": "temperature",
    "salinity": "salinity",
    "flow": "flow",
}


def answer(given: Mapping[str, str | Sequence[float]]) -> answers.Answer:
    """The balance of one tank and its sump.

    Parameters
    ----------
    given : mapping
        What was typed, amounts with their units: see `QUESTION`.
    """
    taken: dict[str, float] = {}
    faults: list[findings.Finding] = []
    for item in question.QUESTION.inputs:
        text = given.get(item.name, "")
        if not isinstance(text, str) or not text.strip():
            continue
        got = amounts.read(text, _KINDS[item.name])
        if isinstance(got, amounts.Fault):
            faults.append(item.refused(got.code, f"{item.label} {got.why}", got.hint))
        else:
            taken[item.name] = got
    for name in ("volume", "surface", "flow"):
        if name in taken and taken[name] <= 0.0:
            item = next(item for item in question.QUESTION.inputs if item.name == name)
            faults.append(item.refused("balance/cannot", f"{item.label} is not above nought"))
    if faults or "volume" not in taken:
        return answers.Answer(
            question=question.QUESTION,
            sentence="The balance cannot be worked out from what was typed.",
            state="refused",
            findings=tuple(faults),
        )
    checked = reading.read(facility_text(taken), "typed")
    assert checked.facility is not None
    feed = taken.get("feed", 0.01 * taken.get("mass", 0.0))
    flows = flows_of.stated(checked.facility)
    plant = question.Plant(
        facility=checked.facility,
        flows=flows,
        conditions=around.of(checked.facility, feed={"tank": feed} if feed else {}),
    )
    return surveying.survey(plant)


def facility_text(taken: Mapping[str, float]) -> str:
    """The hall of one tank that the amounts describe."""
    volume = taken["volume"]
    surface = taken.get("surface", SHARE * volume)
    flow = taken.get("flow", volume / 3600.0)
    temperature, salinity = taken.get("temperature", 25.0), taken.get("salinity", 34.0)
    water = f'temperature = "{temperature} °C"\nsalinity = "{salinity} ppt"\n'
    mass = taken.get("mass", 0.0)
    animals = f'[[animals]]\nat = "tank"\nspecies = "all"\nmass = "{mass} kg"\n' if mass else ""
    return (
        'schema = 1\n[facility]\nname = "typed"\ntimezone = "UTC"\n'
        f'[tank.tank]\nvolume = "{SHARE * volume} m3"\nsurface = "{surface} m2"\n{water}'
        f'[sump.sump]\nvolume = "{(1 - SHARE) * volume} m3"\n{water}{animals}'
        '[equipment.filter]\nkind = "biofilter"\n[equipment.chiller]\nkind = "chiller"\n'
        f'[run.out]\nfrom = "tank"\nto = "sump"\nflow = "{flow} m3/s"\n'
        f'[run.back]\nfrom = "sump"\nthrough = ["filter", "chiller"]\nto = "tank"\nflow = "{flow} m3/s"\n'
    )
