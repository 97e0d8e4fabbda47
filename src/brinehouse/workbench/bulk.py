"""The gas budget over a whole file of rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from brinehouse import findings
from brinehouse.engines import gas_budget as engine
from brinehouse.workbench import columns, mishaps


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """How many rows were written, and what was found on the way."""

    rows: int
    findings: Sequence[findings.Finding]


def gas_budget(source: Path, target: Path, fixed: Mapping[str, str]) -> Done:
    """Read rows, add the budget's values in the same form of header, write them.

    Parameters
    ----------
    source, target : Path
        CSV or Parquet by their endings; headers ``name (unit)``.
    fixed : mapping
        Options given beside the file, the same for every row.

    Raises
    ------
    mishaps.Refused
        Nothing was written: a header without its unit, a cell that is no number, too little for a budget.
    """
    if target.exists() and source.exists() and target.samefile(source):
        raise mishaps.Refused(
            findings.Finding(
                code="columns/same-file",
                level=findings.Level.STOP,
                text=f"{target.name} is the file the rows come from",
                hint="name another file for the answers: what was measured stays as it is",
            )
        )
    table = columns.read(source, text=True)
    added, found = engine.bulk(table, fixed)
    if not added:
        raise mishaps.Refused(*found)
    columns.write(target, {**table, **added})
    rows = len(next(iter(table.values()))) if table else 0
    return Done(rows=rows, findings=found)
