"""Why we think so: each finding of the investigation rests on what its engine gave."""

import pytest

from brinehouse import answers, findings
from brinehouse.workbench import reasons

QUESTION = answers.Question(name="q", title="q", inputs=(), outputs=())
TOTAL = answers.Value(value=104.0, unit="%", low=103.7, high=104.3)


def table(name, *rows):
    return answers.Table(name=name, title="", columns=(), rows=rows)


def finding(code, text="", thing=""):
    return findings.Finding(code=code, level=findings.Level.ACT, text=text, spot=findings.Spot(thing=thing))


PUMP = finding("changes/pump-goes-with-gas")
EVIDENCE = reasons.Evidence(
    meters=answers.Answer(
        question=QUESTION,
        sentence="",
        tables=(table("meters", {"meter": "B", "against": "air check, air check", "readings": 86}),),
    ),
    water=answers.Answer(
        question=QUESTION,
        sentence="",
        tables=(table("budget", {"place": "pipefish", "meter": "A", "total_gas_pressure": TOTAL}),),
    ),
    changes={
        "m": answers.Answer(
            question=QUESTION,
            sentence="",
            findings=(PUMP,),
            used=180,
            values={"ratio": answers.Value(value=2.04, unit="1")},
            explanations=(
                answers.Explanation(
                    code="c", text="air at a suction", fit=1.0, weight=1.0, corrected={}, next_reading=""
                ),
            ),
        )
    },
)


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (PUMP, "180 samples over its turns; N₂ rose 2.0 times as fast as O₂: air at a suction"),
        (
            finding("instruments/off", "B reads 0.9 % too high"),
            "2 air checks and 86 readings beside other meters",
        ),
        (
            finding("gas/animals-above-gas-line", thing="pipefish"),
            "A read 104.0 ± 0.3 % there, its own offset taken off",
        ),
        (finding("gas/animals-above-gas-line", thing="elsewhere"), ""),
        (finding("instruments/off", "Z reads 0.9 % too high"), ""),
        (finding("changes/pump-goes-with-gas", "of another system"), ""),
        (finding("gas/old"), ""),
    ],
)
def test_the_reason_is_what_the_engine_gave(said, why):
    assert reasons.why(said, EVIDENCE) == why


@pytest.mark.parametrize("code", ["gas/meter-salinity-zero", "gas/barometer-sea-level"])
def test_a_setting_that_is_wrong_has_its_reason(code):
    assert reasons.why(finding(code), EVIDENCE)
