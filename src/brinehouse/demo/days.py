"""What else the log holds: pumps, food, lamps, what was seen of the animals, events and notes."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from brinehouse.demo import crew, pumps

Floats = NDArray[np.float64]
MEALS: tuple[tuple[str, str, str, float, tuple[float, ...]], ...] = (
    ("mangrove", "mullet", "sinking pellets", 420.0, (9.0, 15.0)),
    ("pipefish", "pipefish", "live shrimp", 22.0, (8.5, 12.5, 16.0)),
    ("estuary", "mudskipper and goby", "chopped mussel", 45.0, (11.0,)),
    ("kelp", "wrasse and bass", "chopped herring", 520.0, (10.0, 15.5)),
    ("cold-bench", "lumpfish, young", "small pellets", 60.0, (9.5, 14.5)),
    ("q-1", "damselfish, new", "brine shrimp", 12.0, (9.2, 15.2)),
)
"""Place, animals, food, grams, times of day. Invented."""

SIGNS = ("bubbles under the skin of the tail", "one eye stands out", "hangs at the surface", "breathes fast")


def pump_runs(book: crew.Ledger, changes: Sequence[pumps.Rest], hours: float) -> None:
    """Which of the four return pumps runs from when, and the turns of the smaller groups."""
    for name in pumps.RETURNS:
        book.tell("pump-run", 0.0, delay=0.0, pump=name, running=name != changes[0].pump)
    for before, change in itertools.pairwise(changes):
        steps = [(before.pump, True), (change.pump, False)]
        if "tripped" in change.why:
            steps.reverse()
        for late, (name, on) in enumerate(steps):
            book.tell(
                "pump-run", change.hour + late / 60.0, note=change.why, delay=0.0, pump=name, running=on
            )
    for pair, turn in ((("P-301", "P-302"), 168.0), (("P-401", "P-402"), 336.0)):
        first = int(book.rng.integers(2))
        for number, hour in enumerate(np.arange(0.0, hours, turn).tolist()):
            on = pair[(first + number) % 2]
            off = pair[(first + number + 1) % 2]
            book.tell("pump-run", hour, delay=0.0, pump=on, running=True)
            book.tell("pump-run", hour + 1.0 / 60.0, delay=0.0, pump=off, running=False)


COUNTERS = {
    "P-201": 9130.0,
    "P-202": 6290.0,
    "P-203": 3410.0,
    "P-204": 640.0,
    "P-301": 5720.0,
    "P-302": 3980.0,
    "P-401": 11250.0,
}
"""What the hour counters of some pumps showed when the history begins; P-402 has none. Invented."""


def counters(book: crew.Ledger, changes: Sequence[pumps.Rest], hours: float) -> None:
    """Hour counters read at the start and after two thirds, and one trial of a change-over."""
    for name, shown in COUNTERS.items():
        book.tell("run-hours", 2.0, "", crew.CREW[0], of=name, hours=shown)
    later = hours * 0.66
    for name in pumps.RETURNS:
        rested = sum(
            min(end, later) - at for at, end in pumps.rests(list(changes), name, hours) if at < later
        )
        ran = COUNTERS[name] + later - 2.0 - rested
        book.tell("run-hours", later, "", crew.CREW[2], of=name, hours=float(round(ran)))
    book.tell(
        "change-over", hours * 0.3, "", crew.CREW[0], duty="return-m", what="test", worked=True, seconds=24
    )


def meals(rng: np.random.Generator, days: int, begin_clock: float) -> list[tuple[float, int, float]]:
    """Every meal: hour, row of `MEALS`, and how large against the usual."""
    found: list[tuple[float, int, float]] = []
    for day in range(days):
        for row, meal in enumerate(MEALS):
            for clock in meal[4]:
                if rng.random() > 0.03:
                    hour = 24.0 * day + clock - begin_clock + float(rng.normal(0.0, 0.25))
                    found.append((hour, row, float(rng.uniform(0.8, 1.15))))
    return [meal for meal in found if meal[0] > 0.0]


def eaten_oxygen(found: Sequence[tuple[float, int, float]], hours: Floats) -> Floats:
    """What mangrove's meals take from its oxygen for some hours after [mmHg/h]."""
    taken = np.zeros_like(hours)
    step = float(hours[1] - hours[0])
    shape_hours = np.arange(0.0, 9.0, step)
    shape = 3.1 * shape_hours * np.exp(1.0 - shape_hours / 1.6) / 1.6
    for hour, row, large in found:
        if MEALS[row][0] == "mangrove":
            k = int((hour - hours[0]) / step)
            end = min(k + shape.size, taken.size)
            if 0 <= k < end:
                taken[k:end] += large * shape[: end - k]
    return taken


def feed_and_watch(
    book: crew.Ledger,
    found: Sequence[tuple[float, int, float]],
    shifts: Sequence[tuple[crew.Person, crew.Person]],
    begin_clock: float,
    sick_from: float,
) -> None:
    """Meals as written down, and what was seen; in the last weeks the pipefish do not thrive."""
    rng = book.rng
    for hour, row, large in found:
        place, _, food, grams, _ = MEALS[row]
        person = _who(shifts, hour, begin_clock)
        ill = place == "pipefish" and hour > sick_from
        luck = float(rng.random())
        eaten = "all" if luck < (0.35 if ill else 0.9) else "most" if luck < 0.97 else "little"
        book.tell(
            "feeding", hour, place, person, food=food, grams=round(grams * large / 5.0) * 5 or 5, eaten=eaten
        )
    for day, shift in enumerate(shifts):
        hour = 24.0 * day + 12.0 - begin_clock + float(rng.uniform(-2.0, 3.0))
        if hour < 0.0:
            continue
        if rng.random() < 0.35:
            row = int(rng.integers(len(MEALS)))
            book.tell(
                "observation",
                hour,
                MEALS[row][0],
                shift[1],
                animals=MEALS[row][1],
                sign="appetite as usual",
                count=0,
            )
        if hour > sick_from and rng.random() < 0.55:
            worse = int(1 + 3.0 * rng.random() * (hour - sick_from) / 240.0)
            sign = SIGNS[int(rng.integers(len(SIGNS)))]
            book.tell(
                "observation", hour + 0.4, "pipefish", shift[0], animals="pipefish", sign=sign, count=worse
            )


def lamps(book: crew.Ledger, lit: Floats, begin_clock: float) -> None:
    """Hours of lamps of each day, for the three places that need them."""
    for day, hours_lit in enumerate(lit.tolist()):
        hour = 24.0 * day + 19.0 - begin_clock
        if hour > 0.0 and book.chance() > 0.06:
            for place in ("mangrove", "estuary", "kelp"):
                book.tell("light", hour, place, hours=hours_lit, delay=0.2)


def happenings(
    book: crew.Ledger, shifts: Sequence[tuple[crew.Person, crew.Person]], hours: float, begin_clock: float
) -> None:
    """Water changes, filter work and small notes that have nothing to do with gas."""
    rng = book.rng
    usual = (
        ("mangrove", "4 m3 of water exchanged"),
        ("kelp", "2 m3 of water exchanged"),
        ("", "drum screen washed by hand"),
        ("", "fractionator cups emptied and rinsed"),
        ("", "salt batch mixed, 3.6 m3"),
        ("q-1", "bottom siphoned"),
    )
    at = float(rng.uniform(10.0, 60.0))
    while at < hours:
        place, what = usual[int(rng.integers(len(usual)))]
        hour = 24.0 * float(np.floor(at / 24.0)) + 13.0 - begin_clock + float(rng.uniform(-2.5, 3.0))
        if hour > 0.0:
            book.tell("event", hour, place, _who(shifts, hour, begin_clock), what=what)
        at += float(rng.uniform(30.0, 90.0))
    notes = (
        "Return pumps are louder than they were; which one, hard to say.",
        "Fine bubbles on the glass of pipefish this morning.",
        "Visitors' side of mangrove wiped.",
        "Spare membrane for the gas meters ordered.",
        "Weather feed was down for an hour.",
    )
    for number, text in enumerate(notes):
        late = 0.8 if number < 2 else float(rng.uniform(0.1, 0.95))
        hour = hours * late + float(rng.uniform(0.0, 72.0))
        book.tell("note", hour, "", _who(shifts, hour, begin_clock), note=text)


def _who(shifts: Sequence[tuple[crew.Person, crew.Person]], hour: float, begin_clock: float) -> crew.Person:
    """Whose shift an hour falls into."""
    clock = hour + begin_clock
    day = min(max(int(clock / 24.0), 0), len(shifts) - 1)
    return shifts[day][int(clock % 24.0 > 13.0)]
