"""Intervals of time in hand over as many samples as asked for: on every core, or on a cluster, and resumable.

Sample number 17 is the same wherever it is worked, so the answer does not depend on who worked what, in which
order, or how often the work was broken off.
"""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import math
import pickle
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brinehouse import findings
from brinehouse.engines.time_in_hand import answering, preparing, question, sampling, telling
from brinehouse.facility import model
from brinehouse.workbench import clock, crews, hall, pieces, plain, swept, time_in_hand, time_told

Floats = NDArray[np.float64]
Span = tuple[int, int]
Progress = Callable[[int, int], None]
SAMPLES = 1000
FEWEST = 40  # below this the ends of 95 % are the two outermost samples and nothing more
PAIRS = 100  # of these, the ones that leave least
DAY = timedelta(hours=24)
FUNCTION = "brinehouse.workbench.sweep:piece"
COLUMNS = ("failure", "title", "kind", "place", "quantity", "limit", "unit", "side", "band", "hours", "low",
           "high")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Swept:
    """A sweep to its end.

    Attributes
    ----------
    found : Found
        The table with intervals.
    samples, kept, worked : int
        Samples asked for; of these, found on disk and worked out now.
    failures : int
        Rows that intervals were worked out for.
    folder : Path
        Where all of it is.
    findings : tuple of Finding
    """

    found: time_in_hand.Found
    samples: int
    kept: int
    worked: int
    failures: int
    folder: Path
    findings: tuple[findings.Finding, ...] = ()

    def as_json(self, facility: model.Facility) -> dict[str, Any]:
        """Plain data: that of time in hand, and what was swept."""
        told = time_told.as_json(self.found.table, self.found.sentence, facility)
        more = [one.as_json() for one in self.findings]
        return {
            **told,
            "findings": [*told["findings"], *more],
            "sweep": {
                "samples": self.samples, "kept": self.kept, "worked": self.worked,
                "failures": self.failures, "folder": str(self.folder),
            },
        }  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A sweep before it is begun.

    Attributes
    ----------
    work : Work
    asked : Asked
    table : Table
    ids : tuple of str
        Rows that get intervals.
    as_of : datetime or None
        Of the newest reading.
    kept : Kept
    findings : tuple of Finding
    """

    work: answering.Work
    asked: question.Asked
    table: question.Table
    ids: tuple[str, ...]
    as_of: datetime | None
    kept: pieces.Kept
    findings: tuple[findings.Finding, ...] = ()


def sweep(
    place: hall.Hall,
    wanted: time_told.Wanted | None = None,
    samples: int = SAMPLES,
    *,
    on: str = "",
    cores: int | None = None,
    progress: Progress | None = None,
) -> Swept:
    """Work out what is not there yet, keep it, and tell the whole.

    Parameters
    ----------
    place : Hall
    wanted : Wanted, optional
        From where, and whether pairs too.
    samples : int
    on : str
        Address of a Dask scheduler; empty: the cores of this machine.
    cores : int, optional
        How many; all of them where not told.
    progress : callable, optional
        Given how many samples there are, and of how many.
    """
    made = plan(place, wanted or time_told.Wanted())
    found, told = gathered(made.kept, samples)
    before = counted(found)
    task = crews.Task(FUNCTION, crews.pack((made.asked, made.ids)))
    made.kept.note(
        begun=clock.now().isoformat(), failures=list(made.ids), version=crews.identity(),
        clock=made.asked.clock, begin=made.asked.begin,
    )  # fmt: skip
    work(made.kept, task, samples, found, on=on, cores=cores, progress=progress)
    made.kept.note(whole=max(samples, int(made.kept.sheet().get("whole") or 0)))
    values = pieces.joined(found)
    table = made.work.with_intervals(made.table, made.ids, values)
    done = Swept(
        found=time_in_hand.Found(
            table=table,
            sentence=telling.sentence(table),
            as_of=made.as_of,
            share=1.0,
            used=sum(len(one) for one in made.asked.known.values()),
        ),
        samples=samples,
        kept=before,
        worked=samples - before,
        failures=len(made.ids),
        folder=made.kept.folder,
        findings=(*made.findings, *told),
    )
    _record(done, place.facility)
    return done


def work(
    kept: pieces.Kept,
    task: crews.Task,
    samples: int,
    found: dict[Span, Floats],
    *,
    on: str = "",
    cores: int | None = None,
    progress: Progress | None = None,
) -> None:
    """Work the pieces that are not in `found`, keep each as soon as it is there, and put it in."""
    left = [span for span in kept.spans(samples) if span not in found]
    if progress is not None:
        progress(counted(found), samples)
    crew = crews.cluster(on, task, left) if on else crews.local(task, left, cores)
    for span, values in crew:
        kept.write(span, values)
        found[span] = values
        if progress is not None:
            progress(counted(found), samples)


def counted(found: Mapping[Span, Floats]) -> int:
    """Samples in some pieces."""
    return sum(end - begin for begin, end in found)


def gathered(kept: pieces.Kept, samples: int) -> tuple[dict[Span, Floats], tuple[findings.Finding, ...]]:
    """What is kept of a sweep, and what was found altered."""
    altered: list[Span] = []
    found = pieces.gather(kept, samples, altered.append)
    told = [
        findings.Finding(
            code="sweep/altered",
            level=findings.Level.WATCH,
            text=f"the kept samples {begin + 1} to {end} are not as they were written; they were worked anew",
            hint=f"see who or what writes in {kept.folder}, and whether the disk is sound",
        )
        for begin, end in altered
    ]
    return found, tuple(told)


# -- what is asked -----------------------------------------------------------------------------------------


def plan(place: hall.Hall, wanted: time_told.Wanted) -> Plan:
    """The question, its central answer, and where its pieces are."""
    asked, as_of = time_in_hand.asked(place, wanted)
    asked = swept.plainly(asked)
    told: list[findings.Finding] = []
    if asked.begin == "now":
        asked, told = _as_begun(place.folder, asked)
    made = answering.Work(dataclasses.replace(asked, pairs=wanted.pairs, less_than=wanted.within))
    table = made.table()
    ids = tuple(
        row.id for row in (*table.rows, *[row for row in table.pairs if row.noticed][:PAIRS]) if row.noticed
    )
    key = swept.key_of(asked, ids)
    kept = pieces.Kept(pieces.folder_of(place.folder, key), key)
    return Plan(work=made, asked=asked, table=table, ids=ids, as_of=as_of, kept=kept, findings=tuple(told))


def _as_begun(folder: Path, asked: question.Asked) -> tuple[question.Asked, list[findings.Finding]]:
    """The question with the hour of the same one that was broken off within a day, where there is one."""
    for told in swept.sheets(folder):
        try:
            begun, hour = datetime.fromisoformat(told["begun"]), float(told["clock"])
            ids, broken = tuple(told["failures"]), not told.get("whole") and told["begin"] == "now"
        except (ValueError, KeyError, TypeError):
            continue
        then = dataclasses.replace(asked, clock=hour)
        if broken and clock.now() - begun < DAY and swept.key_of(then, ids) == told.get("question"):
            if hour == asked.clock:
                return asked, []
            text = f"goes on with the sweep begun at {preparing.clock(hour)}: 'now' is the water at that hour"
            return then, [findings.Finding(code="sweep/goes-on", level=findings.Level.NOTE, text=text)]
    return asked, []


# -- what a worker does ------------------------------------------------------------------------------------

_here = threading.local()  # courses are not shared between threads


def piece(data: bytes, begin: int, end: int) -> Floats:
    """Samples `begin` to `end` of a packed question, with one thread."""
    if getattr(_here, "data", None) != data:
        asked, ids = pickle.loads(data)  # noqa: S301 - from this program's own memory, never from a file
        known = {one.id: one.effects for one in asked.failures}
        sets = [tuple(act for one in row.split(answering.BOTH) for act in known[one]) for row in ids]
        _here.made = (preparing.prepare(asked).courses, sets, asked.doubts)
        _here.data = data
    courses, sets, doubts = _here.made
    return sampling.samples(courses, sets, doubts, begin, end, threads=1)


# -- what is written down ----------------------------------------------------------------------------------


def _record(done: Swept, facility: model.Facility) -> None:
    told = json.dumps(plain.finite(done.as_json(facility)), ensure_ascii=False, indent=1, allow_nan=False)
    pieces.whole(done.folder / "result.json", told.encode("utf-8"))
    pieces.whole(done.folder / "result.csv", table_csv(done.found.table).encode("utf-8"))


def table_csv(table: question.Table) -> str:
    """Every crossing of every failure as CSV; what a spreadsheet would take for a formula is text."""
    page = io.StringIO()
    out = csv.writer(page, lineterminator="\n")
    out.writerow(COLUMNS)
    for row in (*table.rows, *table.pairs):
        for one in row.crossings:
            line = one.line
            told = (row.id, row.title, row.kind, line.place, line.quantity, line.value, line.unit,
                    "above" if line.upper else "below", line.band, one.hours, one.low, one.high)  # fmt: skip
            out.writerow([_cell(each) for each in told])
    return page.getvalue()


def _cell(value: object) -> str:
    """A cell of CSV.

    >>> _cell("=1+2"), _cell(2.5), _cell(float("inf")), _cell(None)
    ("'=1+2", '2.5', '', '')
    """
    if isinstance(value, float):
        return repr(value) if math.isfinite(value) else ""
    text = "" if value is None else str(value)
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def chosen(rows: Sequence[question.Row], most: int) -> list[question.Row]:
    """The rows that leave least, of those that reach a limit."""
    return [row for row in rows if row.first is not None][:most]
