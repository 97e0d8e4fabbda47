"""The equations of `tables` written out plainly with the project's own science, for one scenario and phase.

No loop of it is clever: it is here so that tables can be held against the compartments.
"""

import numpy as np

from brinehouse.network.compartments import building, plant
from brinehouse.network.transients import tables
from brinehouse.science import carbonate, exchange, gases
from brinehouse.science.constants import ARGON_IN_AIR, ATM, NITROGEN_IN_AIR, OXYGEN_IN_AIR

AT = plant.AT
GASES = ("oxygen", "nitrogen", "argon")
SATURATED = (gases.oxygen_at_saturation, gases.nitrogen_at_saturation, gases.argon_at_saturation)
IN_AIR = (OXYGEN_IN_AIR, NITROGEN_IN_AIR, ARGON_IN_AIR)
P = tables.AT


def ramp(u):
    v = np.clip(u, 0.0, 1.0)
    return v * v * (3.0 - 2.0 * v)


def left(amount, near):
    return 1.0 - np.exp(-amount / near) if amount > 0 else amount / near


def flows(structure, way, volume):
    out = []
    for row, law, s, d in zip(way, structure.law, structure.source, structure.target, strict=True):
        flow, scale, level, band = row
        if law == tables.PUMPED:
            out.append(flow if s < 0 else flow * ramp((volume[s] - level) / band))
        elif law == tables.SPILL:
            out.append(scale * max(volume[s] - level, 0.0) ** 1.5)
        elif law == tables.PORT:
            y = max(volume[s] - level, 0.0)
            out.append(scale * y / (y**2 + band**2) ** 0.25)
        else:
            out.append(flow * ramp((level - volume[d]) / band))
    return np.array(out)


def free(carbon, alkalinity, warm, salt):
    return float(carbonate.co2_of(alkalinity, carbon, warm, salt))


def along(structure, op, p, x, s, allowed):
    """Water at the end of a way, and the ammonia its filters turned over."""
    start = x[:, s] if s >= 0 else structure.outside[p]
    allow = allowed[s] if s >= 0 else 1.0
    water, turned = start.copy(), 0.0
    for o in range(structure.begin[p], structure.end[p]):
        row, kind = op[o], structure.kind[o]
        if kind == tables.HEAT:
            water[0] += row[0]
        elif kind == tables.HOLD:
            over = water[0] - row[0]
            water[0] -= np.clip(over, -row[2], row[1])
        elif kind == tables.CONTACT:
            vapour = float(gases.vapour_pressure(water[0], water[1]))
            for g, gas in enumerate(GASES):
                most = float(SATURATED[g](water[0], water[1])) / (ATM - vapour) * (row[4] - vapour)
                water[AT[gas]] += row[g] * (most * row[6 + g] / IN_AIR[g] - water[AT[gas]])
            if row[3]:
                solubility = float(gases.carbon_dioxide_solubility(water[0], water[1])) * 1e6 / ATM
                level = solubility * (row[5] - vapour) * row[9]
                here = free(water[AT["carbon"]], start[AT["alkalinity"]], water[0], water[1])
                water[AT["carbon"]] -= row[3] * (here - level)
        elif kind == tables.AIR:
            for g, gas in enumerate(GASES):
                water[AT[gas]] += row[g]
        elif kind == tables.BIO:
            first, second = row[0] * allow, row[1] * allow
            a = first * water[AT["tan"]]
            water[AT["tan"]] -= a
            nitrite = (1.0 - second) * (water[AT["nitrite"]] + a)
            b = a - (nitrite - water[AT["nitrite"]])
            water[AT["nitrite"]] = nitrite
            water[AT["nitrate"]] += b
            water[AT["oxygen"]] -= 1.5 * a + 0.5 * b
            water[AT["alkalinity"]] -= 2.0 * a
            turned += a
        else:
            water[AT["tracer"]] *= 1.0 - row[0]
    return water, turned


def rates(structure, way, op, place, x, volume, light=1.0, breathing=1.0, excreting=1.0):
    """(V dx/dt (species, places), dV/dt (places,))."""
    q = flows(structure, way, volume)
    size = len(volume)
    allowed = np.array([
        np.clip(left(x[AT["oxygen"], i], 10.0) * left(x[AT["alkalinity"], i], 50.0), 0.0, 1.0)
        for i in range(size)
    ])  # fmt: skip
    out, level, back, brought = np.zeros_like(x), np.zeros(size), np.zeros(size), np.zeros(size)
    for p, (s, d) in enumerate(zip(structure.source, structure.target, strict=True)):
        if s >= 0:
            level[s] -= q[p]
        if d >= 0:
            level[d] += q[p]
            brought[d] += q[p]
            water, turned = along(structure, op, p, x, s, allowed)
            out[:, d] += q[p] * (water - x[:, d])
            back[d] += q[p] * turned
    for i in range(size):
        out[:, i] += at(
            place[i], x[:, i], volume[i], brought[i], allowed[i], back[i], light, breathing, excreting
        )
        level[i] -= place[i, P["evaporation"]] * ramp(volume[i] / (0.05 * place[i, P["usual"]]))
    return out, level


def at(row, x, volume, brought, allowed, back, light, breathing, excreting):
    r = dict(zip(tables.PLACE, row, strict=True))
    v = max(volume, 1e-3 * r["usual"])
    wet = ramp(volume / (0.05 * r["usual"]))
    out = r["evaporation"] * wet * x
    t, s = x[0], x[1]
    out[0] += r["warmth"] * (r["room"] - t) + r["lamps"] * light + r["own"] * (r["own_at"] - t)
    out[0] += wet * (r["vapour_heat"] + r["vapour_slope"] * (t - r["about"])) if r["evaporation"] else 0.0
    w = min(brought / r["usual_in"], 1.0) if r["usual_in"] else 1.0
    stirred = r["still"] + (1.0 - r["still"]) * w * (2.0 - w)
    speed = r["velocity"] * float(exchange.transfer_coefficient(1.0, t)) * stirred
    vapour = float(gases.vapour_pressure(t, s))
    for g, gas in enumerate(GASES):
        held = float(SATURATED[g](t, s)) * (r["pressure"] - vapour) / (ATM - vapour)
        out[AT[gas]] += speed * building.TRANSFER_OVER_OXYGEN[gas] * (held - x[AT[gas]])
    held = float(gases.carbon_dioxide_solubility(t, s)) * 1e6 / ATM * r["acid"]
    gap = held - free(x[AT["carbon"]], x[AT["alkalinity"]], t, s)
    out[AT["carbon"]] += speed * building.TRANSFER_OVER_OXYGEN["carbon"] * gap
    use = r["breath"] * breathing * np.exp(-5020.0 / (t + 273.15)) * left(x[AT["oxygen"]], 10.0)
    out[AT["oxygen"]] += r["photo"] * light - use
    out[AT["carbon"]] += 0.9 * use - r["photo"] * light
    a = r["first"] * v * allowed * x[AT["tan"]]
    b = r["second"] * v * allowed * x[AT["nitrite"]]
    out[AT["tan"]] += r["ammonia"] * excreting - a
    out[AT["nitrite"]] += a - b
    out[AT["nitrate"]] += b
    out[AT["oxygen"]] -= 1.5 * a + 0.5 * b
    given = r["dosing"] + r["kept"] * (2.0 * a + 2.0 * back)
    out[AT["alkalinity"]] += given - 2.0 * a
    out[AT["carbon"]] += given
    out[AT["tracer"]] += r["tracer"] - r["decay"] * v * x[AT["tracer"]]
    return out
