"""Passkeys: made and used by a device of the test's own, which signs as a real one does."""

import base64
import hashlib
import json

import cbor2
import peopled_hall as hall_of
import pytest
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from peopled_hall import door, refused

from brinehouse.workbench import entering, guessing, passkeys, people

SITE = passkeys.Site(name="hall.lan", origin="https://hall.lan")
KEEPER = 2
PRESENT, VERIFIED, ATTESTED = 0x01, 0x04, 0x40


def text(content):
    return base64.urlsafe_b64encode(content).rstrip(b"=").decode()


class Device:
    """A phone with one passkey (W3C Web Authentication, packed by hand; no attestation)."""

    def __init__(self, site=SITE, id=b"a passkey of 16b"):
        self.key, self.site, self.id, self.uses = ec.generate_private_key(ec.SECP256R1()), site, id, 0

    def _data(self, flags, more=b""):
        self.uses += 1
        name = hashlib.sha256(self.site.name.encode()).digest()
        return name + bytes([flags]) + self.uses.to_bytes(4, "big") + more

    def _client(self, kind, challenge):
        told = {"type": kind, "challenge": challenge, "origin": self.site.origin, "crossOrigin": False}
        return json.dumps(told).encode()

    def make(self, asked, flags=PRESENT | VERIFIED | ATTESTED):
        point = self.key.public_key().public_numbers()
        x, y = (number.to_bytes(32, "big") for number in (point.x, point.y))
        public = cbor2.dumps({1: 2, 3: -7, -1: 1, -2: x, -3: y})
        data = self._data(flags, bytes(16) + len(self.id).to_bytes(2, "big") + self.id + public)
        response = {
            "clientDataJSON": text(self._client("webauthn.create", asked["wanted"]["challenge"])),
            "attestationObject": text(cbor2.dumps({"fmt": "none", "attStmt": {}, "authData": data})),
        }
        return {"number": asked["number"], "answer": self._whole(response)}

    def sign(self, asked, flags=PRESENT | VERIFIED):
        data = self._data(flags)
        client = self._client("webauthn.get", asked["wanted"]["challenge"])
        signed = self.key.sign(data + hashlib.sha256(client).digest(), ec.ECDSA(hashes.SHA256()))
        response = {
            "clientDataJSON": text(client),
            "authenticatorData": text(data),
            "signature": text(signed),
        }
        return {"number": asked["number"], "answer": self._whole(response)}

    def _whole(self, response):
        return {"id": text(self.id), "rawId": text(self.id), "type": "public-key", "response": response}


@pytest.fixture
def place(peopled_place):
    hall_of.chosen(peopled_place, KEEPER)
    return peopled_place


@pytest.fixture
def questions():
    return passkeys.Questions()


@pytest.fixture
def who(place):
    return entering.who(place, entering.by_password(door(place), "Bo Tern", hall_of.PASSWORD).ticket)


@pytest.fixture
def phone(place, questions, who):
    made = Device()
    asked = passkeys.ask_to_make(questions, place, who, SITE)
    passkeys.keep(questions, place, who, SITE, made.make(asked), " my  phone ")
    return made


def test_a_passkey_opens_the_door_strongly(place, questions, who, phone):
    assert [one["name"] for one in passkeys.of(place, who)] == ["my phone"]
    asked = passkeys.ask_to_enter(questions, SITE)
    came = passkeys.enter(questions, door(place), SITE, phone.sign(asked))
    assert entering.who(place, came.ticket).number == KEEPER
    assert entering.who(place, came.ticket).strong
    assert passkeys.of(place, who)[0]["used"] is not None


def test_a_question_is_answered_once_and_not_late(place, who, phone):
    now = [0.0]
    questions = passkeys.Questions(lambda: now[0])
    answer = phone.sign(passkeys.ask_to_enter(questions, SITE))
    passkeys.enter(questions, door(place), SITE, answer)
    with refused("people/passkey-late"):
        passkeys.enter(questions, door(place), SITE, answer)
    answer = phone.sign(passkeys.ask_to_enter(questions, SITE))
    now[0] = passkeys.HOLDS + 1.0
    with refused("people/passkey-late"):
        passkeys.enter(questions, door(place), SITE, answer)
    with refused("people/passkey-late"):
        passkeys.enter(questions, door(place), SITE, {})


@pytest.mark.parametrize(
    "wrong", ["key", "site", "unverified", "replayed", "disabled", "nothing", "taken away"]
)
def test_what_is_not_right_opens_nothing(place, questions, who, phone, wrong):
    signer, flags, more = phone, PRESENT | VERIFIED, {}
    if wrong == "key":
        signer = Device()
    elif wrong == "site":
        signer.site = passkeys.Site(name="hall.lan", origin="https://elsewhere.example")
    elif wrong == "unverified":
        flags = PRESENT
    elif wrong == "replayed":
        passkeys.enter(questions, door(place), SITE, phone.sign(passkeys.ask_to_enter(questions, SITE)))
        signer.uses = 0
    elif wrong == "disabled":
        people.disable(place, KEEPER, people.OPEN)
    elif wrong == "taken away":
        passkeys.end(place, who, text(phone.id))
    elif wrong == "nothing":
        more = {"answer": "x"}
    answer = {**signer.sign(passkeys.ask_to_enter(questions, SITE), flags), **more}
    with refused("people/not-let-in"):
        passkeys.enter(questions, door(place), SITE, answer)


def test_making_one_takes_its_own_question_and_a_verified_person(place, questions, who):
    with refused("people/passkey-wrong"):
        asked = passkeys.ask_to_make(questions, place, who, SITE)
        passkeys.keep(questions, place, who, SITE, Device().make(asked, PRESENT | ATTESTED))
    with refused("people/passkey-wrong"):
        asked = passkeys.ask_to_make(questions, place, who, SITE)
        passkeys.keep(questions, place, who, SITE, {"number": asked["number"], "answer": {"id": 7}})
    other = hall_of.chosen(place, 1)
    with refused("people/passkey-late"):  # somebody else's question
        asked = passkeys.ask_to_make(questions, place, who, SITE)
        passkeys.keep(questions, place, other, SITE, Device().make(asked))
    assert passkeys.of(place, who) == []
    with refused("people/no-passkey"):
        passkeys.end(place, who, "nothing")


def test_failures_of_passkeys_count_too(place, questions, phone):
    guesses = guessing.Guesses(lambda: 0.0)
    stranger = Device(id=b"of nobody at all")
    for _ in range(guessing.LIMITS["address"]):
        with refused("people/not-let-in"):
            answer = stranger.sign(passkeys.ask_to_enter(questions, SITE))
            passkeys.enter(questions, door(place, guesses=guesses), SITE, answer)
    with refused("people/wait"):
        answer = phone.sign(passkeys.ask_to_enter(questions, SITE))
        passkeys.enter(questions, door(place, guesses=guesses), SITE, answer)


def test_questions_that_nobody_answers_do_not_pile_up(questions, monkeypatch):
    monkeypatch.setattr(passkeys, "MOST", 10)
    for _ in range(50):
        questions.put()
    assert len(questions._asked) == 10
