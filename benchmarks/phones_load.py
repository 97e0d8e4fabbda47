"""Two hundred phones, each an entry every five seconds: a locust file, run by `bench_phones`.

Each asks once a second whether the hall can be reached, as a phone in a hand does.

Environment: ``LOAD_OUT`` the file that gets every phone's own list as JSON lines; ``LOAD_COOKIES`` a file of
one session cookie a line (may be missing: an open hall); ``LOAD_BEATS=no`` leaves the beats out;
``LOAD_BUG=forget`` plants a phone that believes it was stored whatever is answered, to show that the
comparison bites.
"""

from __future__ import annotations

import itertools
import json
import os
import pathlib
import random
import secrets
import time
from datetime import UTC, datetime

import gevent
from locust import FastHttpUser, constant_pacing, events, task

OUT = pathlib.Path(os.environ["LOAD_OUT"])
_cookies = pathlib.Path(os.environ.get("LOAD_COOKIES", "/nowhere"))
COOKIES = _cookies.read_text("utf-8").split() if _cookies.is_file() else []
BEATS = os.environ.get("LOAD_BEATS", "yes") == "yes"
_turn = itertools.count()
_done: list[dict[str, object]] = []


class Phone(FastHttpUser):
    """A phone on a round."""

    wait_time = constant_pacing(5)
    network_timeout = 30.0
    connection_timeout = 30.0

    def on_start(self) -> None:
        """Spread the phones over the five seconds, as people are."""
        number = next(_turn)
        self.cookie = COOKIES[number % len(COOKIES)] if COOKIES else ""
        self.device = secrets.token_hex(8)
        time.sleep(random.random() * 5.0)
        self.beating = gevent.spawn(self.beat)

    def on_stop(self) -> None:
        """The phone is laid down."""
        self.beating.kill()

    def beat(self) -> None:
        """Whether the hall can be reached, once a second."""
        headers = {"cookie": self.cookie} if self.cookie else {}
        while BEATS:
            self.client.get("/phone/beat", headers=headers)
            time.sleep(1.0)

    @task
    def entry(self) -> None:
        """One entry, sent again until the hall has it."""
        at = datetime.now(UTC).isoformat()
        value = f"{25 + random.random() * 0.9:.1f}"
        one = {
            "id": secrets.token_hex(16), "made": at, "person": None, "round": "load", "walk": "0" * 32,
            "stop": "mangrove", "kind": "reading",
            "body": {"place": "mangrove", "quantity": "temperature", "text": value, "unit": "°C",
                     "instrument": "", "basis": "", "sure": False, "reason": ""},
        }  # fmt: skip
        body = {"device": self.device, "sent": at, "entries": [one]}
        headers = {"x-brinehouse-phone": "1", "sec-fetch-site": "same-origin"}
        if self.cookie:
            headers["cookie"] = self.cookie
        begun = time.perf_counter()
        for attempt in range(8):
            with self.client.post(
                "/phone/entries", json=body, headers=headers, catch_response=True
            ) as answer:
                state, code = "unknown", answer.status_code
                if code == 200:
                    state = answer.json()["entries"][0]["state"]
                if state in ("stored", "same", "late") or os.environ.get("LOAD_BUG") == "forget":
                    answer.success()
                    break
                answer.failure(f"{code} {state} {(answer.text or '')[:160]}")
                if state == "refused":
                    break
            time.sleep(min(0.5 * 2**attempt, 5.0))
        _done.append({"id": one["id"], "state": state, "seconds": time.perf_counter() - begun})


@events.quitting.add_listener
def _keep(**_: object) -> None:
    OUT.write_text("\n".join(json.dumps(line) for line in _done), "utf-8")
