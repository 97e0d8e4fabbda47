"""Notices by e-mail and webhook: a thread beside the pages sends what is due and notes what became of it.

What waits is not kept in a list of its own: a notice that stands, and that no fact says was taken over, is
due. So nothing is lost by a crash or by days without a network, and nothing is sent twice for the same
occasion; only a machine that dies between sending and writing it down sends once more.
"""

from __future__ import annotations

import contextlib
import importlib
import logging
import os
import threading
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from brinehouse import findings, records
from brinehouse.facility import model
from brinehouse.workbench import clock, hall, mishaps, notices, now, on_call, recent
from brinehouse.workbench import sending_plan as plan

STEP = 20.0  # s between two looks
SCHEMES = {"e-mail": ("mailto", "mailtos"), "webhook": ("json", "jsons")}
"""What kinds of address an `apprise` address may be; nothing else is opened, whatever the file says."""


def address(place: Path, to: model.Notify) -> str:
    """An address, from where it is kept.

    Raises
    ------
    mishaps.Refused
        Where nothing is kept there, or it is no address of its kind; the address is never repeated.
    """
    kind, _, name = to.to.partition(":")
    if kind == "env":
        found = os.environ.get(name, "")
    else:
        try:
            found = (place / name).read_text("utf-8")
        except (OSError, UnicodeDecodeError, ValueError):
            found = ""
    found = found.strip()
    if not found:
        raise _refused(
            "sending/no-address", f"nothing is kept at {to.to} for {to.id}", "put the address there"
        )
    if urlsplit(found).scheme.lower() not in SCHEMES.get(to.what, ()) or len(found.splitlines()) > 1:
        ways = " or ".join(f"{scheme}://…" for scheme in SCHEMES.get(to.what, ()))
        raise _refused(
            "sending/not-an-address", f"what {to.to} holds is no {to.what} address", f"begin with {ways}"
        )
    return found


def _refused(code: str, text: str, hint: str) -> mishaps.Refused:
    return mishaps.Refused(findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint))


def send(where: str, title: str, body: str) -> bool:
    """Hand a letter over; False where the other side did not take it, for whatever reason."""
    for name in ("apprise", "urllib3", "requests"):
        logging.getLogger(name).setLevel(logging.CRITICAL)  # they would write addresses into the log
    try:
        return bool(_taken(where, title, body))
    except Exception:  # noqa: BLE001 - whatever breaks in there, the letter was not taken and is tried again
        return False


def _taken(where: str, title: str, body: str) -> Any:
    """Send by the one plug-in that is needed: `apprise` by itself would load all of its two hundred."""
    import apprise  # slow to load, and of use only where something is sent

    mail = urlsplit(where).scheme.lower() in SCHEMES["e-mail"]
    module, name = ("email", "NotifyEmail") if mail else ("custom_json", "NotifyJSON")
    plugin: Any = getattr(importlib.import_module(f"apprise.plugins.{module}"), name)
    understood = plugin.parse_url(where)
    if not understood:
        return False
    sender = apprise.Apprise()
    sender.add(plugin(**understood))
    return sender.notify(body=body, title=title, body_format="text")


class Sender:
    """Sends what is due, now and again, in a thread of its own."""

    def __init__(
        self,
        place: Callable[[], hall.Hall],
        look: Callable[[hall.Hall], Sequence[notices.Notice]],
        post: Callable[[str, str, str], bool] = send,
    ) -> None:
        self._place = place
        self._look = look
        self._post = post
        self._tries: dict[tuple[str, str], plan.Tried] = {}
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin."""
        self._thread = threading.Thread(target=self._run, daemon=True, name="notices")
        self._thread.start()

    def close(self) -> None:
        """End after the letter it is at."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join(timeout=2.0)

    def _run(self) -> None:
        while not self._stop.wait(STEP):
            with contextlib.suppress(
                mishaps.Refused
            ):  # a file that does not pass check is told on every page
                try:
                    self.step()
                except Exception as fault:  # noqa: BLE001 - the next look may do better; it is kept for the log
                    mishaps.keep(fault)

    def step(self) -> int:
        """Send what is due now; how many letters were taken over."""
        place = self._place()
        facility = place.facility
        if not facility.notify:
            return 0
        duty = on_call.now(place)
        told = plan.Told(facility=facility, now=clock.now(), on_call=duty.name if duty else "")
        letters = plan.due(self._look(place), told, {**_ended(place), **self._tries})
        return sum(self._one(place, letter) for letter in letters if not self._stop.is_set())

    def _one(self, place: hall.Hall, letter: plan.Letter) -> bool:
        before = self._tries.get(letter.key)
        tries = (before.tries if before else 0) + 1
        try:
            taken = self._post(address(place.folder, letter.to), letter.title, letter.body)
        except mishaps.Refused:
            taken = False
        result = "taken" if taken else "given up" if tries >= plan.MOST_TRIES else "failed"
        self._tries[letter.key] = plan.Tried(tries=tries, last=clock.now(), ended=result != "failed")
        if result != "failed" or tries == 1:  # each later try changes nothing that is worth an entry
            _write(place, letter, result)
        return taken


def _write(place: hall.Hall, letter: plan.Letter, result: str) -> None:
    at = clock.now()
    fact = records.Fact(
        id=hall.new_id(), kind="notice", measured=at, entered=at, place=letter.notice.place,
        details={
            "notice": letter.notice.id, "what": "sent", "about": letter.notice.what, "to": letter.to.id,
            "occasion": letter.notice.occasion, "result": result,
        },
    )  # fmt: skip
    place.write([fact])


def _ended(place: hall.Hall) -> dict[tuple[str, str], plan.Tried]:
    """Letters that were taken over or given up, as the logbook says."""
    found: dict[tuple[str, str], plan.Tried] = {}
    for fact in recent.facts(place, "notice"):
        told = fact.details
        if told.get("what") == "sent" and told.get("result") in ("taken", "given up"):
            key = (str(told.get("to", "")), str(told.get("occasion", "")))
            found[key] = plan.Tried(tries=1, last=fact.measured, ended=True)
    return found


def concerns_of(place: hall.Hall) -> list[now.Concern]:
    """Addresses that cannot be used, and letters that nobody took: told on the sheet `now`."""
    found: list[now.Concern] = []
    for to in place.facility.notify.values():
        try:
            address(place.folder, to)
        except mishaps.Refused as refusal:
            found.append(_unsent(to, refusal.findings[0].text, _changed(place), refusal.findings[0].code))
            continue
        last = _last(place, to.id)
        if last is not None and last.details.get("result") != "taken":
            why = f"{last.details.get('about', '')} was not taken over; it is tried again"
            found.append(_unsent(to, why, last.measured, "sending/not-taken"))
    return found


def _changed(place: hall.Hall) -> datetime:
    """When the facility file was last written: since then at the latest it names an address."""
    return datetime.fromtimestamp(place.file.stat().st_mtime, UTC)


def _last(place: hall.Hall, id: str) -> records.Fact | None:
    sent = (one for one in reversed(recent.facts(place, "notice")) if one.details.get("what") == "sent")
    return next((one for one in sent if one.details.get("to") == id), None)


def _unsent(to: model.Notify, why: str, since: datetime, code: str) -> now.Concern:
    return now.Concern(
        level=findings.Level.WATCH, since=since,
        what=f"notices do not reach {to.id}", why=why,
        next="look at the address and at the network; until then somebody has to look at this page",
        code=code, key=to.id, asks=False, href="/on-call",
    )  # fmt: skip


def trial(place: hall.Hall, id: str, post: Callable[[str, str, str], bool] = send) -> bool:
    """Send one letter that says it is a trial; whether it was taken over."""
    to = place.facility.notify.get(id)
    if to is None:
        raise _refused(
            "sending/unknown", f"'{id}' is no address of this hall", "name a [notify.ID] of the file"
        )
    title = plan.line(f"{place.facility.name}: a trial, nothing is wrong")
    return post(
        address(place.folder, to), title, "This is a trial of Brinehouse's notices. Nothing is wrong."
    )
