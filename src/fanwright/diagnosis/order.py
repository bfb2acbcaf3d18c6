"""In which order to repair, and what a test before it is worth, as plain functions of chances and costs.

One fault at a time, independent costs, each action cures its fault for sure: descending probability per
cost is best (Kadane and Simon 1977; Heckerman, Breese and Rommelse 1995, both cited in later public
abstracts). With two faults at once, or a repair that cures several, the rule fails and orders are compared
one by one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import permutations

import numpy as np

from fanwright.errors import OutOfRange
from fanwright.words import Message, count

MOST_COMPARED = 6
"""Above this many repairs the rule is used even where it is not exact: 720 orders are compared at most."""


def by_probability_per_cost(probabilities: Sequence[float], costs: Sequence[float]) -> tuple[int, ...]:
    """Order actions by probability per cost, the best first; of equals the earlier.

    Args:
        probabilities: How probable it is that each action cures [-].
        costs: What each costs [USD].

    Returns:
        Places in the order to act.

    Example:
        >>> by_probability_per_cost([0.40, 0.25, 0.20, 0.10, 0.05], [120, 30, 15, 60, 5])
        (2, 4, 1, 0, 3)
    """
    _same_length(probabilities, costs)
    ratios = np.asarray(probabilities, dtype=float) / np.maximum(np.asarray(costs, dtype=float), 1e-9)
    return tuple(int(place) for place in np.argsort(-ratios, kind="stable"))


def expected_cost_of_order(
    probabilities: Sequence[float],
    costs: Sequence[float],
    order: Sequence[int],
    *,
    repair_costs: Sequence[float] | None = None,
    last_resort: float = 0.0,
) -> float:
    """Expected cost of acting in an order until the one fault is cured.

    Args:
        probabilities: How probable it is that each action cures; together at most 1 [-].
        costs: What each action costs: to do it, or to look whether it is needed [USD].
        order: Places in the order to act.
        repair_costs: What each costs besides where it is needed, or None [USD].
        last_resort: What it costs when no action cured [USD].

    Returns:
        Expected cost [USD].

    Example:
        >>> p, c = [0.40, 0.25, 0.20, 0.10, 0.05], [120, 30, 15, 60, 5]
        >>> expected_cost_of_order(p, c, by_probability_per_cost(p, c))
        107.5
    """
    _same_length(probabilities, costs)
    left, total = 1.0, 0.0
    for place in order:
        total += costs[place] * left
        if repair_costs is not None:
            total += repair_costs[place] * probabilities[place]
        left -= probabilities[place]
    return total + last_resort * max(0.0, left)


def best_order_for_sets(
    chances: Mapping[frozenset[int], float], costs: Sequence[float]
) -> tuple[tuple[int, ...], float]:
    """Find the order in which repairs cost least when several faults may be there at once.

    After each repair the failed readings are repeated, so that one stops as soon as everything is cured.

    Args:
        chances: How probable each set of needed repairs is [-].
        costs: What each repair costs [USD].

    Returns:
        The best order and its expected cost [USD]. Up to six repairs all orders are compared;
        beyond, the order by presence per cost is taken.

    Example:
        >>> best_order_for_sets({frozenset({0}): 0.5, frozenset({0, 1}): 0.5}, [100.0, 10.0])
        ((0, 1), 105.0)
    """
    present = [
        sum(chance for needed, chance in chances.items() if place in needed) for place in range(len(costs))
    ]
    rule = by_probability_per_cost(present, costs)
    orders = permutations(range(len(costs))) if len(costs) <= MOST_COMPARED else iter([rule])
    best = min(orders, key=lambda order: (_cost_for_sets(chances, costs, order), order))
    return best, _cost_for_sets(chances, costs, best)


def _cost_for_sets(
    chances: Mapping[frozenset[int], float], costs: Sequence[float], order: Sequence[int]
) -> float:
    spent = np.cumsum([costs[place] for place in order])
    at = {place: number for number, place in enumerate(order)}
    return sum(
        chance * float(spent[max(at[place] for place in needed)])
        for needed, chance in chances.items()
        if needed
    )


def after_test(
    probabilities: Sequence[float], positive: Sequence[float]
) -> tuple[float, tuple[float, ...], tuple[float, ...]]:
    """Weigh a test with two outcomes.

    Args:
        probabilities: How probable each fault is [-].
        positive: Chance of a positive outcome with each fault [-].

    Returns:
        Chance of a positive outcome, and how probable each fault is after a positive and a negative one [-].
    """
    _same_length(probabilities, positive)
    prior = np.asarray(probabilities, dtype=float)
    joint = prior * np.asarray(positive, dtype=float)
    chance = float(joint.sum())
    against = prior - joint
    return chance, tuple(joint / chance), tuple(against / against.sum())


def entropy_bits(probabilities: Sequence[float]) -> float:
    """Give the entropy of a distribution.

    Args:
        probabilities: Its chances [-].

    Returns:
        Entropy [bit].

    Example:
        >>> entropy_bits([0.5, 0.5])
        1.0
    """
    chances = np.asarray([chance for chance in probabilities if chance > 0.0], dtype=float)
    return float(-(chances * np.log2(chances)).sum())


def _same_length(one: Sequence[float], other: Sequence[float]) -> None:
    if len(one) != len(other):
        raise OutOfRange(
            Message(
                "{one} probabilities stand against {other} costs; give one cost for each",
                {"one": count(len(one)), "other": count(len(other))},
            )
        )
