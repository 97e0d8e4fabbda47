"""A table of time in hand with every kind of row, all of it invented: for faces that show it."""

import dataclasses
import math

from brinehouse import answers, findings
from brinehouse.engines.time_in_hand import question


@dataclasses.dataclass(frozen=True)
class Known:
    """A failure as the catalogue has it, as far as faces look at it."""

    id: str
    first_steps: tuple = ()
    cautions: tuple = ()
    kind: str = "power"
    card: str = ""


OXYGEN = question.Line(
    place="pipefish", quantity="oxygen", value=4.5, unit="mg/L", upper=False, band="act",
    text="below 4.5 mg/L", source="house rule",
)  # fmt: skip
PALE = dataclasses.replace(OXYGEN, value=5.5, band="watch", text="below 5.5 mg/L")
WARM = question.Line(
    place="mangrove", quantity="temperature", value=28.0, unit="°C", upper=True, band="act",
    text="above 28 °C", source="house rule",
)  # fmt: skip
RIM = question.Line(
    place="mangrove", quantity="level", value=60.0, unit="m³", upper=True, band="spills",
    text="over the rim",
)  # fmt: skip
STEPS = ("Ring whoever is on call.", "Battery air into Pipefish.", "Stop feeding.")


def crossing(line, hours, low=None, high=None, **more):
    return question.Crossing(line=line, hours=hours, low=low, high=high, **more)


def row(id, title, kind, crossings=(), **more):
    hours = crossings[0].hours if crossings else None
    return question.Row(
        id=id, failures=tuple(id.split(" + ")), title=title, kind=kind, crossings=crossings,
        left=None if hours is None else hours - 1.0, **more,
    )  # fmt: skip


def air(gained, hours):
    return question.Help(
        id="aerate", title="battery air into Pipefish", kind="aerate", hours=hours, gained=gained
    )


ROWS = (
    row(
        "power-off", "The power is off", "power",
        (crossing(OXYGEN, 0.9, 0.6, 1.5), crossing(RIM, 3.0), crossing(WARM, 40.0)),
        signs=(crossing(PALE, 0.4, 0.2, 0.8),), helps=(air(8.4, 9.3),),
    ),
    row("board-B2-off", "Board B2 is off", "board", (crossing(OXYGEN, 2.2, 1.5, math.inf),),
        helps=(air(math.inf, math.inf),)),
    row("chiller-off", "The chiller stops", "chiller", (crossing(WARM, 38.0),)),
    row("uv-off", "The UV is off", "uv", least_margins=(question.Margin(line=WARM, margin=1.7, hours=70.0),)),
    row("P-204-dead", "P-204 would not start", "standby", noticed=False, bites_with=("board-B2-off",),
        least_margins=(question.Margin(line=OXYGEN, margin=1.4, hours=10.0),)),
)  # fmt: skip
PAIRS = (
    row("uv-off + P-204-dead", "The UV is off and P-204 would not start", "uv + standby",
        (crossing(OXYGEN, 3.5),)),
)  # fmt: skip


def table(facility, wanted=None, intervals="computing"):
    """The table for a facility with tanks ``mangrove`` and ``pipefish``."""
    pairs = PAIRS if wanted is not None and wanted.pairs else ()
    asked = question.Asked(
        facility=facility, flows={}, conditions=None, pairs=bool(pairs), clock=6.0,
        failures=[Known("power-off", STEPS, ("Nobody resets a breaker twice.",))],
        less_than=wanted.within if wanted is not None else question.LESS_THAN,
    )  # fmt: skip
    sets = [
        question.CutSet(failures=one.failures, titles=(one.title,), hours=one.hours, crossing=one.first,
                        parts=("return-m",))
        for one in (*ROWS[:2], *pairs)
    ]  # fmt: skip
    return question.Table(
        asked=asked,
        start=question.Start(begin="now", clock=6.0, text="from now, 06:00: 4 newest readings"),
        lines=(OXYGEN, PALE, WARM, RIM),
        base=row("", "nothing fails", ""),
        rows=ROWS,
        pairs=pairs,
        cut_sets=sets,
        parts=[question.Part(name="return pumps", sets=2, of=len(sets), shortest=0.9)],
        assumed=[question.Assumed(what="time until somebody notices", value=0.5, unit="h",
                                  source="common practice, no source")],
        findings=[findings.Finding(code="time/invented", level=findings.Level.WATCH, text="Invented.")],
        working=[answers.Step(name="oxygen", equation="V dC/dt = - R", inputs={}, result=0.9, unit="h",
                              source="mass balance")],
        intervals=intervals,
    )  # fmt: skip
