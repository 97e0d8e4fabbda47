"""One value of a facility file changed, everything else kept: notes, order, blanks."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from brinehouse.facility import positions

Value = str | int | float | bool | list[Any]

_STEP = re.compile(r'"(?P<quoted>[^"]*)"|(?P<bare>[^.\[\]"]+)|\[(?P<index>\d+)\]')


def set_value(text: str, path: str | positions.Path, value: Value | None) -> str:
    r"""The text with one value changed, added, or taken out where `value` is None.

    Parameters
    ----------
    text : str
        A file that TOML accepts.
    path : str or tuple
        ``tank.mangrove.volume``, ``limit[0].act``, or the steps: ``("tank", "mangrove", "volume")``.
    value : str, number, bool, list or None
        What shall stand there.

    Returns
    -------
    str
        Differs in that value alone.

    Raises
    ------
    KeyError
        Where an item of a list is named that is not there, or a value to be taken out.
    ValueError
        Where the text is not TOML, or the change would touch more than was asked.

    Examples
    --------
    >>> print(set_value('[tank.reef]\nvolume = "12 m3"  # measured\n', "tank.reef.volume", "11.4 m3"))
    [tank.reef]
    volume = "11.4 m3"  # measured
    """
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    steps = split(path) if isinstance(path, str) else tuple(path)
    before = tomllib.loads(text)
    _put(before, steps, value)
    try:
        page = tomlkit.parse(text)
        _put(page, steps, value, tomlkit.table)
        changed = tomlkit.dumps(page)
        after = tomllib.loads(changed)
    except TOMLKitError as fault:
        raise ValueError(f"{positions.written(steps)} cannot be changed here: {fault}") from fault
    if after != before:
        raise ValueError(f"changing {positions.written(steps)} would change more than that")
    return changed


def split(path: str) -> positions.Path:
    """The steps of a written path.

    >>> split('limit[0].act'), split('tank."north pool".volume')
    (('limit', 0, 'act'), ('tank', 'north pool', 'volume'))
    """
    steps: list[str | int] = []
    for hit in _STEP.finditer(path):
        if hit["index"] is not None:
            steps.append(int(hit["index"]))
        else:
            steps.append(hit["bare"] if hit["quoted"] is None else hit["quoted"])
    return tuple(steps)


def _put(page: Any, steps: positions.Path, value: Value | None, table: Any = dict) -> None:
    """Set or take out a value; tables that are missing on the way are made."""
    *way, last = steps
    for step in way:
        if isinstance(step, int):
            if step >= len(page):
                raise KeyError(positions.written(steps))
        elif step not in page:
            page[step] = table()
        page = page[step]
    if value is None:
        if not isinstance(last, int) and last not in page:
            raise KeyError(positions.written(steps))
        del page[last]
    elif isinstance(last, int) and last >= len(page):
        raise KeyError(positions.written(steps))
    else:
        page[last] = value
