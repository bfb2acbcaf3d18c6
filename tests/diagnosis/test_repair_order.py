"""Repair orders and the value of a test, against full enumeration of all orders and all sets."""

from __future__ import annotations

from itertools import permutations

import pytest

from fanwright.diagnosis.order import (
    after_test,
    best_order_for_sets,
    by_probability_per_cost,
    entropy_bits,
    expected_cost_of_order,
)
from fanwright.errors import OutOfRange

P = (0.40, 0.25, 0.20, 0.10, 0.05)
C = (120.0, 30.0, 15.0, 60.0, 5.0)
POSITIVE = (0.95, 0.10, 0.10, 0.10, 0.10)


def letters(order: tuple[int, ...]) -> str:
    return "".join("ABCDE"[place] for place in order)


def test_probability_per_cost_is_the_best_of_all_orders() -> None:
    order = by_probability_per_cost(P, C)
    all_costs = sorted(expected_cost_of_order(P, C, each) for each in permutations(range(5)))
    assert letters(order) == "CEBAD"
    assert expected_cost_of_order(P, C, order) == pytest.approx(107.5, abs=1e-9)
    assert (all_costs[0], all_costs[1], all_costs[-1]) == pytest.approx((107.5, 107.75, 187.25), abs=1e-9)


def test_by_probability_or_by_cost_alone_is_worse() -> None:
    by_p = sorted(range(5), key=lambda place: -P[place])
    by_c = sorted(range(5), key=lambda place: C[place])
    assert expected_cost_of_order(P, C, by_p) == pytest.approx(152.5, abs=1e-9)
    assert expected_cost_of_order(P, C, by_c) == pytest.approx(119.75, abs=1e-9)


def test_looking_first_and_repairing_only_what_is_faulty() -> None:
    p, look, repair = (0.4, 0.3, 0.2, 0.1), (50.0, 10.0, 25.0, 5.0), (10.0, 300.0, 80.0, 40.0)
    order = by_probability_per_cost(p, look)
    cost = expected_cost_of_order(p, look, order, repair_costs=repair)
    assert letters(order) == "BDAC"
    assert cost == pytest.approx(162.5, abs=1e-9)
    assert cost == pytest.approx(
        min(expected_cost_of_order(p, look, each, repair_costs=repair) for each in permutations(range(4))),
        abs=1e-9,
    )


def test_with_a_last_resort() -> None:
    p = (0.35, 0.25, 0.15, 0.10, 0.05)
    order = by_probability_per_cost(p, C)
    assert letters(order) == "CEBAD"
    assert expected_cost_of_order(p, C, order, last_resort=400.0) == pytest.approx(161.25, abs=1e-9)


def test_value_of_a_test_before_the_repair() -> None:
    chance, positive, negative = after_test(P, POSITIVE)
    assert chance == pytest.approx(0.44, abs=1e-9)
    assert positive == pytest.approx((0.863636, 0.056818, 0.045455, 0.022727, 0.011364), abs=1e-6)
    assert negative == pytest.approx((0.035714, 0.401786, 0.321429, 0.160714, 0.080357), abs=1e-6)
    costs = [
        expected_cost_of_order(each, C, by_probability_per_cost(each, C)) for each in (positive, negative)
    ]
    assert costs == pytest.approx([126.25, 52.410714], abs=1e-6)
    expected = chance * costs[0] + (1.0 - chance) * costs[1]
    assert expected == pytest.approx(84.90, abs=1e-6)
    assert 107.5 - expected == pytest.approx(22.60, abs=1e-6)


def test_information_of_a_test() -> None:
    chance, positive, negative = after_test(P, POSITIVE)
    left = chance * entropy_bits(positive) + (1.0 - chance) * entropy_bits(negative)
    assert entropy_bits(P) == pytest.approx(2.041446, abs=1e-6)
    assert entropy_bits(P) - left == pytest.approx(0.593631, abs=1e-6)


def test_the_rule_fails_with_two_faults_and_the_comparison_does_not() -> None:
    """Two dear parts are needed together: by presence per cost the cheap rare one might come first."""
    chances = {frozenset({0, 1}): 0.6, frozenset({2}): 0.4}
    costs = [50.0, 50.0, 30.0]
    order, cost = best_order_for_sets(chances, costs)
    every = {each: _cost(chances, costs, each) for each in permutations(range(3))}
    assert cost == pytest.approx(min(every.values()))
    assert every[order] == pytest.approx(cost)


def _cost(chances: dict[frozenset[int], float], costs: list[float], order: tuple[int, ...]) -> float:
    total = 0.0
    for needed, chance in chances.items():
        left = set(needed)
        for place in order:
            if not left:
                break
            total += chance * costs[place]
            left.discard(place)
    return total


def test_lists_of_unequal_length_are_refused() -> None:
    with pytest.raises(OutOfRange):
        by_probability_per_cost([0.5], [1.0, 2.0])
