"""Every duty group of a facility, looked at: its losses, their causes, what would help, what is not told."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from brinehouse import answers
from brinehouse.engines.redundancy import (
    believing,
    groups,
    helping,
    losing,
    question,
    remarks,
    study,
    tabling,
    telling,
    working,
)
from brinehouse.facility import model


def survey(
    facility: model.Facility, turns: Sequence[question.Turn] = (), as_of: datetime | None = None
) -> answers.Answer:
    """What the standby of every duty group is worth.

    Parameters
    ----------
    facility : Facility
    turns : sequence of Turn
        Starts and stops of pumps in order of time.
    as_of : datetime, optional
        Aware: until when the logbook is known to be kept; running time is counted to it.

    Returns
    -------
    Answer
        State ``told``, ``partly`` or ``not-told``. Tables ``groups`` (a row for each loss), ``causes``,
        ``helps``, ``rates``, ``shared`` and ``missing``.
    """
    logged = question.Logged(turns=[one for one in turns if as_of is None or one.at <= as_of], until=as_of)
    beliefs = believing.all_of(facility, logged)
    studied = [_study(groups.of_duty(facility, duty, beliefs)) for duty in facility.duties.values()]
    told = [one for one in studied if one.told]
    state = "told" if told and len(told) == len(studied) else "partly" if told else "not-told"
    return answers.Answer(
        question=question.QUESTION,
        sentence=telling.sentence(studied),
        state=state,
        values=telling.values(studied),
        tables=tabling.tables(studied, beliefs),
        findings=remarks.findings_of(studied, beliefs),
        working=working.steps(studied, beliefs),
        as_of=max((one.at for one in logged.turns), default=None),
        used=len(logged.turns),
    )


def _study(group: groups.Group) -> study.Studied:
    if group.missing or not 1 <= group.enough <= group.keep <= group.units:
        return study.Studied(group=group)
    levels = [group.enough] if group.enough == 1 else [group.enough, 1]
    losses = [losing.loss(group, least) for least in levels]
    return study.Studied(
        group=group,
        losses=losses,
        ends=[losing.ends(group, least) for least in levels],
        gains=helping.gains(group, losses),
    )
