"""How well a measured value fits each state: instrument error and spread between trucks, not only its band.

Under an outcome word readings scatter evenly over its band, or, where the spread of sound or failed trucks
is known, mostly as a normal curve cut at the band's edges. The reading itself is off by its standard
uncertainty; the product of two normal curves is one again (GUM, annex F, for the sum of the variances),
which gives each band in closed form.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from fanwright.catalogue.model import Outcome, Test
from fanwright.diagnosis.compiled import Link
from fanwright.diagnosis.inference import Weight, weight_of_word
from fanwright.diagnosis.model import Fact, Network

EVENLY = 0.2
"""Share of the readings of a known spread that scatter evenly all the same; judgement."""
WIDEST_SHARE = 3.0
"""Highest share of a nominal that an even spread reaches; judgement."""
SEEN = 0.5
"""A value counts as seen directly when it is more likely inside the band than outside."""
FINEST = 1e-4
"""Smallest uncertainty taken, as a share of the band; nothing is read without error."""


def weight_of(fact: Fact, test: Test, link: Link, network: Network, volts: float) -> Weight | None:
    """Weigh one fact.

    Args:
        fact: What was found out.
        test: The test.
        link: How it looks at the states.
        network: The network.
        volts: Nominal voltage of the vehicle [V].

    Returns:
        How well it fits each row, or None when neither word nor value says anything.
    """
    weight = None
    words = test.words()
    table = test.outcomes_24v if volts > 18.0 and test.outcomes_24v else test.outcomes
    if fact.value is not None:
        weight = _weight_of_value(fact.value, fact.sd, test, link, network, table)
    if weight is None and fact.outcome in words:
        weight = weight_of_word(link, words.index(fact.outcome))
    if weight is None:
        return None
    return replace(weight, seen=_seen(fact, network.certain.get(test.id, {}), table))


def _seen(
    fact: Fact, certain: Mapping[str, tuple[tuple[str, ...], float]], table: tuple[Outcome, ...]
) -> tuple[tuple[str, ...], float] | None:
    """The faults of which one is seen directly; a measured value is doubted by its own error as well."""
    for outcome in table:
        if outcome.word not in certain:
            continue
        faults, error = certain[outcome.word]
        if fact.value is None:
            if fact.outcome == outcome.word:
                return faults, error
        elif outcome.has_cut:
            sd = max(fact.sd, 1e-12)
            inside = _below(outcome.highest_si, fact.value, sd) - _below(outcome.lowest_si, fact.value, sd)
            if inside > SEEN:
                return faults, 1.0 - (1.0 - error) * inside
    return None


def _weight_of_value(
    value: float, sd: float, test: Test, link: Link, network: Network, table: tuple[Outcome, ...]
) -> Weight | None:
    bands = [_edges(outcome, test) if outcome.has_cut else None for outcome in table]
    even = np.array([0.0 if band is None else band_density(value, sd, *band) for band in bands])
    known = network.spread.get(test.id, {})
    fits = np.tile(even, (len(link.values), 1))
    for row, name in enumerate(link.values):
        shape = known.get(name)
        if shape is not None:
            near = [0.0 if band is None else band_density(value, sd, *band, *shape) for band in bands]
            fits[row] = EVENLY * even + (1.0 - EVENLY) * np.array(near)
    if not even.any():
        return None
    return Weight((link.rows * fits).sum(axis=1), even)


def _edges(outcome: Outcome, test: Test) -> tuple[float, float]:
    lowest, highest = (0.0, WIDEST_SHARE)
    if not test.relative_to and test.plausible is not None:
        lowest, highest = test.plausible
    return (
        outcome.lowest_si if math.isfinite(outcome.lowest_si) else min(lowest, outcome.highest_si),
        outcome.highest_si if math.isfinite(outcome.highest_si) else max(highest, outcome.lowest_si),
    )


def band_density(
    value: float, sd: float, low: float, high: float, mean: float | None = None, spread: float = 0.0
) -> float:
    """Density of a reading whose true value lies in a band.

    Args:
        value: The reading [any].
        sd: Its standard uncertainty [same].
        low: Lower edge of the band [same].
        high: Upper edge of the band [same].
        mean: Middle of the spread between trucks, or None where they scatter evenly [same].
        spread: Its standard deviation [same].

    Returns:
        The density [1/same].

    Example:
        >>> round(band_density(0.5, 0.001, 0.0, 2.0), 6)
        0.5
    """
    width = high - low
    if width <= 0.0:
        return 0.0
    error = max(sd, FINEST * width)
    if mean is None:
        return (_below(high, value, error) - _below(low, value, error)) / width
    inside = _below(high, mean, spread) - _below(low, mean, spread)
    if inside < 1e-12:
        return band_density(value, sd, low, high)
    both = math.hypot(error, spread)
    middle = (mean * error**2 + value * spread**2) / both**2
    narrow = error * spread / both
    at = math.exp(-0.5 * ((value - mean) / both) ** 2) / (both * math.sqrt(2.0 * math.pi))
    return at * max(0.0, _below(high, middle, narrow) - _below(low, middle, narrow)) / inside


def _below(edge: float, mean: float, sd: float) -> float:
    return 0.5 * math.erfc((mean - edge) / (sd * math.sqrt(2.0)))
