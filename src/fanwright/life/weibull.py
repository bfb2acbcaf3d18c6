"""Weibull life of a fleet: lives seen to end, still running, or ended between looks; late entry."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanwright.errors import InputError
from fanwright.words import Message, count

Array = NDArray[np.float64]
LEAST_LIVES = 2


@dataclass(frozen=True)
class Life:
    """One life: it ended after ``low`` and not after ``high``, and was watched from ``entry`` on.

    Exact where both are equal, still running where ``high`` is infinite, ended before it was first looked at
    where ``low`` is 0. In any unit of usage, the same for all.
    """

    low: float
    high: float
    entry: float = 0.0

    @staticmethod
    def ended(at: float, entry: float = 0.0) -> Life:
        """A life whose end was seen."""
        return Life(at, at, entry)

    @staticmethod
    def running(at: float, entry: float = 0.0) -> Life:
        """A life that has not ended yet."""
        return Life(at, math.inf, entry)


@dataclass(frozen=True)
class WeibullFit:
    """A fitted Weibull life.

    Args:
        scale: Characteristic life: 63.2 % have ended by then [usage].
        shape: Under 1 the risk falls, over 1 it rises: wear-out [-].
        log_likelihood: Logarithm of the likelihood at its maximum [-].
        covariance: Of ln scale and ln shape, from the observed information: variance, covariance, variance.
        shape_low: Lower end of the likelihood-ratio interval of the shape, at the level asked for [-].
        shape_high: Upper end of it [-].
        level: That level [-].
    """

    scale: float
    shape: float
    log_likelihood: float
    covariance: tuple[float, float, float]
    shape_low: float
    shape_high: float
    level: float

    @property
    def wear_out_seen(self) -> bool:
        """Whether the risk is surely rising: only then can renewing by age pay."""
        return self.shape_low > 1.0

    @property
    def mean(self) -> float:
        """Mean life [usage]."""
        return self.scale * math.gamma(1.0 + 1.0 / self.shape)

    @property
    def sd(self) -> float:
        """Standard deviation of life [usage]."""
        first = math.gamma(1.0 + 1.0 / self.shape)
        return self.scale * math.sqrt(math.gamma(1.0 + 2.0 / self.shape) - first * first)

    @property
    def aic(self) -> float:
        """Akaike's criterion [-]."""
        return 4.0 - 2.0 * self.log_likelihood

    def survives(self, usage: float) -> float:
        """Chance to live longer than a usage [-]."""
        return math.exp(-((usage / self.scale) ** self.shape))

    def usage_at(self, share: float) -> float:
        """Usage by which a share has ended: 0.1 gives B10 [usage]."""
        return float(self.scale * (-math.log1p(-share)) ** (1.0 / self.shape))

    def interval(self, of: str, z: float = 1.959963984540054) -> tuple[float, float]:
        """Interval of ``scale`` or ``shape`` on the logarithmic scale, from the observed information."""
        middle = self.scale if of == "scale" else self.shape
        wide = z * math.sqrt(self.covariance[0 if of == "scale" else 2])
        return middle * math.exp(-wide), middle * math.exp(wide)


def fit(lives: Sequence[Life], level: float = 0.8) -> WeibullFit:
    """Fit a Weibull life.

    Args:
        lives: The lives of a fleet, in one unit.
        level: Level of the interval of the shape [-].

    Returns:
        The fit.

    Raises:
        InputError: Too few lives have ended to say anything, or the ends contradict themselves.

    Example:
        >>> failed = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0]
        >>> found = fit([Life.ended(h) for h in failed] + [Life.running(500.0)] * 10)
        >>> round(found.shape, 6), round(found.scale, 3)
        (1.720797, 606.528)
    """
    from scipy.optimize import brentq, minimize_scalar
    from scipy.stats import chi2

    _check(lives)
    unit = float(np.median([life.low if math.isinf(life.high) or life.low else life.high for life in lives]))
    likelihood = _likelihood(lives, unit)
    found = minimize_scalar(
        lambda shape: -_best_for_shape(likelihood, shape, 0.3)[0], bracket=(0.0, 0.5), tol=1e-9
    )
    log_shape = float(found.x)
    log_scale = _best_for_shape(likelihood, log_shape, 0.3)[1]
    log_scale, log_shape = _polished(likelihood, log_scale, log_shape)
    best = likelihood(log_scale, log_shape)

    def profile(at: float) -> float:
        return _best_for_shape(likelihood, at, log_scale)[0] - best + 0.5 * float(chi2.ppf(level, 1))

    ends = [float(brentq(profile, log_shape, _past(profile, log_shape, way))) for way in (-1.0, 1.0)]
    return WeibullFit(
        math.exp(log_scale) * unit,
        math.exp(log_shape),
        best - sum(math.log(unit) for life in lives if life.low == life.high),
        _covariance(likelihood, log_scale, log_shape),
        math.exp(ends[0]),
        math.exp(ends[1]),
        level,
    )


def _check(lives: Sequence[Life]) -> None:
    wrong = [
        Message(
            "life number {number} ends before it begins, or before it was watched", {"number": count(number)}
        )
        for number, life in enumerate(lives, 1)
        if not (0.0 <= life.low <= life.high and life.high > 0.0 and 0.0 <= life.entry <= life.high)
    ]
    ended = sum(math.isfinite(life.high) for life in lives)
    if ended < LEAST_LIVES:
        wrong.append(
            Message(
                "{number} lives have ended; a Weibull life needs at least {least}",
                {"number": count(ended), "least": count(LEAST_LIVES)},
            )
        )
    if wrong:
        raise InputError(wrong)


def _likelihood(lives: Sequence[Life], unit: float) -> Callable[[float, float], float]:
    low = np.array([life.low for life in lives]) / unit
    high = np.array([life.high for life in lives]) / unit
    entry = np.array([life.entry for life in lives]) / unit
    exact, running = low == high, np.isinf(high)
    between = ~exact & ~running

    def value(log_scale: float, log_shape: float) -> float:
        shape = math.exp(min(log_shape, 5.0))

        def hazard(usage: Array) -> Array:
            found: Array = (usage / math.exp(log_scale)) ** shape
            return found

        with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
            total = hazard(entry).sum() - hazard(low[running]).sum()
            total += (
                log_shape - shape * log_scale + (shape - 1.0) * np.log(low[exact]) - hazard(low[exact])
            ).sum()
            start, end = hazard(low[between]), hazard(high[between])
            total += (-start + np.log(-np.expm1(start - end))).sum()
        return float(total) if np.isfinite(total) else -1e300

    return value


Likelihood = Callable[[float, float], float]
STEP = 1e-4


def _derivatives(likelihood: Likelihood, scale: float, shape: float) -> tuple[Array, Array]:
    at = {(i, j): likelihood(scale + i * STEP, shape + j * STEP) for i in range(-2, 3) for j in range(-2, 3)}
    weights = {-2: 1 / 12, -1: -8 / 12, 1: 8 / 12, 2: -1 / 12}
    second = {-2: -1 / 12, -1: 16 / 12, 0: -30 / 12, 1: 16 / 12, 2: -1 / 12}
    slope = np.array([
        sum(w * at[i, 0] for i, w in weights.items()) / STEP,
        sum(w * at[0, j] for j, w in weights.items()) / STEP,
    ])  # fmt: skip
    cross = sum(w * v * at[i, j] for i, w in weights.items() for j, v in weights.items())
    bend = [
        [sum(w * at[i, 0] for i, w in second.items()), cross],
        [cross, sum(w * at[0, j] for j, w in second.items())],
    ]
    return slope, np.array(bend) / STEP**2


def _polished(likelihood: Likelihood, scale: float, shape: float) -> tuple[float, float]:
    """Two steps of Newton from where the simplex stopped."""
    for _ in range(2):
        slope, bend = _derivatives(likelihood, scale, shape)
        move = np.linalg.solve(bend, -slope)
        if (
            np.abs(move).max() < 1e-3
            and likelihood(scale + move[0], shape + move[1]) >= likelihood(scale, shape) - 1e-9
        ):
            scale, shape = scale + float(move[0]), shape + float(move[1])
    return scale, shape


def _covariance(likelihood: Likelihood, scale: float, shape: float) -> tuple[float, float, float]:
    _, bend = _derivatives(likelihood, scale, shape)
    found = np.linalg.inv(-bend)
    return float(found[0, 0]), float(found[0, 1]), float(found[1, 1])


def _best_for_shape(likelihood: Likelihood, shape: float, near: float) -> tuple[float, float]:
    from scipy.optimize import minimize_scalar

    found = minimize_scalar(
        lambda scale: -likelihood(scale, shape), bracket=(near - 0.1, near + 0.1), tol=1e-13
    )
    return -float(found.fun), float(found.x)


def _past(profile: Callable[[float], float], start: float, way: float) -> float:
    """Step out until the profile has fallen below its level; without bound it stops at a factor of e^6."""
    reach = 0.2
    while profile(start + way * reach) > 0.0 and reach < 6.0:
        reach *= 1.5
    return start + way * reach


def surviving_share(lives: Sequence[Life]) -> list[tuple[float, float]]:
    """Share that lives longer, at each end seen: the product-limit estimate of Kaplan and Meier.

    Example:
        >>> surviving_share([Life.ended(1.0), Life.running(2.0)])
        [(1.0, 0.5)]
    """
    share, found = 1.0, []
    for end in sorted({life.low for life in lives if life.low == life.high}):
        at_risk = sum(1 for life in lives if life.low >= end and life.entry < end)
        share *= 1.0 - sum(1 for life in lives if life.low == life.high == end) / at_risk
        found.append((end, share))
    return found
