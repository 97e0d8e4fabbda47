"""The survey: every part of the plant judged on its newest span, with how often the same came out before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from brinehouse import answers, records
from brinehouse.engines.flows import gathering, question, solving, telling
from brinehouse.facility import model
from brinehouse.network import flows as network

EARLIER = 12  # spans before the newest that are looked at for the same cause


def survey(
    facility: model.Facility,
    readings: Sequence[records.Reading] = (),
    turns: Sequence[question.Turn] = (),
    *,
    computed: Mapping[str, tuple[float, float | None]] | None = None,
    losses: Mapping[str, float] | None = None,
    as_of: datetime | None = None,
) -> answers.Answer:
    """What the flows are, and what does not fit.

    Parameters
    ----------
    facility : Facility
        The checked model.
    readings : sequence of Reading
        Effective ones; flows and levels are used, the rest is passed over.
    turns : sequence of Turn
        When pumps started and stopped: no balance is struck over a change.
    computed : mapping, optional
        Run to (flow, standard uncertainty or None) from the plant's hydraulics. [m³/s]
    losses : mapping, optional
        Place to what it loses to the air, where it is known better than by its surface. [m³/s]
    as_of : datetime, optional
        Readings after it are not used.

    Returns
    -------
    Answer
        Tables ``flows``, ``meters`` and ``balances``; state ``closes``, ``meter``, ``set``, ``leak``,
        ``stated``, ``computed``, ``cannot-tell``, ``only-stated`` or ``no-flows``.
    """
    some = [one for one in readings if as_of is None or one.measured <= as_of]
    turned = [one for one in turns if as_of is None or one.at <= as_of]
    lost = {place: loss * question.M3H for place, loss in (losses or {}).items()}
    studied = [
        _study(facility, part, some, turned, computed or {}, lost) for part in gathering.parts(facility)
    ]
    return telling.answer(facility, studied, network.stated(facility))


def _study(
    facility: model.Facility,
    part: gathering.Part,
    readings: Sequence[records.Reading],
    turns: Sequence[question.Turn],
    computed: Mapping[str, tuple[float, float | None]],
    losses: Mapping[str, float],
) -> solving.Studied:
    found = gathering.spans(facility, part, readings, turns)
    most = max((len(span.items) for span in found), default=0)
    full = [span for span in found if len(span.items) * 2 > most]
    span = full[0] if full else None
    case = _case(facility, part, span, computed, losses)
    first = solving.judge(case)
    visits, hours = _visits(facility, part, full, losses, case, first)
    verdict = solving.judge(case, solving.floating(facility, case), hours)
    return solving.Studied(
        part=part,
        span=span,
        case=case,
        verdict=verdict,
        mended=solving.mended(facility, case, verdict, span),
        visits=visits,
        next_run=solving.telling_reading(case, verdict),
    )


def _case(
    facility: model.Facility,
    part: gathering.Part,
    span: gathering.Span | None,
    computed: Mapping[str, tuple[float, float | None]],
    losses: Mapping[str, float],
) -> solving.Case:
    beside = bool(span and span.items)
    items = [
        *(span.items if span else ()),
        *gathering.computed(part, computed),
        *gathering.written(facility, part, span, beside=beside),
    ]
    return solving.build(facility, part, items, span.storage if span else {}, losses)


def _visits(
    facility: model.Facility,
    part: gathering.Part,
    spans: Sequence[gathering.Span],
    losses: Mapping[str, float],
    case: solving.Case,
    verdict: solving.Verdict,
) -> tuple[tuple[int, int], float]:
    """(spans in which one of the causes stands among the suspects, spans looked at), and their hours."""
    wanted = {_name(case, cause) for cause in verdict.causes}
    hours = spans[0].hours if spans else 24.0
    if not wanted:
        return (1, 1), hours
    fits = 1
    earlier = spans[1 : 1 + EARLIER]
    for span in earlier:
        other = _case(facility, part, span, {}, losses)  # what is computed holds for the pumps of now
        if wanted & {_name(other, cause) for cause in solving.judge(other).causes}:
            fits, hours = fits + 1, hours + span.hours
    return (fits, 1 + len(earlier)), hours


def _name(case: solving.Case, cause: solving.Cause) -> tuple[str, str]:
    if cause.item is None:
        return "leak", cause.place
    return case.items[cause.item].kind, case.items[cause.item].key
