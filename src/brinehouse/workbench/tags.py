"""Short codes that stand on labels: made from a thing's id, so that they last as long as it does."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

from brinehouse.facility import model

LETTERS = "23456789BCDFGHJKMNPQRSTVWXYZ"
"""No sign that reads as another (0 and O, 1 and I and L), and no vowel, so that no code is a word."""

LONG = 4
_ALIKE = str.maketrans({"0": "Q", "O": "Q", "U": "V", " ": None, "-": None})


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """A thing with its code: `kind` is the table of the facility file, `href` where its sheet is."""

    id: str
    kind: str
    name: str
    code: str
    href: str


def code(id: str, turn: int = 0) -> str:
    """The code of an id; `turn` counts up where an earlier thing has it already.

    >>> code("mangrove") == code("mangrove"), len(code("mangrove")), code("mangrove") == code("mangrove", 1)
    (True, 4, False)
    """
    number = int.from_bytes(hashlib.sha256(f"{id}\0{turn}".encode()).digest()[:8], "big")
    made = ""
    for _ in range(LONG):
        number, place = divmod(number, len(LETTERS))
        made += LETTERS[place]
    return made


def of(facility: model.Facility) -> Mapping[str, Tag]:
    """Every place and machine by its code, places first.

    Two ids meet in one code once in some hundred thousand: then the later in the alphabet takes another.
    """
    found: dict[str, Tag] = {}
    things = [
        *((one.id, one.kind, one.name, f"/tank/{one.id}") for one in facility.vessels.values()),
        *((one.id, "pump", one.name, f"/equipment/{one.id}") for one in facility.pumps.values()),
        *((one.id, "equipment", one.name, f"/equipment/{one.id}") for one in facility.equipment.values()),
    ]
    taken: dict[str, str] = {}
    for id in sorted(one[0] for one in things):
        turn = 0
        while code(id, turn) in taken:
            turn += 1
        taken[code(id, turn)] = id
    codes = {id: made for made, id in taken.items()}
    for id, kind, name, href in things:
        found[codes[id]] = Tag(id=id, kind=kind, name=name, code=codes[id], href=href)
    return found


def read(facility: model.Facility, typed: str) -> Tag | None:
    """The thing whose code was typed, whatever the case; or whose id was.

    >>> read(model.Facility(name=""), "k7q2") is None
    True
    """
    known = of(facility)
    plain = typed.strip().upper().translate(_ALIKE)
    by_id = {tag.id.casefold(): tag for tag in known.values()}
    return known.get(plain) or by_id.get(typed.strip().casefold())
