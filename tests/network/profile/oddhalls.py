"""Invented halls of odd shapes, each as the text of its facility file."""

HEAD = 'schema = 1\n[facility]\nname = "{name}"\naltitude = "10 m"\ntimezone = "Europe/London"\n'
NURSERIES = ("Seahorse nursery", "Pipefish", "Goby and blenny grow-out")


def table(heading, id, **words):
    """One table of the file."""
    rows = "".join(f"{key} = {_value(value)}\n" for key, value in words.items() if value is not None)
    return f"[{heading}.{id}]\n{rows}"


def _value(value):
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_value(one) for one in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value) if isinstance(value, int) else f'"{value}"'


def tank(id, system, volume, depth, floor, crest, area, name=None):
    return table("tank", id, name=name or id, system=system, volume=f"{volume} m3", depth=f"{depth} m",
                 surface=f"{area} m2", elevation=f"{floor} m", crest=f"{crest} m", temperature="25 °C",
                 salinity="34 ppt")  # fmt: skip


def sump(id, system, volume, floor, area):
    return table("sump", id, name=id, system=system, volume=f"{volume} m3", surface=f"{area} m2",
                 elevation=f"{floor} m", temperature="25 °C", salinity="34 ppt")  # fmt: skip


def pump(id, height):
    return table("pump", id, name=id, flow="30 m3/h", elevation=f"{height} m", strainer=True)


def machine(id, kind, tag, height):
    return table("equipment", id, kind=kind, name=f"{kind} {id}", tag=tag, elevation=f"{height} m")


def run(id, source, through, target, flow, high=None):
    words = {"name": id, "from": source, "through": through, "to": target, "flow": f"{flow} m3/h"}
    return table("run", id, **words, high=f"{high} m" if high is not None else None)


def animals(at, species, shallow, deep):
    return (
        f'[[animals]]\nat = "{at}"\nspecies = "{species}"\ncount = 5\ndepth = ["{shallow} m", "{deep} m"]\n'
    )


def rack():
    """Three systems of thirty small tanks, each on the header of its system; pumps at two heights."""
    text = HEAD.format(name="Rack house")
    for system, count in (("a", 10), ("b", 12), ("z", 8)):
        text += f'[system.{system}]\nname = "system {system}"\n' + sump(f"sump-{system}", system, 4, 0, 4)
        text += pump(f"P-{system}1", 0.3) + pump(f"P-{system}2", 1.9 if system == "a" else 0.3)
        text += table(
            "duty", f"ret-{system}", name=f"pumps {system}", pumps=[f"P-{system}1", f"P-{system}2"], keep=2
        )
        text += machine(f"ch-{system}", "chiller", f"E-{system}", 0.5)
        text += machine(f"uv-{system}", "uv", f"U-{system}", 0.5)
        text += machine(f"sand-{system}", "sand filter", f"F-{system}", 0.8)
        for k in range(count):
            floor, id = round(0.8 + 0.7 * (k % 3), 2), f"{system}-{k + 1}"
            text += tank(
                id, system, 0.3, 0.4, floor, round(floor + 0.4, 2), 0.75, f"{NURSERIES[k % 3]} {k + 1}"
            )
            through = [f"ret-{system}", f"sand-{system}", f"ch-{system}", f"uv-{system}"]
            text += run(f"{id}-in", f"sump-{system}", through, id, 1.5, round(floor + 0.9, 2))
            text += run(f"{id}-out", id, [], f"sump-{system}", 1.5)
            text += animals(id, "seahorse", round(0.05 + 0.05 * (k % 4), 2), 0.35)
    return text


def shore():
    """An open line: from outside through a well, a column and a header tank to three pools, and out."""
    text = (
        HEAD.format(name="Shore intake") + '[system.o]\nname = "open line"\n' + sump("well", "o", 10, -2.5, 5)
    )
    text += (
        pump("P-1", 1.5) + machine("drum", "screen", "S-9", 0.5) + machine("deg", "packed column", "G-1", 4.0)
    )
    text += machine("o3", "ozone", "O-1", 1.0) + machine("hx", "heater", "H-1", 1.0)
    text += machine("bio", "biofilter", "B-1", 1.2) + machine("mem", "contactor", "M-1", 1.1)
    text += tank("head", "o", 20, 1.5, 4.5, 6.0, 13, "Header tank") + tank(
        "reef", "o", 80, 3, 1, 4, 26, "Reef"
    )
    text += tank("touch", "o", 1.2, 0.35, 2.6, 2.96, 3.4, "Touch pool with a very long name")
    text += tank("lagoon", "o", 12, 1.1, 1.4, 2.5, 11, "Lagoon")
    text += run("in", "outside", ["drum"], "well", 35) + run(
        "lift", "well", ["P-1", "mem", "o3", "deg"], "head", 35, 7
    )
    text += run("fall", "head", ["bio"], "reef", 25) + run("warm", "head", ["hx"], "lagoon", 10)
    text += run("spill", "reef", [], "touch", 5) + run("out1", "reef", [], "outside", 20)
    text += run("out2", "touch", [], "outside", 5) + run("out3", "lagoon", [], "outside", 10)
    text += run("bypass", "well", ["P-1"], "well", 5, 2.0)
    text += animals("reef", "wrasse", 0.2, 2) + animals("touch", "ray", 0.1, 0.3)
    return text + animals("lagoon", "mullet", 0.5, 1) + animals("lagoon", "goby, small and shy ones", 0.02, 1)


def bare():
    """A loop of which nobody has written a height."""
    text = HEAD.format(name="No heights") + '[system.x]\nname = "plain loop"\n'
    text += table("tank", "one", name="One", system="x", volume="5 m3", depth="1 m")
    text += table("tank", "two", name="Two", system="x", volume="2 m3", depth="0.5 m")
    text += table("sump", "s", system="x", volume="1 m3") + table("pump", "P-1", name="p")
    text += run("up", "s", ["P-1"], "one", 5) + run("side", "one", [], "two", 2)
    text += run("b1", "one", [], "s", 3) + run("b2", "two", [], "s", 2)
    return text + animals("one", "a", 0.1, 0.9) + animals("two", "b", 0.05, 0.4)


def loop(*, sump_name="low", tank_name="high", crest=5.0, shallow=0.2, pump_height=2.0):
    """The plainest closed loop: one sump, one pump, one tank that falls back."""
    text = HEAD.format(name="Plain hall") + '[system.p]\nname = "plain"\n' + sump(sump_name, "p", 4, 0, 4)
    text += pump("P-9", pump_height) + tank(tank_name, "p", 10, 2, 3, crest, 5)
    text += run("up", sump_name, ["P-9"], tank_name, 10, crest + 0.6) + run(
        "down", tank_name, [], sump_name, 10
    )
    return text + animals(tank_name, "blenny", shallow, 1.5)


def loop_with_column():
    """The same with a packed column before the tank."""
    text = loop().replace('through = ["P-9"]', 'through = ["P-9", "tower"]')
    return text.replace('high = "5.6 m"', 'high = "9.0 m"') + machine("tower", "packed column", "G-9", 6.0)
