"""Whether a fleet should renew by age, and how often to look: each with how sure that is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fanwright.life.replacement import AgeReplacement, best_age, best_inspection
from fanwright.life.weibull import Life, WeibullFit, fit
from fanwright.words import Message, chance, number, quantity

DRAWS, SEED, LEVEL = 300, 2026, 0.8
ENDS = (0.1, 0.5, 0.9)
SURELY = 0.9


@dataclass(frozen=True)
class Costs:
    """What renewing, failing and looking cost.

    Args:
        planned_usd: Renewing at a planned stop [USD].
        failure_usd: An end that was not foreseen [USD].
        inspection_usd: One look [USD].
        unseen_usd: Running on past an end that nobody has seen, for usage [USD/m or USD/s].
    """

    planned_usd: float
    failure_usd: float
    inspection_usd: float
    unseen_usd: float


@dataclass(frozen=True)
class Span:
    """Something fitted, with the ends of its 80 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Renewing:
    """What a fleet's lives say about renewing by age and about looking.

    Args:
        fit: The Weibull life.
        dimension: What usage measures: ``distance`` or ``engine_time``.
        ended: How many lives have ended.
        running: How many still run.
        scale: Characteristic life [usage].
        shape: Under 1 the risk falls, over 1 it rises [-].
        b10: Usage by which a tenth have ended [usage].
        best: The best age at the fitted life.
        age: That age with its interval over lives in which there is one; None where renewing cannot pay.
        chance_pays: Chance that renewing by age saves at least one per cent [-].
        look: Best interval between looks at a fault that hides, ends spread evenly [usage].
        look_usd: Expected cost of looking and of running unseen, for one end [USD].
        costs: What it was reckoned with.
    """

    fit: WeibullFit
    dimension: str
    ended: int
    running: int
    scale: Span
    shape: Span
    b10: Span
    best: AgeReplacement
    age: Span | None
    chance_pays: float
    look: Span
    look_usd: float
    costs: Costs

    @property
    def advice(self) -> tuple[Message, ...]:
        """What to do, as sentences."""
        look = Message(
            "looking pays best every {interval} ({low} to {high}), where an end hides until somebody looks",
            {
                "interval": quantity(self.look.value, self.dimension),
                "low": quantity(self.look.low, self.dimension),
                "high": quantity(self.look.high, self.dimension),
            },
        )
        return self._wear_out(), self._by_age(), look

    def _wear_out(self) -> Message:
        values = {
            "shape": number(self.shape.value), "low": number(self.shape.low), "high": number(self.shape.high)
        }  # fmt: skip
        if self.shape.low > 1.0:
            return Message(
                "wear-out is seen: the risk rises with age (shape {shape}, {low} to {high})", values
            )
        if self.shape.value <= 1.0:
            return Message(
                "no wear-out seen: the risk does not rise with age (shape {shape}, {low} to {high})", values
            )
        return Message(
            "no wear-out seen for sure: the risk may rise or not (shape {shape}, {low} to {high})", values
        )

    def _by_age(self) -> Message:
        pays = {"sure": chance(self.chance_pays)}
        if self.shape.value <= 1.0:
            return Message(
                "age replacement cannot pay: a new one is no safer than the old (chance that it pays after "
                "all: {sure}); renew by condition",
                pays,
            )
        if self.best.age is None or self.age is None:
            return Message("age replacement cannot pay: an end costs no more than renewing in time")
        if not self.best.worth_it:
            return Message(
                "renewing by age saves {share}: no practical gain; renew by condition",
                {"share": chance(max(self.best.saving, 0.0))},
            )
        return Message(
            "renewing by age pays best at {age} ({low} to {high}): it saves {share} against running to the "
            "end; chance that it pays at all: {sure}",
            {
                "age": quantity(self.age.value, self.dimension),
                "low": quantity(self.age.low, self.dimension),
                "high": quantity(self.age.high, self.dimension),
                "share": chance(self.best.saving),
                **pays,
            },
        )


def renewing(lives: Sequence[Life], costs: Costs, dimension: str = "distance") -> Renewing:
    """Fit the lives of a fleet and say when renewing by age or looking pays.

    Args:
        lives: The lives.
        costs: What renewing, failing and looking cost.
        dimension: What usage measures: ``distance`` or ``engine_time``.

    Returns:
        The fit and the advice, each with its interval.

    Raises:
        InputError: Fewer than two lives have ended.

    Example:
        >>> failed = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0]
        >>> lives = [Life.ended(h) for h in failed] + [Life.running(500.0)] * 10
        >>> round(renewing(lives, Costs(200.0, 900.0, 10.0, 1.0)).best.age, 2)
        370.0
    """
    found = fit(lives, LEVEL)
    best = best_age(found.scale, found.shape, costs.planned_usd, costs.failure_usd)
    drawn = _draws(found)
    ages = [best_age(scale, shape, costs.planned_usd, costs.failure_usd) for scale, shape in drawn]
    with_age = [one.age for one in ages if one.age is not None]
    rates = [1.0 / (scale * math.gamma(1.0 + 1.0 / shape)) for scale, shape in drawn]
    looks = [best_inspection(rate, costs.inspection_usd, costs.unseen_usd)[0] for rate in rates]
    look, look_usd = best_inspection(1.0 / found.mean, costs.inspection_usd, costs.unseen_usd)
    tenths = [scale * math.pow(-math.log1p(-0.1), 1.0 / shape) for scale, shape in drawn]
    scale_low, scale_high = found.interval("scale", 1.2815515655446004)
    return Renewing(
        fit=found,
        dimension=dimension,
        ended=sum(math.isfinite(life.high) for life in lives),
        running=sum(math.isinf(life.high) for life in lives),
        scale=Span(found.scale, scale_low, scale_high),
        shape=Span(found.shape, found.shape_low, found.shape_high),
        b10=_span(found.usage_at(0.1), tenths),
        best=best,
        age=None if best.age is None else _span(best.age, with_age or [best.age]),
        chance_pays=sum(one.worth_it for one in ages) / len(ages),
        look=_span(look, looks),
        look_usd=look_usd,
        costs=costs,
    )


def _span(value: float, drawn: Sequence[float]) -> Span:
    low, _, high = (float(one) for one in np.quantile(np.asarray(drawn), ENDS))
    return Span(value, min(low, value), max(high, value))


def _draws(found: WeibullFit) -> list[tuple[float, float]]:
    """Draw lives that the data leave possible: normal in ln scale and ln shape."""
    first, cross, second = found.covariance
    cholesky = np.linalg.cholesky(np.array([[first, cross], [cross, second]]))
    off = np.random.default_rng(SEED).standard_normal((DRAWS, 2)) @ cholesky.T
    middle = np.array([math.log(found.scale), math.log(found.shape)])
    return [(float(scale), float(shape)) for scale, shape in np.exp(middle + off.clip(-4.0, 4.0))]
