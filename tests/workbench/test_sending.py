"""A notice reaches whoever is to know of it: once, over every break of the network, and as advice."""

import email
import email.policy
import pathlib
import sys
import warnings
from datetime import UTC, datetime, timedelta

import pytest

sys.path.insert(0, str(pathlib.Path(__file__).parent))
with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # one of its own parts uses a module that Python will drop
    import apprise.plugins.email

import receivers

from brinehouse import findings, records
from brinehouse.facility import model
from brinehouse.workbench import (
    clock,
    concerns,
    mishaps,
    notices,
    on_call,
    people,
    recent,
    sending,
)
from brinehouse.workbench import sending_plan as plan

NOW = datetime(2026, 3, 14, 6, 40, tzinfo=UTC)
HALL = """
[notify.duty]
to = "env:TEST_DUTY"
what = "webhook"
for = ["on call"]
from = "watch"
"""
ASKS = """cause = "air drawn in"
consequence = "bubbles in fins"
harm = "animals die"
response = "look at the strainer"
time = "4 h"
"""


@pytest.fixture
def asking(hall):
    """The hall, with a limit that asks and an address."""
    text = hall.file.read_text("utf-8")
    first = text.index('source = "house rule"')
    hall.file.write_text(text[:first] + ASKS + text[first:] + HALL, "utf-8")
    assert hall.facility.limits[0].asks
    return hall


def pressure(number, value, minutes=10, **more):
    told = {
        "text": f"{value} %",
        "measured": clock.now() - timedelta(minutes=minutes),
        "entered": clock.now(),
    }
    return records.Reading(
        id=f"{number:032x}", place="pipefish", quantity="total gas pressure", value=value, unit="%",
        **(told | more),
    )  # fmt: skip


class Post:
    """Takes letters, or does not."""

    def __init__(self, *answers):
        self.answers, self.letters = list(answers), []

    def __call__(self, where, title, body):
        self.letters.append((where, title, body))
        return self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]


def sender(hall, post):
    return sending.Sender(lambda: hall, lambda place: notices.look(place).notices, post)


def later(minutes):
    clock.freeze(NOW + timedelta(minutes=minutes))


@pytest.fixture
def webhook(monkeypatch):
    with receivers.webhook() as (where, came):
        monkeypatch.setenv("TEST_DUTY", where)
        yield came


def test_a_notice_is_sent_once_and_written_down(asking, webhook):
    asking.write([pressure(1, 103.0), pressure(2, 103.1, 5)])
    out = sender(asking, sending.send)
    assert out.step() == 1
    assert out.step() == 0
    assert sender(asking, sending.send).step() == 0  # nor by the next server
    (letter,) = webhook
    assert letter["title"] == "Test Hall: act, pipefish: total gas pressure 103.1 %"
    assert "Do: look at the strainer" in letter["message"]
    assert "advice, not a command" in letter["message"]
    assert "5 min old" in letter["message"]
    (fact,) = asking.facts(["notice"])
    assert (fact.details["what"], fact.details["to"], fact.details["result"]) == ("sent", "duty", "taken")
    assert "127.0.0.1" not in str(fact.details)


def test_nothing_is_lost_while_the_network_is_down(asking, monkeypatch):
    with receivers.webhook([503, 503, 200]) as (where, came):
        monkeypatch.setenv("TEST_DUTY", where)
        asking.write([pressure(1, 103.0), pressure(2, 103.1, 5)])
        out = sender(asking, sending.send)
        assert out.step() == 0
        assert out.step() == 0  # it waits before it tries again
        for minutes in (1.5, 4, 10):
            later(minutes)
            out.step()
        assert len(came) == 1
    results = [fact.details["result"] for fact in asking.facts(["notice"])]
    assert results == ["failed", "taken"]


def test_nobody_listening_is_a_failure_and_no_crash(asking, monkeypatch):
    monkeypatch.setenv("TEST_DUTY", "json://127.0.0.1:9/")
    asking.write([pressure(1, 103.0), pressure(2, 103.1, 5)])
    assert sender(asking, sending.send).step() == 0
    (told,) = sending.concerns_of(asking)
    assert told.code == "sending/not-taken"


def test_what_went_by_itself_is_still_told(asking, monkeypatch):
    monkeypatch.setenv("TEST_DUTY", "json://127.0.0.1/")
    asking.write([pressure(1, 103.0, 30), pressure(2, 103.1, 25), pressure(3, 100.0, 5)])
    post = Post(True)
    sender(asking, post).step()
    (_, _, body), *rest = post.letters
    assert not rest
    assert "went back inside" in body


def test_a_second_time_is_a_new_occasion_and_a_rise_to_act_is_one(asking, monkeypatch):
    monkeypatch.setenv("TEST_DUTY", "json://127.0.0.1/")
    post = Post(True)
    out = sender(asking, post)
    asking.write([pressure(1, 101.9, 30)])
    out.step()
    asking.write([pressure(2, 103.0, 20), pressure(3, 103.1, 10)])
    out.step()
    asking.write([pressure(4, 100.0, 5)])
    out.step()
    asking.write([pressure(5, 102.0, 1)])
    out.step()
    titles = [title.partition(": ")[2] for _, title, _ in post.letters]
    assert [title.partition(",")[0] for title in titles] == ["watch", "act", "watch"]


def test_what_was_seen_or_shelved_is_not_sent(asking, monkeypatch):
    monkeypatch.setenv("TEST_DUTY", "json://127.0.0.1/")
    asking.write([pressure(1, 103.0), pressure(2, 103.1, 5)])
    (one,) = notices.look(asking).of("new")
    notices.act(asking, one, "seen", people.OPEN)
    post = Post(True)
    assert sender(asking, post).step() == 0
    assert post.letters == []


def letter_for(address, level="act", minutes=5.0, on_call="", now=NOW, **more):
    one = notices.Notice(
        id="0" * 16, what="reef: oxygen", level=findings.Level(level), priority="at once", state="new",
        since=now - timedelta(minutes=minutes), asked=now - timedelta(minutes=minutes), **more,
    )  # fmt: skip
    facility = model.Facility(
        name="Test", timezone="Europe/London", notify={address.id: address}, quiet=(1320, 390)
    )
    return plan.due([one], plan.Told(facility=facility, now=now, on_call=on_call), {})


def to(whom=("on call",), **more):
    return model.Notify(id="a", to="env:X", what="e-mail", whom=whom, **more)


def test_an_unseen_notice_goes_to_the_next_after_its_delay():
    assert letter_for(to(after=1800.0), minutes=29) == []
    assert letter_for(to(after=1800.0), minutes=30)


def test_an_address_gets_its_level_and_heavier():
    assert letter_for(to(), "watch") == []
    assert letter_for(to(level="watch"), "watch")
    assert letter_for(to(level="watch"), "act")
    assert letter_for(to(level="watch"), "watch", sure=False) == []


def test_in_quiet_hours_only_act_is_sent_and_the_rest_waits_for_the_morning():
    night, morning = NOW.replace(hour=3), NOW.replace(hour=6, minute=31)
    assert letter_for(to(level="watch"), "watch", now=night) == []
    assert letter_for(to(level="watch"), "act", now=night)
    assert letter_for(to(level="watch"), "watch", now=morning, minutes=300)
    assert letter_for(to(level="watch", quiet=(720, 780)), "watch", now=night)  # its own hours come first


@pytest.mark.parametrize(
    ("whom", "on_call", "after", "reached"),
    [
        (("on call",), "", 0.0, True),
        (("lead",), "Anna", 0.0, True),
        (("Anna",), "Anna", 0.0, True),
        (("Anna",), "Ben", 0.0, False),
        (("Anna",), "Ben", 60.0, True),  # the next to be asked
        (("Anna",), "", 0.0, True),  # nobody is on call: rather one too many
    ],
)
def test_a_persons_own_address_is_used_while_that_person_is_on_call(whom, on_call, after, reached):
    assert bool(letter_for(to(whom, after=after), on_call=on_call)) is reached


NASTY = "reef\r\nBcc: thief@example.org\r\n\r\n<script>alert(1)</script>\u2028\x00\x1b[31m"


def test_no_name_can_write_a_header_or_a_tag_into_a_mail():
    assert apprise.plugins.email.NotifyEmail
    one = notices.Notice(
        id="0" * 16, what=NASTY, level=findings.Level.ACT, priority="at once", state="new", asked=NOW,
        response=NASTY, consequence=NASTY,
    )  # fmt: skip
    facility = model.Facility(name=NASTY, notify={"a": to()})
    (made,) = plan.due([one], plan.Told(facility=facility, now=NOW, on_call=NASTY), {})
    assert len(made.title.splitlines()) == 1
    with receivers.mailbox() as (where, came):
        assert sending.send(where, made.title, made.body)
    (raw,) = came
    mail = email.message_from_bytes(raw, policy=email.policy.default)
    assert mail["bcc"] is None
    assert [name for name in mail if name.lower() == "to"] == ["To"]
    assert "thief@example.org" not in str(mail["to"])
    for part in mail.walk():
        if part.get_content_type() == "text/html":
            assert "<script" not in part.get_content()


@pytest.mark.parametrize(
    ("what", "kept", "code"),
    [
        ("webhook", "", "sending/no-address"),
        ("webhook", "mailto://a:b@example.org", "sending/not-an-address"),
        ("e-mail", "json://example.org", "sending/not-an-address"),
        ("e-mail", "syslog://localhost", "sending/not-an-address"),
        ("webhook", "json://one\njson://two", "sending/not-an-address"),
    ],
)
def test_only_an_address_of_its_kind_is_used_and_never_repeated(folder, monkeypatch, what, kept, code):
    monkeypatch.setenv("X", kept)
    with pytest.raises(mishaps.Refused) as refused:
        sending.address(folder, model.Notify(id="a", to="env:X", what=what))
    found = refused.value.findings[0]
    assert found.code == code
    assert not kept or kept not in str(found)


def test_an_address_may_stand_in_a_file_beside_the_hall(folder):
    (folder / "duty.txt").write_text("json://127.0.0.1/\n", "utf-8")
    assert (
        sending.address(folder, model.Notify(id="a", to="file:duty.txt", what="webhook"))
        == "json://127.0.0.1/"
    )


def test_an_address_that_is_not_there_is_told_on_the_sheet(asking, monkeypatch):
    monkeypatch.delenv("TEST_DUTY", raising=False)
    asking.write([pressure(1, 100.0)])
    told = [one for one in concerns.of(asking) if one.code == "sending/no-address"]
    assert [one.what for one in told] == ["notices do not reach duty"]


def test_a_trial_says_that_nothing_is_wrong(asking, webhook):
    assert sending.trial(asking, "duty")
    assert "nothing is wrong" in webhook[0]["title"]
    with pytest.raises(mishaps.Refused) as refused:
        sending.trial(asking, "nobody")
    assert refused.value.findings[0].code == "sending/unknown"


def test_the_phone_is_handed_over_and_its_end_is_its_end(hall):
    assert on_call.now(hall) is None
    on_call.take(hall, {"name": "Anna"})
    on_call.take(hall, {"name": " Ben ", "since": "2026-03-14 07:00", "until": "2026-03-14 19:00"})
    assert on_call.now(hall).name == "Anna"
    assert on_call.now(hall, NOW + timedelta(hours=1)).name == "Ben"
    assert on_call.now(hall, NOW + timedelta(hours=13)).name == "Anna"
    assert [one.name for one in on_call.turns(hall)] == ["Ben", "Anna"]
    assert "Anna" not in str([fact.details for fact in recent.facts(hall, "on-call")])
    for given in ({"name": " "}, {"name": "Cy", "since": "2026-03-14 07:00", "until": "2026-03-14 06:00"}):
        with pytest.raises(mishaps.Refused) as refused:
            on_call.take(hall, given)
        assert refused.value.findings[0].code in ("on-call/nobody", "on-call/no-such-end")
