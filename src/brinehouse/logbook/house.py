"""What is asked and changed about who may come in.

Every change is one of `ACTS`: a function of a connection inside a transaction and of plain values, so that a
command can hand it to the server that writes. What happened is written beside it, in the same transaction.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import sqlalchemy as sa

from brinehouse.logbook import house_tables, kept, tables

_account = house_tables.account
_passkey = house_tables.passkey
_device = house_tables.device
_session = house_tables.session
_code = house_tables.entry_code
_event = house_tables.security_event
_person = tables.person

KEPT = 30 * 24 * 3600 * 1_000_000
"""How long an ended session stays. [µs]"""

Row = Mapping[str, Any]


# Asking ------------------------------------------------------------


def _rows(connection: sa.Connection, query: sa.Select[Any]) -> list[Row]:
    return [dict(row) for row in connection.execute(query).mappings()]


def any_account(connection: sa.Connection) -> bool:
    """Whether this hall has people."""
    return connection.execute(sa.select(_account.c.person).limit(1)).first() is not None


def accounts(connection: sa.Connection, **where: Any) -> list[Row]:
    """Accounts with their names, by name; `where` holds columns and the values they must have."""
    query = (
        sa.select(_account, _person.c.name)
        .join(_person, _person.c.number == _account.c.person)
        .where(*(_column(name) == value for name, value in where.items()))
        .order_by(_person.c.name, _account.c.person)
    )
    return _rows(connection, query)


def _column(name: str) -> sa.Column[Any]:
    return _person.c.name if name == "name" else _account.c[name]


_WHOSE = (
    sa.select(
        _session, _account.c.role, _account.c.disabled, _account.c.needs_change, _person.c.name,
        _device.c.name.label("device_name"), _device.c.ended.label("device_ended"),
    )
    .join(_account, _account.c.person == _session.c.person)
    .join(_person, _person.c.number == _session.c.person)
    .outerjoin(_device, _device.c.id == _session.c.device)
    .where(_session.c.id == sa.bindparam("id"))
)  # fmt: skip


def session(connection: sa.Connection, id: str) -> Row | None:
    """A session with its person's account and name, and whether its device is still the hall's."""
    row = connection.execute(_WHOSE, {"id": id}).mappings().first()
    return None if row is None else dict(row)


def sessions(connection: sa.Connection, person: int) -> list[Row]:
    """The sessions of one person that were not ended, newest first."""
    query = (
        sa.select(_session, _device.c.name.label("device_name"))
        .outerjoin(_device, _device.c.id == _session.c.device)
        .where(_session.c.person == person, _session.c.ended.is_(None))
        .order_by(_session.c.begun.desc())
    )
    return _rows(connection, query)


def signed_in(connection: sa.Connection, person: int, device: str, since: int, until: int) -> bool:
    """Whether a person signed in on a device between two moments (both count in)."""
    query = sa.select(_session.c.id).where(
        _session.c.person == person,
        _session.c.device == device,
        _session.c.begun >= since,
        _session.c.begun <= until,
    )
    return connection.execute(query.limit(1)).first() is not None


def device(connection: sa.Connection, token: str) -> Row | None:
    """The device that holds a token, unless it was sent away."""
    query = sa.select(_device).where(_device.c.token == token, _device.c.ended.is_(None))
    found = _rows(connection, query)
    return found[0] if found else None


def devices(connection: sa.Connection) -> list[Row]:
    """Every device, the one seen last first."""
    return _rows(connection, sa.select(_device).order_by(_device.c.last_seen.desc(), _device.c.id))


def passkeys(connection: sa.Connection, *, person: int | None = None, id: str = "") -> list[Row]:
    """Passkeys of a person, or the one of an id."""
    query = sa.select(_passkey).order_by(_passkey.c.made)
    query = query.where(_passkey.c.person == person) if person is not None else query
    return _rows(connection, query.where(_passkey.c.id == id) if id else query)


def code(connection: sa.Connection, id: str) -> Row | None:
    """An entry code by the digest of what was told."""
    found = _rows(connection, sa.select(_code).where(_code.c.id == id))
    return found[0] if found else None


def events(
    connection: sa.Connection, *, before: int | None = None, since: int = 0, limit: int = 200
) -> list[Row]:
    """What happened at the door, newest first."""
    query = sa.select(_event).where(_event.c.at >= since).order_by(_event.c.seq.desc()).limit(limit)
    return _rows(connection, query.where(_event.c.seq < before) if before is not None else query)


def counted(connection: sa.Connection, since: int) -> dict[str, int]:
    """How often each kind of event happened since a moment."""
    query = sa.select(_event.c.what, sa.func.count()).where(_event.c.at >= since).group_by(_event.c.what)
    return {row[0]: row[1] for row in connection.execute(query)}


def signed_in_last(connection: sa.Connection) -> dict[int, int]:
    """When each person signed in last, as far as sessions are kept."""
    query = sa.select(_session.c.person, sa.func.max(_session.c.begun)).group_by(_session.c.person)
    return {row[0]: row[1] for row in connection.execute(query)}


# Changing ------------------------------------------------------------


def note(connection: sa.Connection, event: Row) -> None:
    """Write down what happened at the door."""
    seq = (connection.execute(sa.select(sa.func.max(_event.c.seq))).scalar() or 0) + 1
    connection.execute(sa.insert(_event), {**event, "seq": seq})


def _add_account(connection: sa.Connection, *, person: int, role: str, first: bool, **columns: Any) -> None:
    if first and any_account(connection):
        raise kept.refused("people/not-first", "This hall has people already", "ask one of them to add you")
    if connection.execute(sa.select(_account.c.person).where(_account.c.person == person)).first():
        raise kept.refused(
            "people/has-account", "This person has an account already", "change that one, or reset it"
        )
    connection.execute(sa.insert(_account), {"person": person, "role": role, **columns})


def _change_account(connection: sa.Connection, *, person: int, **columns: Any) -> None:
    query = sa.update(_account).where(_account.c.person == person).values(**columns)
    if connection.execute(query).rowcount != 1:
        raise kept.refused("people/no-account", "This person has no account", "add one first")
    if {"role", "disabled"} & set(columns):
        _still_led(connection)


def _still_led(connection: sa.Connection) -> None:
    """A hall with people always has somebody who may change them."""
    query = sa.select(_account.c.person).where(
        _account.c.role == "administrator", _account.c.disabled.is_(None)
    )
    if connection.execute(query.limit(1)).first() is None:
        raise kept.refused(
            "people/last-administrator",
            "This is the last administrator: nobody could let people in any more",
            "make somebody else administrator first",
        )


def forget(connection: sa.Connection, person: int) -> None:
    """Take out everything that is here of a person but the numbers in the events."""
    had = connection.execute(sa.select(_account.c.person).where(_account.c.person == person)).first()
    for table in (_session, _passkey, _code, _account):
        connection.execute(sa.delete(table).where(table.c.person == person))
    if had:
        _still_led(connection)


def _begin_session(connection: sa.Connection, *, at: int, replaces: str, **columns: Any) -> None:
    connection.execute(sa.delete(_session).where(_session.c.until < at - KEPT))
    if replaces:
        _end(connection, at, _session.c.id == replaces)
    connection.execute(sa.insert(_session), columns)
    if columns.get("device"):
        _seen_device(connection, device=columns["device"], at=at)


def _see_session(connection: sa.Connection, *, id: str, at: int) -> None:
    connection.execute(sa.update(_session).where(_session.c.id == id, _session.c.seen < at).values(seen=at))


def _seen_device(connection: sa.Connection, *, device: str, at: int) -> None:
    connection.execute(sa.update(_device).where(_device.c.id == device).values(last_seen=at))


def _sure_session(connection: sa.Connection, *, id: str, at: int) -> None:
    connection.execute(sa.update(_session).where(_session.c.id == id).values(sure=at))


def _end(connection: sa.Connection, at: int, *which: sa.ColumnElement[bool]) -> int:
    query = sa.update(_session).where(_session.c.ended.is_(None), *which).values(ended=at)
    return connection.execute(query).rowcount


def _end_sessions(
    connection: sa.Connection, *, at: int, person: int | None = None, id: str = "", but: str = ""
) -> int:
    """End sessions of a person: one of them, or all, or all but one."""
    which: list[sa.ColumnElement[bool]] = []
    if person is not None:
        which.append(_session.c.person == person)
    if id:
        which.append(_session.c.id == id)
    if but:
        which.append(_session.c.id != but)
    if not which:
        raise ValueError("whose sessions?")
    return _end(connection, at, *which)


def _add_device(connection: sa.Connection, **columns: Any) -> None:
    connection.execute(sa.insert(_device), columns)


def _end_device(connection: sa.Connection, *, device: str, at: int) -> None:
    query = sa.update(_device).where(_device.c.id == device, _device.c.ended.is_(None)).values(ended=at)
    if connection.execute(query).rowcount != 1:
        raise kept.refused("people/no-device", "No phone or machine of the hall has this number", "")
    _end(connection, at, _session.c.device == device)


def _add_passkey(connection: sa.Connection, **columns: Any) -> None:
    connection.execute(sa.insert(_passkey), columns)


def _use_passkey(connection: sa.Connection, *, id: str, uses: int, at: int) -> None:
    connection.execute(sa.update(_passkey).where(_passkey.c.id == id).values(uses=uses, used=at))


def _end_passkey(connection: sa.Connection, *, id: str, person: int) -> None:
    query = sa.delete(_passkey).where(_passkey.c.id == id, _passkey.c.person == person)
    if connection.execute(query).rowcount != 1:
        raise kept.refused("people/no-passkey", "You have no passkey of this number", "")


def _end_passkeys(connection: sa.Connection, *, person: int) -> None:
    connection.execute(sa.delete(_passkey).where(_passkey.c.person == person))


def _add_code(connection: sa.Connection, **columns: Any) -> None:
    connection.execute(sa.delete(_code).where(_code.c.until < columns["until"] - KEPT))
    if columns["kind"] == "account":  # a new one makes the one before it void
        connection.execute(sa.delete(_code).where(_code.c.person == columns["person"]))
    connection.execute(sa.insert(_code), columns)


def _use_code(connection: sa.Connection, *, id: str, at: int) -> None:
    """Use up an entry code; of two who try at once one is refused."""
    query = sa.update(_code).where(_code.c.id == id, _code.c.used.is_(None), _code.c.until >= at)
    if connection.execute(query.values(used=at)).rowcount != 1:
        raise kept.refused("people/code-used", "This code does not count any more", "ask for another one")


def _use_step(connection: sa.Connection, *, person: int, step: int) -> None:
    """Use up the step of a one-time code; no code counts twice."""
    query = sa.update(_account).where(_account.c.person == person, _account.c.codes_step < step)
    if connection.execute(query.values(codes_step=step)).rowcount != 1:
        raise kept.refused("people/code-used", "This code was used already", "wait for the next one")


def _nothing(connection: sa.Connection) -> None:
    """For an event that changes nothing else."""


ACTS: Mapping[str, Callable[..., Any]] = {
    "add account": _add_account,
    "change account": _change_account,
    "begin session": _begin_session,
    "see session": _see_session,
    "sure session": _sure_session,
    "end sessions": _end_sessions,
    "add device": _add_device,
    "end device": _end_device,
    "add passkey": _add_passkey,
    "use passkey": _use_passkey,
    "end passkey": _end_passkey,
    "end passkeys": _end_passkeys,
    "add code": _add_code,
    "use code": _use_code,
    "use step": _use_step,
    "nothing": _nothing,
}


def do(connection: sa.Connection, acts: list[Any], event: Row | None) -> list[Any]:
    """Do several acts in one transaction, each ``[name, arguments]``, and note what happened."""
    answers = [ACTS[name](connection, **told) for name, told in acts]
    if event is not None:
        note(connection, event)
    return answers
