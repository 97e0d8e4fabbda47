"""A hall for phones to talk to that fails on command: the real pages, and a store to be asked afterwards.

What a phone sends is answered by the agreed rules: stored once by its id, the same again is the same.
"""

import datetime as dt
import json

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

HAS = {"Retry-After": "1"}


def plan(stops=30, **more):
    """A round over invented stops; each asks one temperature."""
    return {
        "round": "morning",
        "name": "morning round",
        "version": f"v{stops}",
        "made": "2026-03-14T06:40:00+00:00",
        "zone": "Europe/London",
        "hall": "Test Hall",
        "stops": [stop(number) for number in range(1, stops + 1)],
        "people": [],
        "walk": None,
        **more,
    }


def stop(number, **more):
    return {
        "key": f"stop-{number}",
        "title": f"tank {number}",
        "place": f"tank-{number}",
        "place_name": f"tank {number}",
        "point": f"point-{number}",
        "zone": "clean",
        "zone_name": "clean side",
        "zone_change": None,
        "asks": [ask()],
        **more,
    }


def ask(**more):
    return {
        "kind": "reading",
        "quantity": "temperature",
        "label": "temperature",
        "unit": "°C",
        "units": ["°C"],
        "instrument": "probe-1",
        "instrument_note": "probe 1, corrected by −0.1",
        "basis": "",
        "decimals": 1,
        "expected": [24, 26],
        "possible": [-5, 50],
        "negative": True,
        "last": {"value": 24.6, "text": "24.6 °C", "at": "2026-03-13T18:20:00+00:00", "by": "M. Ashdown"},
        "trace": [[150, 24.5], [120, 24.7], [96, 24.4], [72, 24.6], [48, 24.8], [24, 24.6], [12, 24.6]],
        "aim": [24, 26],
        "choices": [],
        "scales": {},
        "slips": [],
        **more,
    }


class FailingHall:
    """ASGI: the application's pages, but plan, entries and pictures are this one's.

    Attributes
    ----------
    stored : dict
        Entry by id, as first stored.
    photos : dict
        Bytes by id.
    again : int
        Entries that came a second time.
    before, after : callable
        Given the number of the request: whether it fails before, or loses its answer after, the work.
    status : int
        Answered to entries instead of taking them; 0 takes them.
    refuse : callable
        Given an entry: why it is refused, or nothing.
    planted : dict
        Path to text that is served in place of the real file.
    """

    def __init__(self, app, **more):
        self.app, self.plan = app, plan(**more)
        self.stored, self.photos, self.again, self.requests = {}, {}, 0, 0
        self.before = self.after = lambda number: False
        self.status, self.refuse, self.planted = 0, lambda entry: "", {}
        self.photo_status = 0

    async def __call__(self, scope, receive, send):
        if scope["type"] != "http":
            return await self.app(scope, receive, send)
        request = Request(scope, receive)
        answer = await self.answer(request)
        if answer is None:
            return await self.app(scope, receive, send)
        if answer == "lost":
            raise ConnectionResetError  # the server closes the line without a word
        return await answer(scope, receive, send)

    async def answer(self, request):
        path = request.url.path
        if path in self.planted:
            return Response(self.planted[path], media_type="text/javascript")
        if path.endswith("/plan.json"):
            return JSONResponse(self.plan)
        if path == "/phone/entries" and request.method == "POST":
            return await self.entries(request)
        if path.startswith("/phone/photo/"):
            if self.photo_status:
                return Response("no", status_code=self.photo_status)
            name = path.rsplit("/", 1)[-1]
            self.photos[name] = await request.body()
            return self.told([{"id": name, "state": "stored", "code": "", "text": "", "hint": ""}])
        return None

    async def entries(self, request):
        assert request.headers["x-brinehouse-phone"] == "1"
        sent = json.loads(await request.body())
        self.requests += 1
        if self.status:
            return Response("no", status_code=self.status, headers=HAS)
        if self.before(self.requests):
            return "lost"
        assert 0 < len(sent["entries"]) <= 50
        told = [self.take(entry) for entry in sent["entries"]]
        return "lost" if self.after(self.requests) else self.told(told)

    def take(self, entry):
        why = self.refuse(entry)
        if why:
            return {
                "id": entry["id"],
                "state": "refused",
                "code": "round/refused",
                "text": why,
                "hint": "mend it",
            }
        state = "stored"
        if entry["id"] in self.stored:
            self.again += 1
            state = "same" if self.stored[entry["id"]] == entry else "aside"
        self.stored.setdefault(entry["id"], entry)
        return {"id": entry["id"], "state": state, "code": "", "text": "", "hint": ""}

    def told(self, entries):
        return JSONResponse({"now": dt.datetime.now(dt.UTC).isoformat(), "entries": entries})

    def readings(self):
        """What was read, by stop."""
        return [
            (entry["stop"], entry["body"]["text"])
            for entry in self.stored.values()
            if entry["kind"] == "reading"
        ]
