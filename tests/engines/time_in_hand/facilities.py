"""Invented facilities, each from a number: one to three systems, two to twelve tanks, curves or none.

The same number gives the same text. Facility 0 tells nothing but places, machines and flows.
"""

import random

SEEDS = range(10)
TANKS = (2, 5, 3, 8, 12, 4, 6, 10, 7, 9)
SYSTEMS = (1, 1, 2, 2, 3, 1, 3, 2, 1, 3)
WARM, COLD = (25.0, 34.0), (12.0, 33.0)


def generated(seed):
    """A facility file."""
    chance = random.Random(7919 * seed + 11)
    systems = SYSTEMS[seed % 10]
    counts = [TANKS[seed % 10] // systems + (at < TANKS[seed % 10] % systems) for at in range(systems)]
    parts = [_head(seed, chance)]
    for at, count in enumerate(counts):
        parts += _system(chance, "abc"[at], count, seed)
    if seed:
        parts += [*_boards(seed), *_at_hand(chance, seed)]
    return "\n\n".join(parts) + "\n"


def _table(heading, **told):
    rows = [f"[{heading}]" if not heading.startswith("[") else heading]
    for word, value in told.items():
        if value is not None:
            rows.append(f"{word.rstrip('_')} = {_toml(value)}")
    return "\n".join(rows)


def _toml(value):
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    return str(value) if isinstance(value, int) else f'"{value}"'


def _head(seed, chance):
    told = {"name": f"Invented hall {seed}", "timezone": "Europe/London"}
    if seed:
        told |= {
            "altitude": f"{chance.randint(0, 900)} m",
            "room_temperature": f"{chance.randint(17, 24)} °C",
            "room_humidity": f"{chance.randint(45, 75)} %",
            "detection": "15 min",
            "travel": "30 min",
        }
    return "schema = 1\n\n" + _table("facility", **told)


def _system(chance, letter, count, seed):
    """One system: tanks on a shared sump, a duty group, machines, animals and limits."""
    plain, piped = seed == 0, seed % 2 == 1
    warmth, salt = (20.0, 34.0) if plain else WARM if chance.random() < 0.6 else COLD
    volumes = [round(chance.uniform(0.4, 3.0) * chance.choice((1, 4, 12)), 1) for _ in range(count)]
    flows = [round(volume * chance.uniform(0.9, 1.8), 1) for volume in volumes]
    side = count >= 3 and not plain  # the last tank is fed by the fall of the first
    out = [_table(f"system.{letter}", name=f"loop {letter}")]
    for at, volume in enumerate(volumes):
        out.append(_tank(chance, f"{letter}-{at + 1}", letter, volume, warmth, salt, plain))
    out.append(_sump(letter, sum(volumes), warmth, salt, plain, chance.random() < 0.5))
    direct = flows[:-1] if side else flows
    share = min(flows[-1], 0.3 * flows[0]) if side else 0.0
    out += _pumps(chance, letter, sum(direct), piped, plain)
    machines = _machines(chance, letter, sum(direct), piped, plain, warmth)
    out += [text for _, text in machines]
    way = [f"return-{letter}", *(name for name, _ in machines if not name.startswith(("screen", "blower")))]
    over = [name for name, _ in machines if name.startswith("screen")]
    out += _runs(letter, flows, direct, round(share, 2), way, over, piped, plain)
    out += _limits(letter, warmth)
    return out


def _tank(chance, name, letter, volume, warmth, salt, plain):
    depth = round(min(0.5 + 0.35 * volume ** (1 / 3) + chance.uniform(0, 0.5), 4.0), 2)
    floor = round(chance.uniform(1.2, 2.2), 2)
    crest = floor + depth - 0.02
    told = {"volume": f"{volume} m3", "system": letter}
    if not plain:
        told |= {
            "depth": f"{depth} m",
            "surface": f"{volume / depth:.3g} m2",
            "elevation": f"{floor} m",
            "crest": f"{crest:.2f} m",
            "overflow": chance.choice(("weir 0.5 m", "standpipe 110 mm")),
            "rim": f"{crest + 0.25:.2f} m",
            "feed": f"{volume * 8:.0f} g/d",
            "light": f"{volume * 20:.0f} W",
            "temperature": f"{warmth} °C",
            "salinity": f"{salt} ppt",
        }
    mass = volume * chance.uniform(0.2, 1.2)
    lives = _table(
        "[[animals]]",
        at=name,
        species="invented fish",
        mass=f"{mass:.3g} kg",
        depth=None if plain else ("0.1 m", f"{0.8 * depth:.2f} m"),
    )
    return _table(f"tank.{name}", **told) + "\n\n" + lives


def _sump(letter, water, warmth, salt, plain, by_float):
    volume = round(max(0.25 * water, 0.4), 2)
    told = {"volume": f"{volume} m3", "system": letter}
    if not plain:
        told |= {
            "working": f"{0.65 * volume:.2f} m3",
            "surface": f"{volume / 1.2:.3g} m2",
            "elevation": "0.1 m",
            "rim": "1.5 m",
            "temperature": f"{warmth} °C",
            "salinity": f"{salt} ppt",
        }
        if by_float:
            told |= {"top_up": f"{0.1 + 0.01 * water:.2f} m3/h", "top_up_by": "float valve"}
    return _table(f"sump.sump-{letter}", **told)


def _pumps(chance, letter, flow, piped, plain):
    kept = 1 if plain else chance.choice((1, 1, 2, 3))
    spare = 0 if plain else chance.choice((0, 1, 1))
    each = flow / kept
    out = []
    for at in range(kept + spare):
        told = {"flow": f"{each:.2f} m3/h"}
        if not plain:
            told = {
                "power": f"{60 + 55 * each:.0f} W",
                "elevation": f"{chance.choice((0.0, 1.8))} m",
                "check_valve": True,
                "flow": f"{each:.2f} m3/h",
                "board": f"board-{'AB'[at % 2]}",
            }
        if piped:
            told |= {
                "curve": (
                    ("0 m3/h", "13 m"),
                    (f"{each:.2f} m3/h", "10 m"),
                    (f"{1.9 * each:.2f} m3/h", "4 m"),
                ),
                "suction_length": "2 m",
                "suction_diameter": f"{_bore(each)} mm",
                "suction_fittings": ("1 entry", "1 elbow", "1 ball valve"),
            }
            del told["flow"]
        out.append(_table(f"pump.P-{letter}{at + 1}", **told))
    by = None if plain else ("automatic" if spare and chance.random() < 0.7 else "by hand")
    quick = "20 s" if by == "automatic" else None
    names = [f"P-{letter}{at + 1}" for at in range(kept + spare)]
    out.append(_table(f"duty.return-{letter}", pumps=names, keep=kept, standby=by, change_over=quick))
    return out


def _bore(flow):
    """Inside diameter in mm for some 1.2 m/s."""
    return max(round(1000 * (flow / 3600 / 1.2 / 0.785) ** 0.5), 16)


def _machines(chance, letter, flow, piped, plain, warmth):
    """Names and tables of machines, in the order in which water passes them."""
    some = chance.sample(["biofilter", "degasser", "contactor", "screen", "sand filter", "blower"], 3)
    wanted = ["chiller", "uv"] if plain else ["chiller", "uv", *(["heater"] if warmth > 20.0 else []), *some]
    found = []
    for kind in wanted:
        name = f"{kind.replace(' ', '-')}-{letter}"
        told = {"kind": kind}
        if not plain:
            told["elevation"] = "1.0 m"
            if kind not in ("screen", "sand filter", "biofilter"):
                told |= {
                    "power": f"{2000 + 500 * flow:.0f} W" if kind in ("chiller", "heater") else "300 W",
                    "board": "board-A",
                }
        if kind == "blower":
            told["at"] = f"{letter}-1"
        if piped and kind not in ("screen", "blower"):
            told["loss"] = (f"{flow:.2f} m3/h", f"{chance.choice((0.4, 0.8))} m")
        found.append((name, _table(f"equipment.{name}", **told)))
    return found


def _runs(letter, flows, direct, share, way, over, piped, plain):
    """Supplies from the sump, overflows back over a screen, and the fall into a side tank."""
    out, sump = [], f"sump-{letter}"
    for at, flow in enumerate(direct):
        told = {"from_": sump, "through": way, "to": f"{letter}-{at + 1}", "flow": f"{flow} m3/h"}
        if not plain:
            told["high"] = "5.2 m"
        if piped:
            told |= {
                "length": f"{12 + 3 * at} m",
                "diameter": f"{_bore(flow)} mm",
                "open": "40 %",
                "fittings": ("1 tee", "5 elbows", "1 ball valve", "1 exit"),
                "outlet": "5.0 m",
                "siphon_break": True,
            }
        out.append(_table(f"run.{letter}-supply-{at + 1}", **told))
        gone = flow - (share if at == 0 else 0.0)
        out.append(
            _table(
                f"run.{letter}-back-{at + 1}",
                from_=f"{letter}-{at + 1}",
                through=over or None,
                to=sump,
                flow=f"{gone:.2f} m3/h",
            )
        )
    if share:
        last = f"{letter}-{len(flows)}"
        out.append(_table(f"run.{letter}-side", from_=f"{letter}-1", to=last, flow=f"{share:.2f} m3/h"))
        out.append(
            _table(
                f"run.{letter}-back-{len(flows)}",
                from_=last,
                through=over or None,
                to=sump,
                flow=f"{share:.2f} m3/h",
            )
        )
    return out


def _limits(letter, warmth):
    low, high = warmth - 1.5, warmth + 1.5
    return [
        _table(
            "[[limit]]",
            quantity="temperature",
            at=letter,
            watch=f"outside {low} °C to {high} °C",
            act=f"outside {low - 1.5} °C to {high + 1.5} °C",
            source="invented",
        ),
        _table(
            "[[limit]]",
            quantity="oxygen",
            at=letter,
            watch="below 5.5 mg/L",
            act="below 4.5 mg/L",
            source="invented",
        ),
    ]


def _boards(seed):
    first = [
        _table("board.board-A", name="board A"),
        _table("board.board-B", fed_from="board-A" if seed % 3 else None),
    ]
    return first if seed else []


def _at_hand(chance, seed):
    out = [
        _table(
            "vessel.salt-store",
            volume="6 m3",
            working="5 m3",
            salinity="34 ppt",
            temperature="18 °C",
            stands_alone=True,
        )
    ]
    if chance.random() < 0.7:
        out.append(
            _table("remedy.air", kind="battery air", at=["a-1"], ready="10 min").rstrip() + "\ntimes = 4"
        )
    if chance.random() < 0.5:
        out.append(_table("remedy.spare", kind="spare pump", at=["return-a"], ready="2 h"))
    out.append(_table("remedy.hose", kind="make-up", at=["a-1", "a-2"], flow="1.5 m3/h", store="salt-store"))
    if seed % 4 == 1:
        out.append(
            _table(
                "failure.burst",
                title="The first supply bursts",
                noticed="a flood",
                first_steps=["Keep off the wet floor", "Stop the return pumps of loop a"],
            )
        )
        out.append(_table("[[failure.burst.does]]", effect="leak", part="a-1", hole="40 mm", at="middle"))
        out.append(_table("[[failure.burst.does]]", effect="valve", part="a-supply-1", open="0 %"))
    return out
