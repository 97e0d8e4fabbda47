"""Nothing from another site changes the logbook, and no other name reaches it."""

import pytest

from brinehouse.web import app
from conftest import visiting

POSTS = (
    "/begin",
    "/log/new",
    "/log/x/supersede",
    "/gas/trials",
    "/gas/trials/x/add",
    "/gas/trials/x/end",
    "/log/imports",
    "/log/imports/again",
    "/log/imports/store",
    "/log/imports/x/withdraw",
    "/log/imports/x/back",
)


def head(visitor):
    return visitor.app.state.desk.revision()


@pytest.mark.parametrize("address", POSTS)
@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:81"},
        {"sec-fetch-site": "cross-site", "origin": "http://127.0.0.1"},
    ],
    ids=str,
)
def test_a_change_from_another_site_is_refused(small, address, headers):
    before = head(small)
    answer = small.post(address, data={"place": "mangrove"}, headers=headers)
    assert answer.status_code == 403
    assert answer.headers["content-security-policy"].startswith("default-src 'self'")
    assert head(small) == before


@pytest.mark.parametrize("address", POSTS[1:])
def test_our_own_pages_are_let_through(small, address):
    for headers in ({"sec-fetch-site": "same-origin"}, {"origin": "http://127.0.0.1"}, {}):
        assert small.post(address, data={}, headers=headers).status_code in (404, 422, 303)


@pytest.mark.parametrize(
    "host",
    [
        "elsewhere.example",
        "127.0.0.1.elsewhere.example",
        "",
        "10.0.0.5:8750",
        "localhost.example",
        "testserver",
    ],
)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_another_name_is_refused(small, host, method):
    answer = small.request(method, "/now", headers={"host": host})
    assert answer.status_code == 421
    assert answer.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("host", ["127.0.0.1:8750", "localhost", "[::1]:8750", "[::1]"])
def test_this_machine_is_let_in_by_each_of_its_names(small, host):
    assert small.get("/now", headers={"host": host}).status_code == 200


def test_the_policy_lets_no_script_in_but_our_files(small):
    policy = small.get("/log").headers["content-security-policy"]
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy


def test_no_page_carries_a_script_or_a_style_inside(demo):
    from test_app import PAGES, filled

    for address in PAGES:
        text = demo.get(filled(address, demo)).text
        assert "<style" not in text
        assert ' style="' not in text
        assert " onclick" not in text
        assert "<script>" not in text


def test_hosts_may_be_named_by_whoever_serves(tmp_path):
    made = app.create_app(tmp_path, hosts=frozenset({"hall.local"}))
    with visiting(made, "http://hall.local") as visitor:
        answer = visitor.get("/")  # without people, a hall is open to its own machine alone
        assert (answer.status_code, answer.headers["location"]) == (303, "/enter?next=/")
        assert visitor.get("/enter").status_code == 200
        assert visitor.get("/", headers={"host": "127.0.0.1"}).status_code == 421
