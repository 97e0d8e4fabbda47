"""Coming in, being in and going out; and everything that must not let anybody in any more."""

import datetime as dt

import peopled_hall as hall_of
import pytest
from peopled_hall import OTHER, PASSWORD, PIN, door, refused

from brinehouse.workbench import clock, entering, guessing, one_time, people, sealing

ADMINISTRATOR, KEEPER = 1, 2
HOUR = dt.timedelta(hours=1)


@pytest.fixture
def place(peopled_place):
    hall_of.chosen(peopled_place, KEEPER)
    return peopled_place


@pytest.fixture
def phone(place):
    return hall_of.phone(place)


def later(step):
    clock.freeze(clock.now() + step)


def test_a_name_and_a_pin_on_a_phone_of_the_hall(place, phone):
    assert entering.tiles(place) == [(KEEPER, "Bo Tern")]
    came = entering.by_pin(door(place, phone), KEEPER, PIN)
    who = entering.who(place, came.ticket)
    assert (who.number, who.role, who.device, who.strong, who.sure) == (KEEPER, "keeper", phone, False, True)


def test_a_pin_opens_nothing_on_a_strange_phone(place):
    with refused("people/strange-phone"):
        entering.by_pin(door(place), KEEPER, PIN)


def test_coming_in_by_pin_takes_less_than_a_second_of_work(place, phone):
    """The notes ask for name and PIN in three seconds in all; at the product's own cost."""
    import time

    sealing.cost = sealing.PRODUCT
    place_who = people.account(place, KEEPER)
    assert place_who.has_pin
    begun = time.process_time()
    entering.tiles(place)
    with refused("people/not-let-in"):
        entering.by_pin(door(place, phone), KEEPER, "0000")
    assert time.process_time() - begun < 1.0


def test_every_cause_has_the_same_sentence(place, phone):
    people.disable(place, KEEPER, people.OPEN)
    said = set()
    for name, typed in (("Bo Tern", PASSWORD), ("Nobody Here", PASSWORD), ("Ada Wren", "wrong")):
        try:
            entering.by_password(door(place), name, typed)
        except entering.mishaps.Refused as refusal:
            said.add(str(refusal.findings))
    for number, typed in ((KEEPER, PIN), (ADMINISTRATOR, PIN), (99, PIN), (0, "x")):
        try:
            entering.by_pin(door(place, phone), number, typed)
        except entering.mishaps.Refused as refusal:
            said.add(str(refusal.findings))
    assert len(said) == 1


def test_every_cause_costs_one_hash(place, phone, monkeypatch):
    counted, fits = [], sealing.fits
    monkeypatch.setattr(sealing, "fits", lambda kept, text: counted.append(1) or fits(kept, text))
    for name in ("Bo Tern", "Nobody Here", ""):
        with refused("people/not-let-in"):
            entering.by_password(door(place), name, "wrong")
    for number in (KEEPER, 99):
        with refused("people/not-let-in"):
            entering.by_pin(door(place, phone), number, "0000")
    assert len(counted) == 5


def test_failures_are_counted_and_success_is_not(place):
    guesses = guessing.Guesses(lambda: 0.0)
    for _ in range(20):
        entering.by_password(door(place, guesses=guesses), "Bo Tern", PASSWORD)
    for _ in range(10):
        with refused("people/not-let-in"):
            entering.by_password(door(place, guesses=guesses), "Bo Tern", "wrong")
    with refused("people/wait"):
        entering.by_password(door(place, guesses=guesses), "bo  tern", PASSWORD)
    entering.by_password(door(place, device=hall_of.phone(place), guesses=guesses), "Bo Tern", PASSWORD)


def test_a_session_gets_a_number_of_its_own_and_the_one_before_ends(place):
    first = entering.by_password(door(place), "Bo Tern", PASSWORD)
    before = entering.who(place, first.ticket)
    second = entering.by_password(door(place, replaces=before.session), "Bo Tern", PASSWORD)
    assert second.ticket != first.ticket
    assert entering.who(place, first.ticket) == people.NOBODY
    assert entering.who(place, second.ticket).number == KEEPER
    assert entering.who(place, "a number somebody chose") == people.NOBODY  # fixation


def test_the_store_holds_no_ticket(place):
    ticket = entering.by_password(door(place), "Bo Tern", PASSWORD).ticket
    place.book.house_later([]).result()
    for path in place.folder.iterdir():
        assert ticket.encode() not in path.read_bytes()


@pytest.mark.parametrize("end", ["left", "disabled", "reset", "password", "absolute", "idle", "pin", "ended"])
def test_a_session_that_ended_lets_nobody_in(place, end):
    ticket = entering.by_password(door(place), "Bo Tern", PASSWORD).ticket
    who = entering.who(place, ticket)
    other = entering.who(place, entering.by_password(door(place), "Bo Tern", PASSWORD).ticket)
    {
        "left": lambda: entering.leave(place, who),
        "disabled": lambda: people.disable(place, KEEPER, people.OPEN),
        "reset": lambda: people.reset(place, KEEPER, people.OPEN),
        "password": lambda: entering.set_password(door(place), other, PASSWORD, OTHER),
        "pin": lambda: entering.set_pin(place, other, "590318"),
        "ended": lambda: entering.end_others(place, other),
        "absolute": lambda: later(entering.LASTS),
        "idle": lambda: later(entering.IDLE + entering.SEEN + dt.timedelta(seconds=1)),
    }[end]()
    assert entering.who(place, ticket) == people.NOBODY


def test_on_a_phone_of_the_hall_a_session_does_not_end_by_idling(place, phone):
    ticket = entering.by_pin(door(place, phone), KEEPER, PIN).ticket
    later(11 * HOUR)
    assert entering.who(place, ticket).number == KEEPER
    later(HOUR)
    assert entering.who(place, ticket) == people.NOBODY


def test_being_seen_is_written_every_five_minutes_and_never_waited_for(place, monkeypatch):
    ticket = entering.by_password(door(place), "Bo Tern", PASSWORD).ticket
    written, aside = [], place.book.house_aside
    monkeypatch.setattr(place.book, "house_aside", lambda acts: written.append(acts) or aside(acts))
    for _ in range(60):
        later(dt.timedelta(seconds=10))
        entering.who(place, ticket)
        place.book._writer.submit(lambda _chain: None).result()
    assert 1 <= len(written) <= 2  # in ten minutes
    monkeypatch.setattr(place.book, "house_later", lambda _acts: None)  # a disk that never answers
    later(dt.timedelta(minutes=20))
    assert entering.who(place, ticket).number == KEEPER


def test_a_new_role_holds_from_the_next_request(place):
    ticket = entering.by_password(door(place), "Bo Tern", PASSWORD).ticket
    people.change_role(place, KEEPER, "reader", people.OPEN)
    assert entering.who(place, ticket).role == "reader"


def test_what_is_weighty_asks_again_after_five_minutes(place, phone):
    who = entering.who(place, entering.by_pin(door(place, phone), KEEPER, PIN).ticket)
    assert who.sure
    ticket = entering.by_pin(door(place, phone), KEEPER, PIN).ticket
    later(dt.timedelta(minutes=6))
    who = entering.who(place, ticket)
    assert not who.sure
    with refused("people/not-let-in"):
        entering.again(door(place, phone), who, "0000")
    assert not entering.who(place, ticket).sure
    entering.again(door(place, phone), who, PIN)
    assert entering.who(place, ticket).sure
    later(dt.timedelta(minutes=6))
    entering.again(door(place, phone), who, PASSWORD)
    assert entering.who(place, ticket).sure


def test_one_sees_and_ends_one_s_own_sessions_and_nobody_else_s(place):
    own = entering.who(place, entering.by_password(door(place), "Bo Tern", PASSWORD).ticket)
    hall_of.chosen(place, ADMINISTRATOR)
    other = entering.who(place, entering.by_password(door(place), "Ada Wren", PASSWORD).ticket)
    shown = entering.sessions(place, own)
    assert [one["own"] for one in shown].count(True) == 1
    theirs = entering.sessions(place, other)[0]["ref"]
    for ref in (theirs, "", "nothing", own.session):
        with refused("people/no-session"):
            entering.end_session(place, own, ref)
    entering.end_session(place, own, own.session[:16])
    assert own.session[:16] not in {one["ref"] for one in entering.sessions(place, own)}


def test_a_new_person_comes_in_by_a_code_once_and_must_choose(place):
    number, code = people.add(place, "Cy Rail", "reader", people.OPEN)
    came = entering.by_code(door(place), code.lower())
    assert (came.person, came.needs_change) == (number, True)
    who = entering.who(place, came.ticket)
    assert who.needs_change
    with refused("people/not-let-in"):
        entering.by_code(door(place), code)
    with refused("people/password-short"):
        entering.set_password(door(place), who, "", "kettle")
    fresh = entering.set_password(door(place), who, "", OTHER)
    assert not entering.who(place, fresh.ticket).needs_change
    assert entering.who(place, came.ticket) == people.NOBODY


def test_a_code_that_is_old_or_was_followed_by_another_does_not_count(place):
    _, code = people.add(place, "Cy Rail", "reader", people.OPEN)
    newer = people.reset(place, people.everyone(place)[-1].number, people.OPEN)
    with refused("people/not-let-in"):
        entering.by_code(door(place), code)
    later(25 * HOUR)
    with refused("people/not-let-in"):
        entering.by_code(door(place), newer)
    device = people.device_code(place, people.OPEN)
    later(dt.timedelta(minutes=31))
    with refused("people/not-let-in"):
        entering.by_code(door(place), device)


def test_the_store_itself_uses_a_code_up_once(place):
    code = people.device_code(place, people.OPEN)
    told = {"id": sealing.code_digest(place.folder, code), "at": 1}
    people.do(place, [["use code", told]])
    with refused("people/code-used"):
        people.do(place, [["use code", told]])


def test_a_password_makes_a_machine_the_hall_s(place):
    came = entering.by_password(door(place), "Bo Tern", PASSWORD, device_name="desk in the pump room")
    device = entering.device(place, came.device_ticket)
    assert device["name"] == "desk in the pump room"
    assert entering.who(place, came.ticket).device == device["id"]
    assert entering.device(place, "another") is None


def test_one_time_codes_are_asked_for_and_count_once(place):
    import pyotp

    who = entering.who(place, entering.by_password(door(place), "Bo Tern", PASSWORD).ticket)
    secret = one_time.secret()
    with refused("people/code-wrong"):
        entering.set_codes(place, who, secret, "000000")
    totp = pyotp.TOTP(secret)
    entering.set_codes(place, who, secret, totp.at(clock.now()))
    for code in ("", "000000", totp.at(clock.now())):  # the last one was used to set them up
        with refused("people/not-let-in"):
            entering.by_password(door(place), "Bo Tern", PASSWORD, code)
    later(dt.timedelta(seconds=60))
    code = totp.at(clock.now())
    came = entering.by_password(door(place), "Bo Tern", PASSWORD, f"{code[:3]} {code[3:]}")
    assert entering.who(place, came.ticket).strong
    with refused("people/not-let-in"):
        entering.by_password(door(place), "Bo Tern", PASSWORD, code)
    entering.end_codes(place, who)
    entering.by_password(door(place), "Bo Tern", PASSWORD)


def test_one_time_codes_are_those_of_the_standard(tmp_path):
    """RFC 6238, appendix B, SHA-1 at 59 s: 94287082, of which six digits are shown."""
    sealing.key(tmp_path, make=True)
    sealed = sealing.seal(tmp_path, "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ")
    clock.freeze(dt.datetime(1970, 1, 1, 0, 0, 59, tzinfo=dt.UTC))
    assert one_time.step(tmp_path, sealed, "287082") == 1
    assert one_time.step(tmp_path, sealed, "287083") is None
    assert one_time.step(tmp_path, sealed, "") is None
    clock.freeze(None)


def test_a_square_code_is_a_picture_in_the_page_and_names_the_hall():
    where = one_time.address(one_time.secret(), "Bo Tern", "Test Hall")
    assert where.startswith("otpauth://totp/Test%20Hall:Bo%20Tern?")
    assert one_time.picture(where).startswith("data:image/svg+xml")


def test_hashes_are_made_anew_at_today_s_cost(place):
    sealing.cost = sealing.Cost(passes=2, memory=16, lanes=1)
    entering.by_password(door(place), "Bo Tern", PASSWORD)
    from brinehouse.logbook import house

    (row,) = place.book.house(lambda c: house.accounts(c, person=KEEPER))
    assert "m=16,t=2" in row["password"]


def test_without_the_folder_s_key_a_password_still_opens_the_door(place, phone):
    (place.folder / sealing.FILE).unlink()
    assert entering.by_password(door(place), "Bo Tern", PASSWORD).person == KEEPER
    with refused("people/no-key"):
        entering.by_pin(door(place, phone), KEEPER, PIN)


def test_a_command_hands_its_change_to_the_server_that_writes(place):
    """As `brinehouse people` does while the pages are served."""
    from brinehouse.workbench import handing

    body = handing.call("house", acts=[["change account", {"person": KEEPER, "role": "lead"}]], event=None)
    assert handing.take(place, body) == {"answer": [None]}
    assert people.account(place, KEEPER).role == "lead"
    assert "refused" in handing.take(place, {"what": "house", "acts": ["x"], "event": None})
    answer = handing.take(
        place, handing.call("blank", number=KEEPER, reason="left", at=clock.now(), person=None)
    )
    assert answer == {"answer": None}
