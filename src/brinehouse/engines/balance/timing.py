"""How long water takes until it has settled, from the equations at rest and how far away it starts."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
SHARE = 0.05  # of the way left when a place counts as settled


def settling(matrix: Floats, volumes: Floats, away: Floats) -> Floats:
    """Hours until each place has 5 % of its way left; infinite where that is beyond some 36 years.

    Parameters
    ----------
    matrix : ndarray
        Of ``d(V x)/dt = M x + b``, places by places. [m³/s]
    volumes : ndarray
        [m³]
    away : ndarray
        How far each place is from where it settles, in any unit.

    Examples
    --------
    >>> round(float(settling(np.array([[-1.0 / 3600.0]]), np.ones(1), np.ones(1))[0]), 1)
    3.0
    """
    values, vectors = (np.asarray(part, dtype=complex) for part in np.linalg.eig(matrix / volumes[:, None]))
    parts = np.linalg.solve(vectors, away.astype(complex))
    hours = np.concatenate([[0.0], np.logspace(-2.0, 5.5, 600)])
    slow = np.minimum(np.real(values), 0.0) + 1j * np.imag(values)
    grown = np.exp(np.outer(slow, hours * 3600.0))
    path = np.abs(np.real(vectors @ (parts[:, None] * grown)))
    scale = np.maximum(np.abs(away), 0.2 * np.abs(away).max(initial=0.0))
    late = path > SHARE * np.maximum(scale, 1e-300)[:, None]
    last = np.where(late.any(axis=1), late.shape[1] - 1 - np.argmax(late[:, ::-1], axis=1), 0)
    out = hours[np.minimum(last + 1, len(hours) - 1)]
    return np.where(last == len(hours) - 1, np.inf, np.where(late.any(axis=1), out, 0.0))
