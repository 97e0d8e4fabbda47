"""Checks on turns: time kept free says when, and an offset has hours to be a share of."""

from __future__ import annotations

from brinehouse.facility import cases, hidden


def windows(case: cases.Case) -> None:
    """Time kept free says when it is, and ends after it begins."""
    for index, window in enumerate(case.facility.windows):
        path, thing = ("window", index), f"window {index + 1}"
        written = case.raw["window"][index]
        if not any(word in written for word in ("days", "hours", "since", "until")):
            case.say(
                "facility/window",
                path,
                f"{thing} does not say when it is: its pumps would never run",
                'write days = ["Tuesday"] and hours = "08:00 to 12:00", or since and until with dates',
                key=True,
                about=thing,
            )
        if window.since and window.until and window.until < window.since:
            case.say(
                "facility/window",
                (*path, "until"),
                f"{thing} ends on {window.until}, before it begins on {window.since}",
                "write the later date as until",
                about=thing,
            )


def offsets(case: cases.Case) -> None:
    """Pumps kept apart by a share of their hours between overhauls have such hours."""
    facility = case.facility
    for duty in facility.duties.values():
        silent = [name for name in duty.pumps if name in facility.pumps and not facility.pumps[name].overhaul]
        if duty.offset is not None and silent:
            thing = f"duty {hidden.visible(duty.id)}"
            named = ", ".join(hidden.visible(name) for name in silent)
            case.ask(
                "facility/offset",
                ("duty", duty.id, "offset"),
                f"{thing} keeps pumps apart by a share of hours between overhauls; not told for {named}",
                'write overhaul = "16000 h" at each of them',
                about=thing,
            )
