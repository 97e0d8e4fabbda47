"""Passkeys: a phone or key signs what it is asked, and no secret is typed (W3C Web Authentication)."""

from __future__ import annotations

import json
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from brinehouse.logbook import canon, house
from brinehouse.workbench import clock, entering, people

HOLDS = 300.0
"""How long a question waits for its answer. [s]"""
ODD = (ValueError, LookupError, TypeError, AttributeError, OverflowError)
"""What reading a made-up answer may come to, beside what the library itself says of it."""
MOST = 2_000
"""So many questions wait at once; the oldest goes first."""


@dataclass(frozen=True, slots=True)
class Site:
    """The address a passkey is bound to: the host's name, and the origin the browser says."""

    name: str
    origin: str


class Questions:
    """What was asked and not yet answered; each may be answered once."""

    def __init__(self, now: Callable[[], float] = time.monotonic) -> None:
        self._now = now
        self._asked: dict[str, tuple[float, bytes, int | None]] = {}
        self._lock = threading.Lock()

    def put(self, person: int | None = None) -> tuple[str, bytes]:
        """A new question, of somebody who is in or of whoever stands at the door; its number and its text."""
        number, asked = secrets.token_urlsafe(16), secrets.token_bytes(32)
        with self._lock:
            self._asked[number] = (self._now(), asked, person)
            while len(self._asked) > MOST:
                del self._asked[next(iter(self._asked))]
        return number, asked

    def take(self, number: str, person: int | None = None) -> bytes:
        """The question of this number, which is then gone; refused where it is not this person's, or old."""
        with self._lock:
            at, asked, whose = self._asked.pop(number, (0.0, b"", None))
        if not asked or whose != person or self._now() - at > HOLDS:
            raise people.stop("people/passkey-late", "This came too late, or twice", "try once more")
        return asked


def ask_to_make(
    questions: Questions, place: entering.halls.Hall, by: people.Who, site: Site
) -> dict[str, Any]:
    """What the browser is asked for a new passkey of somebody who is in."""
    import webauthn
    from webauthn.helpers import base64url_to_bytes, structs

    number, asked = questions.put(by.number)
    has = place.book.house(lambda c: house.passkeys(c, person=by.number))
    wanted = webauthn.generate_registration_options(
        rp_id=site.name,
        rp_name=place.facility.name,
        user_id=str(by.number).encode(),
        user_name=by.name,
        challenge=asked,
        exclude_credentials=[
            structs.PublicKeyCredentialDescriptor(id=base64url_to_bytes(row["id"])) for row in has
        ],
        authenticator_selection=structs.AuthenticatorSelectionCriteria(
            resident_key=structs.ResidentKeyRequirement.REQUIRED,
            user_verification=structs.UserVerificationRequirement.REQUIRED,
        ),
    )
    return {"number": number, "wanted": json.loads(webauthn.options_to_json(wanted))}


def keep(
    questions: Questions,
    place: entering.halls.Hall,
    by: people.Who,
    site: Site,
    answer: dict[str, Any],
    name: str = "",
) -> None:
    """Keep a new passkey, once its answer was checked."""
    import webauthn
    from webauthn.helpers import bytes_to_base64url, exceptions

    asked = questions.take(str(answer.get("number", "")), by.number)
    try:
        checked = webauthn.verify_registration_response(
            credential=_credential(answer),
            expected_challenge=asked,
            expected_rp_id=site.name,
            expected_origin=site.origin,
            require_user_verification=True,
        )
    except (exceptions.WebAuthnException, *ODD) as fault:
        raise _not_right() from fault
    told = {
        "id": bytes_to_base64url(checked.credential_id), "person": by.number,
        "public_key": bytes_to_base64url(checked.credential_public_key), "uses": checked.sign_count,
        "name": _printed(name), "made": canon.microseconds(clock.now()),
    }  # fmt: skip
    people.do(place, [["add passkey", told]], people.event("passkey", by, about=by.number))


def ask_to_enter(questions: Questions, site: Site) -> dict[str, Any]:
    """What the browser is asked of whoever stands at the door; no name is asked or told."""
    import webauthn
    from webauthn.helpers import structs

    number, asked = questions.put()
    wanted = webauthn.generate_authentication_options(
        rp_id=site.name, challenge=asked, user_verification=structs.UserVerificationRequirement.REQUIRED
    )
    return {"number": number, "wanted": json.loads(webauthn.options_to_json(wanted))}


def enter(questions: Questions, door: entering.Door, site: Site, answer: dict[str, Any]) -> entering.Entered:
    """Come in by a passkey."""
    import webauthn
    from webauthn.helpers import base64url_to_bytes, exceptions

    asked = questions.take(str(answer.get("number", "")))
    keys = entering.patient(door, "")
    credential = _credential(answer)
    id = _printed(credential.get("id"))
    found = door.place.book.house(lambda c: house.passkeys(c, id=id)) if id else []
    row = entering.row_of(door.place, person=found[0]["person"]) if found else None
    if row is None:
        raise entering.wrong(door, keys, None)
    try:
        checked = webauthn.verify_authentication_response(
            credential=credential,
            expected_challenge=asked,
            expected_rp_id=site.name,
            expected_origin=site.origin,
            credential_public_key=base64url_to_bytes(found[0]["public_key"]),
            credential_current_sign_count=found[0]["uses"],
            require_user_verification=True,
        )
    except (exceptions.WebAuthnException, *ODD):
        raise entering.wrong(door, keys, row) from None
    return entering.by_passkey(door, row, checked.new_sign_count, id)


def of(place: entering.halls.Hall, by: people.Who) -> list[dict[str, Any]]:
    """One's own passkeys: number, name and times."""
    rows = place.book.house(lambda c: house.passkeys(c, person=by.number))
    return [
        {
            "id": row["id"],
            "name": row["name"],
            "made": canon.moment(row["made"]),
            "used": canon.moment(row["used"]) if row["used"] else None,
        }
        for row in rows
    ]


def end(place: entering.halls.Hall, by: people.Who, id: str) -> None:
    """Take away one of one's own passkeys; somebody else's is not there."""
    acts = [["end passkey", {"id": id, "person": by.number}]]
    people.do(place, acts, people.event("passkey-ended", by, about=by.number))


def _printed(said: object) -> str:
    """A short text of signs that can be printed; nothing where it is none."""
    text = " ".join(said.split()) if isinstance(said, str) else ""
    return text[:1024] if text.isprintable() else ""


def _credential(answer: dict[str, Any]) -> dict[str, Any]:
    found = answer.get("answer")
    return found if isinstance(found, dict) else {}


def _not_right() -> Exception:
    return people.stop("people/passkey-wrong", "The passkey's answer is not right", "try once more")
