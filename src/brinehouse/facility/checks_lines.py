"""Checks on sensor lines: one address for one point, and no secret in the file."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from brinehouse.facility import cases, hidden, model, positions, shape

_IN_ADDRESS = re.compile(r"//[^/\s@]+@|^[^/\s@:]+:[^/\s@]+@")
_NEEDS = {"modbus-tcp": ("register",), "mqtt": ("topic",), "opc-ua": ("node",), "folder": ("node",)}
_WELL_KNOWN = frozenset(
    {
        "",
        "admin",
        "administrator",
        "root",
        "user",
        "guest",
        "operator",
        "password",
        "passw0rd",
        "default",
        "service",
        "1234",
        "12345",
        "123456",
        "0000",
        "1111",
        "test",
        "public",
        "changeme",
    }
)
"""Words that makers set before delivery, names and passwords alike."""


def addresses(case: cases.Case) -> None:
    """Each address feeds one point, each point has one address, and each line has what its kind needs."""
    fed: dict[str, str] = {}
    names: dict[str, int] = {}
    for index, source in enumerate(case.facility.sources):
        taken: dict[Any, int] = {}
        names.setdefault(source.id, index)
        for row, address in enumerate(source.map):
            path = ("source", index, "map", row)
            thing = f"source {hidden.visible(source.id)}"
            _taken(case, address, path, thing, taken, row)
            _fed(case, address, path, thing, fed)
            for word in _NEEDS.get(source.kind, ()):
                if word not in case.raw["source"][index]["map"][row]:
                    case.say(
                        "facility/missing",
                        (*path, word),
                        f"{thing}: the address of {hidden.visible(address.point)} has no '{word}'",
                        f"a {source.kind} source finds its values by '{word}'",
                        about=thing,
                    )


def _taken(
    case: cases.Case, address: model.Address, path: shape.Path, thing: str, taken: dict[Any, int], row: int
) -> None:
    for word in ("register", "topic", "node"):
        told = getattr(address, word)
        if told in (None, ""):
            continue
        if (word, told) in taken:
            case.say(
                "facility/shared-address",
                (*path, word),
                f"{thing}: {word} {hidden.visible(str(told))} is mapped twice, here and in address "
                f"{taken[word, told] + 1}",
                "let each address feed one point",
                about=thing,
            )
        taken.setdefault((word, told), row)


def _fed(case: cases.Case, address: model.Address, path: shape.Path, thing: str, fed: dict[str, str]) -> None:
    point = case.facility.points.get(address.point)
    if point is None:
        return
    shown = hidden.visible(point.id)
    if point.id in fed:
        case.say(
            "facility/two-sources",
            (*path, "point"),
            f"{thing}: point {shown} has two sources, this and {fed[point.id]}",
            "let one address feed it, or add a second point",
            about=thing,
        )
    else:
        fed[point.id] = f"address {int(path[-1]) + 1} of {thing}"
        if not point.quantity:
            case.ask(
                "facility/missing",
                (*path, "point"),
                f"{thing} feeds point {shown}, which has no 'quantity'",
                f"say what is read there: quantity under [point.{shown}]",
                about=thing,
            )


def secrets(case: cases.Case) -> None:
    """No password in an address, and none that was set before delivery."""
    for path, text in texts(case.raw, ()):
        if _IN_ADDRESS.search(text):
            case.say(
                "facility/secret-in-file",
                path,
                f"'{positions.written(path)}' holds a name and a password",
                'take them out of the address: username = "..." and secret = "env:NAME"',
            )
    listed: Any = case.raw.get("source")
    sources: list[Any] = listed if isinstance(listed, list) else []
    for index, source in enumerate(sources):
        if isinstance(source, dict) and _is_default(source):
            name = source.get("id")
            thing = f"source {hidden.visible(name)}" if isinstance(name, str) else f"source {index + 1}"
            case.ask(
                "facility/default-credentials",
                ("source", index, "username"),
                f"{thing} signs in with a name and a password that are a well-known default",
                "set a password of your own on the device; this file may have been copied",
                about=thing,
            )


def _is_default(source: dict[str, Any]) -> bool:
    """Whether name and password are both among those that makers set. Neither is ever shown."""
    name = source.get("username", source.get("user", ""))
    told = [value for word, value in source.items() if shape.SECRET_WORD.search(word)]
    password = told[0] if told else None
    if not isinstance(name, str) or not isinstance(password, str | int) or isinstance(password, bool):
        return False
    return name.casefold() in _WELL_KNOWN and str(password).casefold() in _WELL_KNOWN


def texts(value: Any, path: shape.Path) -> Iterator[tuple[shape.Path, str]]:
    """Every text of a document with its path."""
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, dict):
        for name, inside in value.items():
            yield from texts(inside, (*path, name))
    elif isinstance(value, list):
        for index, inside in enumerate(value):
            yield from texts(inside, (*path, index))
