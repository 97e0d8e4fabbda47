"""A gas trial from its first minute to the log, with and without scripts."""

import datetime as dt
import re

import pytest

from brinehouse.workbench import clock
from conftest import NOW

READINGS = (
    (0, 100.4),
    (2, 102.0),
    (4, 103.0),
    (6, 103.7),
    (8, 104.1),
    (12, 104.6),
    (16, 104.8),
    (20, 104.9),
    (24, 104.9),
)


def begin(visitor, **changed):
    return visitor.post(
        "/gas/trials",
        data={"place": "pipefish", "instrument": "meter-B", "depth": "0.4 m", "by": "Test Person", **changed},
    )


def add(visitor, at, minute, value):
    return visitor.post(f"{at}/add", data={"minute": minute, "value": value, "by": "Test Person"})


def test_a_trial_runs_from_the_clock_to_the_log(small):
    at = begin(small).headers["location"]
    text = small.get(at).text
    assert "the trial is running" in text
    assert "Write the first value" in text
    for minute, value in READINGS:
        assert add(small, at, str(minute), str(value)).status_code == 303
    text = small.get(at).text
    assert "<svg" in text
    assert "104.9" in text
    done = small.post(f"{at}/end", data={"by": "Test Person"})
    assert done.status_code == 303
    ended = small.get(at).text
    assert "/end" not in ended
    assert "clock.js" not in ended
    assert "104.9 %" in small.get("/log?quantity=total+gas+pressure").text
    assert "ended" in small.get("/gas/trials").text


def test_a_trial_that_is_ended_early_leaves_a_doubtful_reading(small):
    at = begin(small).headers["location"]
    for minute, value in READINGS[:4]:
        add(small, at, str(minute), str(value))
    small.post(f"{at}/end", data={})
    text = small.get("/log?quantity=total+gas+pressure").text
    assert "doubtful" in text


def test_the_clock_is_the_server_s_and_needs_no_script(small):
    at = begin(small).headers["location"]
    clock.freeze(NOW + dt.timedelta(minutes=7, seconds=30))
    text = small.get(at).text
    assert re.search(r"<time [^>]*>7\.5</time>", text)
    assert 'value="7.5"' in text
    assert f'data-began="{NOW.isoformat()}"' in text


@pytest.mark.parametrize(
    ("minute", "value"),
    [
        ("", "104"),
        ("x", "104"),
        ("-1", "104"),
        ("inf", "104"),
        ("2", ""),
        ("2", "much"),
        ("2", "nan"),
        ("2", "104 m"),
    ],
)
def test_a_value_that_is_none_is_not_written(small, minute, value):
    at = begin(small).headers["location"]
    before = small.app.state.desk.revision()
    answer = add(small, at, minute, value)
    assert answer.status_code == 422
    assert "page/not-a-number" in answer.text
    assert small.app.state.desk.revision() == before


def test_a_decimal_comma_and_a_unit_are_understood(small):
    at = begin(small).headers["location"]
    assert add(small, at, "2", "104,6").status_code == 303
    assert add(small, at, "4", "104.7 %").status_code == 303
    assert "104.6" in small.get(at).text


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"place": "nowhere"}, "trial/unknown-name"),
        ({"instrument": ""}, "trial/unknown-name"),
        ({"depth": "deep"}, "page/not-a-depth"),
    ],
    ids=str,
)
def test_a_trial_with_a_name_that_is_not_there_does_not_begin(small, changed, code):
    answer = begin(small, **changed)
    assert answer.status_code == 422
    assert code in answer.text
    assert "No trial in the last month" in answer.text


def test_an_ended_trial_takes_nothing_more(small):
    at = begin(small).headers["location"]
    assert small.post(f"{at}/end", data={}).status_code == 422  # without a reading there is nothing to end
    add(small, at, "2", "104")
    assert small.post(f"{at}/end", data={}).status_code == 303
    late = add(small, at, "4", "105")
    assert late.status_code == 422
    assert "page/trial-ended" in late.text
    assert small.post(f"{at}/end", data={}).status_code == 422
