"""All bells of some trucks side by side with their weights."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fanwright.life.filtering import Array, Bells, Filtered, State
from fanwright.life.population import FACTORS, Settings


@dataclass(frozen=True, eq=False)
class Nodes:
    """All bells of one batch side by side, heaviest dimension last: arrays (trucks, nodes).

    Args:
        weight: How likely each is; sums to 1 for each truck.
        thickness_mm: Mean thickness now [mm].
        rate: Mean rate now [mm/1000 km].
        thickness_variance: Variance of the thickness [mm2].
        covariance: Of thickness and rate.
        rate_variance: Variance of the rate.
        before: Rate before the change; the rate now where there was none [mm/1000 km].
        uneven_mm: Variance of the wear ahead over its mean [mm], shape (nodes,).
        interval: In which interval the rate changed, -1 for no change, shape (nodes,).
    """

    weight: Array
    thickness_mm: Array
    rate: Array
    thickness_variance: Array
    covariance: Array
    rate_variance: Array
    before: Array
    uneven_mm: Array
    interval: Array


@dataclass(frozen=True, eq=False)
class _Block:
    """Bells with the rate unchanged (interval -1), or changed in one interval: arrays (trucks, nodes)."""

    state: State
    before: Array
    jumps: Array
    interval: int
    log_weight: Array


def nodes(found: Filtered, shapes: Bells, bell_weights: Array, settings: Settings) -> Nodes:
    """Put all bells side by side with their weights.

    Args:
        found: Where all bells stand.
        shapes: The bells.
        bell_weights: Prior weight of each bell, shape (trucks, bells).
        settings: What all trucks share.

    Returns:
        The nodes, sorted by rate so that even points give even draws.
    """
    blocks = _blocks(found, shapes, bell_weights, settings)
    shape = (len(settings.weight), len(shapes.rate))

    def wide(values: Array, block: _Block) -> Array:
        """Spread values of nuisances and bells over the nodes of a block."""
        spread: Array = np.broadcast_to(values[..., None], (*shape, len(block.jumps))).ravel()
        return spread

    rates = [wide(np.broadcast_to(np.log(shapes.rate), shape), block) for block in blocks]
    jumps = [np.tile(block.jumps, shape[0] * shape[1]) for block in blocks]
    order = np.argsort(np.concatenate(rates) + np.concatenate(jumps), kind="stable")

    def joined(parts: list[Array]) -> Array:
        flat: Array = np.concatenate([part.reshape(len(bell_weights), -1) for part in parts], axis=1)[
            :, order
        ]
        return flat

    ahead = settings.nuisance.uneven_mm * settings.lasting[:, None]
    log_weight = joined([block.log_weight for block in blocks])
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    thickness, rate, thickness_variance, covariance, rate_variance = (
        joined([getattr(block.state, part) for block in blocks])
        for part in ("thickness", "rate", "thickness_variance", "covariance", "rate_variance")
    )
    interval = [np.full(len(each), float(block.interval)) for each, block in zip(rates, blocks, strict=True)]
    return Nodes(
        weight=weight / weight.sum(axis=1, keepdims=True),
        thickness_mm=thickness,
        rate=rate,
        thickness_variance=thickness_variance,
        covariance=covariance,
        rate_variance=rate_variance,
        before=joined([block.before for block in blocks]),
        uneven_mm=np.concatenate([wide(ahead, block) for block in blocks])[order],
        interval=np.concatenate(interval)[order],
    )


def _blocks(found: Filtered, shapes: Bells, bell_weights: Array, settings: Settings) -> list[_Block]:
    with np.errstate(divide="ignore"):
        base = np.log(bell_weights)[:, None, :] + np.log(settings.weight)[None, :, None]
        factor = np.log(shapes.factor_weight * float(settings.hazard_weight @ settings.hazard))
        lengths = np.log(np.where(found.open_interval, found.steps, 0.0))
    steady = found.steady
    blocks = [_Block(steady, steady.rate, np.zeros(1), -1, steady.log_evidence + base)]
    for number, (state, rate) in enumerate(zip(found.changed, found.before, strict=True)):
        weight = state.log_evidence + base[..., None] + factor + lengths[number][:, None, None, None]
        before = np.broadcast_to(rate[..., None], state.rate.shape)
        blocks.append(_Block(state, before, np.array(FACTORS), number, weight))
    return blocks
