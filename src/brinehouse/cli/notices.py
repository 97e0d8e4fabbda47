"""``notices`` and ``hand-over``: what asks somebody for something, and what one shift tells the next."""

from __future__ import annotations

from pathlib import Path
from zoneinfo import ZoneInfo

import click

from brinehouse.cli import voice
from brinehouse.workbench import concerns, handing_over, notice_counts, notice_rates, on_call, sending
from brinehouse.workbench import hall as halls
from brinehouse.workbench import notices as noticing
from brinehouse.workbench import now as looking


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--all", "everything", is_flag=True, help="Also limits that are kept.")
@click.option("--rates", is_flag=True, help="How many there are, against published figures.")
@click.option("--try", "address", default="", help="Send a trial to one address of the file, by its id.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def notices(folder: Path, everything: bool, rates: bool, address: str, as_json: bool) -> int:
    """Show what asks somebody for something, how it stands, and who is on call."""
    with halls.open_hall(folder) as hall:
        if address:
            return _try(hall, address, as_json)
        book = noticing.look(hall, concerns.of(hall))
        if rates:
            return _rates(hall, book, as_json)
        duty = on_call.now(hall)
        zone = ZoneInfo(hall.facility.timezone)
    shown = [one for one in book.notices if everything or one.state != "normal"]
    waiting = [one for one in shown if one.state in ("new", "gone unseen")]
    if as_json:
        told = [noticing.as_json(one) for one in shown]
        voice.say_json({"notices": told, "on_call": duty.name if duty else None})
        return 1 if waiting else 0
    voice.say(f"{len(waiting)} to be seen; " + (f"on call: {duty.name}" if duty else "nobody is on call"))
    for one in shown:
        since = f"{one.since.astimezone(zone):%d %b %H:%M}" if one.since else ""
        voice.say(f"\n{voice.marked(one.level)} {one.state}  {since}  {one.what} {one.value}".rstrip())
        for line in (one.why, f"do: {one.response}" if one.response else ""):
            if line and one.state != "normal":
                voice.say(voice.paragraph(line, 2))
    return 1 if waiting else 0


def _try(hall: halls.Hall, address: str, as_json: bool) -> int:
    taken = sending.trial(hall, address)
    if as_json:
        voice.say_json({"taken": taken})
    else:
        voice.say(
            "it was taken over" if taken else "it was not taken over: look at the address and the network"
        )
    return 0 if taken else 1


def _rates(hall: halls.Hall, book: noticing.Book, as_json: bool) -> int:
    found = notice_counts.of(hall, book)
    over = [one for one in found.figures if one.verdict in ("much", "too much")]
    if as_json:
        voice.say_json({
            "begin": found.begin.isoformat(), "end": found.end.isoformat(), "count": found.count,
            "figures": [one.as_json() for one in found.figures],
            "often": [{"what": it.what, "count": it.count, "chatters": it.chatters} for it in found.often],
            "split": {name: count for name, count, _ in found.split},
        })  # fmt: skip
        return 1 if over else 0
    rows = [
        [one.name.replace("_", " "), f"{voice.number(one.value, 2)} {one.unit}".strip(),
         voice.number(one.well, 0), voice.number(one.most, 0), one.verdict]
        for one in found.figures
    ]  # fmt: skip
    voice.say(f"{found.count} notices in {voice.number(found.days, 0)} days")
    voice.say(voice.table(["figure", "here", "well to", "bearable to", ""], rows, frozenset({1, 2, 3})))
    voice.say(f"published figures: {notice_rates.SECONDARY}; some from memory")
    return 1 if over else 0


@click.command("hand-over")
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--sign", is_flag=True, help="Sign it over; with --by.")
@click.option("--words", default="", help="With --sign: in your own words.")
@click.option("--read", "read", default="", help="Sign the hand-over of this id as read; with --by.")
@click.option("--by", default="", help="Who signs.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def hand_over(folder: Path, sign: bool, words: str, read: str, by: str, as_json: bool) -> int:
    """Show what the day has to hand over; sign it over, or sign one as read."""
    with halls.open_hall(folder) as hall:
        person = hall.person(by) if by.strip() else None
        if read:
            found = [one.id for one in handing_over.kept(hall) if one.id.startswith(read)]
            handing_over.sign_read(hall, found[0] if len(found) == 1 else read, person)
            if as_json:
                voice.say_json({"read": read})
            else:
                voice.say("signed as read")
            return 0
        made = handing_over.draft(hall, looking.look(hall, concerns.of(hall)))
        id = handing_over.sign_over(hall, made, words, person) if sign else ""
        zone = ZoneInfo(hall.facility.timezone)
    if as_json:
        parts = {part.name: {"lines": list(part.lines), "more": part.more} for part in made.parts}
        voice.say_json({
            "since": made.since.isoformat(), "until": made.until.isoformat(), "head": made.head, "id": id,
            "parts": parts,
        })  # fmt: skip
        return 0
    voice.say(
        f"Hand-over, {made.since.astimezone(zone):%d %b %H:%M} to {made.until.astimezone(zone):%d %b %H:%M}"
    )
    for block in handing_over.as_text(made.parts, words).splitlines():
        voice.say(block)
    number, _, digest = made.head.partition(":")
    voice.say(f"\nhead {number}:{digest[:12]}" + (f"; signed over as {id[:8]}" if id else ""))
    return 0
