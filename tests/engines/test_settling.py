import json
import math
import time
from pathlib import Path

import numpy as np
import pytest

from brinehouse import findings
from brinehouse.engines import settling
from brinehouse.science import statistics, statistics_trial

NIST = Path(__file__).parents[1] / "science" / "published" / "nist"


def nist(name):
    y, x = np.loadtxt(NIST / f"{name}.dat", skiprows=60).T
    return settling.answer({"minutes": list(x), "value": list(y), "start": "0 mg/L", "unit": "mg/L"})


def approach(t, plateau=106.0, start=100.0, tau=6.0, step=0.1, noise=0.0, seed=0):
    t = np.asarray(t, float)
    y = (
        plateau
        + (start - plateau) * np.exp(-t / tau)
        + np.random.default_rng(seed).normal(0, 1, t.size) * noise
    )
    return {"minutes": list(t), "value": list(np.round(y / step) * step), "resolution": f"{step:g} %"}


def codes(answer):
    return {found.code for found in answer.findings}


def test_boxbod_is_settled_with_the_certified_plateau():
    answer = nist("BoxBOD")
    assert answer.state == "settled"
    assert answer.values["plateau"].value == pytest.approx(213.80940889, rel=1e-9)  # NIST StRD BoxBOD
    assert answer.values["time_constant"].value == pytest.approx(1 / 0.54723748542, rel=1e-9)
    assert answer.values["scatter"].value == pytest.approx(17.088072423, rel=1e-9)


def test_misra1a_cannot_say_although_its_numbers_are_exact():
    answer = nist("Misra1a")
    assert answer.state == "cannot-say"
    assert answer.values["plateau"].value == pytest.approx(238.94212918, rel=1e-9)  # NIST StRD Misra1a
    assert answer.values["time_constant"].value == pytest.approx(1 / 5.5015643181e-4, rel=1e-9)
    assert answer.values["time_constant"].high > 760  # longer than was watched
    assert "settling/too-short" in codes(answer)


def test_a_verdict_without_the_gate_would_be_noticed(monkeypatch):
    monkeypatch.setattr(statistics_trial, "_state", lambda fit, tolerance: "settled")
    assert nist("Misra1a").state != "cannot-say"


def test_a_trial_goes_from_cannot_say_through_settling_to_settled():
    whole = approach(np.arange(0, 32, 2), noise=0.03)
    states = []
    for n in range(2, 17):
        part = {**whole, "minutes": whole["minutes"][:n], "value": whole["value"][:n]}
        states.append(settling.answer(part).state)
    assert states[0] == "cannot-say"
    assert states[-1] == "settled"
    order = ["cannot-say", "settling", "settled"]
    assert [order.index(s) for s in states] == sorted(order.index(s) for s in states)
    assert set(states) == set(order)


def test_time_to_go_is_about_right():
    answer = settling.answer(approach(np.arange(0, 14, 1), noise=0.02))
    assert answer.state == "settling"
    due = 6 * math.log(6 / 0.3) - 13
    assert answer.values["minutes_to_go"].low < due < answer.values["minutes_to_go"].high
    assert answer.next_readings == ["Read again at minute 17."]


@pytest.mark.parametrize("rising", [True, False])
def test_three_equal_readings_over_four_minutes_are_settled_and_say_why(rising):
    answer = settling.answer({"minutes": "0 2 4" if rising else "4 2 0", "value": "104.4 104.4 104.4"})
    assert answer.state == "settled"
    assert {"settling/flat", "settling/step-assumed"} <= codes(answer)
    assert answer.values["time_constant"].value is None
    assert answer.values["plateau"].low < 104.4 < answer.values["plateau"].high


def test_equal_readings_of_one_minute_prove_nothing():
    assert settling.answer({"minutes": "0 0.5 1", "value": "104.4 104.4 104.4"}).state == "cannot-say"


def test_scatter_about_a_level_is_settled_but_a_slope_is_not():
    flat = settling.answer(
        {"minutes": "0 2 4 6 8 10 14", "value": "104.2 104.3 104.2 104.3 104.2 104.2 104.3"}
    )
    assert flat.state == "settled"
    slope = settling.answer(
        {"minutes": "0 2 4 6 8 10 14", "value": "104.0 104.1 104.2 104.3 104.4 104.5 104.7"}
    )
    assert slope.state == "cannot-say"
    assert slope.values["plateau"].high == math.inf


def test_two_readings_are_never_settled():
    answer = settling.answer({"minutes": [0, 30], "value": [104.4, 104.4]})
    assert answer.state == "cannot-say"
    assert "settling/two-readings" in codes(answer)


def test_a_slow_membrane_is_named():
    answer = settling.answer(approach(np.arange(0, 220, 10), tau=40))
    assert answer.state == "settled"
    assert "settling/slow" in codes(answer)
    assert "settling/slow" not in codes(settling.answer(approach(np.arange(0, 40, 2))))


def two_stage(fast=6.0, slow=4.0):
    t = np.arange(0, 41, 1.0)
    y = 106 - fast * np.exp(-t / 1.5) - slow * np.exp(-t / 12)
    return {"minutes": list(t), "value": list(np.round(y, 2)), "resolution": "0.01 %"}


def test_a_probe_that_settles_in_two_stages_is_judged_by_the_later_one():
    answer = settling.answer(two_stage())
    assert codes(answer) & {"settling/later-part", "settling/not-first-order"}
    assert answer.values["plateau"].value == pytest.approx(106, abs=0.05)
    assert answer.values["time_constant"].value == pytest.approx(12, rel=0.1)


def test_waves_are_not_called_settled():
    t = np.arange(0, 40, 1.0)
    y = 106 - 6 * np.exp(-t / 5) + 0.8 * np.sin(t / 3)
    answer = settling.answer(
        {"minutes": list(t), "value": list(y), "resolution": "0.01 %", "tolerance": "1 %"}
    )
    assert answer.state == "cannot-say"
    assert "settling/not-first-order" in codes(answer)


def test_waves_would_pass_without_the_runs_test(monkeypatch):
    monkeypatch.setattr(statistics, "too_few_runs", lambda residuals: 1.0)
    t = np.arange(0, 40, 1.0)
    y = 106 - 6 * np.exp(-t / 5) + 0.8 * np.sin(t / 3)
    answer = settling.answer(
        {"minutes": list(t), "value": list(y), "resolution": "0.01 %", "tolerance": "1 %"}
    )
    assert answer.state != "cannot-say"


def test_a_tolerance_asked_for_is_kept_to():
    given = approach(np.arange(0, 22, 1), noise=0.02)
    assert settling.answer({**given, "tolerance": "0.01 %"}).state == "settling"
    assert settling.answer({**given, "tolerance": "1 %"}).state == "settled"


def test_amounts_in_another_unit_are_converted():
    t = np.arange(0, 40, 2.0)
    values = [float(v) for v in np.round(20 * (1 - np.exp(-t / 6)), 1)]
    answer = settling.answer(
        {"minutes": list(t), "value": values, "unit": "mmHg", "start": "0 kPa", "tolerance": "1 hPa"}
    )
    assert answer.values["tolerance"].value == pytest.approx(0.750062, rel=1e-5)
    assert answer.state == "settled"


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"minutes": "0 2 x", "value": "1 2 3"}, "settling/unreadable"),
        ({"minutes": "0 2", "value": "1 2 3"}, "settling/unequal-columns"),
        ({"minutes": "3 3 3", "value": "1 2 3"}, "settling/no-span"),
        ({"minutes": "3", "value": "1"}, "settling/two-readings"),
        ({"minutes": "", "value": ""}, "settling/two-readings"),
        ({}, "settling/two-readings"),
        ({"minutes": "-1 0 2", "value": "1 2 3", "start": "0 %"}, "settling/no-span"),
        ({"minutes": "0 1 2", "value": "1 2 3", "start": "many"}, "settling/unreadable"),
        ({"minutes": "0 1 2", "value": "1 2 3", "unit": "flurbs"}, "settling/unreadable"),
        ({"minutes": "0 1 2", "value": "1 nan 3"}, "settling/unreadable"),
    ],
)
def test_what_cannot_be_used_is_refused_with_a_way_out(given, code):
    answer = settling.answer(given)
    assert answer.state == "cannot-say"
    assert code in codes(answer)
    assert all(found.hint and found.code in findings.codes() for found in answer.findings)
    assert findings.worst(answer.findings) == findings.Level.STOP


def test_an_answer_shows_its_working_and_what_it_cannot_see():
    answer = settling.answer(approach(np.arange(0, 20, 2)))
    assert {step.name for step in answer.working} == {"plateau", "time_constant", "interval", "remaining"}
    assert all(step.source for step in answer.working)
    unseen = {item.code for item in answer.not_excluded}
    assert unseen == {"settling/pinned", "settling/drifting-water", "settling/slow-tail"}
    assert set(answer.values) == {output.name for output in settling.QUESTION.outputs}


@pytest.mark.parametrize("n", [2, 3, 4, 20])
def test_the_page_is_never_handed_an_infinity(n):
    given = approach(np.arange(0, 2 * n, 2))
    trial, _ = settling.read(given)
    page = settling.live(trial)
    json.dumps(page, allow_nan=False)
    assert len(page["points"]) == n
    assert len(page["curve"]) == len(page["band"]) == 60


def test_the_band_of_the_page_holds_its_curve():
    page = settling.live(settling.read(approach(np.arange(0, 24, 2), noise=0.05))[0])
    assert all(
        low <= value <= high for (_, value), (_, low, high) in zip(page["curve"], page["band"], strict=True)
    )


def quickest(work, laps=25):
    best = math.inf
    for _ in range(laps):
        begun = time.process_time()
        work()
        best = min(best, time.process_time() - begun)
    return best


def test_an_answer_takes_no_time_to_notice():
    trial, _ = settling.read(approach(np.arange(0, 30, 1), noise=0.05))

    def yardstick():  # about 1.2 ms where nothing else runs: a busy machine stretches both alike
        x = np.linspace(0, 1, 3000)
        for _ in range(50):
            x = np.expm1(-np.abs(np.sin(x)))

    settling.answer_trial(trial)
    assert quickest(lambda: settling.answer_trial(trial)) < max(0.005, 4 * quickest(yardstick))


def test_a_settled_verdict_keeps_its_word():
    """Of 200 simulated trials, the plateau's interval holds the truth and little is left where it says so."""
    rng = np.random.default_rng(11)
    held = said = kept = 0
    for seed in range(200):
        tau, plateau = rng.uniform(3, 12), rng.uniform(98, 112)
        given = approach(np.arange(0, 26, 2), plateau=plateau, tau=tau, noise=0.08, seed=seed)
        answer = settling.answer(given)
        if answer.state == "cannot-say":
            continue
        held += answer.values["plateau"].low <= plateau <= answer.values["plateau"].high
        said += 1
        if answer.state == "settled":
            left = abs(plateau - 100) * math.exp(-24 / tau)
            kept += left > answer.values["tolerance"].value
    assert said > 120
    assert held / said >= 0.90
    assert kept <= 6  # settled although more was left: 95 % interval, so a few of 200


def three_stage(tail, seed=0, noise=0.03):
    """A probe with a tail of 48 minutes, rounded to 0.01."""
    t = np.arange(0, 40, 1.5)
    left = (1 - tail) * np.exp(-t / 4) + tail * np.exp(-t / 48)
    y = 106 - 6 * left + np.random.default_rng(seed).normal(0, noise, t.size)
    return {"minutes": list(t), "value": list(np.round(y, 2)), "resolution": "0.01 %"}


def test_a_slow_tail_is_seen_where_it_shows():
    seen = [bool(codes(settling.answer(three_stage(0.15, seed))) & {"settling/creep", "settling/later-part"})
            for seed in range(20)]  # fmt: skip
    none = ["settling/creep" in codes(settling.answer(three_stage(0.0, seed))) for seed in range(60)]
    assert sum(seen) >= 15
    assert sum(none) <= 3
    told = [settling.answer(three_stage(0.05, seed)) for seed in range(100)]
    told = [answer.values["plateau"] for answer in told if "settling/creep" in codes(answer)]
    assert told
    assert np.mean([value.low < 106 < value.high for value in told]) >= 0.85


def test_what_a_slow_tail_could_hide_is_said_in_numbers():
    answer = settling.answer(three_stage(0.0))
    tail = next(item for item in answer.not_excluded if item.code == "settling/slow-tail")
    assert "would not show" in tail.text
    noisy = settling.answer(three_stage(0.0, noise=0.3))
    assert "slow-tail" in str([item.code for item in noisy.not_excluded])

    def most(answer):
        text = next(item for item in answer.not_excluded if item.code == "settling/slow-tail").text
        return float(text.split("up to ")[1].split()[0])

    assert most(noisy) > 3 * most(answer)
