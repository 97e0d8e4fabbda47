"""A picture from a phone's queue: taken in by itself, so that no picture ever holds a reading back."""

from __future__ import annotations

import re
from typing import Any

from brinehouse import findings
from brinehouse.logbook import kept
from brinehouse.workbench import attachments, clock, hall, mishaps, people, queue_in

_ID = re.compile(r"[0-9a-f]{32}", re.ASCII)


def take(
    place: hall.Hall, content: bytes, who: people.Who, *, id: str, about: str = "", made: str = ""
) -> dict[str, Any]:
    """Take in one picture.

    Parameters
    ----------
    place : Hall
    content : bytes
        As the phone's camera gave it.
    who : Who
        Whoever is signed in on that phone.
    id : str
        Made on the phone: the same picture sent again is the same picture.
    about : str
        The entry it belongs to.
    made : str
        When it was taken, by the phone's clock.

    Returns
    -------
    dict
        As `queue_in.take`, with one entry.
    """
    return {"now": clock.now().isoformat(), "entries": [_take(place, content, who, id, about, made).plain]}


def _take(place: hall.Hall, content: bytes, who: people.Who, id: str, about: str, made: str) -> queue_in.Told:
    if not _ID.fullmatch(id) or (about and not _ID.fullmatch(about)):
        said = "This picture has no id that can be kept"
        return _refused(id[:64], "round/bad-id", said, "take it again")
    now = clock.now()
    when = queue_in.time_of(made)
    when = now if when is None or when > now or when < now - queue_in.OLDEST else when
    try:
        before = place.book.get(id) is not None
        attachments.keep(place, content, f"{id}.jpg", about=about, person=who.number, id=id, measured=when)
    except mishaps.Refused as fault:
        found = fault.findings[0]
        return _refused(id, found.code, found.text, found.hint)
    except (kept.NotSaved, kept.Busy) as fault:
        return queue_in.Told(id=id, state="again", code=fault.finding.code, text=fault.finding.text)
    except OSError as fault:
        return _again(id, mishaps.told(fault)[0])
    return queue_in.Told(id=id, state="same" if before else "stored")


def _refused(id: str, code: str, text: str, hint: str) -> queue_in.Told:
    return queue_in.Told(id=id, state="refused", code=code, text=text, hint=hint)


def _again(id: str, found: findings.Finding) -> queue_in.Told:
    return queue_in.Told(id=id, state="again", code=found.code, text=found.text, hint=found.hint)
