"""What a person reads when something broke that nobody foresaw: one sentence, never a traceback.

The traceback goes to a file of its own in the temporary folder, for whoever mends it.
"""

from __future__ import annotations

import os
import tempfile
import traceback
from pathlib import Path

from brinehouse import findings


class Refused(Exception):  # noqa: N818 - a refusal is not an error of ours
    """Something a person asked for that cannot be done; carries the findings that say why."""

    def __init__(self, *found: findings.Finding) -> None:
        super().__init__("; ".join(finding.text for finding in found))
        self.findings = found


def sentence(fault: BaseException) -> str:
    """One or more lines for a person.

    >>> sentence(PermissionError(13, "Permission denied", "hall/logbook.sqlite"))
    "hall/logbook.sqlite cannot be opened: permission denied  [workbench/disk]"
    """
    if isinstance(fault, Refused):
        return "\n".join(str(finding) for finding in fault.findings)
    carried = getattr(fault, "finding", None)
    if isinstance(carried, findings.Finding):
        return str(carried)
    if isinstance(fault, OSError) and fault.strerror:
        what = f"{fault.filename} cannot be opened" if fault.filename else "the disk or the network refused"
        return f"{what}: {fault.strerror.lower()}  [workbench/disk]"
    return (
        f"Something broke that should not have ({type(fault).__name__}); nothing was stored by this step.\n"
        f"    try: send the file {keep(fault)} to whoever looks after Brinehouse  [workbench/unforeseen]"
    )


def keep(fault: BaseException) -> Path:
    """Write the details to a file only its owner can read, and say where."""
    handle, name = tempfile.mkstemp(prefix="brinehouse-", suffix=".txt")
    with os.fdopen(handle, "w", encoding="utf-8") as page:
        page.write("".join(traceback.format_exception(fault)))
    return Path(name)
