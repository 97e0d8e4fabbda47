"""Handing a batch to the running server, which holds the writer's lock; and taking one, on its side.

A command writes in one of two ways: it takes the lock, or it hands its batch to whoever has it. A batch goes
over loopback as JSON with every field of every entry, so that what is stored is what would have been stored.
"""

from __future__ import annotations

import base64
import binascii
import dataclasses
import json
import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol

from brinehouse import findings, records
from brinehouse.logbook import kept, lock
from brinehouse.workbench import mishaps

PATH = "/hand"
TOKEN = "x-brinehouse-token"  # noqa: S105 - a header's name
LARGEST = 512 * 1024 * 1024
WAIT = 120.0  # seconds until a silent server is given up
LOOPBACK = ("127.0.0.1", "localhost", "::1")

Entry = records.Reading | records.Fact


class Writes(Protocol):
    """What a batch may ask of the hall that takes it."""

    def write(self, facts: Sequence[Entry], person: int | None = None) -> list[kept.Outcome]:
        """Append entries."""
        ...

    def person(self, name: str) -> int:
        """The number of a person."""
        ...

    def supersede(self, id: str, **changes: Any) -> kept.Outcome:
        """A correction."""
        ...

    def withdraw(self, id: str, **told: Any) -> kept.Outcome:
        """Take back an entry or an import."""
        ...

    def keep_import(
        self, id: str, name: str, content: bytes, facts: Iterable[Entry], **told: Any
    ) -> list[kept.Outcome]:
        """Take in a file with its rows."""
        ...

    def blank_person(self, number: int, reason: str, **told: Any) -> None:
        """Take a name out."""
        ...

    def house(self, acts: Sequence[Any], event: Mapping[str, Any] | None = None) -> list[Any]:
        """Change who may come in."""
        ...

    def keep_text(self, text: str, *, since: datetime, person: int | None = None) -> None:
        """Keep a facility file with the time from which it holds."""
        ...

    def remember(self, source: str, question: str, answer: str, **told: Any) -> None:
        """Keep an answer about a source of files."""
        ...


# -- entries as JSON and back ---------------------------------------------------------------------------

_READING = {field.name for field in dataclasses.fields(records.Reading)}
_FACT = {field.name for field in dataclasses.fields(records.Fact)}
_TIMES = frozenset({"measured", "entered", "at"})


def pack(entry: Entry) -> dict[str, Any]:
    """An entry as plain data: every field, times with their offset.

    >>> from datetime import UTC
    >>> at = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)
    >>> fact = records.Fact(id="0f", kind="note", measured=at, entered=at, note="strainer cleaned")
    >>> unpack(pack(fact)) == fact
    True
    """
    names = _READING if isinstance(entry, records.Reading) else _FACT
    return _packed({name: getattr(entry, name) for name in sorted(names)})


def _packed(told: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: value.isoformat() if isinstance(value, datetime) else _plain(value)
        for name, value in told.items()
    }


def _plain(value: Any) -> Any:
    """Mappings and rows as JSON knows them."""
    if isinstance(value, Mapping):
        return {name: _plain(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return value


def unpack(data: Any) -> Entry:
    """An entry from plain data; refused where a field is missing, unknown or not of its kind."""
    if not isinstance(data, Mapping):
        raise _not_understood("an entry is not an object")
    names, make = (_FACT, records.Fact) if "kind" in data else (_READING, records.Reading)
    if set(data) != names:
        odd = min(set(data) ^ names)
        raise _not_understood(f"the field '{odd}' is missing or unknown")
    return make(**_unpacked(data))


def _unpacked(data: Mapping[str, Any]) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for name, value in data.items():
        if name in _TIMES and value is not None:
            out[name] = _time(name, value)
        elif name == "marks":
            out[name] = tuple(_of(list, name, value))
        elif name in ("person", "taken_by"):
            out[name] = None if value is None else _of(int, name, value)
        elif name in ("value", "depth"):
            out[name] = None if value is None else _number(name, value)
        else:
            out[name] = _of(dict if name == "details" else str, name, value)
    return out


def _time(name: str, value: Any) -> datetime:
    try:
        return datetime.fromisoformat(value)
    except (TypeError, ValueError):
        raise _not_understood(f"'{name}' is not a time") from None


def _number(name: str, value: Any) -> float:
    try:
        return float(_of((int, float), name, value))
    except OverflowError:
        raise _not_understood(f"'{name}' is not of its kind") from None


def _of(kind: type | tuple[type, ...], name: str, value: Any) -> Any:
    if not isinstance(value, kind) or isinstance(value, bool):
        raise _not_understood(f"'{name}' is not of its kind")
    return value


def _not_understood(why: str) -> mishaps.Refused:
    return mishaps.Refused(
        _stop(
            "handing/not-understood",
            f"The batch was not understood: {why}.",
            "use the same version on both sides",
        )
    )


def _stop(code: str, text: str, hint: str) -> findings.Finding:
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint)


# -- the side that hands over -----------------------------------------------------------------------------


def door(folder: Path) -> lock.Owner | None:
    """The running server that writes this folder's logbook, or None where there is none but ourselves."""
    owner = lock.owner(folder)
    if owner is None or not owner.address or owner.pid == os.getpid():
        return None
    return owner


def outcomes(answer: Any) -> list[kept.Outcome]:
    """What became of each entry, from the server's answer."""
    return [kept.Outcome(id, state, seq) for id, state, seq in answer]


def entries(facts: Sequence[Entry], person: int | None) -> dict[str, Any]:
    """The body of a batch of entries."""
    return {"entries": [pack(one) for one in facts], "person": person}


def call(what: str, **told: Any) -> dict[str, Any]:
    """The body of anything but a plain batch: what is asked for, and with what."""
    return {"what": what, **_packed(told)}


def import_file(id: str, name: str, content: bytes, facts: Sequence[Entry], **told: Any) -> dict[str, Any]:
    """The body of an imported file with its rows."""
    packed = base64.b64encode(content).decode("ascii")
    rows = [pack(one) for one in facts]
    return {**call("import", id=id, name=name, **told), "content": packed, "entries": rows}


def hand(to: lock.Owner, body: Mapping[str, Any]) -> Any:
    """Hand a batch to the server; its answer, or what it refused raised as if it were refused here.

    Raises
    ------
    ConnectionRefusedError
        Nobody listens there any more: the lock is free or soon will be.
    """
    import http.client

    if not to.token or to.address not in LOOPBACK:
        raise kept.Busy(_not_let_in(to))
    try:
        sent = json.dumps(body).encode()
    except (TypeError, ValueError) as fault:
        raise _not_understood(str(fault)) from fault
    line = http.client.HTTPConnection(to.address, to.port, timeout=WAIT)
    try:
        line.connect()
        line.request("POST", PATH, sent, {"content-type": "application/json", TOKEN: to.token})
        reply = line.getresponse()
        status, text = reply.status, reply.read()
    except ConnectionRefusedError:
        raise
    except (OSError, http.client.HTTPException) as fault:
        raise kept.NotSaved(_no_answer(to)) from fault
    finally:
        line.close()
    if status == 403:
        raise kept.Busy(_not_let_in(to))
    return _answered(to, text)


def _answered(to: lock.Owner, text: bytes) -> Any:
    try:
        said: Any = json.loads(text)
        if "answer" in said:
            return said["answer"]
        kind, found = str(said["refused"]), [_finding(one) for one in said["findings"]]
    except (ValueError, KeyError, TypeError) as fault:
        raise kept.NotSaved(_no_answer(to)) from fault
    raise _REFUSALS[kind](*found) if kind in _REFUSALS else mishaps.Refused(*found)


def _finding(data: Mapping[str, Any]) -> findings.Finding:
    return findings.Finding(
        code=str(data["code"]),
        level=findings.Level(data["level"]),
        text=str(data["text"]),
        hint=str(data["hint"]),
        spot=findings.Spot(**data["spot"]),
        data=data["data"],
    )


def _not_let_in(to: lock.Owner) -> findings.Finding:
    return _stop(
        "handing/not-let-in",
        f"The logbook is being written by process {to.pid}, which did not let this command in.",
        "run the command as the user who runs the server, or end the server",
    )


def _no_answer(to: lock.Owner) -> findings.Finding:
    return _stop(
        "handing/no-answer",
        f"Process {to.pid}, which writes the logbook, took this and did not answer: it may be stored or not.",
        "look with 'brinehouse log' whether it is there, and write it again if it is not",
    )


# -- the side that takes ------------------------------------------------------------------------------------


def take(hall: Writes, body: Any) -> dict[str, Any]:
    """Do what a batch asks for; the answer or the refusal as plain data.

    Parameters
    ----------
    hall : Writes
        The server's own hall.
    body : any
        What came, as JSON: ``{"entries": [...]}``, or ``{"what": ...}`` with its arguments.
    """
    try:
        if not isinstance(body, Mapping):
            raise _not_understood("it is not an object")
        work = _WORK.get(str(body.get("what", "entries")))
        if work is None:
            raise _not_understood(f"'{body['what']}' is not something to do")
        return {"answer": work(hall, body)}
    except KeyError as fault:
        return _refusal(_not_understood(f"'{fault.args[0]}' is missing"))
    except (kept.Refused, mishaps.Refused) as fault:
        return _refusal(fault)


def _refusal(fault: kept.Refused | mishaps.Refused) -> dict[str, Any]:
    found = (fault.finding,) if isinstance(fault, kept.Refused) else fault.findings
    kind = next((name for name, made in _REFUSALS.items() if type(fault) is made), "")
    return {"refused": kind, "findings": [finding.as_json() for finding in found]}


def _rows(body: Mapping[str, Any]) -> list[Entry]:
    return [unpack(one) for one in _of(list, "entries", body["entries"])]


def _exactly(body: Mapping[str, Any], *names: str) -> dict[str, Any]:
    """The arguments of these names."""
    return _unpacked({name: body[name] for name in names})


def _triples(found: Sequence[kept.Outcome]) -> list[list[Any]]:
    return [[one.id, one.state, one.seq] for one in found]


def _take_entries(hall: Writes, body: Mapping[str, Any]) -> Any:
    person = _unpacked({"person": body.get("person")})["person"]
    return _triples(hall.write(_rows(body), person=person))


def _take_person(hall: Writes, body: Mapping[str, Any]) -> Any:
    return hall.person(_of(str, "name", body["name"]))


def _take_supersede(hall: Writes, body: Mapping[str, Any]) -> Any:
    told = _exactly(body, "id", "reason", "entered", "person")
    changes = _unpacked({name: value for name, value in body.items() if name not in ("what", *told)})
    return _triples([hall.supersede(**told, **changes)])[0]


def _take_withdraw(hall: Writes, body: Mapping[str, Any]) -> Any:
    return _triples([hall.withdraw(**_exactly(body, "id", "reason", "entered", "person"))])[0]


def _take_import(hall: Writes, body: Mapping[str, Any]) -> Any:
    try:
        content = base64.b64decode(_of(str, "content", body["content"]), validate=True)
    except binascii.Error:
        raise _not_understood("'content' is not of its kind") from None
    told = _exactly(body, "id", "name", "at", "person")
    return _triples(hall.keep_import(content=content, facts=_rows(body), **told))


def _take_remember(hall: Writes, body: Mapping[str, Any]) -> Any:
    hall.remember(**_exactly(body, "source", "question", "answer", "at", "person"))


def _take_blank(hall: Writes, body: Mapping[str, Any]) -> Any:
    number = _of(int, "number", body["number"])
    hall.blank_person(number, **_exactly(body, "reason", "at", "person"))


def _take_house(hall: Writes, body: Mapping[str, Any]) -> Any:
    acts = [_of(list, "acts", one) for one in _of(list, "acts", body["acts"])]
    event = body["event"]
    if not all(len(one) == 2 and isinstance(one[1], dict) for one in acts):
        raise _not_understood("'acts' is not of its kind")
    return hall.house(acts, None if event is None else _of(dict, "event", event))


def _take_facility(hall: Writes, body: Mapping[str, Any]) -> Any:
    told = _exactly(body, "text", "at", "person")
    hall.keep_text(told["text"], since=told["at"], person=told["person"])


_WORK: Mapping[str, Callable[[Writes, Mapping[str, Any]], Any]] = {
    "entries": _take_entries,
    "person": _take_person,
    "blank": _take_blank,
    "house": _take_house,
    "supersede": _take_supersede,
    "withdraw": _take_withdraw,
    "import": _take_import,
    "remember": _take_remember,
    "facility": _take_facility,
}
_REFUSALS: Mapping[str, type[kept.Refused]] = {
    "refused": kept.Refused,
    "not-saved": kept.NotSaved,
    "busy": kept.Busy,
}
