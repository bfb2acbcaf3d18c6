"""When a noisy course of pressure crosses a level, and how well that is known."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.polynomial import polynomial
from numpy.typing import NDArray

Numbers = NDArray[np.floating[Any]]

ROUNDS = 40
MANY_ROWS = 60


@dataclass(frozen=True)
class Crossing:
    """A crossing found.

    Args:
        time_s: When [s].
        sd_s: Standard uncertainty from noise, division and the curve chosen [s].
    """

    time_s: float
    sd_s: float


@dataclass(frozen=True, eq=False)
class Stretch:
    """Part of a stroke, and how well its pressures are known.

    Args:
        time_s: Times [s], shape (n,), at least two.
        pressure_pa: Pressures [Pa], shape (n,).
        row_sd_pa: Standard uncertainty of one row [Pa].
        fixed_sd_pa: Standard uncertainty common to all rows, such as that of the gauge's zero [Pa].
    """

    time_s: Numbers
    pressure_pa: Numbers
    row_sd_pa: float
    fixed_sd_pa: float = 0.0

    @property
    def middle_s(self) -> float:
        """The middle of the stretch [s]."""
        return float(self.time_s[0] + self.time_s[-1]) / 2.0

    @property
    def half_s(self) -> float:
        """Half its length [s]."""
        return max(float(self.time_s[-1] - self.time_s[0]) / 2.0, 1e-9)

    def powers(self, degree: int) -> Numbers:
        """Powers of the time scaled to -1..1, shape (n, degree + 1)."""
        moments = (self.time_s - self.middle_s) / self.half_s
        return np.vander(moments, degree + 1, increasing=True)

    def seen_sd_pa(self, squares: float, degree: int) -> float:
        """Give the scatter about a curve where it is larger than the gauge's own: the curve fits badly."""
        freedom = self.time_s.size - degree - 1
        return max(self.row_sd_pa, math.sqrt(squares / freedom)) if freedom > 0 else self.row_sd_pa


def cross(stretch: Stretch, level_pa: float, guess_s: float) -> Crossing | None:
    """Find where a stretch of a stroke crosses a level, by a polynomial through all its rows.

    Args:
        stretch: The stretch about the crossing.
        level_pa: The level [Pa].
        guess_s: About where it is; the nearest crossing counts [s].

    Returns:
        The crossing, or None if the curve does not cross the level in the stretch or a little beside it.

    Example:
        >>> stretch = Stretch(np.array([0.0, 1.0, 2.0]), np.array([0.0, 10.0, 20.0]), 0.1)
        >>> round(cross(stretch, 5.0, 0.4).time_s, 9)
        0.5
    """
    return _best(
        [_polynomial(stretch, level_pa, guess_s, degree) for degree in _degrees(stretch.time_s.size)]
    )


def cross_tail(stretch: Stretch, level_pa: float, floor_pa: float, guess_s: float) -> Crossing | None:
    """Find where the tail of a vent falls through a low level.

    A tail ends like a parabola (subsonic flow, which stops in finite time) or like an exponential (laminar
    flow), or between. A squared polynomial that stays zero once its base is used up follows both, and the
    rows far below the level still help where rows are few and noisy.

    Args:
        stretch: From well above the level to some way below.
        level_pa: The level [Pa].
        floor_pa: What is left in the end [Pa]; must lie under the level.
        guess_s: About where the crossing is [s].

    Returns:
        The crossing, or None if the tail cannot be fitted.
    """
    if floor_pa >= level_pa or stretch.time_s.size < 2:
        return None
    return _best(
        [_squared(stretch, level_pa, floor_pa, guess_s, degree) for degree in _degrees(stretch.time_s.size)]
    )


def leave_floor(stretch: Stretch, level_pa: float) -> Crossing | None:
    """Find where a rise left the floor: its first part, drawn back to a level just above the floor.

    Before the start the course is flat, so only rows after the crossing itself may be used; which these
    are is found by drawing back a few times.

    Args:
        stretch: The first part of the rise, from the last row on the floor.
        level_pa: The level, just above the floor [Pa].

    Returns:
        The crossing, or None.
    """
    low = np.flatnonzero(stretch.pressure_pa <= level_pa)
    certain = np.flatnonzero(stretch.pressure_pa <= level_pa + 3.0 * stretch.row_sd_pa)
    latest = float(stretch.time_s[min(int(certain[-1]) + 1 if certain.size else 0, stretch.time_s.size - 1)])
    start = float(stretch.time_s[int(low[-1]) if low.size else 0])
    found: Crossing | None = None
    for _ in range(6):
        rising = stretch.time_s > start
        rows = int(rising.sum())
        if rows < 2:
            break
        part = Stretch(
            stretch.time_s[rising], stretch.pressure_pa[rising], stretch.row_sd_pa, stretch.fixed_sd_pa
        )
        crossing = _polynomial(part, level_pa, start, 1 if rows < 4 else 2, furthest=4.0)
        if crossing is None:
            break
        moment = min(max(crossing.time_s, float(stretch.time_s[0])), latest)
        found = Crossing(moment, crossing.sd_s)
        if abs(moment - start) < 1e-9:
            break
        start = moment
    return found


def window(
    course_pa: Numbers, place: int, level_pa: float, reach_pa: tuple[float, float], most: int
) -> tuple[int, int]:
    """Widen a stretch about a place while the course stays within reach of the level.

    Args:
        course_pa: A smooth course of pressure [Pa], shape (m,).
        place: Point at the crossing.
        level_pa: The level [Pa].
        reach_pa: How far below and above the level the stretch may go [Pa].
        most: How many points to either side.

    Returns:
        First point, and the point after the last.

    Example:
        >>> window(np.array([0.0, 4.0, 5.0, 6.0, 6.0, 9.0]), 2, 5.0, (1.0, 1.0), 10)
        (1, 5)
    """
    start = max(place - most, 0)
    near = course_pa[start : place + most + 1]
    outside = np.flatnonzero((near < level_pa - reach_pa[0]) | (near > level_pa + reach_pa[1])) + start
    before, after = outside[outside < place], outside[outside > place]
    first = int(before[-1]) + 1 if before.size else start
    return first, int(after[0]) if after.size else start + near.size


def _degrees(rows: int) -> tuple[int, ...]:
    """Give the degree used, and one to see what the choice of curve does."""
    if rows < 4:
        return (1,)
    if rows < 7:
        return (2, 1)
    return (2, 3) if rows < MANY_ROWS else (3, 2)


def _best(found: list[Crossing | None]) -> Crossing | None:
    """Take the first curve that crosses; half of what the next one differs by counts as uncertainty."""
    crossings = [crossing for crossing in found if crossing is not None]
    if len(crossings) < 2:
        return crossings[0] if crossings else None
    first, second = crossings
    model = min(abs(first.time_s - second.time_s) / 2.0, first.sd_s + second.sd_s)
    return Crossing(first.time_s, math.hypot(first.sd_s, model))


def _polynomial(
    stretch: Stretch, level_pa: float, guess_s: float, degree: int, furthest: float = 1.5
) -> Crossing | None:
    powers = stretch.powers(degree)
    fitted = np.linalg.lstsq(powers, stretch.pressure_pa, rcond=None)[0]
    squares = float(np.sum((stretch.pressure_pa - powers @ fitted) ** 2))
    covariance = np.linalg.pinv(powers.T @ powers) * stretch.seen_sd_pa(squares, degree) ** 2
    moment = _nearest_root(fitted, level_pa, (guess_s - stretch.middle_s) / stretch.half_s, furthest)
    if moment is None:
        return None
    slope = _slope(fitted, moment)
    level_sd = math.hypot(_sd_at(covariance, moment), stretch.fixed_sd_pa)
    return _crossing(stretch, moment, level_sd, slope)


def _squared(
    stretch: Stretch, level_pa: float, floor_pa: float, guess_s: float, degree: int
) -> Crossing | None:
    above, powers = stretch.pressure_pa - floor_pa, stretch.powers(degree)
    base, squares = _fit_squared(powers, above)
    slopes = 2.0 * np.maximum(powers @ base, 0.0)[:, None] * powers
    covariance = np.linalg.pinv(slopes.T @ slopes) * stretch.seen_sd_pa(squares, degree) ** 2
    root = math.sqrt(level_pa - floor_pa)
    moment = _nearest_root(base, root, (guess_s - stretch.middle_s) / stretch.half_s, 1.1)
    if moment is None:
        return None
    slope = 2.0 * root * _slope(base, moment)
    level_sd = math.hypot(2.0 * root * _sd_at(covariance, moment), stretch.fixed_sd_pa)
    return _crossing(stretch, moment, level_sd, slope)


def _fit_squared(powers: Numbers, above: Numbers) -> tuple[Numbers, float]:
    """Fit the square of a polynomial by damped least squares; gives the base and the squares left."""
    high = above > max(0.1 * float(above.max()), 0.0)
    if int(high.sum()) < powers.shape[1]:
        high[:] = True
    base: Numbers = np.linalg.lstsq(powers[high], np.sqrt(np.maximum(above[high], 0.0)), rcond=None)[0]
    damping, cost = 1e-3, _squares_left(powers, base, above)
    for _ in range(ROUNDS):
        lean = np.maximum(powers @ base, 0.0)
        slopes = 2.0 * lean[:, None] * powers
        normal = slopes.T @ slopes
        pull = slopes.T @ (above - lean**2)
        damped = normal + damping * np.diag(np.diag(normal) + 1e-12)
        tried = base + np.linalg.lstsq(damped, pull, rcond=None)[0]
        left = _squares_left(powers, tried, above)
        if left >= cost:
            damping *= 5.0
            continue
        done = cost - left < 1e-9 * cost
        base, cost, damping = tried, left, damping / 5.0
        if done:
            break
    return base, cost


def _squares_left(powers: Numbers, base: Numbers, above: Numbers) -> float:
    return float(np.sum((above - np.maximum(powers @ base, 0.0) ** 2) ** 2))


def _nearest_root(fitted: Numbers, level: float, guess: float, furthest: float) -> float | None:
    shifted = fitted.copy()
    shifted[0] -= level
    if not np.isfinite(shifted).all() or not np.any(shifted[1:]):
        return None
    roots = polynomial.polyroots(polynomial.polytrim(shifted, 1e-9 * float(np.abs(shifted).max())))
    real = np.real(roots[np.abs(np.imag(roots)) < 1e-6])
    near = real[np.abs(real) <= furthest]
    return float(near[np.argmin(np.abs(near - guess))]) if near.size else None


def _slope(fitted: Numbers, moment: float) -> float:
    return float(polynomial.polyval(moment, polynomial.polyder(fitted)))


def _sd_at(covariance: Numbers, moment: float) -> float:
    power = moment ** np.arange(covariance.shape[0])
    return math.sqrt(max(float(power @ covariance @ power), 0.0))


def _crossing(stretch: Stretch, moment: float, level_sd_pa: float, slope_pa: float) -> Crossing | None:
    if abs(slope_pa) < 1e-6:
        return None
    half = stretch.half_s
    return Crossing(stretch.middle_s + half * moment, level_sd_pa / abs(slope_pa) * half)
