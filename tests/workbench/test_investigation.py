"""From the readings alone the investigation finds what the demo hall hides; changed laws make it say so."""

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
import hidden_hall

from brinehouse import findings, records
from brinehouse.demo import truths
from brinehouse.workbench import investigation

LAST = datetime(2026, 3, 14, 12, tzinfo=UTC)
SEEDS = [
    *range(1, 3),
    *(pytest.param(one, marks=pytest.mark.soak) for one in range(3, 21)),
]  # two at once, the rest in ``make soak``


def found(examined, code, thing=None):
    return [
        f
        for f in examined.findings
        if f.code == code and thing in (None, f.spot.thing, f.data.get("instrument"))
    ]


@pytest.mark.parametrize("seed", SEEDS)
def test_every_hidden_truth_is_found_from_the_readings_alone(seed):
    _, _, _, truth = hidden_hall.history(seed)
    got = hidden_hall.examined(seed)

    offsets = investigation.offsets_of(got.meters)
    low, high = offsets["meter-B"].interval()
    assert low > 0.0, "meter B reads high"
    assert low - 0.35 < truth.bias_b < high + 0.35
    low, high = offsets["meter-A"].interval()
    assert low < 0.2, "meter A can be used as it is"
    assert high > -0.2

    wrong = found(got, "gas/meter-salinity-zero", "DO-2")
    assert len(wrong) == 1, "the hand meter's salinity setting"
    assert wrong[0].data["factor"] == pytest.approx(
        truth.hand_meter_factor, abs=0.06
    )  # the gas meters it is held against are off by some percent too
    early, late = (datetime.fromisoformat(wrong[0].data[name]) for name in ("earliest", "latest"))
    assert early - timedelta(days=2) < truth.hand_meter_wrong_until < late + timedelta(days=2)

    assert found(got, "gas/barometer-sea-level", "weather-feed"), "the weather feed's kind of pressure"
    assert not found(got, "gas/barometer-sea-level", "meter-A")
    assert not found(got, "gas/barometer-sea-level", "meter-B")

    changes = got.changes["m"]
    assert changes.state == "found", "the pump that draws air"
    assert changes.findings[0].data["pump"] == truth.leak_pump
    assert changes.explanations[0].code == "changes/air-at-suction"
    since = datetime.fromisoformat(changes.findings[0].data["since"])
    assert abs(since - truth.leak_start) < timedelta(days=6)

    step = hidden_hall.row(hidden_hall.table(changes, "changes"), place="mangrove")["step"]
    assert step.interval()[1] < 0.0, "the new column takes gas out"


def test_the_shallow_animals_are_the_ones_in_trouble():
    got = hidden_hall.examined(1)
    act = [f.spot.thing for f in got.water.findings if f.code == "gas/animals-above-gas-line"]
    assert "pipefish" in act
    assert got.status == 1
    assert "P-203" in got.sentence


def test_without_a_leak_no_pump_is_blamed():
    for seed in (1, 2, 3):
        got = hidden_hall.examined(seed, truths.Laws(leak_mmhg=0.0))
        assert got.changes["m"].state == "cannot-say"
        assert got.changes["m"].next_readings


def test_another_leaking_pump_is_named_instead():
    assert (
        hidden_hall.examined(1, truths.Laws(leak_pump="P-201")).changes["m"].findings[0].data["pump"]
        == "P-201"
    )


@pytest.mark.parametrize("laws", [truths.Laws(meter_b_bias_walk=True), truths.Laws(drift_per_day=0.015)])
def test_a_meter_that_does_not_hold_still_is_told_and_gets_a_wider_interval(laws):
    def width(examined):
        low, high = investigation.offsets_of(examined.meters)["meter-B"].interval()
        return high - low

    usual, moving = hidden_hall.examined(3), hidden_hall.examined(3, laws)
    assert not found(usual, "instruments/not-steady")
    assert found(moving, "instruments/not-steady")
    assert width(moving) > 1.3 * width(usual)


def test_a_hall_without_gas_readings_is_told_what_to_read():
    facility, readings, facts, _ = hidden_hall.history(1)
    dry = [one for one in readings if one.quantity not in ("total gas pressure", "nitrogen residual")]
    got = investigation.examine(facility, dry, facts, as_of=truths.END)
    assert got.as_of is None
    assert "no gas readings" in got.title
    assert got.changes == {}
    assert findings.worst(got.meters.findings) is not None


def test_one_plain_object_holds_it_all():
    data = hidden_hall.examined(1).as_json()
    assert {"title", "sentence", "meters", "water", "changes", "findings", "next_readings"} <= data.keys()


def test_the_check_of_the_pump_bites_when_the_record_of_turns_is_swapped():
    facility, readings, facts, truth = hidden_hall.history(4)
    swap = {"P-203": "P-204", "P-204": "P-203"}
    import dataclasses

    other = [
        dataclasses.replace(f, details={**f.details, "pump": swap.get(f.details["pump"], f.details["pump"])})
        if f.kind == "pump-run"
        else f
        for f in facts
    ]
    got = investigation.examine(facility, readings, other, as_of=truths.END)
    assert got.changes["m"].findings[0].data.get("pump") != truth.leak_pump


@pytest.mark.soak
def test_95_percent_intervals_cover_the_truth_in_88_to_99_of_100_seeds():
    held = {"bias_b": 0, "leak": 0, "tgp": 0, "oxygen": 0, "nitrogen": 0}
    asked = dict.fromkeys(held, 0)

    def count(name, value, truth):
        interval = value.interval()
        asked[name] += 1
        held[name] += interval[0] <= truth <= interval[1]

    for seed in range(1, 101):
        _, _, _, truth = hidden_hall.history(seed)
        got = hidden_hall.examined(seed)
        count("bias_b", investigation.offsets_of(got.meters)["meter-B"], truth.bias_b_last)
        if got.changes["m"].state == "found":
            rise = hidden_hall.row(hidden_hall.table(got.changes["m"], "places"), place="mangrove")["rise"]
            count("leak", rise, truth.leak_mangrove)
        budget = hidden_hall.table(got.water, "budget")
        for line in budget.rows:
            if line["place"] not in truth.last_visit:
                continue
            when = datetime.fromisoformat(line["measured"])
            for name, column, series in (
                ("tgp", "total_gas_pressure", "tgp"),
                ("oxygen", "oxygen_percent", "oxygen %"),
                ("nitrogen", "nitrogen_percent", "nitrogen %"),
            ):
                count(name, line[column], truth.levels.at(line["place"], series, when))
    shares = {name: 100.0 * held[name] / asked[name] for name in held}
    print(shares, asked)
    assert all(88.0 <= share <= 99.0 for share in shares.values()), shares


class Crowded:
    """A hall with one gas reading a minute, newest first as the logbook gives them."""

    def __init__(self, count, source):
        self.book = self
        self.made = [
            records.Reading(
                id=f"{number:032x}", measured=LAST - timedelta(minutes=number), entered=LAST,
                place="mangrove", quantity=investigation.PRESSURE, value=101.0, unit="%", text="101 %",
                source=source,
            )
            for number in range(count)
        ]  # fmt: skip

    def readings(self, *, limit, **_):
        return self.made[:limit]


@pytest.mark.parametrize(
    ("source", "most"), [("hand", investigation.BY_HAND), ("import", investigation.MOST)]
)
def test_of_more_gas_readings_than_are_weighed_the_newest_are_and_it_is_said(source, most, monkeypatch):
    begin = LAST - timedelta(days=120)
    monkeypatch.setattr(investigation, "_begin", lambda *_: begin)
    assert investigation._window(Crowded(most, source)) == (begin, ())
    since, told = investigation._window(Crowded(most + 5, source))
    assert since == LAST - timedelta(minutes=most - 1)
    assert [(one.code, one.level) for one in told] == [("gas/only-the-newest", findings.Level.NOTE)]
    assert f"{since:%Y-%m-%d %H:%M}" in told[0].text
