"""Water over sharp crests: weirs, notches and standpipes, flow from head and head from flow."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from brinehouse.science.constants import GRAVITY

Array = NDArray[np.float64]

AIRY_WEIR = 1.84  # m^0.5/s, sharp crest with an airy nappe: from memory
NOTCH = 0.58  # discharge coefficient of a sharp V: ISO 1438 form, from memory
HOLE = 0.6  # discharge coefficient of a drowned mouth: from memory
MILLIMETRE = 1e-3  # m: by which thickness of edge and stickiness of water change width and head
_ROUNDS = 80


def _float(value: ArrayLike) -> Array:
    return np.asarray(value, dtype=np.float64)


def weir_flow(head: ArrayLike, width: ArrayLike, height: ArrayLike) -> Array:
    """Flow over a sharp rectangular weir as wide as its channel.

    Parameters
    ----------
    head : array_like
        Water over the crest, well upstream of it. [m]
    width : array_like
        Length of the crest. [m]
    height : array_like
        Of the crest above the floor before it. [m]

    Returns
    -------
    ndarray
        Flow; nothing at or below the crest. [m3/s]

    Notes
    -----
    Heads above 0.03 m and below twice the height, with air under the nappe. [1]_

    References
    ----------
    .. [1] Kindsvater and Carter (1957), as given by Blevins (1984) and fluids: 2/3 Cd sqrt(2g) b h^1.5 with
       Cd = 0.602 + 0.075 h/P, the width a millimetre less and the head a millimetre more than measured.

    Examples
    --------
    >>> float(weir_flow(0.1, 1.0, 0.5))
    0.058414
    """
    h = _float(head)
    coefficient = 0.602 + 0.075 * h / _float(height)
    scale = 2.0 / 3.0 * math.sqrt(2.0 * GRAVITY) * (_float(width) - MILLIMETRE)
    return np.asarray(np.where(h > 0.0, coefficient * scale * (np.maximum(h, 0.0) + MILLIMETRE) ** 1.5, 0.0))


def weir_head(flow: ArrayLike, width: ArrayLike, height: ArrayLike) -> Array:
    """Head over a sharp rectangular weir as wide as its channel: `weir_flow` turned round.

    Parameters
    ----------
    flow : array_like
        [m3/s]
    width : array_like
        Length of the crest. [m]
    height : array_like
        Of the crest above the floor before it. [m]

    Returns
    -------
    ndarray
        Head over the crest. [m]

    Notes
    -----
    Range of `weir_flow`.

    References
    ----------
    .. [1] As `weir_flow`.

    Examples
    --------
    >>> float(weir_head(0.058414, 1.0, 0.5))
    0.1
    """
    q, p = np.maximum(_float(flow), 0.0), _float(height)
    scale = 2.0 / 3.0 * math.sqrt(2.0 * GRAVITY) * (_float(width) - MILLIMETRE)
    h = (q / (0.602 * scale)) ** (2.0 / 3.0)
    for _ in range(_ROUNDS):  # the coefficient grows slowly with head, so that each round comes much nearer
        h = np.maximum((q / ((0.602 + 0.075 * h / p) * scale)) ** (2.0 / 3.0) - MILLIMETRE, 0.0)
    return np.asarray(h)


def free_weir_head(flow: ArrayLike, width: ArrayLike) -> Array:
    """Head over a sharp crest of which only the length is known.

    Parameters
    ----------
    flow : array_like
        [m3/s]
    width : array_like
        Length of the crest: of a standpipe, its way round. [m]

    Returns
    -------
    ndarray
        Head over the crest. [m]

    Notes
    -----
    1.84 b h^1.5: within 3 % of `weir_flow` for heads below a tenth of the height. From memory.

    References
    ----------
    .. [1] Common handbook form, from memory.

    Examples
    --------
    >>> float(free_weir_head(42 / 3600, 0.6))
    0.0481
    """
    return np.asarray((np.maximum(_float(flow), 0.0) / (AIRY_WEIR * _float(width))) ** (2.0 / 3.0))


def notch_flow(head: ArrayLike, angle: ArrayLike) -> Array:
    """Flow through a sharp V-notch.

    Parameters
    ----------
    head : array_like
        Water over the point of the notch. [m]
    angle : array_like
        Between its edges. [degrees]

    Returns
    -------
    ndarray
        Flow. [m3/s]

    Notes
    -----
    Heads above 0.05 m. One public library's form by Shen gives a third more: it is not this one.

    References
    ----------
    .. [1] ISO 1438 form, 8/15 Cd sqrt(2g) tan(angle/2) h^2.5 with Cd 0.58, from memory.

    Examples
    --------
    >>> float(notch_flow(0.1, 90.0))
    0.00433214
    """
    h = np.maximum(_float(head), 0.0)
    return np.asarray(
        8.0 / 15.0 * NOTCH * math.sqrt(2.0 * GRAVITY) * np.tan(np.radians(_float(angle)) / 2.0) * h**2.5
    )


def notch_head(flow: ArrayLike, angle: ArrayLike) -> Array:
    """Head over a sharp V-notch: `notch_flow` turned round.

    Parameters
    ----------
    flow : array_like
        [m3/s]
    angle : array_like
        Between its edges. [degrees]

    Returns
    -------
    ndarray
        Head over the point of the notch. [m]

    Notes
    -----
    Range of `notch_flow`.

    References
    ----------
    .. [1] As `notch_flow`.

    Examples
    --------
    >>> float(notch_head(0.00433214, 90.0))
    0.1
    """
    return np.asarray((np.maximum(_float(flow), 0.0) / notch_flow(1.0, angle)) ** 0.4)


class Mouth(NamedTuple):
    """Heads that a standpipe's edge and its drowned mouth would need; the larger one stands. [m]."""

    edge: Array
    hole: Array

    @property
    def head(self) -> Array:
        """Head over the edge while air still comes in."""
        return np.asarray(np.maximum(self.edge, self.hole))


def standpipe_mouth(flow: ArrayLike, bore: ArrayLike) -> Mouth:
    """Head over a standpipe that draws air: as a weir round its edge, then as a drowned hole.

    Parameters
    ----------
    flow : array_like
        [m3/s]
    bore : array_like
        Of the standpipe. [m]

    Returns
    -------
    Mouth
        Both heads. [m]

    Notes
    -----
    Above some half a bore it gulps air and then runs full: see `siphon_flow`. From memory.

    References
    ----------
    .. [1] min(1.84 pi D h^1.5, 0.6 A sqrt(2 g h)), from memory.

    Examples
    --------
    >>> mouth = standpipe_mouth(6 / 3600, 0.11)
    >>> float(mouth.edge), float(mouth.hole)
    (0.01901, 0.00436)
    """
    q, d = np.maximum(_float(flow), 0.0), _float(bore)
    hole = (q / (HOLE * math.pi / 4.0 * d**2)) ** 2 / (2.0 * GRAVITY)
    return Mouth(free_weir_head(q, math.pi * d), np.asarray(hole))


def siphon_flow(drop: ArrayLike, bore: ArrayLike, losses: ArrayLike) -> Array:
    """Flow of a pipe that runs full from one water surface, or its mouth, to a lower one.

    Parameters
    ----------
    drop : array_like
        Height between the two. [m]
    bore : array_like
        [m]
    losses : array_like
        Velocity heads lost on the way besides the one at its end: fittings and f L/D. [-]

    Returns
    -------
    ndarray
        Flow; nothing without a drop. [m3/s]

    Notes
    -----
    Full bore, no air. It ends when its mouth draws air; a siphon break at its crest ends it earlier.

    References
    ----------
    .. [1] Bernoulli: A sqrt(2 g dz/(1 + K + f L/D)).

    Examples
    --------
    >>> float(siphon_flow(2.0, 0.11, 2.0))
    0.0343641
    """
    area = math.pi / 4.0 * _float(bore) ** 2
    return np.asarray(area * np.sqrt(2.0 * GRAVITY * np.maximum(_float(drop), 0.0) / (1.0 + _float(losses))))


class DrainBack(NamedTuple):
    """What comes back when everything stops. [m3], [m3], [m]."""

    volume: Array
    room: Array
    level: Array


def drain_back(volume: ArrayLike, surface: ArrayLike, level: ArrayLike, rim: ArrayLike) -> DrainBack:
    """A sump after water has come back to it.

    Parameters
    ----------
    volume : array_like
        Water over crests, in pipes above the sump and drawn by siphons, together. [m3]
    surface : array_like
        Of the sump. [m2]
    level : array_like
        Its running level above its floor. [m]
    rim : array_like
        Its edge above its floor. [m]

    Returns
    -------
    DrainBack
        The volume, the room there is for it, and the level after it. [m3], [m3], [m]

    Notes
    -----
    Straight walls. It runs over where the volume is larger than the room.

    References
    ----------
    .. [1] Geometry.

    Examples
    --------
    >>> [round(float(one), 3) for one in drain_back(11.4075, 30.0, 1.5, 2.2)]
    [11.408, 21.0, 1.88]
    """
    v, a = _float(volume), _float(surface)
    return DrainBack(v, np.asarray(a * (_float(rim) - _float(level))), np.asarray(_float(level) + v / a))
