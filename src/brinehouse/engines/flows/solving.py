"""One part of the plant, one span: its flows reconciled, and what does not fit judged."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from brinehouse.engines.flows import gathering, question
from brinehouse.facility import model
from brinehouse.science import reconciliation

Floats = reconciliation.Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Columns are runs, then storage of each place, then items; rows are places, then one tie per item."""

    part: gathering.Part
    items: tuple[question.Item, ...]
    measured: Floats
    covariance: Floats
    rows: Floats
    offsets: Floats
    loose: tuple[str, ...]  # places whose storage nothing tells
    found: reconciliation.Reconciled

    def at(self, item: int) -> int:
        """The column of an item."""
        return len(self.part.runs) + len(self.part.places) + item

    def run(self, name: str) -> tuple[float, float]:
        """A run's reconciled flow and standard uncertainty; NaN where open, in m³/h."""
        at = self.part.runs.index(name)
        value, variance = float(self.found.values[at]), float(self.found.covariance[at, at])
        return value, math.sqrt(max(variance, 0.0)) if variance == variance else math.nan

    def gaps(self) -> dict[str, float]:
        """What is left over at each balance after reconciliation; nought but for rounding, in m³/h."""
        count = len(self.part.places)
        left = self.rows[:count] @ self.found.values - self.offsets[:count]
        return dict(zip(self.part.places, left.tolist(), strict=True))


def build(
    facility: model.Facility,
    part: gathering.Part,
    items: Sequence[question.Item],
    storage: Mapping[str, tuple[float, float]],
    losses: Mapping[str, float],
    *,
    free: str = "",
) -> Case:
    """Set up and reconcile; the storage of a place named `free` is left open, as if water left unseen."""
    runs, places = part.runs, part.places
    n, p, k = len(runs), len(places), len(items)
    rows = np.zeros((p + k, n + p + k))
    rows[:p, :n] = part.matrix
    rows[:p, n : n + p] = -np.eye(p)
    for at, item in enumerate(items):
        rows[p + at, n + p + at] = 1.0
        for run, share in item.runs:
            rows[p + at, runs.index(run)] -= share
    offsets = np.zeros(p + k)
    offsets[:p] = [losses.get(place, evaporation(facility, place)) for place in places]
    measured = np.full(n + p + k, np.nan)
    doubts = np.ones(n + p + k)
    loose: list[str] = []
    for at, place in enumerate(places):
        told = None if place == free else storage.get(place) or held(facility, part, place)
        if told is None:
            loose.append(place)
        else:
            measured[n + at], doubts[n + at] = told
    measured[n + p :] = [item.value for item in items]
    doubts[n + p :] = [item.u for item in items]
    covariance = np.diag(doubts**2)
    _shared(items, covariance, n + p)
    return Case(
        part=part,
        items=tuple(items),
        measured=measured,
        covariance=covariance,
        rows=rows,
        offsets=offsets,
        loose=tuple(loose),
        found=reconciliation.reconcile(measured, covariance, rows, offsets),
    )


def _shared(items: Sequence[question.Item], covariance: Floats, first: int) -> None:
    """One instrument carried from point to point errs alike everywhere, in part."""
    for one, item in enumerate(items):
        for two in range(one + 1, len(items)):
            if item.kind == "measured" and item.instrument and item.instrument == items[two].instrument:
                shared = question.SHARED * item.u * items[two].u
                covariance[first + one, first + two] = covariance[first + two, first + one] = shared


def evaporation(facility: model.Facility, place: str) -> float:
    """Water a place loses to the air, by its surface, in m³/h."""
    vessel = facility.vessels.get(place)
    return question.EVAPORATION * (vessel.surface or 0.0) if vessel is not None else 0.0


def floating(facility: model.Facility, case: Case) -> float:
    """Water in the unread sumps of a closed loop, in m³; infinite where a top-up is drawn."""
    sumps = [facility.vessels[place] for place in case.loose if place in facility.vessels]
    volumes = [vessel.working or vessel.volume for vessel in sumps]
    if not volumes or not case.part.closed or None in volumes:
        return math.inf
    return sum(volume for volume in volumes if volume is not None)


def held(facility: model.Facility, part: gathering.Part, place: str) -> tuple[float, float] | None:
    """What is known of a place's storage without reading its level, in m³/h.

    A tank's overflow holds its level. A sump's level floats: where nothing is drawn that tops it up or drains
    it, whatever is lost or topped up shows there and nowhere else, and its storage is open.
    """
    vessel = facility.vessels.get(place)
    if vessel is None:
        return 0.0, question.LEAST
    surface = vessel.surface or (vessel.volume or 1.0) / (vessel.depth or 1.0)
    if vessel.kind == "tank":
        return 0.0, max(question.HELD * surface / 24.0, question.LEAST)
    return None if part.closed else (0.0, max(question.DRIFT * surface / 24.0, question.LEAST))


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One thing that may be wrong: an item, or water that leaves unseen at a place, in m³/h."""

    item: int | None
    place: str
    score: float
    size: float
    u: float
    rest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What one case says.

    Attributes
    ----------
    state : str
        ``closes``, ``meter``, ``set``, ``leak``, ``stated``, ``computed``, ``cannot-tell``.
    causes : tuple of Cause
        What would explain the misfit and cannot be told from the best, best first.
    same : bool
        Whether the causes have one direction, so that no reading of these same flows will part them.
    enough : bool
        Whether one cause explains all of it.
    slip : (int, str, float) or None
        Item, words and factor of a slip of units that would explain it.
    dismissed : tuple of Cause
        Leaks that would explain it too, but would have emptied or flooded the sumps meanwhile.
    """

    state: str
    causes: tuple[Cause, ...] = ()
    same: bool = False
    enough: bool = True
    slip: tuple[int, str, float] | None = None
    dismissed: tuple[Cause, ...] = ()


def judge(case: Case, floating: float = math.inf, hours: float = 24.0) -> Verdict:
    """Whether the flows agree, and if not, the smallest set that holds the cause.

    Parameters
    ----------
    case : Case
    floating : float
        Water in the sumps of a closed loop, which a leak would take it from. [m³]
    hours : float
        How long these flows have been running.
    """
    found = case.found
    if not found.freedom:
        return Verdict(state="cannot-tell")
    scores = np.abs(found.scores[case.at(0) :])
    loud = bool(np.isfinite(scores).any()) and float(np.nanmax(scores)) > found.score_critical
    if found.probability >= question.DOUBTFUL and not loud:
        return Verdict(state="closes")
    meters = [case.at(at) for at in range(len(case.items))]
    groups = found.suspects(meters, list(range(len(case.part.places))))
    if not groups:
        return Verdict(state="cannot-tell")
    best = groups[0]
    near = [group for group in groups if group.score >= best.score - question.BAND]
    every = [cause for group in near for cause in _causes(case, group)]
    most = question.EMPTIED * floating / hours
    absurd = [cause for cause in every if cause.item is None and abs(cause.size) > most]
    causes = tuple(cause for cause in every if cause not in absurd) or tuple(every)
    slip = _slip(case, causes)
    return Verdict(
        state=_state(case, causes),
        causes=causes,
        same=len({cause.score for cause in causes}) == 1 and len(causes) > 1,
        enough=best.rest >= question.SPLIT,
        slip=slip,
        dismissed=tuple(absurd) if len(absurd) < len(every) else (),
    )


def _causes(case: Case, group: reconciliation.Suspect) -> list[Cause]:
    first = case.at(0)
    made: list[Cause] = []
    for at, size, u in zip((*group.streams, *group.places), group.sizes, group.doubts, strict=True):
        meter = len(made) < len(group.streams)
        made.append(
            Cause(
                item=at - first if meter else None,
                place="" if meter else case.part.places[at],
                score=group.score,
                size=float(size),
                u=float(u),
                rest=group.rest,
            )
        )
    return made


def _state(case: Case, causes: Sequence[Cause]) -> str:
    if len(causes) > 1:
        return "set"
    only = causes[0]
    if only.item is None:
        return "leak"
    return {"measured": "meter"}.get(case.items[only.item].kind, case.items[only.item].kind)


def _slip(case: Case, causes: Sequence[Cause]) -> tuple[int, str, float] | None:
    """A slip of units among the causes: value over what it should be, near a known factor."""
    for cause in causes:
        if cause.item is None or case.items[cause.item].kind == "computed":
            continue
        item = case.items[cause.item]
        right = item.value - cause.size
        if right <= 0.0 or item.value <= 0.0:
            continue
        ratio = item.value / right
        for factor, words in question.SLIPS:
            room = question.NEAR_A_SLIP + 2.0 * cause.u / max(right, item.value)
            if abs(math.log(ratio / factor)) < room:
                return cause.item, words, factor
    return None


def mended(facility: model.Facility, case: Case, verdict: Verdict, span: gathering.Span | None) -> Case:
    """The flows without what is suspected: the meters of the set left out, a leak allowed to run."""
    out = {cause.item for cause in verdict.causes if cause.item is not None}
    if not verdict.causes:
        return case
    leak = verdict.causes[0].place if verdict.state == "leak" else ""
    storage = dict(span.storage) if span else {}
    keep = [item for at, item in enumerate(case.items) if at not in out]
    losses = dict(zip(case.part.places, case.offsets[: len(case.part.places)].tolist(), strict=True))
    return build(facility, case.part, keep, storage, losses, free=leak)


def telling_reading(case: Case, verdict: Verdict) -> str:
    """The run whose flow, read by another meter, would part the two best causes most."""
    if len(verdict.causes) < 2:
        return ""
    best, run = 0.0, ""
    for at, name in enumerate(case.part.runs):
        value, _ = case.run(name)
        if value != value:
            continue
        row = np.zeros((1, case.rows.shape[1] + 1))
        row[0, at], row[0, -1] = -1.0, 1.0
        rows = np.vstack([np.hstack([case.rows, np.zeros((len(case.rows), 1))]), row])
        spread = np.zeros((rows.shape[1], rows.shape[1]))
        spread[:-1, :-1] = case.covariance
        spread[-1, -1] = max(0.02 * abs(value), question.LEAST) ** 2
        tried = reconciliation.reconcile(
            np.append(case.measured, value), spread, rows, np.append(case.offsets, 0.0)
        )
        apart = _apart(case, tried, verdict.causes[0], verdict.causes[1:])
        if apart > best * 1.001:
            best, run = apart, name
    return run


def _apart(case: Case, tried: reconciliation.Reconciled, one: Cause, others: Sequence[Cause]) -> float:
    """How far the nearest rival's direction stands from the best one's, scaled by the cause's size."""
    mine = _direction(case, tried, one) * one.size
    out = math.inf
    for other in others:
        rival = _direction(case, tried, other)
        length = float(rival @ rival)
        left = mine - rival * float(rival @ mine) / length if length > 0.0 else mine
        out = min(out, float(np.linalg.norm(left)))
    return out


def _direction(case: Case, tried: reconciliation.Reconciled, cause: Cause) -> Floats:
    if cause.item is not None:
        return np.nan_to_num(tried.streams[case.at(cause.item)])
    return tried.places[case.part.places.index(cause.place)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Studied:
    """One part of the plant as judged: verdict, flows without what is suspected, and earlier spans."""

    part: gathering.Part
    span: gathering.Span | None
    case: Case
    verdict: Verdict
    mended: Case
    visits: tuple[int, int]
    next_run: str

    @property
    def measured(self) -> int:
        """How many meters it rests on."""
        return sum(item.kind == "measured" for item in self.case.items)
