"""The thickness to come as even points at distances ahead: what a later reading is scored against."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from fanwright.life.filtering import Array
from fanwright.life.history import History
from fanwright.life.straight_line import Line, fit_line

NUMBER = 20
EVEN = tuple((at + 0.5) / NUMBER for at in range(NUMBER))
"""Shares of equally likely points."""

STEPS = (0.0, 0.1, 0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0)
"""Distances ahead, in times of the distance to the next service."""

ERROR_POINTS = tuple(NormalDist().inv_cdf((at + 0.5) / 9) for at in range(9))
MM, THOUSAND_KM, THOUSAND_H = 1e-3, 1e6, 3.6e6
LINE_RATE_MM, LINE_RATE_SD, LINE_START_MM = 0.006, 0.2, 8.5
"""What the plain line starts from: 0.006 mm in 1000 km give or take a fifth of an error; assumption."""


@dataclass(frozen=True)
class Outlook:
    """The thickness to come.

    Args:
        ahead: Distances [m] or engine times [s] from the last reading, rising from 0.
        thickness_m: For each, equally likely values of the thickness, rising [m].
    """

    ahead: tuple[float, ...]
    thickness_m: tuple[tuple[float, ...], ...]

    def at(self, ahead: float) -> tuple[float, ...] | None:
        """Give equally likely values at one distance, or None beyond the last that was foretold [m].

        Example:
            >>> Outlook((0.0, 2.0), ((8.0,), (7.0,))).at(0.5)
            (7.75,)
        """
        if not 0.0 <= ahead <= self.ahead[-1]:
            return None
        upper = next(at for at, one in enumerate(self.ahead) if one >= ahead)
        if upper == 0:
            return self.thickness_m[0]
        lower = upper - 1
        share = (ahead - self.ahead[lower]) / (self.ahead[upper] - self.ahead[lower])
        pairs = zip(self.thickness_m[lower], self.thickness_m[upper], strict=True)
        return tuple(low + share * (high - low) for low, high in pairs)


def as_read(points: Sequence[float], sd_m: float) -> tuple[float, ...]:
    """Give equally likely values of a reading of what may be at these points, rising [m].

    Args:
        points: Equally likely values of the thickness [m].
        sd_m: Standard uncertainty of the reading [m].

    Returns:
        The values [m].

    Example:
        >>> len(as_read([0.007, 0.008], 1e-4))
        18
    """
    return tuple(sorted(point + sd_m * error for point in points for error in ERROR_POINTS))


def drawn_outlook(draws_mm: Sequence[Array], ahead: Sequence[float]) -> Outlook:
    """Sum draws of one truck up.

    Args:
        draws_mm: For each distance, draws of the thickness [mm].
        ahead: The distances [m] or [s].

    Returns:
        The outlook.
    """
    points = [np.quantile(one, EVEN) * MM for one in draws_mm]
    return Outlook(tuple(ahead), tuple(tuple(float(value) for value in one) for one in points))


def line_outlook(history: History, ahead: float) -> Outlook:
    """Give what one straight line through a truck's own readings of its facing foretells.

    Args:
        history: Its readings, cleaned, at least one.
        ahead: Distance [m] or engine time [s] to the next service.

    Returns:
        The outlook.

    Example:
        >>> from fanwright.life.history import Thickness
        >>> rows = tuple(Thickness(None, 1e7 * n, 0.0085 - 2e-4 * n, 1e-4) for n in range(5))
        >>> middle = line_outlook(History("7", rows), 2e7).at(2e7)[10]
        >>> round(middle, 4)
        0.0073
    """
    from scipy.stats import t

    scale = THOUSAND_H if history.in_hours else THOUSAND_KM
    first = max((at for at, one in enumerate(history.readings) if one.new_facing), default=0)
    rows = history.readings[first:]
    now = rows[-1].usage
    line = fit_line(
        [(one.usage - now) / scale for one in rows], [one.thickness_m / MM for one in rows], _before(scale)
    )
    distances = tuple(ahead * step for step in STEPS)
    points = []
    for one in distances:
        freedom, middle, wide = line.thickness(one / scale)
        points.append(tuple(float(middle + wide * t.ppf(share, freedom)) * MM for share in EVEN))
    return Outlook(distances, tuple(points))


def _before(scale: float) -> Line:
    """What is known of a line before its readings: next to nothing of the start, little of the slope."""
    pace = 34.0 * 1.609344 if scale == THOUSAND_H else 1.0  # km in an engine hour, as the assumptions have it
    slope_sd = LINE_RATE_SD * pace
    spread = np.diag([900.0, slope_sd**2])
    return Line(np.array([LINE_START_MM, -LINE_RATE_MM * pace]), spread, 3.0, 0.03)


def weibull_outlook(
    scale: float, shape: float, age: float, thickness_m: float, limit_m: float, ahead: float
) -> Outlook:
    """Give what the life of a fleet's facings foretells of one of them: even wear from now to its end.

    Args:
        scale: Weibull scale of the fleet [usage].
        shape: Weibull shape [-].
        age: Usage of this facing so far [usage].
        thickness_m: Its thickness as read last [m].
        limit_m: Where its life ends [m].
        ahead: Distance [m] or engine time [s] to the next service.

    Returns:
        The outlook.

    Example:
        >>> found = weibull_outlook(1e8, 3.0, 5e7, 0.0075, 0.00635, 2e7)
        >>> found.at(2e7)[0] < found.at(2e7)[-1] < 0.0075
        True
    """
    left = [
        scale * math.pow(math.pow(age / scale, shape) - math.log1p(-share), 1.0 / shape) - age
        for share in EVEN
    ]
    distances = tuple(ahead * step for step in STEPS)
    points = [
        tuple(sorted(thickness_m - (thickness_m - limit_m) * one / max(each, 1.0) for each in left))
        for one in distances
    ]
    return Outlook(distances, tuple(points))
