"""What a list of facings holds and what is missing from it: those that wore out before they were read again.

Where a fleet's list holds no facing that was renewed, the fast ones have left it. The chance to stay on the
list tells how many of each kind are missing, so that the fleet is not taken for slower and steadier than it
is (left truncation, as with lives that enter late).
"""

from __future__ import annotations

import math

import numpy as np

from fanwright.life.filtering import Array, Batch, Bells, Nuisance, Start

LEAST_CHANCE = 0.02
FEW = 100_000  # values worked out without scipy
LARGE, FARTHEST, LEAST_START_MM2 = 200, 3.0, 0.04


def first_thickness(batch: Batch) -> Start:
    """Learn from a large fleet how thick facings are when first read, wide enough for the farthest.

    Args:
        batch: The readings.

    Returns:
        What is known of a facing before its first reading; next to nothing in a small fleet.
    """
    read = batch.counts > 0
    if read.sum() < LARGE:
        return Start()
    first, error = batch.thickness_mm[read, 0], batch.variance_mm2[read, 0]
    middle = float(np.median(first))
    wide = max(float(((first - middle) ** 2).mean()), (float(np.abs(first - middle).max()) / FARTHEST) ** 2)
    return Start(middle, max(wide - float(np.median(error)), LEAST_START_MM2))


def log_still_listed(
    batch: Batch, limit_mm: Array, shapes: Bells, nuisance: Nuisance, hazards: Array
) -> Array:
    """Chance that a facing first read so thick is above its limit at the last reading.

    Args:
        batch: The readings; of each truck the first and the whole way count.
        limit_mm: Thickness at which each is renewed, shape (trucks,) [mm].
        shapes: The bells rates are made of.
        nuisance: Candidates for what all trucks share.
        hazards: Candidates for the changes of the rate, shape (hazards,) [1/1000 km].

    Returns:
        Natural logarithm, shape (hazards, trucks, nuisances, bells).
    """
    way = (batch.usage[:, -1] - batch.usage[:, 0])[:, None, None]
    depth = (batch.thickness_mm[:, 0] - limit_mm)[:, None, None]
    error = batch.variance_mm2[:, :1, None] * nuisance.error_scale[None, :, None] ** 2
    wear, uneven = way * shapes.rate, nuisance.uneven_mm[None]
    wide = np.sqrt(way**2 * shapes.variance + uneven * wear + error)
    steady = _normal((depth - wear) / wide)

    half = way[..., None] / 2.0
    old, new = shapes.rate[:, None], shapes.rate[:, None] * shapes.factor
    new_variance = new**2 * shapes.factor_variance
    wear = half * (old + new)
    wide = np.sqrt(
        half**2 * (shapes.variance[:, None] + new_variance + (new - old) ** 2 / 3.0)
        + uneven[..., None] * wear
        + error[..., None]
    )
    changed = _normal((depth[..., None] - wear) / wide) @ shapes.factor_weight
    expected = hazards[:, None, None, None] * way
    found: Array = np.log(np.maximum((steady + expected * changed) / (1.0 + expected), LEAST_CHANCE))
    return found


def _normal(z: Array) -> Array:
    """Distribution function of the standard normal; scipy, slow to load, only where many are asked for."""
    if z.size > FEW:
        from scipy.special import ndtr

        return np.asarray(ndtr(z), dtype=np.float64)
    return 0.5 * np.asarray(np.frompyfunc(math.erfc, 1, 1)(-z / math.sqrt(2.0)), dtype=np.float64)
