"""How figures of redundancy are said: how often, how long, how much rarer, how often a part fails."""

from __future__ import annotations

from brinehouse.engines.redundancy import believing, groups, question


def lost(group: groups.Group, least: int) -> str:
    """What a loss is, in a keeper's words."""
    if least == 1:
        return "no pump runs"
    return f"fewer than {least} of {group.units} pumps run"


def often(years: float) -> str:
    """How often something happens.

    >>> often(4.12), often(0.31), often(812.0), often(2.4e6)
    ('once in 4.1 years', 'once in 4 months', 'once in 810 years', 'less than once in 100 000 years')
    """
    if years > 1e5:
        return "less than once in 100 000 years"
    if years >= 1.5:
        return f"once in {two(years)} years"
    months = years * 12.0
    return f"once in {months:.0f} months" if months >= 2.0 else f"once in {two(years * 52.14)} weeks"


def two(value: float) -> str:
    """Two digits that mean something."""
    if value >= 100.0:
        return f"{round(value, 2 - len(str(int(value)))):.0f}"
    return f"{value:.0f}" if value >= 10.0 else f"{value:.1f}"


def lasting(hours: float) -> str:
    """Time out of service in a year.

    >>> lasting(12.3), lasting(0.4), lasting(0.001)
    ('12 h a year', '24 min a year', '4 s a year')
    """
    if hours >= 1.0:
        return f"{two(hours)} h a year"
    return (
        f"{hours * 60.0:.0f} min a year"
        if hours >= 1.0 / 60.0
        else f"{max(hours * 3600.0, 1.0):.0f} s a year"
    )


def times(times: float) -> str:
    """How much rarer: as a factor, or in percent where that is small.

    >>> times(3.24), times(1.12), times(1.0), times(0.5)
    ('3.2 times rarer', '11 % rarer', 'as often', 'oftener')
    """
    if times >= 1.5:
        return f"{two(times)} times rarer"
    if times >= 1.005:
        return f"{share(1.0 - 1.0 / times)} rarer"
    return "as often" if times > 0.995 else "oftener"


def share(value: float) -> str:
    """A share in percent.

    >>> share(0.84), share(0.002), share(0.998)
    ('84 %', '< 1 %', '> 99 %')
    """
    if value < 0.005:
        return "< 1 %"
    return "> 99 %" if 0.995 < value < 1.0 else f"{100.0 * value:.0f} %"


def said(value: float | None, by: str) -> str:
    """A rate as a keeper says it.

    >>> said(3e-5 / 3600.0, "time"), said(0.005, "start"), said(None, "time")
    ('once in 33000 h', 'once in 200 starts', '')
    """
    if not value:
        return ""
    each = 1.0 / value / (3600.0 if by == "time" else 1.0)
    return f"once in {two(each)} {'h' if by == 'time' else 'starts'}"


def span(one: believing.Belief) -> str:
    """In what failures were counted."""
    if one.span <= 0.0 or one.rate.seen is None:
        return ""
    text = f"{one.span / question.HOUR:.0f} h" if one.by == "time" else f"{one.span:.0f} starts"
    return f"{text}, by the logbook" if one.logged else text
