"""What thickness readings say about rate and thickness: a mixture of linear-Gaussian filters.

A truck's rate is a mixture of narrow bells, evenly spaced in its logarithm, so that any prior over rates is
a set of weights. Within one bell everything is linear and normal: thickness falls by rate times usage, its
variance grows by the wear times the unevenness of duty, a reading adds its own error. Between two readings
the rate may change once: a second bell takes over half-way, its place spread over the whole interval.

Arrays are [truck, nuisance, bell] or [truck, nuisance, bell, factor]; millimetres and thousands of
kilometres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.int64]
LOG_2_PI = math.log(2.0 * math.pi)
LEAST_VARIANCE = 1e-12


@dataclass(frozen=True, eq=False)
class Batch:
    """Readings of several trucks, padded to the same number.

    Args:
        usage: Usage at each reading, shape (trucks, readings) [1000 km].
        thickness_mm: Thickness read [mm], same shape.
        variance_mm2: Its variance [mm2].
        fresh: Whether the facing is another one than at the reading before, same shape.
        counts: Number of readings of each truck, shape (trucks,).
    """

    usage: Array
    thickness_mm: Array
    variance_mm2: Array
    fresh: NDArray[np.bool_]
    counts: Index

    @property
    def steps(self) -> Array:
        """Usage since the reading before, 0 at the first [1000 km]."""
        return np.diff(self.usage, axis=1, prepend=self.usage[:, :1])

    def part(self, which: Index) -> Batch:
        """Give some of the trucks, as wide as the longest of them."""
        wide = max(1, int(self.counts[which].max(initial=1)))
        return Batch(
            self.usage[which, :wide],
            self.thickness_mm[which, :wide],
            self.variance_mm2[which, :wide],
            self.fresh[which, :wide],
            self.counts[which],
        )


@dataclass(frozen=True, eq=False)
class Bells:
    """The bells rates are made of.

    Args:
        rate: Mean of each [mm/1000 km], shape (bells,).
        variance: Variance of each, same shape.
        factor: Mean of what a change multiplies the rate by, shape (factors,) [-].
        factor_variance: Its variance relative to the square of that mean, shape (factors,) [-].
        factor_weight: Prior weight of each factor, shape (factors,) [-].
    """

    rate: Array
    variance: Array
    factor: Array
    factor_variance: Array
    factor_weight: Array

    def of(self, which: Index) -> Bells:
        """Give some of the bells."""
        return Bells(
            self.rate[which], self.variance[which], self.factor, self.factor_variance, self.factor_weight
        )


@dataclass(frozen=True, eq=False)
class Nuisance:
    """What is the same for all trucks and not of interest by itself, one row a candidate.

    Args:
        uneven_mm: Variance of the wear over its mean [mm], shape (candidates, bells).
        error_scale: How much larger reading errors are than stated, shape (candidates,) [-].
    """

    uneven_mm: Array
    error_scale: Array


@dataclass(frozen=True, eq=False)
class Start:
    """Thickness before a truck is first read, and of a facing fitted later: mean [mm], variance [mm2]."""

    mean_mm: float | Array = 7.5
    variance_mm2: float | Array = 9.0
    later_mean_mm: float | Array = 7.5
    later_variance_mm2: float | Array = 9.0


@dataclass(frozen=True, eq=False)
class State:
    """Joint bell of thickness and rate, and the logarithm of how well it foretold the readings."""

    thickness: Array
    rate: Array
    thickness_variance: Array
    covariance: Array
    rate_variance: Array
    log_evidence: Array


@dataclass(frozen=True, eq=False)
class Filtered:
    """Where all bells stand after the last reading.

    Args:
        steady: Without any change of rate, arrays (trucks, nuisances, bells).
        changed: For each interval with one change in it, arrays (trucks, nuisances, bells, factors).
        before: The rate before that change, arrays (trucks, nuisances, bells).
        open_interval: Whether a truck has that interval, shape (intervals, trucks).
        steps: Length of each interval, shape (intervals, trucks) [1000 km].
    """

    steady: State
    changed: tuple[State, ...]
    before: tuple[Array, ...]
    open_interval: NDArray[np.bool_]
    steps: Array


def run(
    batch: Batch, bells: Bells, nuisance: Nuisance, start: Start | None = None, *, changes: bool = True
) -> Filtered:
    """Run all bells over all readings.

    Args:
        batch: The readings.
        bells: The bells rates are made of.
        nuisance: Candidates for what all trucks share.
        start: Thickness before the first reading of a facing.
        changes: Whether the rate may change between readings.

    Returns:
        Where all bells stand after the last reading of each truck.
    """
    start = start or Start()
    wide = batch.usage.shape[1]
    steps = batch.steps
    state = _first(batch, bells, nuisance, start)
    branches: list[State] = []
    before: list[Array] = []
    for number in range(1, wide):
        live = number < batch.counts
        for at, branch in enumerate(branches):
            branches[at] = _moved(branch, batch, number, steps[:, number], nuisance, start, live)
        if changes:
            before.append(state.rate)
            branches.append(_branched(state, batch, number, steps[:, number], bells, nuisance, start, live))
        state = _moved(state, batch, number, steps[:, number], nuisance, start, live)
    inner = range(1, wide)
    return Filtered(
        state,
        tuple(branches),
        tuple(before),
        np.array([(number < batch.counts) & (steps[:, number] > 0.0) for number in inner]).reshape(
            -1, len(steps)
        ),
        steps[:, 1:].T,
    )


def _lift(values: Array | NDArray[np.bool_], like: Array) -> Array:
    """Give a value for each truck the shape of a state."""
    return np.asarray(values, dtype=np.float64).reshape((-1,) + (1,) * (like.ndim - 1))


def _first(batch: Batch, bells: Bells, nuisance: Nuisance, start: Start) -> State:
    shape = (len(batch.counts), len(nuisance.error_scale), len(bells.rate))
    state = State(
        *(np.broadcast_to(part, shape).copy() for part in (
            start.mean_mm, bells.rate, start.variance_mm2, 0.0, bells.variance, 0.0
        ))
    )  # fmt: skip
    return _read(state, batch, 0, nuisance, batch.counts > 0)


def _moved(
    state: State,
    batch: Batch,
    number: int,
    step: Array,
    nuisance: Nuisance,
    start: Start,
    live: NDArray[np.bool_],
) -> State:
    """Carry a state to the next reading and learn from it; trucks without that reading stay."""
    along = _lift(np.where(live, step, 0.0), state.rate)
    uneven = _uneven(nuisance, state)
    wear = np.maximum(state.rate, 0.0) * along
    thickness_variance = (
        state.thickness_variance
        + along * (along * state.rate_variance - 2.0 * state.covariance)
        + uneven * wear
    )
    moved = State(
        state.thickness - state.rate * along,
        state.rate,
        thickness_variance,
        state.covariance - along * state.rate_variance,
        state.rate_variance,
        state.log_evidence,
    )
    return _read(_renewed(moved, batch, number, start, live), batch, number, nuisance, live)


def _branched(
    state: State, batch: Batch, number: int, step: Array, bells: Bells, nuisance: Nuisance, start: Start,
    live: NDArray[np.bool_],
) -> State:  # fmt: skip
    """Let the rate change once on the way to the next reading, at a place evenly spread over the way."""
    old = State(*(part[..., None] for part in vars(state).values()))
    along = _lift(np.where(live, step, 0.0), old.rate)
    half = along / 2.0
    new_rate = bells.rate[:, None] * bells.factor
    new_variance = new_rate**2 * bells.factor_variance
    wear = half * (np.maximum(old.rate, 0.0) + new_rate)
    variance = (
        old.thickness_variance
        + half * (half * (old.rate_variance + new_variance) - 2.0 * old.covariance)
        + _uneven(nuisance, old) * wear
        + (along * (new_rate - old.rate)) ** 2 / 12.0
    )
    shape = variance.shape
    moved = State(
        old.thickness - half * (old.rate + new_rate),
        np.broadcast_to(new_rate, shape),
        variance,
        -half * np.broadcast_to(new_variance, shape),
        np.broadcast_to(new_variance, shape).copy(),
        np.broadcast_to(old.log_evidence, shape),
    )
    return _read(_renewed(moved, batch, number, start, live), batch, number, nuisance, live)


def _renewed(state: State, batch: Batch, number: int, start: Start, live: NDArray[np.bool_]) -> State:
    """Forget the thickness, not the rate, where the facing is another one."""
    fresh = batch.fresh[:, number] & live
    if not fresh.any():
        return state
    here = _lift(fresh, state.rate) > 0.0
    return State(
        np.where(here, start.later_mean_mm, state.thickness),
        state.rate,
        np.where(here, start.later_variance_mm2, state.thickness_variance),
        np.where(here, 0.0, state.covariance),
        state.rate_variance,
        state.log_evidence,
    )


def _read(state: State, batch: Batch, number: int, nuisance: Nuisance, live: NDArray[np.bool_]) -> State:
    """Learn from one reading."""
    error = _lift(batch.variance_mm2[:, number], state.rate) * _scale(nuisance, state) ** 2
    total = np.maximum(state.thickness_variance + error, LEAST_VARIANCE)
    off = _lift(batch.thickness_mm[:, number], state.rate) - state.thickness
    by = _lift(live, state.rate) / total
    gain, rate_gain = state.thickness_variance * by, state.covariance * by
    said = -0.5 * (LOG_2_PI + np.log(total) + off * off / total)
    return State(
        state.thickness + gain * off,
        state.rate + rate_gain * off,
        np.maximum(state.thickness_variance * (1.0 - gain), 0.0),
        state.covariance * (1.0 - gain),
        np.maximum(state.rate_variance - rate_gain * state.covariance, 0.0),
        state.log_evidence + np.where(_lift(live, state.rate) > 0.0, said, 0.0),
    )


def _uneven(nuisance: Nuisance, state: State) -> Array:
    return nuisance.uneven_mm.reshape((1, *nuisance.uneven_mm.shape) + (1,) * (state.rate.ndim - 3))


def _scale(nuisance: Nuisance, state: State) -> Array:
    return nuisance.error_scale.reshape((1, -1) + (1,) * (state.rate.ndim - 2))


def change_evidence(found: Filtered) -> Array:
    """Sum over intervals how well one change foretells the readings, each weighted by its length.

    Returns:
        Natural logarithm, shape (trucks, nuisances, bells, factors); minus infinity where nothing can change.
    """
    state = found.steady
    if not found.changed:
        return np.full((*state.rate.shape, 1), -np.inf)
    with np.errstate(divide="ignore"):
        lengths = np.log(np.where(found.open_interval, found.steps, 0.0))
    total = np.full(found.changed[0].rate.shape, -np.inf)
    for one, length in zip(found.changed, lengths, strict=True):
        total = np.logaddexp(total, one.log_evidence + _lift(length, one.rate))
    return total
