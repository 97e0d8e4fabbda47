"""What a failure does to a plant and what people do against it: a closed list of effects.

An effect is one thing that happens to one part after some time. A failure is a row of them, and so is what
helps: a remedy is an effect that comes later. Nothing here changes a plant; `laying` does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

AT = ("floor", "middle")
"""Where a hole may be: at the floor of a place, or half way up its water."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of effect.

    Attributes
    ----------
    sentence : str
        What happens, with ``{part}``, ``{value}`` and ``{at}`` where they are said.
    means : str
        What it does, for the manual.
    part : str
        What its part must be: ``machine``, ``pump``, ``group``, ``board``, ``place``, ``run``; empty where
        it has none. One that ends in ``?`` may be left out.
    value : tuple of float, or None
        Least and greatest value; None where it has no value.
    unit : str
        Unit of the value.
    remedy : bool
        Whether people do it to help; `valve` is both.
    """

    sentence: str
    means: str
    part: str = ""
    value: tuple[float, float] | None = None
    unit: str = ""
    remedy: bool = False


KINDS: Mapping[str, Kind] = {
    "stop": Kind(
        sentence="{part} stops",
        means="A pump or machine loses its power or breaks; where a duty group has an automatic standby, "
        "that takes over after the change-over.",
        part="machine",
    ),
    "no-change-over": Kind(
        sentence="nothing takes over in {part}",
        means="The standby of a duty group does not start.",
        part="group",
    ),
    "dead-standby": Kind(
        sentence="{part} would not start",
        means="A resting pump is broken. Alone it does nothing and nobody sees it.",
        part="machine",
    ),
    "full-on": Kind(
        sentence="{part} runs at full power whatever the temperature",
        means="A chiller cools or a heater heats without end.",
        part="machine",
    ),
    "power": Kind(sentence="the power of the whole hall is off", means="Everything electrical stops."),
    "board": Kind(
        sentence="the board {part} is off",
        means="Everything that the board feeds stops, and every board fed from it.",
        part="board",
    ),
    "top-up": Kind(
        sentence="the top-up of {part} is stuck at {value}",
        means="Fresh water runs in at this flow whatever the level; 0 is stuck shut.",
        part="place",
        value=(0.0, 1.0),
        unit="m3/s",
    ),
    "leak": Kind(
        sentence="{part} runs out through a hole of {value} at its {at}",
        means="Water leaves through a hole by the square-root law.",
        part="place",
        value=(1e-4, 1.0),
        unit="m",
    ),
    "valve": Kind(
        sentence="the hand valve of {part} stands {value} open",
        means="The hand valve of a run is shut (0), partly shut, or opened.",
        part="run",
        value=(0.0, 1.0),
        unit="share",
        remedy=True,
    ),
    "blocked": Kind(
        sentence="{value} of {part} is blocked",
        means="A screen or filter lets through only the rest.",
        part="machine",
        value=(0.0, 1.0),
        unit="share",
    ),
    "feed": Kind(
        sentence="{part} is fed {value} times its food",
        means="Animals of one place, or of all, are fed this many times what they should be.",
        part="place?",
        value=(0.0, 10.0),
        unit="times",
    ),
    "room": Kind(
        sentence="the air of the hall is at {value}",
        means="The room is no longer kept cool (or warm): its air has this temperature.",
        value=(-20.0, 60.0),
        unit="degC",
    ),
    "no-exchange": Kind(
        sentence="no new water comes in",
        means="Reverse osmosis, make-up or the change of water is lost.",
    ),
    "air": Kind(
        sentence="{part} draws {value} of air for each litre of water",
        means="A pump draws in air on its suction and presses it into the water. Counted at 0 °C, 1 atm.",
        part="pump",
        value=(0.0, 200.0),
        unit="mL/L",
    ),
    "aerate": Kind(
        sentence="air stones in {part}: its surface exchanges gas {value} times as fast",
        means="Air from a battery or cylinder is bubbled through the water of a place.",
        part="place",
        value=(1.0, 100.0),
        unit="times",
        remedy=True,
    ),
    "exchange": Kind(
        sentence="{value} of the water of {part} is changed each hour",
        means="New water of the make-up store runs in, and as much runs out.",
        part="place",
        value=(0.0, 1.0),
        unit="share/h",
        remedy=True,
    ),
    "no-feed": Kind(
        sentence="{part} is not fed",
        means="Feeding stops at one place, or everywhere.",
        part="place?",
        remedy=True,
    ),
    "start": Kind(
        sentence="{part} runs again",
        means="A pump is started by hand, or a spare is put in its place.",
        part="machine",
        remedy=True,
    ),
}
"""Every kind of effect by its word."""

_SHOWN = {"m3/s": (3600.0, "m3/h"), "m": (1000.0, "mm"), "share": (100.0, "%"), "share/h": (100.0, "%")}
_NOBODY = {"feed": "every place", "no-feed": "every place"}


@dataclass(frozen=True, slots=True)
class Effect:
    """One thing that happens to one part.

    Attributes
    ----------
    kind : str
        A word of `KINDS`.
    part : str
        Id of the part, place, run, duty group or board; empty for the whole hall.
    value : float or None
        How much, in the unit of the kind.
    at : str
        Of a leak: one of `AT`, floor where empty.
    after : float
        When it happens, after the beginning. [s]

    Raises
    ------
    ValueError
        Where the kind is none of the list, or part, value or at do not belong to it.

    Examples
    --------
    >>> str(Effect("stop", "P-201"))
    'P-201 stops'
    >>> str(Effect("leak", "mangrove", 0.025, "floor"))
    'mangrove runs out through a hole of 25 mm at its floor'
    >>> str(Effect("aerate", "mangrove", 4.0, after=1800.0))
    'after 30 min: air stones in mangrove: its surface exchanges gas 4 times as fast'
    """

    kind: str
    part: str = ""
    value: float | None = None
    at: str = ""
    after: float = 0.0

    def __post_init__(self) -> None:
        known = KINDS.get(self.kind)
        if known is None:
            raise ValueError(f"'{self.kind}' is no effect; the effects are: {', '.join(KINDS)}")
        wrong = _wrong_part(self, known) or _wrong_value(self, known) or _wrong_place(self)
        if wrong:
            raise ValueError(f"{self.kind}: {wrong}")

    @property
    def remedy(self) -> bool:
        """Whether people may do it to help."""
        return KINDS[self.kind].remedy

    def __str__(self) -> str:
        known = KINDS[self.kind]
        said = known.sentence.format(
            part=self.part or _NOBODY.get(self.kind, ""), value=shown(self), at=self.at or AT[0]
        )
        return f"after {_time(self.after)}: {said}" if self.after else said


def _wrong_part(effect: Effect, known: Kind) -> str:
    if not known.part and effect.part:
        return f"it is of the whole hall, and names '{effect.part}'"
    if known.part and not known.part.endswith("?") and not effect.part:
        return f"it names no {known.part}"
    return ""


def _wrong_value(effect: Effect, known: Kind) -> str:
    if known.value is None:
        return "" if effect.value is None else "it has no value"
    if effect.value is None:
        return f"it needs a value in {known.unit}"
    low, high = known.value
    return "" if low <= effect.value <= high else f"{effect.value:g} is not {low:g} to {high:g} {known.unit}"


def _wrong_place(effect: Effect) -> str:
    if effect.at and (effect.kind != "leak" or effect.at not in AT):
        return (
            f"'{effect.at}' is no place of a hole" if effect.kind == "leak" else "only a leak is at a height"
        )
    return "" if 0.0 <= effect.after < float("inf") else "it cannot come before the beginning"


def shown(effect: Effect) -> str:
    """The value as one says it.

    >>> shown(Effect("top-up", "sump-m", 0.0005)), shown(Effect("valve", "m-supply", 0.5))
    ('1.8 m3/h', '50 %')
    """
    if effect.value is None:
        return ""
    unit = KINDS[effect.kind].unit
    scale, name = _SHOWN.get(unit, (1.0, "" if unit == "times" else unit.replace("deg", "°")))
    return f"{effect.value * scale:.4g} {name}".strip()


def _time(seconds: float) -> str:
    return f"{seconds / 3600:.3g} h" if seconds >= 7200 else f"{seconds / 60:.3g} min"
