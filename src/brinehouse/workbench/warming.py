"""Making ready what would otherwise be made when the first question waits for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from brinehouse import findings
from brinehouse.workbench import clock


@dataclass(frozen=True, slots=True)
class Warmed:
    """Seconds it took, and what is to be said."""

    seconds: float
    findings: Sequence[findings.Finding]


def warm() -> Warmed:
    """Compile the courses of plants after failures and keep what came of it; again, it takes no time."""
    from brinehouse.network.transients import running

    before = clock.now()
    compiled = running.warm()
    seconds = (clock.now() - before).total_seconds()
    told = () if compiled else (
        findings.Finding(
            code="warm/no-compiler",
            level=findings.Level.NOTE,
            text="numba is not installed: courses after failures are worked out uncompiled, far slower",
            hint="install it with 'pip install numba'; answers are the same",
        ),
    )  # fmt: skip
    return Warmed(seconds, told)
