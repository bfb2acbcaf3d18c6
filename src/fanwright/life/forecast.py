"""How long each facing of a fleet will last, as a range with its reasons."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fanwright.life.change import Change, find_change
from fanwright.life.drawing import POINTS, draw
from fanwright.life.filtering import Array, Batch, Index, run
from fanwright.life.history import History, cleaned
from fanwright.life.nodes import Nodes, nodes
from fanwright.life.outlook import STEPS, Outlook, drawn_outlook
from fanwright.life.population import Population, learn
from fanwright.life.priors import MM, THOUSAND_KM, Priors, load
from fanwright.words import Message, count, quantity

CHUNK = 32
LEAST_WEIGHT = 1e-6
SHARES = (0.1, 0.5, 0.9)
LEAST_DAYS = 20
WORN_OUT = 3.5
"""Standard uncertainties under the limit at which a facing is surely worn out."""

DAY_S = 86_400.0


@dataclass(frozen=True)
class Range:
    """The 10, 50 and 90 % points of something unknown, in SI."""

    p10: float
    p50: float
    p90: float


@dataclass(frozen=True)
class Forecast:
    """What can honestly be said of one truck's facing.

    Args:
        history: The readings it rests on, cleaned.
        in_force: Number of readings used.
        thickness_m: Thickness at the last reading, or None without any [m].
        rate: Facing lost for distance [m/m], or for engine time [m/s]; None without any reading.
        remaining: Distance [m] or engine time [s] left, 0 at the limit; None without any reading.
        ahead: The distance [m] or engine time [s] asked about.
        chance_at_limit: Chance that the limit is reached within it; None without any reading [-].
        days: Days left at this truck's own pace, or None where its dates do not tell [d].
        per_day: That pace [m/d] or [s/d], or None.
        change: A change of the rate in the past, if one is seen.
        basis: What the forecast rests on.
        notes: What else must be known.
        outlook: The thickness to come, where it was asked for.
    """

    history: History
    in_force: int
    thickness_m: Range | None
    rate: Range | None
    remaining: Range | None
    ahead: float
    chance_at_limit: float | None
    days: Range | None
    per_day: float | None
    change: Change | None
    basis: Message
    notes: tuple[Message, ...] = ()
    outlook: Outlook | None = None

    @property
    def unit(self) -> str:
        """The fleet's own number of the truck."""
        return self.history.unit

    def due(self, share: str = "p50") -> dt.date | None:
        """Give the day on which the limit is reached with a chance of 10, 50 or 90 %, if it can be told."""
        last = self.history.readings[-1].date if self.history.readings else None
        if self.days is None or last is None:
            return None
        left: float = getattr(self.days, share)
        return None if left > 36_500.0 else last + dt.timedelta(days=round(left))


def forecast_fleet(
    histories: Sequence[History],
    ahead: float = 25_000 * 1609.344,
    priors: Priors | None = None,
    *,
    outlook: bool = False,
) -> tuple[Forecast, ...]:
    """Forecast the facings of a fleet, each truck helped by the others.

    Args:
        histories: What is known of each truck; one alone falls back on the assumptions.
        ahead: Distance to the next service; histories in hours take the engine time it takes [m].
        priors: What is taken for granted, or None for our own.
        outlook: Whether the thickness to come is wanted too.

    Returns:
        A forecast a truck, in the order given.

    Example:
        >>> from fanwright.life.history import Thickness
        >>> rows = [Thickness(None, 1e7 * step, 0.0085 - 2e-4 * step, 1e-4) for step in range(5)]
        >>> left = forecast_fleet([History("7", tuple(rows))])[0].remaining
        >>> left.p10 < (0.0077 - 0.00635) / 2e-11 < left.p90
        True
    """
    priors = priors or load()
    tidy = [cleaned(history) for history in histories]
    batch = batch_of(tidy, priors)
    limits = np.array([history.limit_m / MM for history in tidy]) if _only_survivors(tidy) else None
    population = learn(batch, [history.group for history in tidy], priors, limits)
    order = np.argsort(-batch.counts, kind="stable").astype(np.int64)
    found: dict[int, Forecast] = {}
    for start in range(0, len(order), CHUNK):
        some = order[start : start + CHUNK]
        forecasts = _some(batch, some, tidy, population, _Asked(ahead, priors, outlook))
        found |= zip((int(truck) for truck in some), forecasts, strict=True)
    return tuple(found[number] for number in range(len(tidy)))


def batch_of(histories: Sequence[History], priors: Priors) -> Batch:
    """Put cleaned histories side by side, usage in thousands of kilometres, thickness in millimetres."""
    counts = np.array([len(history.readings) for history in histories], dtype=np.int64)
    wide = max(1, int(counts.max(initial=1)))
    usage, thickness = np.zeros((len(counts), wide)), np.full((len(counts), wide), 7.5)
    variance, fresh = np.ones((len(counts), wide)), np.zeros((len(counts), wide), dtype=bool)
    for row, history in enumerate(histories):
        scale = _usage_scale(history, priors)
        for at, one in enumerate(history.readings):
            usage[row, at] = one.usage * scale
            thickness[row, at] = one.thickness_m / MM
            variance[row, at] = (one.sd_m / MM) ** 2
            fresh[row, at] = one.new_facing
        usage[row, len(history.readings) :] = usage[row, max(0, len(history.readings) - 1)]
    return Batch(usage, thickness, variance, fresh, counts)


def _only_survivors(histories: Sequence[History]) -> bool:
    """Whether a list holds no facing that was renewed or is worn out: then those have left it."""
    return not any(
        one.new_facing or one.thickness_m < history.limit_m - WORN_OUT * one.sd_m
        for history in histories
        for one in history.readings
    )


def _usage_scale(history: History, priors: Priors) -> float:
    return (priors.speed_m_s if history.in_hours else 1.0) / THOUSAND_KM


@dataclass(frozen=True)
class _Asked:
    """What is asked of every truck alike."""

    ahead: float
    priors: Priors
    outlook: bool


def _some(
    batch: Batch, some: Index, histories: list[History], population: Population, asked: _Asked
) -> list[Forecast]:
    weights = population.weights[some]
    likely = np.flatnonzero(weights.max(axis=0) > LEAST_WEIGHT).astype(np.int64)
    shapes, settings = population.bells.of(likely), population.settings.of(likely)
    found = run(batch.part(some), shapes, settings.nuisance, population.start)
    mixture = nodes(found, shapes, weights[:, likely], settings)
    limits = np.array([histories[int(truck)].limit_m / MM for truck in some])
    draws = draw(mixture, limits, settings, asked.priors.change_spread)
    scales = np.array([_usage_scale(histories[int(truck)], asked.priors) for truck in some])
    aheads = [_ahead(histories[int(truck)], asked) for truck in some]
    ahead_here = np.array(aheads) * scales
    reached = ((draws.remaining <= ahead_here[:, None]).sum(axis=1) + 0.5) / (POINTS + 1.0)  # never certain
    points = [
        np.quantile(part, SHARES, axis=1).T for part in (draws.thickness_mm, draws.rate, draws.remaining)
    ]
    done = []
    for row, truck in enumerate(some):
        one = _one(row, histories[int(truck)], points, float(reached[row]), mixture, asked)
        if asked.outlook and one.remaining is not None:
            steps = [one.ahead * step for step in STEPS]
            thickness = [draws.ahead_mm(row, step * float(scales[row])) for step in steps]
            one = replace(one, outlook=drawn_outlook(thickness, steps))
        done.append(one)
    return done


def _one(
    row: int, history: History, points: list[Array], chance: float, mixture: Nodes, asked: _Asked
) -> Forecast:
    used = len(history.readings)
    if not used:
        return Forecast(
            history, 0, None, None, None, _ahead(history, asked), None, None, None, None,
            Message("no reading of the facing can be used, so nothing is said about its life"),
            history.assumed,
        )  # fmt: skip
    scale = _usage_scale(history, asked.priors)
    thickness = Range(*(float(value) * MM for value in points[0][row]))
    rate = Range(*(float(value) * MM * scale for value in points[1][row]))
    remaining = Range(*(float(value) / scale for value in points[2][row]))
    per_day = pace(history)
    days = None if per_day is None else Range(*(left / per_day for left in _ends(remaining)))
    return Forecast(
        history, used, thickness, rate, remaining, _ahead(history, asked), chance, days, per_day,
        find_change(mixture, row, history), _basis(history), (*history.assumed, *_notes(history, thickness)),
    )  # fmt: skip


def _ahead(history: History, asked: _Asked) -> float:
    """The way to the next service as this history measures usage [m or s]."""
    return asked.ahead / asked.priors.speed_m_s if history.in_hours else asked.ahead


def _ends(range_: Range) -> tuple[float, float, float]:
    return range_.p10, range_.p50, range_.p90


def pace(history: History) -> float | None:
    """Give this truck's own usage a day over the readings, or None where the dates do not tell [SI/d]."""
    dated = [one for one in history.readings if one.date is not None]
    if len(dated) < 2 or dated[0].date is None or dated[-1].date is None:
        return None
    days = (dated[-1].date - dated[0].date).days
    run_ = dated[-1].usage - dated[0].usage
    return run_ / days if days >= LEAST_DAYS and run_ > 0.0 else None


def _basis(history: History) -> Message:
    used = len(history.readings)
    span = history.readings[-1].usage - history.readings[0].usage
    if used == 1:
        return Message(
            "one reading and what is known of like trucks: the range is wide until there is a second reading"
        )
    return Message(
        "{number} readings over {span}, and what is known of like trucks",
        {"number": count(used), "span": quantity(span, history.dimension)},
    )


def _notes(history: History, thickness: Range) -> tuple[Message, ...]:
    """Say where the readings show no wear, and where the limit is reached already."""
    said: list[Message] = []
    last = history.readings[-1]
    same = history.readings[_facing_start(history) :]
    if len(same) >= 2 and same[0].thickness_m - last.thickness_m < math.hypot(same[0].sd_m, last.sd_m):
        said.append(Message("no wear is seen: the readings differ by less than their own error"))
    if thickness.p50 <= history.limit_m:
        said.append(
            Message(
                "the facing is at its limit of {limit} already",
                {"limit": quantity(history.limit_m, "length")},
            )
        )
    return tuple(said)


def _facing_start(history: History) -> int:
    return max((at for at, one in enumerate(history.readings) if one.new_facing), default=0)
