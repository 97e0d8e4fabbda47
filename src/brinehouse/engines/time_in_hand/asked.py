"""The question as the generic page asks it: one tank with one sump and one pump, from a few amounts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from brinehouse import answers, findings
from brinehouse.engines.time_in_hand import answering, failures, question
from brinehouse.facility import amounts, reading
from brinehouse.network import flows as flows_of
from brinehouse.network.compartments import conditions as given_of

SHARE = 0.9  # of the water stands in the tank, the rest in its sump: common practice, no source
KINDS = ("power", "pump")  # what can be told of a tank whose heights nobody typed
WARM, SALT = 25.0, 34.0  # where nothing is typed
LEAST_FLOW = 1e-5  # m³/s
_KINDS = {
    "volume": "volume", "surface": "area", "mass": "mass", "temperature": "temperature",
    "salinity": "salinity", "flow": "flow", "least": "text",
}  # fmt: skip


def answer(given: Mapping[str, str | Sequence[float]]) -> answers.Answer:
    """Time in hand of one tank.

    Parameters
    ----------
    given : mapping
        What was typed, amounts with their units: see `QUESTION`.
    """
    taken: dict[str, float] = {}
    faults: list[findings.Finding] = []
    least = str(given.get("least", "") or "").strip()
    for item in question.QUESTION.inputs:
        text = given.get(item.name, "")
        if item.name == "least" or not isinstance(text, str) or not text.strip():
            continue
        got = amounts.read(text, _KINDS[item.name])
        if isinstance(got, amounts.Fault):
            faults.append(item.refused(got.code, f"{item.label} {got.why}", got.hint))
        elif got <= 0.0 and item.name not in ("temperature", "salinity", "flow"):
            faults.append(item.refused("time/cannot", f"{item.label} is not above nought"))
        else:
            taken[item.name] = got
    if faults or not {"volume", "mass"} <= taken.keys():
        return answering.refused(faults)
    checked = reading.read(facility_text(taken, least), "typed")
    if checked.facility is None:
        return answering.refused([one for one in checked.findings if one.level is findings.Level.STOP])
    found = flows_of.stated(checked.facility)
    water = {"temperature": taken.get("temperature", WARM), "salinity": taken.get("salinity", SALT)}
    feed = {"tank": given_of.Feed(rate=0.01 * taken["mass"] / 86400.0)}
    return answering.answer(
        question.Asked(
            facility=checked.facility,
            flows=found.flows,
            conditions=given_of.Conditions(feed=feed),
            known={"tank": water, "sump": water},
            failures=[one for one in failures.catalogue(checked.facility) if one.kind in KINDS],
        )
    )


def facility_text(taken: Mapping[str, float], least: str) -> str:
    """The hall of one tank that the amounts describe."""
    volume = taken["volume"]
    surface = taken.get("surface", SHARE * volume)
    flow = max(taken.get("flow", volume / 3600.0), LEAST_FLOW)
    temperature, salinity = taken.get("temperature", WARM), taken.get("salinity", SALT)
    water = f'temperature = "{temperature} °C"\nsalinity = "{salinity} ppt"\n'
    limit = f'[[limit]]\nquantity = "oxygen"\nact = "below {least}"\n' if least else ""
    return (
        'schema = 1\n[facility]\nname = "typed"\ntimezone = "UTC"\n'
        f'[tank.tank]\nname = "the tank"\nvolume = "{SHARE * volume} m3"\nsurface = "{surface} m2"\n{water}'
        f'[sump.sump]\nname = "its sump"\nvolume = "{(1 - SHARE) * volume} m3"\n{water}'
        f'[[animals]]\nat = "tank"\nspecies = "all"\nmass = "{taken["mass"]} kg"\n{limit}'
        f'[pump.pump]\nname = "its pump"\nflow = "{flow} m3/s"\n[equipment.filter]\nkind = "biofilter"\n'
        f'[run.out]\nfrom = "tank"\nto = "sump"\nflow = "{flow} m3/s"\n'
        f'[run.back]\nfrom = "sump"\nthrough = ["pump", "filter"]\nto = "tank"\nflow = "{flow} m3/s"\n'
    )
