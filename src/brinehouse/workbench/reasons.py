"""Why a finding of the investigation is thought to be so, in the row where it stands."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from brinehouse import answers, findings


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """The engines' answers that a finding may rest on."""

    meters: answers.Answer
    water: answers.Answer
    changes: Mapping[str, answers.Answer]


def why(finding: findings.Finding, evidence: Evidence) -> str:
    """One short line, or nothing where the finding says it all."""
    tell = _TELL.get(finding.code)
    return tell(finding, evidence) if tell is not None else ""


def _rows(answer: answers.Answer, name: str) -> list[Mapping[str, Any]]:
    return [row for table in answer.tables if table.name == name for row in table.rows]


def _pump(finding: findings.Finding, evidence: Evidence) -> str:
    for answer in evidence.changes.values():
        if finding in answer.findings:
            ratio = answer.values.get("ratio")
            fast = (
                f"; N₂ rose {ratio.value:.1f} times as fast as O₂"
                if ratio is not None and ratio.value is not None
                else ""
            )
            first = answer.explanations[0].text if answer.explanations else "it goes with that pump's turns"
            return f"{answer.used} samples over its turns{fast}: {first}"
    return ""


def _place(finding: findings.Finding, evidence: Evidence) -> str:
    for row in _rows(evidence.water, "budget"):
        if row["place"] == finding.spot.thing:
            total = row.get("total_gas_pressure")
            span = total.interval() if isinstance(total, answers.Value) else None
            if span is None:
                return ""
            level = f"{sum(span) / 2:.1f} ± {(span[1] - span[0]) / 2:.1f} %"
            return f"{row['meter']} read {level} there, its own offset taken off"
    return ""


def _meter(finding: findings.Finding, evidence: Evidence) -> str:
    for row in _rows(evidence.meters, "meters"):
        if finding.text.startswith(str(row["meter"])):
            checks = str(row["against"]).count("air check")
            told = f"{checks} air checks and " if checks > 1 else ""
            return f"{told}{row['readings']} readings beside other meters"
    return ""


def _beside(*_: object) -> str:
    return "beside the gas meters, its oxygen fits that setting best"


def _thinner(*_: object) -> str:
    return "the air is thinner at this altitude than the feed says"


_TELL: Mapping[str, Callable[[findings.Finding, Evidence], str]] = {
    "changes/pump-goes-with-gas": _pump,
    "gas/animals-above-gas-line": _place,
    "gas/animals-may-be-above-gas-line": _place,
    "instruments/off": _meter,
    "gas/meter-salinity-zero": _beside,
    "gas/barometer-sea-level": _thinner,
}
