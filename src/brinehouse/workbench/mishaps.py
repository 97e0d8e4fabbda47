"""What a person reads when something broke that nobody foresaw: one sentence, never a traceback.

The traceback goes to a file of its own in the temporary folder, for whoever mends it.
"""

from __future__ import annotations

import os
import tempfile
import traceback
from pathlib import Path

from brinehouse import findings, units


class Refused(Exception):  # noqa: N818 - a refusal is not an error of ours
    """Something a person asked for that cannot be done; carries the findings that say why."""

    def __init__(self, *found: findings.Finding) -> None:
        super().__init__("; ".join(finding.text for finding in found))
        self.findings = found


def sentence(fault: BaseException) -> str:
    """One or more lines for a person.

    >>> print(sentence(PermissionError(13, "Permission denied", "hall/logbook.sqlite")))
    hall/logbook.sqlite cannot be opened: permission denied
        try: see that it is there, that it is yours to use, and that the disk is not full  [workbench/disk]
    """
    return "\n".join(str(finding) for finding in told(fault))


def told(fault: BaseException) -> tuple[findings.Finding, ...]:
    """What a person is told of anything that stopped a step; what nobody foresaw is kept in a file."""
    if isinstance(fault, Refused):
        return fault.findings
    carried = getattr(fault, "finding", None)
    if isinstance(carried, findings.Finding):
        return (carried,)
    if isinstance(fault, units.NotUnderstood):
        return (_stop(fault.code, why(fault), fault.hint),)
    if isinstance(fault, OSError) and fault.strerror:
        what = f"{fault.filename} cannot be opened" if fault.filename else "the disk or the network refused"
        hint = "see that it is there, that it is yours to use, and that the disk is not full"
        return (_stop("workbench/disk", f"{what}: {fault.strerror.lower()}", hint),)
    said = f"Something broke that should not have ({type(fault).__name__}); nothing was stored by this step."
    hint = f"send the file {keep(fault)} to whoever looks after Brinehouse"
    return (_stop("workbench/unforeseen", said, hint),)


def why(fault: units.NotUnderstood) -> str:
    """What was not understood, and why; where nothing was there to quote, only why.

    >>> why(units.NotUnderstood("units/not-a-number", "warm", "is not a number", ""))
    "'warm': is not a number"
    """
    return f"'{fault.found}': {fault.why}" if fault.found.strip() else fault.why


def _stop(code: str, text: str, hint: str) -> findings.Finding:
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint)


def keep(fault: BaseException) -> Path:
    """Write the details to a file only its owner can read, and say where."""
    handle, name = tempfile.mkstemp(prefix="brinehouse-", suffix=".txt")
    with os.fdopen(handle, "w", encoding="utf-8") as page:
        page.write("".join(traceback.format_exception(fault)))
    return Path(name)
