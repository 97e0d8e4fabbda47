"""Checks on copies: there is somewhere for them to go, and at least one of them stays."""

from __future__ import annotations

from brinehouse.facility import cases

LEAST = 900.0
"""Copies closer together than this are the work of a second disk, not of copies. [s]"""


def backup(case: cases.Case) -> None:
    """Copies go somewhere, not more often than they can be made, and some of them stay."""
    asked = case.facility.backup
    if asked is None:
        return
    if "to" in case.raw["backup"] and not asked.to.strip():
        case.say(
            "facility/backup",
            ("backup", "to"),
            "the copies go nowhere: 'to' is empty",
            "name a folder on another disk",
            about="backup",
        )
    if asked.every < LEAST:
        case.say(
            "facility/backup",
            ("backup", "every"),
            f"a copy every {asked.every / 60:.0f} min is more often than copies can be made and tried",
            f'write at least "{LEAST / 60:.0f} min"',
            about="backup",
        )
    for word, count in (("newest", asked.newest), ("daily", asked.daily), ("weekly", asked.weekly)):
        if count < (1 if word == "newest" else 0):
            case.say(
                "facility/backup",
                ("backup", word),
                f"{word} = {count} keeps no copy",
                "keep at least the newest",
                about="backup",
            )
