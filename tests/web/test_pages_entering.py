"""The door as its visitors meet it: cookies, the way back, phones of the hall, and what each page says."""

import datetime as dt
import re
import threading

import pytest
from peopled import PASSWORD, PIN
from starlette.requests import Request

from brinehouse.web import coming
from brinehouse.workbench import clock, entering, people
from conftest import visiting

HERE = {"origin": "http://127.0.0.1"}


@pytest.fixture
def hall(own_peopled):
    own_peopled.visitor.headers["origin"] = "http://127.0.0.1"
    own_peopled.visitor.cookies.clear()
    yield own_peopled
    clock.freeze(None)


def told(answer):
    """The code that a page shows once."""
    return re.search(r'class="told-code">([^<]+)<', answer.text)[1]


def codes(answer):
    return re.findall(r'class="code">([^<]+)<', answer.text)


def enter(visitor, name="Keeper Wren", password=PASSWORD, **more):
    return visitor.post("/enter", data={"name": name, "password": password, **more})


def test_a_printed_code_works_for_whoever_is_not_in_yet(hall):
    visitor = hall.visitor
    led = visitor.get("/log?place=mangrove&quantity=temperature")
    assert led.status_code == 303
    page = visitor.get(led.headers["location"])
    back = re.search(r'name="next" value="([^"]+)"', page.text)[1].replace("&amp;", "&")
    assert back == "/log?place=mangrove&quantity=temperature"
    answer = enter(visitor, next=back)
    assert (answer.status_code, answer.headers["location"]) == (303, back)
    assert visitor.get(back).status_code == 200


@pytest.mark.parametrize(
    "next", ["//elsewhere.example", "https://elsewhere.example/", "/\\elsewhere.example", "javascript:x", ""]
)
def test_the_way_back_never_leads_elsewhere(hall, next):
    assert enter(hall.visitor, next=next).headers["location"] == "/"
    assert "elsewhere" not in hall.visitor.get("/enter", params={"next": next}).text


def test_the_cookie_is_out_of_reach_for_scripts_and_other_sites(hall):
    (cookie,) = enter(hall.visitor).headers.get_list("set-cookie")
    parts = {part.strip().lower() for part in cookie.split(";")}
    assert {"httponly", "samesite=lax", "path=/", "max-age=43200"} <= parts
    assert cookie.startswith("brinehouse=")
    assert "secure" not in parts  # by plain http a browser would not send it back


def test_by_https_the_cookie_is_bound_to_the_host_and_never_sent_in_plain(hall):
    with visiting(hall.visitor.app, "https://127.0.0.1") as secure:
        answer = secure.post(
            "/enter",
            data={"name": "Keeper Wren", "password": PASSWORD},
            headers={"origin": "https://127.0.0.1"},
        )
        (cookie,) = answer.headers.get_list("set-cookie")
        assert cookie.startswith("__Host-brinehouse=")
        assert "Secure" in cookie
        assert "Domain" not in cookie
        ticket = cookie.split(";")[0].partition("=")[2]
        secure.cookies.clear()
        assert secure.get("/ask", headers={"cookie": f"brinehouse={ticket}"}).status_code == 303
        assert secure.get("/ask", headers={"cookie": f"__Host-brinehouse={ticket}"}).status_code == 200


def test_coming_in_gives_a_new_number_and_a_chosen_one_counts_for_nothing(hall):
    visitor = hall.visitor
    visitor.cookies.set("brinehouse", "chosen-by-somebody-else", domain="127.0.0.1")
    assert visitor.get("/ask").status_code == 303
    first = enter(visitor).headers["set-cookie"].split(";")[0]
    second = enter(visitor).headers["set-cookie"].split(";")[0]
    assert first != second
    visitor.cookies.clear()
    assert visitor.get("/ask", headers={"cookie": first}).status_code == 303


def test_leaving_ends_the_session_wherever_its_cookie_went(hall):
    visitor = hall.visitor
    stolen = enter(visitor).headers["set-cookie"].split(";")[0]
    assert "you are leaving" in visitor.get("/leave").text
    assert visitor.post("/leave").headers["location"] == "/enter"
    visitor.cookies.clear()
    assert visitor.get("/ask", headers={"cookie": stolen}).status_code == 303


def test_disabling_ends_a_session_at_the_next_request(hall):
    visitor = hall.visitor
    enter(visitor)
    assert visitor.get("/ask").status_code == 200
    people.disable(hall.hall, hall.numbers["keeper"], people.OPEN)
    assert visitor.get("/ask").status_code == 303
    assert codes(enter(visitor)) == ["people/not-let-in"]


def test_a_phone_becomes_the_hall_s_and_offers_names(hall):
    visitor = hall.visitor
    lead = {"cookie": hall.cookies["lead"]}
    code = told(visitor.post("/people/devices/code", headers=lead))
    assert "Keeper Wren" not in visitor.get("/enter").text  # a stranger learns no names
    answer = visitor.post("/enter/code", data={"code": code, "device": "phone 3"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/enter")
    page = visitor.get("/enter?next=/log/new")
    assert "Who is it?" in page.text
    tile = re.search(r'href="(/enter/pin\?[^"]+)">Keeper Wren<', page.text)[1].replace("&amp;", "&")
    page = visitor.get(tile)
    assert 'inputmode="numeric"' in page.text
    sent = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', page.text))
    assert codes(visitor.post("/enter/pin", data={**sent, "pin": "000000"})) == ["people/not-let-in"]
    answer = visitor.post("/enter/pin", data={**sent, "pin": PIN})
    assert (answer.status_code, answer.headers["location"]) == (303, "/log/new")
    assert "phone 3" in visitor.get("/me").text
    # another person takes the same phone: the session is the phone's, the entry is the person's
    reader = {"who": str(hall.numbers["reader"]), "pin": PIN}
    assert visitor.post("/enter/pin", data=reader).status_code == 303
    assert "Reader Wren" in visitor.get("/me").text


def test_a_pin_opens_nothing_elsewhere(hall):
    sent = {"who": str(hall.numbers["keeper"]), "pin": PIN}
    answer = hall.visitor.post("/enter/pin", data=sent)
    assert codes(answer) == ["people/strange-phone"]
    assert "set-cookie" not in answer.headers
    assert hall.visitor.get("/enter/pin?who=1").headers["location"] == "/enter"


def test_too_many_failures_are_told_to_wait(hall):
    for _ in range(10):
        assert enter(hall.visitor, password="wrong").status_code == 422
    answer = enter(hall.visitor)
    assert (answer.status_code, codes(answer)) == (429, ["people/wait"])
    assert enter(hall.visitor, name="Reader Wren").status_code == 303  # only that name waits


def test_a_new_person_is_led_to_choose_a_password_and_nowhere_else(hall):
    visitor = hall.visitor
    administrator = {"cookie": hall.fresh("administrator")}
    code = told(visitor.post("/people", data={"name": "Cy Rail", "role": "lead"}, headers=administrator))
    visitor.post("/enter/code", data={"code": code})
    assert visitor.get("/ask").headers["location"] == "/me"
    answer = visitor.post("/log/new", data={})
    assert (answer.status_code, answer.json()["code"]) == (403, "people/choose-first")
    assert "Choose a password of your own first" in visitor.get("/me").text
    new = "violet ladders in a row of jam"
    assert codes(visitor.post("/me/password", data={"new": new, "new again": "other"})) == [
        "people/not-twice"
    ]
    assert visitor.post("/me/password", data={"new": new, "new again": new}).status_code == 303
    assert visitor.get("/ask").status_code == 200


def test_a_password_change_asks_for_the_present_one_and_ends_all_else(hall):
    visitor, other = hall.visitor, hall.fresh("keeper")
    enter(visitor)
    new = {"new": "violet ladders in a row of jam", "new again": "violet ladders in a row of jam"}
    assert codes(visitor.post("/me/password", data={"old": "wrong", **new})) == ["people/not-let-in"]
    before = visitor.cookies["brinehouse"]
    assert visitor.post("/me/password", data={"old": PASSWORD, **new}).status_code == 303
    assert visitor.cookies["brinehouse"] != before
    assert visitor.get("/me").status_code == 200
    visitor.cookies.clear()
    for dead in (other, f"brinehouse={before}"):
        assert visitor.get("/ask", headers={"cookie": dead}).status_code == 303


def test_what_is_weighty_asks_for_the_pin_again(hall):
    clock.freeze(clock.now())
    visitor, number = hall.visitor, hall.numbers["keeper"]
    administrator = {"cookie": hall.fresh("administrator")}
    clock.freeze(clock.now() + dt.timedelta(minutes=6))
    page = visitor.get(f"/people/{number}", headers=administrator)
    assert 'name="again"' in page.text
    answer = visitor.post(f"/people/{number}/disable", headers=administrator)
    assert codes(answer) == ["people/again"]
    answer = visitor.post(f"/people/{number}/disable", data={"again": "wrong"}, headers=administrator)
    assert codes(answer) == ["people/not-let-in"]
    assert people.account(hall.hall, number).disabled is None
    answer = visitor.post(f"/people/{number}/disable", data={"again": PASSWORD}, headers=administrator)
    assert answer.status_code == 303
    assert people.account(hall.hall, number).disabled is not None
    assert visitor.post(f"/people/{number}/enable", headers=administrator).status_code == 303


def test_an_administrator_changes_resets_and_takes_out(hall):
    visitor, number = hall.visitor, hall.numbers["keeper"]
    administrator = {"cookie": hall.fresh("administrator")}

    def send(what, **data):
        return visitor.post(f"/people/{number}/{what}", data=data, headers=administrator)

    assert codes(send("role", role="owner")) == ["people/no-role"]
    assert send("role", role="lead").status_code == 303
    assert len(told(send("reset"))) == 11
    assert codes(send("blank", reason="")) == ["people/no-reason"]
    assert send("blank", reason="asked for it").headers["location"] == "/people"
    assert "Keeper Wren" not in visitor.get("/people", headers=administrator).text
    assert codes(send("disable")) == ["people/no-account"]
    assert "took a name out" in visitor.get("/people/log", headers=administrator).text
    assert hall.hall.book.verify() == []


def test_nobody_ends_or_takes_what_is_another_s(hall):
    """Another's session and passkey are not there."""
    visitor = hall.visitor
    keeper, lead = {"cookie": hall.fresh("keeper")}, hall.who("lead")
    theirs = lead.session[:16]
    told = {"id": "their-key", "person": lead.number, "public_key": "x", "made": 1}
    people.do(hall.hall, [["add passkey", told]])
    for address in (f"/me/sessions/{theirs}/end", "/me/passkey/their-key/end"):
        answer = visitor.post(address, headers=keeper)
        assert answer.status_code == 422
        assert codes(answer)[0] in ("people/no-session", "people/no-passkey")
    assert visitor.get("/ask", headers={"cookie": hall.cookies["lead"]}).status_code == 200
    assert "their-key" in visitor.get("/me", headers={"cookie": hall.cookies["lead"]}).text
    own = hall.fresh("keeper")
    ref = entering.who(hall.hall, own.partition("=")[2]).session[:16]
    assert visitor.post(f"/me/sessions/{ref}/end", headers=keeper).status_code == 303
    assert visitor.get("/ask", headers={"cookie": own}).status_code == 303


def test_one_time_codes_are_set_up_by_a_square(hall):
    import pyotp

    visitor = hall.visitor
    enter(visitor)
    page = visitor.get("/me/codes")
    assert 'src="data:image/svg+xml' in page.text
    secret = re.search(r'name="secret" value="([A-Z2-7]{32})"', page.text)[1]
    answer = visitor.post("/me/codes", data={"secret": secret, "code": "000000"})
    assert codes(answer) == ["people/code-wrong"]
    good = {"secret": secret, "code": pyotp.TOTP(secret).at(clock.now())}
    assert visitor.post("/me/codes", data=good).headers["location"] == "/me"
    assert visitor.post("/me/codes", data={"secret": "0" * 32}).headers["location"] == "/me/codes"
    assert codes(enter(visitor)) == ["people/not-let-in"]
    assert secret.encode() not in (hall.hall.folder / "logbook.sqlite").read_bytes()
    visitor.post("/me/codes/end")
    assert enter(visitor).status_code == 303


def test_the_first_account_closes_an_open_hall(small):
    small.headers["origin"] = "http://127.0.0.1"
    assert "This hall has no people yet" in small.get("/people").text
    assert "Make the first account" in small.get("/enter").text
    sent = {"name": "Ada Wren", "password": PASSWORD, "password again": "other"}
    assert codes(small.post("/people/first", data=sent)) == ["people/not-twice"]
    assert small.get("/ask").status_code == 200
    answer = small.post("/people/first", data={**sent, "password again": PASSWORD})
    assert (answer.status_code, answer.headers["location"]) == (303, "/me")
    assert "Ada Wren, administrator" in small.get("/me").text
    assert "Ada Wren may change everything by a password alone" in small.get("/people").text
    small.cookies.clear()
    assert small.get("/ask").status_code == 303


def test_every_sheet_of_the_door_is_whole_in_an_open_hall(small):
    from test_app import assert_sheet

    for address in ("/enter", "/enter/code", "/leave", "/people", "/people/first", "/people/devices"):
        answer = small.get(address)
        assert answer.status_code == 200, address
        assert_sheet(answer)
    for address in ("/me", "/me/codes", "/enter/pin"):
        assert small.get(address).status_code == 303, address
    assert not (small.app.state.desk.folder / "logbook.sqlite").exists()


def test_seeing_a_page_while_signed_in_waits_for_no_write(hall, monkeypatch):
    enter(hall.visitor)
    clock.freeze(clock.now() + dt.timedelta(minutes=10))
    gate, book = threading.Event(), hall.hall.book
    book._writer.submit(lambda _chain: gate.wait(20))
    try:
        assert hall.visitor.get("/leave").status_code == 200
    finally:
        gate.set()


def test_host_and_address_are_read_from_the_request():
    asked = Request({"type": "http", "headers": [(b"host", b"[::1]:8750")]})
    assert coming.host(asked) == "[::1]"
    assert coming.address(asked) == ""


def test_a_lock_out_note_asks_for_the_pin_again(hall):
    clock.freeze(clock.now())
    keeper = {"cookie": hall.fresh("keeper")}
    clock.freeze(clock.now() + dt.timedelta(minutes=6))
    sent = {"tag": "7", "why": "impeller out"}
    address = "/equipment/meter-B/lock"
    refused = hall.visitor.post(address, data=sent, headers=keeper)
    assert refused.status_code == 422
    assert "This asks for your PIN or password once more" in refused.text
    wrong = hall.visitor.post(address, data={**sent, "again": "000000"}, headers=keeper)
    assert (wrong.status_code, 'class="said"' in wrong.text) == (422, True)
    assert hall.hall.facts(["lock-out"]) == []
    assert hall.visitor.post(address, data={**sent, "again": PIN}, headers=keeper).status_code == 303
    assert len(hall.hall.facts(["lock-out"])) == 1
