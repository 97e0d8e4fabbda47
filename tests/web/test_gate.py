"""Each role at each route: what ``matrix.toml`` says happens, and a route it leaves out is nobody's."""

import asyncio
import json
import re

import pytest

from brinehouse.web import app, coming, gate
from brinehouse.workbench import people
from conftest import visiting

HERE = {"origin": "http://127.0.0.1"}
SIX = (*people.ROLES, "nobody")
HEAVY = {
    f"GET /{name}"
    for name in ("now", "loop", "flows", "balance", "gas", "gas/sources", "time", "time/card", "time/standby")
} | {f"GET /time/{name}{{id:path}}" for name in ("", "card/", "drill/")}
"""Sheets that are worked out at length; `test_app` asks for each, and the gate's own test for each role."""
WRITES = sorted(key for key in gate.matrix() if not key.startswith("GET "))


@pytest.fixture(scope="module")
def peopled(small_peopled):
    """A small hall with one person of each role, and their cookies."""
    return small_peopled


def filled(path):
    """A route's template with ids of nothing that is there."""
    return re.sub(r"\{number\}", "999", re.sub(r"\{(?!number)[^}]*\}", "nothing", path))


def asked(visitor, key, cookie):
    """One request as somebody; what was answered."""
    method, path = key.split(" ")
    visitor.cookies.clear()
    by_script = {"x-brinehouse-phone": "1"} if path.startswith("/phone/") else {}
    headers = {**HERE, **by_script, **({"cookie": cookie} if cookie else {})}
    return visitor.request(method, filled(path), headers=headers)


def test_every_route_stands_in_the_matrix_and_every_line_is_a_route(peopled):
    made = peopled.visitor.app
    served = {f"{method} {route.path}" for route in made.state.routes for method in route.methods}
    assert served - set(gate.matrix()) == set(), "a route without a line is open to nobody"
    assert set(gate.matrix()) - served == set(), "a line without a route"


def test_nothing_is_served_beside_the_pages_the_gate_knows(peopled):
    beside = [
        route.path for route in peopled.visitor.app.router.routes if getattr(route, "path", None) is not None
    ]
    assert beside == ["/static"]


def test_the_matrix_is_what_was_decided_for_some_cells():
    """By hand, so that a slip in the file is seen."""
    for key, roles in (
        ("GET /now", set(people.ROLES)),
        ("POST /log/new", set(people.ROLES) - {"reader"}),
        ("POST /log/imports", {"lead", "veterinarian", "administrator"}),
        ("POST /people", {"administrator"}),
        ("GET /people/log", {"administrator"}),
        ("POST /people/devices/code", {"lead", "administrator"}),
        ("GET /enter", set(SIX)),
        ("POST /begin", set()),
        ("POST /people/first", set()),
    ):
        assert gate.matrix()[key] == roles, key


async def through(made, key, cookie):
    """The status at the real gate, with nothing but an empty answer behind it."""
    method, path = key.split(" ")
    said = []

    async def behind(scope, receive, send):
        await send({"type": "http.response.start", "status": 204, "headers": []})
        await send({"type": "http.response.body", "body": b""})

    async def receive():
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message):
        said.append(message)

    scope = {
        "type": "http", "http_version": "1.1", "method": method, "path": filled(path),
        "raw_path": filled(path).encode(), "root_path": "", "query_string": b"", "scheme": "http",
        "app": made,
        "headers": [(b"host", b"127.0.0.1"), (b"cookie", cookie.encode())],
        "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 80), "state": {},
    }  # fmt: skip
    await gate.Gate(behind)(scope, receive, send)
    return said[0]["status"], dict(said[0]["headers"])


def expected(key, role):
    """What the matrix says of a cell: let through, led to the door, or refused."""
    allowed = gate.matrix()[key]
    if role in allowed or "nobody" in allowed:
        return "in"
    if not allowed:
        return "not there"
    return "refused" if role != "nobody" else "door"


def found(status, headers):
    """The same of an answer of the gate."""
    if status in (204, 404):
        return {204: "in", 404: "not there"}[status]
    if status == 303:
        return "door" if headers.get(b"location", b"").startswith(b"/enter?next=") else "in"
    return {401: "door", 403: "refused"}[status]


@pytest.mark.parametrize("role", SIX)
def test_each_cell_is_held_by_the_gate(peopled, role):
    async def all_cells():
        return {
            key: found(*await through(peopled.visitor.app, key, peopled.cookies[role]))
            for key in gate.matrix()
        }

    got = asyncio.run(all_cells())
    assert got == {key: expected(key, role) for key in gate.matrix()}


@pytest.mark.parametrize("role", ["nobody"])
def test_in_the_application_too_nobody_comes_where_the_matrix_says_no(peopled, role):
    wrong = {}
    for key in gate.matrix():
        if expected(key, role) == "in":
            continue
        answer = asked(peopled.visitor, key, peopled.cookies[role])
        assert "brinehouse" not in answer.cookies
        led = answer.status_code == 303 and answer.headers["location"].startswith("/enter")
        if not led and answer.status_code not in (401, 403, 404):
            wrong[key] = answer.status_code
    assert wrong == {}


@pytest.mark.parametrize("key", sorted(set(gate.matrix()) - HEAVY))
def test_whoever_may_is_let_through_by_the_application(peopled, key):
    roles = [role for role in SIX if expected(key, role) == "in"]
    if not roles:
        return
    answer = asked(peopled.visitor, key, peopled.fresh(roles[0]))
    if key == "POST /hand":
        assert "token" in answer.text  # it asks for more than a role
        return
    assert answer.status_code not in (401, 403), answer.text[:300]
    assert answer.status_code < 500, answer.text[:300]
    assert not answer.headers.get("location", "").startswith("/enter?next=")


def test_a_line_taken_out_of_the_matrix_closes_its_route(peopled, monkeypatch):
    """Planted: what the file does not name is open to nobody."""
    less = {key: roles for key, roles in gate.matrix().items() if key != "GET /log"}
    monkeypatch.setattr(gate, "matrix", lambda: less)
    assert asked(peopled.visitor, "GET /log", peopled.cookies["administrator"]).status_code == 404


def test_whoever_is_refused_is_told_which_roles_may(peopled):
    answer = asked(peopled.visitor, "GET /people/log", peopled.cookies["keeper"])
    assert answer.status_code == 403
    assert "Open to: administrator." in answer.text


def test_a_script_is_told_in_its_own_way(peopled):
    answer = peopled.visitor.get("/rounds/any/plan.json")
    assert (answer.status_code, answer.json()["code"]) == (401, "people/enter")
    answer = peopled.visitor.post("/phone/entries", headers={**HERE, "x-brinehouse-phone": "1"}, json={})
    assert (answer.status_code, answer.json()["code"]) == (401, "people/enter")
    peopled.visitor.cookies.clear()
    cookie = {"cookie": peopled.fresh("reader"), "x-brinehouse-phone": "1", **HERE}
    answer = peopled.visitor.post("/people", headers=cookie)
    assert (answer.status_code, answer.json()["code"]) == (403, "people/not-yours")


# A change comes from our own pages only -------------------------------------------------------------------

FOREIGN = {
    "no header": {},
    "another site": {"sec-fetch-site": "cross-site"},
    "a neighbour": {"sec-fetch-site": "same-site"},
    "another origin": {"origin": "http://elsewhere.example"},
    "no origin": {"origin": "null"},
    "an origin that is none": {"origin": "http://[bad"},
    "text that is JSON": {"content-type": "text/plain"},
}


@pytest.mark.parametrize("kind", FOREIGN)
def test_no_change_from_elsewhere_is_taken_with_somebodys_cookie(peopled, kind):
    before = peopled.state()
    for key in WRITES:
        method, path = key.split(" ")
        headers = {"cookie": peopled.cookies["administrator"], "x-brinehouse-phone": "1", **FOREIGN[kind]}
        answer = peopled.visitor.request(
            method, filled(path), headers=headers, content=json.dumps({"role": "administrator"})
        )
        assert answer.status_code == 403, (key, answer.status_code)
    assert peopled.state() == before


def test_an_address_that_only_takes_changes_cannot_be_asked_for(peopled):
    before = peopled.state()
    for key in WRITES:
        if f"GET {key.split(' ')[1]}" in gate.matrix():
            continue
        answer = peopled.visitor.get(
            filled(key.split(" ")[1]), headers={"cookie": peopled.cookies["administrator"]}
        )
        assert answer.status_code in (404, 405, 422), (key, answer.status_code)
    assert peopled.state() == before


def test_what_a_phone_sends_needs_a_header_no_form_can_set(peopled):
    for key in WRITES:
        method, path = key.split(" ")
        if path.startswith("/phone/"):
            answer = peopled.visitor.request(
                method, filled(path), headers={**HERE, "cookie": peopled.cookies["keeper"]}
            )
            assert answer.status_code == 403


# What a signed-in page says of itself ---------------------------------------------------------------------


def test_a_signed_in_sheet_names_who_is_in_and_is_kept_nowhere(peopled):
    answer = asked(peopled.visitor, "GET /log/new", peopled.fresh("keeper"))
    assert answer.headers["cache-control"] == "no-store"
    assert "Keeper Wren" in answer.text
    assert 'href="/leave"' in answer.text
    assert 'name="by"' not in answer.text  # who is signed in writes under that name


def test_what_is_written_stands_under_the_name_of_whoever_is_signed_in(peopled):
    sent = {"place": "mangrove", "quantity": "temperature", "value": "25.1 °C", "by": "Somebody Else"}
    headers = {**HERE, "cookie": peopled.cookies["keeper"]}
    answer = peopled.visitor.post("/log/new", data={**sent, "at": "2026-03-14T06:00"}, headers=headers)
    assert answer.status_code == 303, answer.text
    reading = peopled.hall.book.get(answer.headers["location"].rsplit("/", 1)[1])
    assert reading.person == peopled.numbers["keeper"]
    assert "Somebody Else" not in {one.name for one in peopled.hall.book.people()}


def test_a_hall_without_people_is_open_to_its_own_machine_alone(tmp_path):
    made = app.create_app(tmp_path, hosts=frozenset({"127.0.0.1", "hall.lan"}))
    with visiting(made) as visitor:
        assert visitor.get("/").status_code == 200
        answer = visitor.get("/", headers={"host": "hall.lan"})
        assert answer.headers["location"] == "/enter?next=/"


@pytest.mark.parametrize("by", ["192.168.1.77", "2001:db8::7", "::ffff:192.168.1.77", "localhost", ""])
@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "[::1]:8750"])
def test_the_machine_s_own_name_said_from_elsewhere_opens_nothing(tmp_path, by, host):
    made = app.create_app(tmp_path)
    with visiting(made, by=by) as visitor:
        answer = visitor.get("/", headers={"host": host})
        assert (answer.status_code, answer.headers["location"]) == (303, "/enter?next=/")
        begun = visitor.post("/begin", headers={"host": host, "origin": f"http://{host}"})
        assert begun.status_code in (401, 404)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("by", ["127.0.0.1", "127.0.0.53", "::1", "::ffff:127.0.0.1"])
def test_the_machine_s_own_line_is_known_in_each_of_its_forms(tmp_path, by):
    with visiting(app.create_app(tmp_path), by=by) as visitor:
        assert visitor.get("/").status_code == 200


def test_the_look_at_the_line_bites(tmp_path, monkeypatch):
    monkeypatch.setattr(coming, "nearby", lambda _: True)  # as if the name were all that is looked at
    with visiting(app.create_app(tmp_path), by="192.168.1.77") as visitor:
        assert visitor.get("/").status_code == 200


def test_by_plain_http_from_elsewhere_each_sheet_says_once_what_does_not_work(peopled):
    def said(path, by, scheme="http"):
        visitor = visiting(peopled.visitor.app, f"{scheme}://127.0.0.1", by)
        page = visitor.get(path, headers={"cookie": peopled.cookies["keeper"]}).text
        return page.count("Over plain http")

    for path in ("/log", "/rounds", "/equipment"):
        assert said(path, "192.168.1.77") == 1, path
    assert said("/log", "127.0.0.1") == 0
    assert said("/enter", "192.168.1.77", "https") == 0
    assert said("/trust", "192.168.1.77") == 0  # it says it itself, at length


@pytest.mark.parametrize("path", ["/log/%00", "/me/passkey/a%00b/end", "/people/%0a1", "/tank/%1b[31m"])
def test_an_address_with_signs_no_keyboard_writes_is_not_there(peopled, path):
    headers = {**HERE, "cookie": peopled.cookies["administrator"]}
    for method in ("GET", "POST"):
        assert peopled.visitor.request(method, path, headers=headers).status_code in (404, 405)


def test_numbers_that_are_no_person_s_are_not_there(peopled):
    headers = {**HERE, "cookie": peopled.fresh("administrator")}
    for number in (0, -1, 2**63, 10**40):
        answer = peopled.visitor.get(f"/people/{number}", headers=headers)
        assert (answer.status_code, "people/no-account" in answer.text) == (422, True)


def test_an_address_looked_for_again_is_the_same_route(peopled):
    routes = peopled.visitor.app.state.routes
    ways = gate.Ways(routes)
    for method, path in (
        ("POST", "/phone/entries"), ("GET", "/now"), ("HEAD", "/now"), ("DELETE", "/now"),
        ("GET", "/nowhere"), ("GET", "/tank/mangrove"), ("BREW", "/now"),
    ):  # fmt: skip
        scope = {"type": "http", "method": method, "path": path, "root_path": "", "headers": []}
        assert {ways.key(scope) for _ in range(3)} == {gate.key(scope, routes)}, (method, path)
    assert ("GET", "/tank/mangrove") not in ways._known, "only whole routes are kept: there are few of them"
    assert ("BREW", "/now") not in ways._known


def test_whether_the_hall_is_there_is_said_without_asking_who(peopled, monkeypatch):
    monkeypatch.setattr(gate, "_answer", None)
    for cookie in ("", peopled.cookies["keeper"], "brinehouse=nonsense"):
        answer = asked(peopled.visitor, "GET /phone/beat", cookie)
        assert (answer.status_code, answer.headers["cache-control"]) == (204, "no-store")
