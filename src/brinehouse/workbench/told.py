"""What a fact of the logbook says, in one line."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from brinehouse import records

Details = Mapping[str, Any]


def line(fact: records.Fact, names: Mapping[int, str] | None = None, zone: str = "") -> str:
    """A fact as a keeper would say it; what has no saying of its own is told word by word.

    ``names`` gives the people behind the numbers, and ``zone`` the hall's own time.

    >>> from datetime import UTC, datetime
    >>> at = datetime(2026, 3, 14, tzinfo=UTC)
    >>> details = {"food": "krill", "grams": 40, "eaten": "most"}
    >>> line(records.Fact(id="0", kind="feeding", measured=at, entered=at, details=details))
    '40 g krill, eaten: most'
    """
    if fact.kind == "withdrawal":
        return f"{str(fact.details.get('target', ''))[:8]} taken back: {fact.reason}"
    if fact.kind == "note" and fact.note:
        return fact.note  # whether it is pinned, and until when, is not what it says
    say = _SAYINGS.get(fact.kind)
    details = {name: value for name, value in fact.details.items() if value not in (None, "")}
    details = _here(details, names or {}, zone)
    try:
        said = say(details) if say else None
    except KeyError:
        said = None
    if said is None:
        left = {name: value for name, value in details.items() if name not in ("instrument", "trial")}
        said = str(left.get("what", "")) or ", ".join(
            f"{name.replace('_', ' ')} {value}" for name, value in left.items()
        )
    return said or fact.note


def _here(details: Details, names: Mapping[int, str], zone: str) -> dict[str, Any]:
    """Details with the hall's own time, and with a name in place of a number."""
    told = dict(details)
    if zone:
        told |= {name: _local(told[name], zone) for name in ("since", "until") if name in told}
    if (person := told.get("person")) in names:
        told["person"] = names[int(str(person))]
    return told


def _local(text: Any, zone: str) -> Any:
    try:
        found = datetime.fromisoformat(str(text))
    except ValueError:
        return text
    if found.tzinfo is None:
        return text
    return f"{found.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M}"


def _amount(value: Any, unit: Any) -> str:
    return f"{value} {unit}".strip() if unit not in (None, "", "1") else str(value)


def _trial(details: Details) -> str | None:
    unit = details.get("unit", "")
    if details.get("values"):
        return f"{len(details['values'])} readings, last {_amount(details['values'][-1], unit)}"
    if details.get("concluded"):
        return "ended"
    return f"minute {details['minute']}: {details['value']}" if "trial" in details else "begun"


def _pump(details: Details) -> str:
    return f"{details['pump']} {'on' if details.get('running') else 'off'}"


def _feeding(details: Details) -> str:
    grams = f"{details['grams']} g " if "grams" in details else ""
    return f"{grams}{details['food']}" + (f", eaten: {details['eaten']}" if "eaten" in details else "")


def _observation(details: Details) -> str:
    count = f" ({details['count']})" if details.get("count") else ""
    answer = f" {details['answer']}" if details.get("answer") else ""
    words = f", {details['words']}" if details.get("words") else ""
    whose = f"{details['animals']}: " if details.get("animals") else ""
    return f"{whose}{details['sign']}{answer}{count}{words}"


def _stop(details: Details) -> str:
    why = f": {details['reason']}" if details.get("reason") else ""
    return f"{details['round']} round, {details['stop']} {details['what']}{why}"


def _walk(details: Details) -> str:
    if details["what"] != "zone":
        return f"{details['round']} round {details['what']}"
    used = [said for name, said in (("foot_bath", "foot bath"), ("tools", "own tools")) if details.get(name)]
    by = f", by {' and '.join(used)}" if used else ""
    return f"{details['round']} round, into {details.get('zone') or 'the next zone'}{by}"


def _check(details: Details) -> str:
    unit = details.get("unit", "")
    reads, right = _amount(details["reads"], unit), _amount(details["should_read"], unit)
    return f"{details['check']} check: reads {reads}, should read {right}"


def _setting(details: Details) -> str:
    before = f", before {details['before']}" if "before" in details else ""
    return f"{details['setting']} set to {details['value']}{before}"


def _file(details: Details) -> str:
    return f"{details['name']}, {details.get('size', 0) / 1000:.0f} kB"


def _backup(details: Details) -> str:
    where = f" {details['where']}" if details.get("where") else ""
    why = f": {details['why']}" if details.get("why") else ""
    said = {"made": "copy made and tried", "restored": "brought back from", "moved in": "brought in from"}
    return f"{said.get(str(details['what']), 'no copy made')}{where}{why}"


def _light(details: Details) -> str:
    return f"{details['hours']} h of light"


def _notice(details: Details) -> str:
    until = f" until {_minute(details['until'])}" if "until" in details else ""
    to = f" to {details['to']}" if "to" in details else ""
    result = f": {details['result']}" if "result" in details else ""
    why = f" ({details['why']})" if "why" in details else ""
    return f"{details['about']}: {details['what']}{to}{until}{result}{why}"


def _work(details: Details) -> str:
    did = f": {details['did']}" if "did" in details else ""
    parts = f" ({', '.join(details['parts'])})" if details.get("parts") else ""
    due = f", by {details['due']}" if "due" in details else ""
    title = details.get("title") or details["of"]
    return f"{title} {details['what']}{due}{did}{parts}"


def _lock_out(details: Details) -> str:
    on = details.get("on") in (True, "true")
    why = f": {details['why']}" if "why" in details else ""
    return f"{details['of']} {'locked out' if on else 'no longer locked out'}, tag {details['tag']}{why}"


def _run_hours(details: Details) -> str:
    counts = [f"{details[name]:g} {name}" for name in ("hours", "starts") if name in details]
    return f"counter of {details['of']}: {', '.join(counts)}"


def _renewal(details: Details) -> str:
    lot = f", lot {details['lot']}" if "lot" in details else ""
    until = f", keeps until {details['expires']}" if "expires" in details else ""
    return f"{details['what']} of {details['of']} renewed{lot}{until}"


def _on_call(details: Details) -> str:
    until = f" until {_minute(details['until'])}" if "until" in details else ""
    who = details["person"]
    named = who if isinstance(who, str) else f"person {who}"
    return f"{named} is on call from {_minute(details['since'])}{until}"


def _hand_over(details: Details) -> str:
    if details["what"] == "read":
        return f"read and taken over ({str(details.get('of', ''))[:8]})"
    return f"{_minute(details['since'])} to {_minute(details['until'])}, head {details['head'][:20]}"


def _minute(text: Any) -> str:
    """``2026-03-14 06:40 UTC`` of a time as a fact holds it."""
    try:
        found = datetime.fromisoformat(str(text))
    except ValueError:
        return str(text)
    return found.strftime("%Y-%m-%d %H:%M %Z").strip()


def _change_over(details: Details) -> str:
    """A turn that was taken, or a trial of the automatic change-over."""
    start, stop = details.get("started", ""), details.get("stopped", "")
    over = f"{start} for {stop}" if start and stop else f"{start} started" if start else f"{stop} stopped"
    if details.get("what") == "turn":
        return f"{details['duty']}: {over}"
    worked = "did not work" if details.get("worked") in (False, "false") else "worked"
    after = f", after {details['seconds']:g} s" if isinstance(details.get("seconds"), int | float) else ""
    return f"{details['duty']}: change-over tried, {worked}{after}" + (f" ({over})" if start or stop else "")


_SAYINGS: Mapping[str, Callable[[Details], str | None]] = {
    "gas-trial": _trial,
    "pump-run": _pump,
    "feeding": _feeding,
    "observation": _observation,
    "stop": _stop,
    "walk": _walk,
    "instrument-check": _check,
    "instrument-setting": _setting,
    "light": _light,
    "file": _file,
    "backup": _backup,
    "notice": _notice,
    "work": _work,
    "lock-out": _lock_out,
    "run-hours": _run_hours,
    "change-over": _change_over,
    "renewal": _renewal,
    "on-call": _on_call,
    "hand-over": _hand_over,
}
