"""Checks on how often things fail: what a rate is for, what it is counted by, and by whose word it is so."""

from __future__ import annotations

import itertools

from brinehouse.facility import alike, cases, chances, hidden, model

_NEEDED_BY = {"time": "over", "start": "starts"}


def rates(case: cases.Case) -> None:
    """Each rate is for something there is, counted as its mode is, and told once."""
    seen: dict[tuple[str, str], int] = {}
    for index, rate in enumerate(case.facility.rates):
        path, thing = ("rate", index), f"rate {index + 1}"
        _of(case, rate, path, thing)
        _belief(case, rate, path, thing)
        _own(case, rate, path, thing)
        key = (rate.of, rate.mode)
        if all(key) and key in seen:
            case.say(
                "facility/twice",
                path,
                f"{thing} is for the same part and mode as rate {seen[key]}",
                "put both into one",
                key=True,
                about=thing,
            )
        seen.setdefault(key, index + 1)


def _of(case: cases.Case, rate: model.FailureRate, path: tuple[str, int], thing: str) -> None:
    facility = case.facility
    kinds = (*chances.KINDS, *(machine.kind for machine in facility.equipment.values()))
    if not rate.of or rate.of in kinds or facility.find(rate.of) or rate.of in case.draft.ghosts:
        return
    names = (*kinds, *facility.pumps, *facility.duties, *facility.equipment, *facility.vessels)
    case.say(
        "facility/dangling",
        (*path, "of"),
        f"{thing} is for '{hidden.visible(rate.of)}', which is no part and no kind of part",
        alike.offer(alike.meant(rate.of, names)) or "name a part, or one of: " + ", ".join(chances.KINDS),
        about=thing,
    )


def _belief(case: cases.Case, rate: model.FailureRate, path: tuple[str, int], thing: str) -> None:
    """Low, typical and high rise, are counted alike, and stand together."""
    told = [(name, chance) for name in ("low", "typical", "high") if (chance := getattr(rate, name))]
    for name, chance in told:
        if rate.mode and chance.by not in chances.BY[rate.mode]:
            want = "'once in 200 starts' or '0.5 %'" if chance.by == "time" else "'once in 33000 h'"
            case.say(
                "facility/rate",
                (*path, name),
                f"{thing}: '{rate.mode}' is not counted by the {chance.by}",
                f"write it as {want}",
                about=thing,
            )
            return
    if len({chance.by for _, chance in told}) > 1:
        text = f"{thing} counts its low, typical and high in different ways"
        case.say("facility/rate", path, text, "count all three by the hour or by the start", key=True)
        return
    for (_, less), (name, more) in itertools.pairwise(told):
        if more.value <= less.value:
            text = f"{thing}: '{name}' is not above what stands before it"
            hint = "write the rarest first: 'once in 90000 h' is low, 'once in 9000 h' is high"
            case.say("facility/upside-down", (*path, name), text, hint, about=thing)
    if (rate.low is None) != (rate.high is None):
        missing = "low" if rate.low is None else "high"
        text = f"{thing} has no '{missing}' end, so it tells no interval"
        case.say("facility/rate", path, text, f"write {missing} beside the other end", key=True, about=thing)


def _own(case: cases.Case, rate: model.FailureRate, path: tuple[str, int], thing: str) -> None:
    """What the hall itself has seen can be weighed: it has a span, and a belief with an interval."""
    if rate.seen is None:
        return
    by = rate.typical.by if rate.typical is not None else "time"
    if not rate.since and getattr(rate, _NEEDED_BY[by]) is None:
        text = f"{thing} says how many failures were seen, and not in how long a time or how many starts"
        hint = (
            'write over = "41000 h", or starts = 800 for what is counted by the start, or since = 2025-01-01'
        )
        case.say("facility/rate", (*path, "seen"), text, hint, about=thing)
    if rate.low is None and rate.high is None:
        text = f"{thing}: what was seen cannot be weighed against a single figure"
        hint = "write low and high beside typical: how far it might be off"
        case.say("facility/rate", (*path, "seen"), text, hint, about=thing)


def groups(case: cases.Case) -> None:
    """What a duty group says of its own failing can be so, and has a reason."""
    if case.facility.crews < 1:
        text = "the facility has no crew to repair: nothing would ever be whole again"
        case.say("facility/impossible", ("facility", "crews"), text, "write crews = 1", about="the facility")
    for duty in case.facility.duties.values():
        thing = f"duty {hidden.visible(duty.id)}"
        if duty.enough is not None and not 1 <= duty.enough <= duty.keep:
            text = f"{thing}: {duty.enough} pumps cannot be enough where {duty.keep} are kept running"
            hint = f"write a number from 1 to {duty.keep}"
            case.say("facility/duty-keep", ("duty", duty.id, "enough"), text, hint, about=thing)
        if duty.common_cause is not None and not duty.common_cause_source:
            text = f"{thing} has a share of common cause and no reason for it"
            hint = 'write common_cause_source = "..." beside it: what the pumps share, or whose figure it is'
            case.ask("facility/no-source", ("duty", duty.id, "common_cause"), text, hint, about=thing)
