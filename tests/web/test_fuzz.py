"""Whatever is sent to whichever route, the answer is a sheet: never a fault of ours, never a look inside.

The description that the cases are made from is drawn from the routes themselves and from the boxes that each
page's own module reads; so a new route is tried from its first day on.
"""

import inspect
import re
import sys

import hypothesis
import peopled
import pytest

from brinehouse.web import app

QUICK, LONG = 3, 110
TRACES = ("Traceback", 'File "', "site-packages", "sqlalchemy", "object at 0x", "/src/brinehouse")
HEAVY = ("/gas/sources", "/balance", "/flows", "/loop", "/time", "/gas")
"""Sheets worked out at length: a few cases each also in the long run."""

TEXT = {"type": "string", "maxLength": 60}
ENTRY = {
    "type": "object",
    "properties": {
        "id": {"anyOf": [{"type": "string", "pattern": "^[0-9a-f]{32}$"}, TEXT]},
        "made": {"anyOf": [{"type": "string", "format": "date-time"}, TEXT]},
        "person": {"anyOf": [{"type": "integer"}, {"type": "null"}, TEXT]},
        "round": TEXT, "walk": TEXT, "stop": TEXT,
        "kind": {"enum": ["reading", "observation", "feeding", "note", "walk", "stop", "x"]},
        "body": {
            "type": "object",
            "properties": {
                "place": {"enum": ["mangrove", "pipefish", ""]},
                "quantity": {"enum": ["temperature", "pH", "oxygen", "nothing"]},
                "text": {"anyOf": [{"enum": ["25.4", "246", "-1", "1e999", "nan"]}, TEXT]},
                "unit": {"enum": ["°C", "", "mg/L"]},
                "sure": {"type": "boolean"},
            },
        },
    },
}  # fmt: skip
BATCH = {
    "type": "object",
    "properties": {"device": TEXT, "sent": TEXT, "entries": {"type": "array", "items": ENTRY, "maxItems": 4}},
}


def boxes(endpoint):
    """The names of the boxes that the module of a page reads."""
    text = inspect.getsource(sys.modules[endpoint.__module__])
    return sorted(set(re.findall(r'(?:given|typed\(request\))(?:\.get\(|\[)"([\w -]+)"', text))) or ["by"]


def operation(route, method, known):
    """One route as an API description has it."""
    parameters = [
        {
            "name": name, "in": "path", "required": True,
            "schema": {"anyOf": [{"enum": known}, {"type": "string", "minLength": 1, "maxLength": 40}]},
        }
        for name in re.findall(r"\{(\w+)", route.path)
    ]  # fmt: skip
    made = {"responses": {"default": {"description": "a sheet"}}, "parameters": parameters}
    if method == "GET":
        made["parameters"] += [
            {"name": name, "in": "query", "schema": TEXT} for name in boxes(route.endpoint)[:12]
        ]
    elif "/phone/entries" in route.path:
        made["requestBody"] = {"content": {"application/json": {"schema": BATCH}}}
    elif ".json" in route.path:
        made["requestBody"] = {"content": {"application/json": {"schema": {"type": "object"}}}}
    elif method == "PUT":
        picture = {"type": "string", "format": "binary", "maxLength": 400}
        made["requestBody"] = {"content": {"application/octet-stream": {"schema": picture}}}
    else:
        form = {"type": "object", "properties": dict.fromkeys(boxes(route.endpoint), TEXT)}
        made["requestBody"] = {"content": {"application/x-www-form-urlencoded": {"schema": form}}}
    return made


def description(made, known):
    """Every route of the application."""
    paths = {}
    for route in made.state.routes:
        plain = re.sub(r"\{(\w+):\w+\}", r"{\1}", route.path)
        for method in sorted(route.methods - {"HEAD"}):
            paths.setdefault(plain, {})[method.lower()] = operation(route, method, known)
    return {"openapi": "3.0.3", "info": {"title": "hall", "version": "1"}, "paths": paths}


def wrong(answer):
    """What is wrong with an answer, or nothing."""
    if answer.status_code >= 500 and answer.status_code != 503:
        return f"{answer.status_code}: {answer.text[:300]}"
    return next((trace for trace in TRACES if trace in answer.text), "")


def tried(made, found, cases):
    """Try an operation so often; what was wrong, and how many were tried."""
    bad, count = [], 0

    @hypothesis.settings(
        max_examples=cases, database=None, deadline=None, phases=[hypothesis.Phase.generate],
        suppress_health_check=list(hypothesis.HealthCheck), derandomize=True,
    )  # fmt: skip
    @hypothesis.given(case=found.as_strategy())
    def one(case):
        nonlocal count
        count += 1
        ask = case.as_transport_kwargs(base_url="http://127.0.0.1")
        headers = {
            **{name: str(value) for name, value in (ask.get("headers") or {}).items()},
            "origin": "http://127.0.0.1", "x-brinehouse-phone": "1",
            "cookie": made.cookies["administrator"],
        }  # fmt: skip
        headers = {name: value for name, value in headers.items() if value.isascii() and value.isprintable()}
        answer = made.visitor.request(
            ask["method"], ask["url"], params=ask.get("params"), json=ask.get("json"),
            data=ask.get("data") if isinstance(ask.get("data"), dict) else None,
            content=ask.get("data") if isinstance(ask.get("data"), bytes | str) else None, headers=headers,
        )  # fmt: skip
        if answer.status_code == 401:
            made.cookies["administrator"] = made.fresh("administrator")
        if fault := wrong(answer):
            bad.append(f"{ask['method']} {ask['url']} {ask.get('data') or ask.get('json')}: {fault}")

    one()
    return bad, count


def all_tried(made, cases):
    import schemathesis

    known = ["mangrove", "pipefish", "meter-B", "tank", "nothing", "round"]
    schema = schemathesis.openapi.from_dict(description(made.visitor.app, known))
    bad, count = [], 0
    for result in schema.get_all_operations():
        found = result.ok()
        few = cases if not found.path.startswith(HEAVY) else min(cases, 12)
        wrong_here, tried_here = tried(made, found, few)
        bad += wrong_here
        count += tried_here
    return bad, count


@pytest.fixture
def hall(tmp_path):
    with peopled.visited(tmp_path / "hall") as made:
        yield made


def test_no_case_breaks_a_route(hall):
    bad, count = all_tried(hall, QUICK)
    assert not bad, "\n".join(bad[:10])
    assert count > 200


@pytest.mark.soak
def test_no_case_of_ten_thousand_breaks_a_route(hall):
    bad, count = all_tried(hall, LONG)
    assert not bad, "\n".join(bad[:10])
    assert count >= 10_000


def test_a_route_that_breaks_is_found(tmp_path, monkeypatch):
    from brinehouse.web.pages import tank

    monkeypatch.setattr(tank.tags, "read", lambda facility, typed: 1 / 0)
    with peopled.visited(tmp_path / "hall") as made:
        import schemathesis

        schema = schemathesis.openapi.from_dict(description(made.visitor.app, ["mangrove"]))
        found = next(one.ok() for one in schema.get_all_operations() if one.ok().path == "/t/{code}")
        bad, _ = tried(made, found, 4)
    assert bad


def test_the_description_names_every_route_with_its_boxes(hall):
    made = description(hall.visitor.app, ["mangrove"])
    assert (
        "value"
        in made["paths"]["/log/new"]["post"]["requestBody"]["content"]["application/x-www-form-urlencoded"][
            "schema"
        ]["properties"]
    )
    assert len(made["paths"]) > 80
    assert app.PAGES
