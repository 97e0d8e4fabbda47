"""``people``: who may come in, from the machine the hall is on."""

from __future__ import annotations

import getpass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from brinehouse.cli import voice

if TYPE_CHECKING:
    from brinehouse.workbench import people as who_asks

FOLDER = click.argument("folder", default=".", type=click.Path(path_type=Path))
JSON = click.option("--json", "as_json", is_flag=True, help="As JSON.")
ROLES = ("reader", "keeper", "lead", "veterinarian", "administrator")


@click.group()
def people() -> None:
    """Who may come in, as what; whoever owns the folder may say so without signing in.

    A new person is given a code, and chooses a password of their own with it; nothing is set beforehand.
    """


def _here() -> who_asks.Who:
    """Whoever types a command on this machine."""
    import dataclasses

    from brinehouse.workbench import people as who_asks

    return dataclasses.replace(who_asks.OPEN, address=f"command by {getpass.getuser()}")


@people.command("list")
@FOLDER
@JSON
def list_(folder: Path, as_json: bool) -> int:
    """Everyone who may come in, and what is odd about the door."""
    from brinehouse.workbench import door_log
    from brinehouse.workbench import hall as halls
    from brinehouse.workbench import people as who_asks

    with halls.open_hall(folder) as hall:
        everybody = who_asks.everyone(hall)
        odd = door_log.odd(hall) if everybody else []
    if as_json:
        voice.say_json({"people": [_plain(one) for one in everybody], "findings": [f.as_json() for f in odd]})
        return int(bool(odd))
    if not everybody:
        voice.say("This hall has no people yet: it is open to this machine, and to no other.")
        return 0
    rows = [(str(one.number), one.name, one.role, _ways(one), _state(one)) for one in everybody]
    voice.say(voice.table(("number", "name", "role", "comes in by", "state"), rows))
    voice.show_findings(odd)
    return int(bool(odd))


def _plain(one: who_asks.Account) -> dict[str, Any]:
    return {
        "number": one.number, "name": one.name, "role": one.role, "by": _ways(one), "state": _state(one),
        "last": one.last.isoformat() if one.last else None,
    }  # fmt: skip


def _ways(one: who_asks.Account) -> str:
    ways = (
        (one.has_pin, "PIN"),
        (one.has_password, "password"),
        (one.has_codes, "one-time codes"),
        (bool(one.passkeys), "passkey"),
    )
    return ", ".join(word for there, word in ways if there) or "nothing yet"


def _state(one: who_asks.Account) -> str:
    if one.disabled:
        return "may not come in"
    return "has a code to choose a password" if one.needs_change else "may come in"


@people.command("add")
@click.argument("name")
@FOLDER
@click.option("--role", type=click.Choice(ROLES), default="keeper", show_default=True, help="As what.")
@JSON
def add(name: str, folder: Path, role: str, as_json: bool) -> int:
    """Let NAME in, and print the code to tell them; the first of a hall is its administrator."""
    from brinehouse.workbench import hall as halls
    from brinehouse.workbench import people as who_asks

    with halls.open_hall(folder) as hall:
        number, code = who_asks.add(hall, name, role, _here())
    return _told(as_json, number, " ".join(name.split()), code)


def _told(as_json: bool, number: int, name: str, code: str) -> int:
    if as_json:
        voice.say_json({"number": number, "code": code})
    else:
        voice.say(f"{name} is number {number}. Tell them this code within a day; it is shown only once:")
        voice.say(f"  {code}")
        voice.say("They type it at /enter/code, and choose a password of their own.")
    return 0


@people.command("role")
@click.argument("number", type=int)
@click.argument("role", type=click.Choice(ROLES))
@FOLDER
@JSON
def role_(number: int, role: str, folder: Path, as_json: bool) -> int:
    """Give the person of a NUMBER another role."""
    from brinehouse.workbench import hall as halls
    from brinehouse.workbench import people as who_asks

    with halls.open_hall(folder) as hall:
        who_asks.change_role(hall, number, role, _here())
        return _shown(hall, number, as_json)


def _shown(hall: Any, number: int, as_json: bool) -> int:
    from brinehouse.workbench import people as who_asks

    one = who_asks.account(hall, number)
    if as_json:
        voice.say_json(_plain(one))
    else:
        voice.say(f"{one.name}, {one.role}: {_state(one)}.")
    return 0


@people.command("disable")
@click.argument("number", type=int)
@FOLDER
@click.option("--again", is_flag=True, help="Let them in again.")
@JSON
def disable(number: int, folder: Path, again: bool, as_json: bool) -> int:
    """Let the person of a NUMBER in no more; every session of theirs ends at once."""
    from brinehouse.workbench import hall as halls
    from brinehouse.workbench import people as who_asks

    with halls.open_hall(folder) as hall:
        (who_asks.enable if again else who_asks.disable)(hall, number, _here())
        return _shown(hall, number, as_json)


@people.command("reset")
@click.argument("number", type=int)
@FOLDER
@JSON
def reset(number: int, folder: Path, as_json: bool) -> int:
    """Take away all that the person of a NUMBER comes in by, and print a new code."""
    from brinehouse.workbench import hall as halls
    from brinehouse.workbench import people as who_asks

    with halls.open_hall(folder) as hall:
        name = who_asks.account(hall, number).name
        code = who_asks.reset(hall, number, _here())
    return _told(as_json, number, name, code)


@people.command("blank")
@click.argument("number", type=int)
@FOLDER
@click.option("--reason", required=True, help="Why, in a few words.")
@JSON
def blank(number: int, folder: Path, reason: str, as_json: bool) -> int:
    """Take the name of a NUMBER out for good; entries keep the number, and the chain stays whole."""
    from brinehouse.workbench import hall as halls
    from brinehouse.workbench import people as who_asks

    with halls.open_hall(folder) as hall:
        who_asks.blank(hall, number, reason, _here())
    if as_json:
        voice.say_json({"number": number, "blanked": True})
    else:
        voice.say(f"The name of number {number} is taken out; what that person wrote keeps the number.")
    return 0
