"""Round numbers for axes, and thinning of long series that loses no spike."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Series = NDArray[np.float64]
_STEPS = (1.0, 2.0, 5.0, 10.0)
_TIME_STEPS_S = (
    0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0,
    3600.0, 7200.0, 14400.0, 21600.0, 43200.0, 86400.0,
)  # fmt: skip


def round_step(span: float, most: int) -> float:
    """Give the smallest step of 1, 2 or 5 times a power of ten with at most so many steps in a span.

    Example:
        >>> round_step(120.0, 6)
        20.0
    """
    raw = max(span, 1e-9) / most
    power = 10.0 ** math.floor(math.log10(raw))
    return power * next(step for step in _STEPS if step * power >= raw * (1.0 - 1e-9))


def time_step(span_s: float, most: int) -> float:
    """Give a round step of time with at most so many steps in a span [s]."""
    wanted = span_s / most
    return next((step for step in _TIME_STEPS_S if step >= wanted), round_step(span_s, most))


def thin(across: Series, up: Series) -> tuple[Series, Series]:
    """Keep the first, lowest, highest and last point of each pixel column, in order of time.

    Args:
        across: Places from left to right, rising [pixels].
        up: The values there [any].

    Returns:
        The same line with at most four points a column; a spike of one sample stays.
    """
    if across.size <= 4:
        return across, up
    column = np.floor(across).astype(np.int64)
    starts = np.flatnonzero(np.r_[True, column[1:] != column[:-1]])
    ends = np.r_[starts[1:], across.size] - 1
    group = np.repeat(np.arange(starts.size), ends - starts + 1)
    order = np.lexsort((up, group))
    keep = np.unique(np.concatenate([starts, ends, order[starts], order[ends]]))
    return across[keep], up[keep]
