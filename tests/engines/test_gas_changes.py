"""Which pump's running goes with the gas: simulated plants with a known truth, and what must not be found."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from brinehouse import findings
from brinehouse.engines import gas_changes
from brinehouse.engines.gas_changes import fitting, telling

START = datetime(2026, 1, 1, tzinfo=UTC)
PUMPS = ("P-1", "P-2", "P-3", "P-4")


def turns(days=60, hours=36):
    """Four pumps of which one rests, each in its turn."""
    made, resting = [], 3
    before = START - timedelta(days=2)
    made += [gas_changes.Turn(at=before, pump=pump, running=pump != PUMPS[resting]) for pump in PUMPS]
    for step in range(1, int(days * 24 / hours)):
        at = START + timedelta(hours=hours * step)
        made.append(gas_changes.Turn(at=at, pump=PUMPS[resting], running=True))
        resting = (resting + 1) % 4
        made.append(gas_changes.Turn(at=at, pump=PUMPS[resting], running=False))
    return made


def samples(size, ratio, *, pump="P-3", seed=3, count=80, since=30.0, noise=3.0):
    """ΔP, O2 and N2 at two places while one pump brings gas in, written here from the gas's own arithmetic:
    ΔP = 0.21 of dry pressure times O2 % + 0.79 of it times N2 %.
    """
    rng = np.random.default_rng(seed)
    when = [START + timedelta(hours=float(hour)) for hour in np.sort(rng.uniform(24, 59 * 24, count))]
    on = gas_changes.exposure(turns(), pump, when, 1.0) * [(at - START).days >= since for at in when]
    dry = 700.0
    oxygen = size / (dry * (0.21 + 0.79 * ratio)) * 100.0
    out = []
    for at, run in zip(when, on, strict=True):
        o, n = 98.0 + oxygen * run, 103.0 + oxygen * ratio * run
        p = dry * (0.21 * (o - 100) + 0.79 * (n - 100)) / 100.0
        out.append(
            gas_changes.Sample(
                at=at,
                place="deep" if rng.random() < 0.5 else "shallow",
                delta_p=p + rng.normal(0, noise),
                oxygen=o + rng.normal(0, 0.8),
                nitrogen=n + rng.normal(0, 0.6),
            )
        )
    return out


def test_the_pump_that_draws_air_is_named_with_its_size_and_its_kind_of_gas():
    answer = gas_changes.survey(samples(15.0, 1.85), turns(), ())
    assert answer.state == "found"
    assert "P-3" in answer.sentence
    assert answer.explanations[0].code == "changes/air-at-suction"
    low, high = answer.values["rise"].interval()
    assert low < 15.0 < high
    low, high = answer.values["ratio"].interval()
    assert low < 1.85 < high
    assert [finding.code for finding in answer.findings] == ["changes/pump-goes-with-gas"]


def test_bubbles_in_balance_are_not_called_air_at_a_suction():
    answer = gas_changes.survey(samples(25.0, 1.0, noise=2.0, count=150), turns(), ())
    assert answer.explanations[0].code == "changes/carried-under"


@pytest.mark.parametrize(("ratio", "code"), [(0.88, "changes/warming"), (0.0, "changes/daylight")])
def test_each_other_kind_of_gas_is_known_by_its_ratio(ratio, code):
    rises = {
        "oxygen": (4.0, 0.05, np.array([0.1, -0.1, 0.05, -0.05])),
        "nitrogen": (4.0 * ratio, 0.05, np.array([0.1, 0.1, -0.1, -0.1])),
    }
    assert telling._mechanisms(rises, "P-3", 40)[0].code == code


def test_without_a_leak_no_pump_is_named():
    named = 0
    for seed in range(20):
        answer = gas_changes.survey(samples(0.0, 1.8, seed=seed), turns(), ())
        named += answer.state == "found"
        if answer.state == "cannot-say":
            assert answer.findings[0].code == "changes/cannot-tell"
            assert answer.next_readings
    assert named == 0


def test_the_interval_of_the_size_covers_the_truth_about_as_often_as_it_says():
    held = 0
    for seed in range(60):
        low, high = gas_changes.survey(samples(15.0, 1.8, seed=seed), turns(), ()).values["rise"].interval()
        held += low < 15.0 < high
    assert 50 <= held <= 60


def test_a_dated_change_of_plant_is_told_apart_from_the_pump():
    change = gas_changes.Change(at=START + timedelta(days=20), text="column put into service")
    lower = [
        gas_changes.Sample(
            at=s.at,
            place=s.place,
            delta_p=s.delta_p - 8.0 * (s.at >= change.at),
            oxygen=s.oxygen,
            nitrogen=s.nitrogen,
        )
        for s in samples(15.0, 1.8)
    ]
    answer = gas_changes.survey(lower, turns(), (change,))
    steps = next(table for table in answer.tables if table.name == "changes")
    for row in steps.rows:
        low, high = row["step"].interval()
        assert low < -8.0 < high
        assert high < 0.0
    low, high = answer.values["rise"].interval()
    assert low < 15.0 < high


def test_a_slip_of_the_pen_does_not_steer_the_fit():
    rows = samples(15.0, 1.8)
    slip = rows[5]
    rows[5] = gas_changes.Sample(
        at=slip.at, place=slip.place, delta_p=slip.delta_p * 10, oxygen=slip.oxygen, nitrogen=slip.nitrogen
    )
    low, high = gas_changes.survey(rows, turns(), ()).values["rise"].interval()
    assert low < 15.0 < high


def test_too_few_samples_are_said_so():
    answer = gas_changes.survey(samples(15.0, 1.8)[:5], turns(), ())
    assert answer.state == "cannot-say"
    assert answer.findings[0].code == "changes/too-little"
    assert findings.worst(answer.findings) is findings.Level.NOTE


def test_water_remembers_a_pump_for_about_its_time_constant():
    one = [gas_changes.Turn(at=START, pump="P-1", running=True)]
    seen = gas_changes.exposure(
        one, "P-1", [START + timedelta(hours=h) for h in (-1.0, 0.0, 2.0, 100.0)], 2.0
    )
    assert seen == pytest.approx([0.0, 0.0, 1.0 - np.exp(-1.0), 1.0])


def test_the_generic_page_can_ask_it():
    rows = samples(15.0, 1.8, noise=1.0)
    hours = [(row.at - START).total_seconds() / 3600 for row in rows]
    running = [float(x > 0.5) for x in gas_changes.exposure(turns(), "P-3", [row.at for row in rows], 0.01)]
    given = {
        "hours": [h for h in hours if h > 30 * 24],
        "running": [r for h, r in zip(hours, running, strict=True) if h > 30 * 24],
        "delta_p": [s.delta_p for s, h in zip(rows, hours, strict=True) if h > 30 * 24],
        "oxygen": [s.oxygen for s, h in zip(rows, hours, strict=True) if h > 30 * 24],
        "nitrogen": [s.nitrogen for s, h in zip(rows, hours, strict=True) if h > 30 * 24],
    }
    answer = gas_changes.answer(given)
    assert answer.state == "found"


def test_the_test_of_the_size_bites_when_the_pump_is_read_the_wrong_way_round(monkeypatch):
    true, rows = gas_changes.exposure, samples(15.0, 1.85)
    monkeypatch.setattr(fitting, "exposure", lambda *a: 1.0 - true(*a))
    answer = gas_changes.survey(rows, turns(), ())
    low, high = answer.values["rise"].interval() if answer.values else (0.0, 0.0)
    assert not ("P-3" in answer.sentence and low < 15.0 < high)
