"""One curve through a scan: a first-order approach as a function of its steepness alone."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Pair = tuple[float, float]

_GRID = 97  # points of the scan over the logarithm of the steepness
_STEEPEST = 40.0  # exp(-40) is nothing beside any reading: faster than that is a step
_SLOWEST = 1e-4  # rate times span: slower than that is a straight line

Functional = Callable[[Array], tuple[Array, Array]]  # rate·span -> weights of first value and of change


def plateau_weights(steep: Array) -> tuple[Array, Array]:
    """The plateau, as weights of first value and of change."""
    with np.errstate(divide="ignore"):
        return np.ones_like(steep), -1 / np.expm1(-steep)


def remaining_weights(steep: Array) -> tuple[Array, Array]:
    """The plateau less the last value of the curve."""
    with np.errstate(divide="ignore", over="ignore"):
        return np.zeros_like(steep), 1 / np.expm1(steep)


def change_weights(steep: Array) -> tuple[Array, Array]:
    """The change over the span."""
    return np.zeros_like(steep), np.ones_like(steep)


def _between(low: float, high: float, points: int = 17) -> Array:
    """Evenly spaced in the logarithm, with both ends exactly as given."""
    got = np.exp(np.linspace(math.log(low), math.log(high), points))
    got[0], got[-1] = low, high
    return got


class Profile:
    """The sum of squares as a function of steepness (rate times span) alone: the rest is linear.

    The curve is first + change·shape, with shape = (1 - exp(-rate t))/(1 - exp(-rate span)): it stays well
    conditioned from a straight line (steepness 0) to a step (steepness infinite).

    Parameters
    ----------
    t, y : ndarray
        Minutes after the origin, and readings.
    span : float
        Largest of `t`.
    start : float or None
        The value at the origin where it is known.
    """

    def __init__(self, t: Array, y: Array, span: float, start: float | None) -> None:
        self.t, self.y, self.span, self.start = t, y, span, start
        self.mean = float(y.mean())
        self.found: dict[Functional, Pair] = {}
        nearest = float(np.min(t[t > 0]))
        top = math.log(_STEEPEST * span / nearest)
        self.grid = np.exp(np.linspace(math.log(_SLOWEST), top, _GRID))
        self.best = self._minimum()
        self.rss = float(self.project(np.array([self.best]))[2][0])
        self.threshold = math.inf
        self.inside, self.kept = self.grid, self.project(self.grid[:0])
        self.straight = self.step = True

    def shape(self, steep: Array, t: Array) -> Array:
        """Share of the change that is done at `t`, one row a steepness."""
        rate = steep[:, None] / self.span
        if steep.size and steep.min() > 0 and steep.max() < math.inf:
            return np.expm1(-rate * t) / np.expm1(-steep)[:, None]
        with np.errstate(invalid="ignore", over="ignore"):
            done = np.expm1(-rate * t) / np.expm1(-steep)[:, None]
        done = np.where(steep[:, None] == 0, t / self.span, done)
        return np.where(np.isinf(steep)[:, None], np.sign(t), done)

    def project(self, steep: Array) -> tuple[Array, Array, Array, Array]:
        """First value, change, sum of squares, and the 2 × 2 unscaled covariance, at each steepness."""
        shape = self.shape(steep, self.t)
        n = self.y.size
        cover = np.zeros((steep.size, 2, 2))
        if self.start is not None:
            square = np.sum(shape**2, axis=1)
            change = shape @ (self.y - self.start) / square
            first = np.full(steep.size, self.start)
            cover[:, 1, 1] = 1 / square
        else:
            middle = np.add.reduce(shape, axis=1) / n
            off = shape - middle[:, None]
            square = np.add.reduce(off**2, axis=1)
            change = off @ (self.y - self.mean) / square
            first = self.mean - change * middle
            cover[:, 1, 1] = 1 / square
            cover[:, 0, 1] = cover[:, 1, 0] = -middle / square
            cover[:, 0, 0] = 1 / n + middle**2 / square
        rest = self.y - first[:, None] - change[:, None] * shape
        return first, change, np.sum(rest**2, axis=1), cover

    def _minimum(self) -> float:
        limits = np.concatenate(([0.0], self.grid, [math.inf]))
        rss = self.scanned = self.project(limits)[2]
        least = int(np.argmin(rss))
        if rss[least] >= (1 - 1e-12) * rss[0]:
            return 0.0
        if least in (0, limits.size - 1) or rss[least] >= (1 - 1e-12) * rss[-1]:
            return float(limits[least]) if least == 0 else math.inf
        low, high = limits[max(least - 1, 1)], limits[min(least + 1, limits.size - 2)]
        near = _between(low, high)
        at = int(np.argmin(self.project(near)[2]))
        low, high = near[max(at - 1, 0)], near[min(at + 1, near.size - 1)]
        return self._polish(math.sqrt(low * high))

    def jacobian(self, steep: float, change: float | None = None) -> Array:
        """Derivatives of the curve by plateau, start (where free) and steepness."""
        if change is None:
            change = float(self.project(np.array([steep]))[1][0])
        gone = np.exp(-steep * self.t / self.span)
        swing = -change / math.expm1(-steep)  # plateau less start
        columns = [1 - gone, gone, swing * self.t / self.span * gone]
        return np.stack(columns if self.start is None else [columns[0], columns[2]], axis=1)

    def _polish(self, steep: float) -> float:
        """Gauss-Newton to the last digit: a zero gradient is sharper than a least value."""
        first, change, rss, _ = self.project(np.array([steep]))
        share = 1.0
        for _ in range(60):
            rest = self.y - first[0] - change[0] * self.shape(np.array([steep]), self.t)[0]
            move = float(np.linalg.lstsq(self.jacobian(steep, float(change[0])), rest, rcond=None)[0][-1])
            new = steep + max(min(share * move, 0.5 * steep), -0.5 * steep)
            there = self.project(np.array([new]))
            if there[2][0] > rss[0] * (1 + 1e-10):
                share /= 2  # overshot: half the step from where it stood
            else:
                steep, (first, change, rss, _), share = new, there, min(1.0, 2 * share)
            if abs(share * move) < 1e-11 * steep:
                break
        return float(steep)

    def cut(self, threshold: float) -> None:
        """Keep the steepnesses whose sum of squares does not exceed `threshold`."""
        slack = 1e-12 * float(self.y @ self.y)
        self.threshold = threshold + slack
        allowed = np.flatnonzero(self.scanned[1:-1] <= self.threshold)
        self.straight = bool(self.scanned[0] <= self.threshold)
        self.step = bool(self.scanned[-1] <= self.threshold)
        centre = min(max(self.best, float(self.grid[0])), float(self.grid[-1]))
        seen = [float(self.grid[at]) for at in (*allowed[:1], *allowed[-1:])]
        low, high = min([centre, *seen]), max([centre, *seen])
        if not self.straight:
            low = self._edge(low, self.grid[self.grid < low][-1:])
        if not self.step:
            high = self._edge(high, self.grid[self.grid > high][:1])
        inside = np.sort(np.append(_between(low, high, _GRID), centre))
        kept = self.project(inside)
        fine = kept[2] <= self.threshold
        fine[np.searchsorted(inside, centre)] = True
        self.inside = inside[fine]
        rss = np.minimum(kept[2][fine], self.threshold)
        self.kept = (kept[0][fine], kept[1][fine], rss, kept[3][fine])

    def _edge(self, good: float, beyond: Array) -> float:
        if not beyond.size:
            return good
        bad = float(beyond[0])
        for _ in range(3):
            between = _between(good, bad)
            fine = np.flatnonzero(self.project(between)[2] <= self.threshold)
            last = int(fine[-1]) if fine.size else 0
            good, bad = float(between[last]), float(between[min(last + 1, between.size - 1)])
        return good

    def _reach(
        self, steep: Array, functional: Functional, at: tuple[Array, Array, Array, Array] | None = None
    ) -> tuple[Array, Array]:
        """Lowest and highest value not refuted at each steepness; not a number where all are."""
        first, change, rss, cover = at or self.project(steep)
        of_first, of_change = functional(steep)
        centre = of_first * first + of_change * change
        spread = of_first**2 * cover[:, 0, 0] + 2 * of_first * of_change * cover[:, 0, 1]
        spread = spread + of_change**2 * cover[:, 1, 1]
        room = self.threshold - rss
        half = np.sqrt(np.clip(spread, 0, None) * np.where(room < 0, math.nan, room))
        return centre - half, centre + half

    def value_at_best(self, functional: Functional) -> float:
        """The functional on the best curve."""
        steep = np.array([self.best])
        first, change, _, _ = self.project(steep)
        weight = functional(steep)
        with np.errstate(invalid="ignore"):
            got = weight[0] * first + np.where(change == 0, 0.0, weight[1] * change)
        return float(got[0])

    def interval(self, functional: Functional) -> Pair:
        """Hull of the functional over all curves that are not refuted."""
        if functional not in self.found:
            self.found[functional] = self._hull(functional)
        return self.found[functional]

    def _hull(self, functional: Functional) -> Pair:
        if math.isinf(self.threshold):
            return -math.inf, math.inf
        reach = self._reach(self.inside, functional, self.kept)
        low = -self._extreme(-reach[0], functional, 0)
        high = self._extreme(reach[1], functional, 1)
        ends = [(0.0, self.straight), (math.inf, self.step)]
        for steep, allowed in ends:
            if allowed:
                down, up = self._limit(steep, functional)
                low, high = min(low, down), max(high, up)
        return low, high

    def _limit(self, steep: float, functional: Functional) -> Pair:
        weight = functional(np.array([steep]))[1][0]
        if np.isfinite(weight):
            down, up = self._reach(np.array([steep]), functional)
            return float(down[0]), float(up[0])
        down, up = self._reach(np.array([steep]), change_weights)
        near = 1e-9 * (abs(self.y).max() + 1e-300)
        return (-math.inf if down[0] < -near else math.inf), (math.inf if up[0] > near else -math.inf)

    def _extreme(self, signed: Array, functional: Functional, side: int) -> float:
        """Largest of `signed` over the scan, looked at once more between its neighbours."""
        signed = np.nan_to_num(signed, nan=-math.inf, posinf=math.inf, neginf=-math.inf)
        at = int(np.argmax(signed))
        near = _between(self.inside[max(at - 1, 0)], self.inside[min(at + 1, self.inside.size - 1)])
        again = self._reach(near, functional)[side] * (1 if side else -1)
        return float(np.nanmax(np.append(again, signed[at])))

    def band(self, t: Array) -> tuple[Array, Array]:
        """Lowest and highest value at `t` of the curves that are not refuted."""
        if math.isinf(self.threshold):
            return np.full(t.shape, -math.inf), np.full(t.shape, math.inf)
        ends = [0.0] * self.straight, [self.best], [math.inf] * self.step
        steep = np.concatenate((self.inside[::4], self.inside[-1:], *ends))
        first, change, rss, cover = self.project(steep)
        shape = self.shape(steep, t)
        centre = first[:, None] + change[:, None] * shape
        var = cover[:, 0, 0, None] + 2 * shape * cover[:, 0, 1, None] + shape**2 * cover[:, 1, 1, None]
        half = np.sqrt(np.clip(var, 0, None) * np.clip(self.threshold - rss, 0, None)[:, None])
        return np.min(centre - half, axis=0), np.max(centre + half, axis=0)

    def creep(self) -> tuple[float, float]:
        """Slope of a straight creep beside the approach, and its standard deviation for scatter of one.

        One step of the fit with a creep added (a score test): what of time the curve's own freedom cannot
        take up. Not a number where the approach is slower than half the span: it would be the creep itself.
        """
        if not 2.0 <= self.best < math.inf:
            return math.nan, math.nan
        steep = np.array([self.best])
        first, change, _, _ = self.project(steep)
        rest = self.y - first[0] - change[0] * self.shape(steep, self.t)[0]
        J = self.jacobian(self.best, float(change[0]))
        line = self.t - J @ np.linalg.lstsq(J, self.t, rcond=None)[0]
        square = float(line @ line)
        if square < 1e-9 * self.span**2:
            return math.nan, math.nan
        return float(rest @ line) / square, 1 / math.sqrt(square)

    def minutes_until(self, tolerance: float) -> tuple[float, float, float]:
        """Minutes after the last reading until no more than `tolerance` is left: best, low, high."""

        def wait(left: Array, steep: Array) -> Array:
            with np.errstate(divide="ignore", invalid="ignore"):
                return np.where(left <= tolerance, 0.0, self.span / steep * np.log(left / tolerance))

        low, high = self._reach(self.inside, remaining_weights, self.kept)
        most = np.maximum(np.abs(low), np.abs(high))
        least = np.where((low <= 0) & (high >= 0), 0.0, np.minimum(np.abs(low), np.abs(high)))
        longest = math.inf if self.straight else float(wait(most, self.inside).max())
        shortest = 0.0 if self.step else float(wait(least, self.inside).min())
        left = abs(self.value_at_best(remaining_weights))
        best = float(wait(np.array([left]), np.array([self.best]))[0]) if self.best > 0 else math.inf
        return best, min(shortest, best), max(longest, best)
