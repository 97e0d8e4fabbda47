"""What the standby pumps of a hall are worth: its file's rates, and which pumps ran by its logbook.

Each loss is joined with the time it leaves: how often, and then how long. That needs no rate.
"""

from __future__ import annotations

import dataclasses
import threading
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from brinehouse import answers, findings, records
from brinehouse.engines import redundancy
from brinehouse.engines.time_in_hand import answering, failures, question, tabling
from brinehouse.facility import model
from brinehouse.network.transients import effects
from brinehouse.workbench import clock, hall, time_in_hand, time_told

NEEDS_A_PERSON = (findings.Level.WATCH, findings.Level.ACT, findings.Level.ASK)

Happens = tuple[effects.Effect, ...]
WORST = time_told.Wanted(begin="worst")

_kept: dict[str, tuple[tuple[Any, ...], answers.Answer]] = {}
_left: dict[str, _Working] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """What a loss leaves: hours until the first limit, and which and where; None where none is reached."""

    hours: float | None
    limit: str = ""


@dataclass(slots=True)
class _Working:
    """The hours of a hall's losses while they are worked out, and after."""

    stamp: tuple[Any, ...]
    thread: threading.Thread | None = None
    found: Mapping[tuple[str, int], Left] | None = None
    fault: Exception | None = None


def survey(place: hall.Hall) -> answers.Answer:
    """How often each duty group is lost, why, and what would help; kept while file and logbook stay."""
    stamp, folder = _stamp(place), str(place.folder.resolve())
    known = _kept.get(folder)
    if known is not None and known[0] == stamp:
        return known[1]
    counted = any(rate.since for rate in place.facility.rates)  # a rate that counts from the logbook
    written = counted and hall.Hall.has_book(place.folder)
    made = redundancy.survey(
        place.facility, turns(place.facts(kinds=["pump-run"])) if written else [], clock.now()
    )
    _kept[folder] = (stamp, made)
    return made


def _stamp(place: hall.Hall) -> tuple[Any, ...]:
    head = tuple(place.book.head()) if hall.Hall.has_book(place.folder) else ()
    return head, place.facility.digest, clock.now().date()


def with_hours(place: hall.Hall, *, wait: bool = True) -> answers.Answer:
    """The same, each loss with the hours it leaves from the worst hour of the day: ``hand``, ``hand_limit``.

    Without waiting, the hours are worked out behind the reader's back and are there the next time.
    """
    answer, found = survey(place), left(place, wait=wait)
    if found is None:
        return answer
    tables = [
        dataclasses.replace(
            table, rows=tuple(_joined(row, found) for row in table.rows), columns=(*table.columns, HAND)
        )
        if table.name == "groups"
        else table
        for table in answer.tables
    ]
    return dataclasses.replace(answer, tables=tables, sentence=answer.sentence + _shortest(answer, found))


HAND = answers.Output(name="hand", label="and then, until the first limit", unit="h", decimals=1)


def _joined(row: Mapping[str, Any], found: Mapping[tuple[str, int], Left]) -> Mapping[str, Any]:
    one = found.get((str(row["duty"]), int(row["least"])))
    if one is None:
        return row
    if one.hours is None:
        text = f"no limit within {time_told.HOURS:.0f} h"
        return {**row, "hand": answers.Value(value=None, unit="h", text=text), "hand_limit": ""}
    return {**row, "hand": answers.Value(value=one.hours, unit="h"), "hand_limit": one.limit}


def _shortest(answer: answers.Answer, found: Mapping[tuple[str, int], Left]) -> str:
    """The loss that leaves least, in a sentence."""
    rows = next(table.rows for table in answer.tables if table.name == "groups")
    named = {(str(row["duty"]), int(row["least"])): row for row in rows}
    short = [(one.hours, key) for key, one in found.items() if one.hours is not None and key in named]
    if not short:
        return ""
    hours, key = min(short)
    row, one = named[key], found[key]
    return f" Least time is left by {row['name']}, {row['lost']}: {hours:.1f} h, {one.limit}."


def left(place: hall.Hall, *, wait: bool = True) -> Mapping[tuple[str, int], Left] | None:
    """By duty group and least number of pumps: how long its loss leaves, from the worst hour of the day.

    None while that is being worked out and nobody waits for it.
    """
    facility = place.facility
    happens = _losses(facility)
    if not happens:
        return {}
    stamp, folder = _stamp(place), str(place.folder.resolve())
    known = _left.get(folder)
    if known is None or known.stamp != stamp:
        what, _ = time_in_hand.asked(place, WORST)
        known = _left[folder] = _Working(stamp=stamp)
        known.thread = threading.Thread(
            target=_work, args=(known, what, happens), daemon=True, name="standby"
        )
        known.thread.start()
    if wait and known.thread is not None:
        known.thread.join()
    if known.fault is not None:
        del _left[folder]
        raise known.fault
    return known.found


def _work(known: _Working, what: question.Asked, happens: Mapping[tuple[str, int], Happens]) -> None:
    try:
        made = {key: _failure(key, effect) for key, effect in happens.items()}
        work = answering.Work(dataclasses.replace(what, failures=tuple(made.values())))
        rows = {
            key: tabling.row(work.frame, [one], work.courses.of(one.effects)) for key, one in made.items()
        }
        known.found = {key: _told(what.facility, row.first) for key, row in rows.items()}
    except Exception as met:  # noqa: BLE001 - it is told to the reader who asks next
        known.fault = met


def _failure(key: tuple[str, int], happens: Happens) -> failures.Failure:
    """A loss as the engine of time in hand takes it."""
    name = f"{key[0]} below {key[1]}"
    return failures.Failure(
        id=name, title=name, kind="duty", effects=happens, parts=(key[0],), noticed="", first_steps=(),
        cautions=(),
    )  # fmt: skip


def _losses(facility: model.Facility) -> dict[tuple[str, int], Happens]:
    """Each group with one pump too few running, and with none."""
    found: dict[tuple[str, int], Happens] = {}
    for duty in facility.duties.values():
        enough = duty.enough if duty.enough is not None else duty.keep
        for least, count in {enough: duty.keep - enough + 1, 1: len(duty.pumps)}.items():
            stops = (effects.Effect(kind="stop", part=pump) for pump in duty.pumps[:count])
            found[duty.id, least] = (*stops, effects.Effect(kind="no-change-over", part=duty.id))
    return found


def _told(facility: model.Facility, first: time_told.Crossing | None) -> Left:
    if first is None:
        return Left(hours=None)
    return Left(hours=first.hours, limit=time_told.limit_at(first.line, facility))


def turns(facts: Iterable[records.Fact]) -> list[redundancy.Turn]:
    """Starts and stops of pumps in order of time."""
    return sorted(records.turns(facts), key=lambda one: one.at)


def status(answer: answers.Answer) -> int:
    """1 where something needs a person."""
    return 1 if any(finding.level in NEEDS_A_PERSON for finding in answer.findings) else 0
