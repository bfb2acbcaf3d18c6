"""What a repair costs, what a missed fault costs, and so what a test is worth.

After the tests a technician repairs a fault when its repair costs less than leaving it: expected cost is
the sum over faults of the smaller of the two. A test is worth the expected cost it saves (the expected
value of sample information); that is never negative. Wrong repairs, comebacks and road failures are in it,
each by its price.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

import numpy as np

from fanwright.catalogue.model import Catalogue, Price
from fanwright.diagnosis.inference import (
    Beliefs,
    Weighed,
    Weight,
    fitting,
    predict,
    predict_all,
    weight_of_word,
)
from fanwright.diagnosis.sets import Numbers

RARE = 1e-3
"""Outcomes rarer than this are not looked behind."""
ROAD = ("road_call", "tow", "lost_load")


@dataclass(frozen=True)
class Costs:
    """What faults and minutes cost.

    Args:
        repair_usd: Labour and parts of each fault, in the catalogue's order, shape (faults,) [USD].
        left_usd: What leaving it costs: coming back and failing on the road, shape (faults,) [USD].
        minutes: Labour of each repair, shape (faults,) [min].
        usd_per_minute: Labour and the truck standing [USD/min].
        fit_gauge_minutes: Fitting a gauge that is not there yet [min].
        change_state_minutes: Bringing the truck into another state [min].
        parts: The part each repair needs (price id), empty for none.
        saved_share: Share of the expected cost a test saves that counts in choosing it [-].
        usd_per_bit: What a bit of doubt about the faults costs in further tests [USD/bit].
    """

    repair_usd: Numbers
    left_usd: Numbers
    minutes: Numbers
    usd_per_minute: float
    fit_gauge_minutes: float
    change_state_minutes: float
    parts: Mapping[str, str]
    saved_share: float
    usd_per_bit: float


@cache
def _raw() -> Mapping[str, Any]:
    return tomllib.loads(resources.files(__package__).joinpath("repairs.toml").read_text("utf-8"))


def _middle(price: Price) -> float:
    return 0.5 * (price.low + price.high)


def costs_of(catalogue: Catalogue) -> Costs:
    """Work out what faults and minutes cost at the prices in force.

    Args:
        catalogue: Faults and prices.

    Returns:
        The costs.

    Example:
        >>> from fanwright.catalogue import load
        >>> costs_of(load()).usd_per_minute > 1.0
        True
    """
    raw, prices = _raw(), catalogue.prices
    per_minute = (_middle(prices["labour"]) + _middle(prices["downtime"])) / 60.0
    road = sum(_middle(prices[name]) for name in ROAD)
    again = _middle(prices["comeback"])
    repair, left, minutes = [], [], []
    for fault in catalogue.faults.values():
        labour = 0.5 * sum(fault.labour_minutes)
        part = raw["parts"].get(fault.id)
        cost = labour * per_minute + (0.0 if part is None else _middle(prices[part]))
        severity = str(fault.severity)
        repair.append(cost)
        minutes.append(labour)
        left.append(again * cost + raw["road"][severity] * road + raw["wear"][severity])
    left[0] = 0.0
    return Costs(
        np.array(repair),
        np.array(left),
        np.array(minutes),
        per_minute,
        float(raw["minutes"]["fit_gauge"]),
        float(raw["minutes"]["change_state"]),
        raw["parts"],
        float(raw["choice"]["saved_share"]),
        float(raw["choice"]["usd_per_bit"]),
    )


def expected_cost(presence: Numbers, costs: Costs) -> Numbers:
    """Expected cost of stopping now: each fault repaired or left, whichever costs less.

    Args:
        presence: How probable each fault is, shape (..., faults) [-].
        costs: What they cost.

    Returns:
        Expected cost, shape (...) [USD].
    """
    found: Numbers = np.minimum(costs.repair_usd, presence * costs.left_usd).sum(axis=-1)
    return found


def worth_of_tests(beliefs: Beliefs, costs: Costs) -> tuple[Numbers, Numbers]:
    """Work out what each test is worth, all of them together.

    Args:
        beliefs: What is believed so far.
        costs: What faults cost.

    Returns:
        The expected cost each saves [USD], and its information about the faults [bit], in the order of the
        model, shape (tests,).
    """
    starts = beliefs.model.starts
    chances = predict_all(beliefs)
    joint = chances * beliefs.chances[:, None]
    outcome = joint.sum(axis=0)
    presence = (joint.T @ beliefs.sets.presence()) / np.maximum(outcome, 1e-300)[:, None]
    now = float(expected_cost(beliefs.presence(), costs))
    after = outcome * expected_cost(presence, costs)
    worth = now - np.add.reduceat(after, starts)
    unsure = np.add.reduceat(outcome * np.log2(np.maximum(outcome, 1e-300)), starts)
    noise = np.add.reduceat((joint * np.log2(np.maximum(chances, 1e-300))).sum(axis=0), starts)
    return np.maximum(worth, 0.0), np.maximum(noise - unsure, 0.0)


def value_of_tests(beliefs: Beliefs, costs: Costs) -> tuple[Numbers, Numbers]:
    """Work out what each test is worth in choosing the next one: cost saved, and doubt taken away.

    Looking one test ahead, many tests change no decision by themselves, although together they settle what is
    wrong; the price of a bit stands for the tests that would otherwise have to follow.

    Args:
        beliefs: What is believed so far.
        costs: What faults cost.

    Returns:
        What each is worth [USD], and its information about the faults [bit], in the order of the model,
        shape (tests,).
    """
    saved, bits = worth_of_tests(beliefs, costs)
    return costs.saved_share * saved + costs.usd_per_bit * bits, bits


def after_outcome(beliefs: Beliefs, test: str, outcome: int) -> Beliefs:
    """Add one outcome word to what is believed, touching only the chain it looks at.

    Args:
        beliefs: What is believed so far.
        test: A test not done yet.
        outcome: Place of its outcome word.

    Returns:
        The beliefs with it.
    """
    link = beliefs.model.links[test]
    weight = beliefs.chances * predict(beliefs, test)[:, outcome]
    total = float(weight.sum())
    fact = weight_of_word(link, outcome)
    weighed = tuple(
        _with(beliefs, part, test, fact) if number == link.part else part
        for number, part in enumerate(beliefs.weighed)
    )
    return Beliefs(
        beliefs.model,
        weight / total,
        beliefs.evidence * total,
        {**beliefs.facts, test: fact},
        weighed,
    )


def _with(beliefs: Beliefs, left: Weighed, test: str, fact: Weight) -> Weighed:
    link = beliefs.model.links[test]
    if link.below < 0:
        joint = left.joint * fitting(link, fact)
        return Weighed(joint, left.below, joint.sum(axis=1))
    below = beliefs.model.parts[link.part].below[link.below]
    old = left.below[link.below]
    new = old * fitting(link, fact)
    ratio = new.sum(axis=2) / np.maximum(old.sum(axis=2), 1e-300)
    joint = left.joint * ratio[:, below.key]
    belows = tuple(new if number == link.below else each for number, each in enumerate(left.below))
    return Weighed(joint, belows, joint.sum(axis=1))


def worth_in_two_steps(
    beliefs: Beliefs, minutes: Numbers, costs: Costs, worth: Numbers, look: int
) -> Numbers:
    """Look one test further for the most promising ones: what a test opens counts too.

    Args:
        beliefs: What is believed so far.
        minutes: What each test takes, in the order of the model; infinite where it cannot be done, shape
            (tests,) [min].
        costs: What faults and minutes cost.
        worth: What each is worth by itself, shape (tests,) [USD].
        look: How many tests to look behind [-].

    Returns:
        What each is worth by itself and by what it adds to the best test after it, shape (tests,) [USD].
        A test not looked behind keeps what it is worth by itself.
    """
    found = worth.copy()
    spent = minutes * costs.usd_per_minute
    for place in np.argsort(-(worth - spent))[:look]:
        test = beliefs.model.order[place]
        if not np.isfinite(spent[place]):
            continue
        later = spent.copy()
        later[place] = np.inf
        opened = -float(np.max(worth - later, initial=0.0))
        for outcome, chance in enumerate(beliefs.chances @ predict(beliefs, test)):
            if chance > RARE:
                then, _ = value_of_tests(after_outcome(beliefs, test, outcome), costs)
                opened += chance * float(np.max(then - later, initial=0.0))
        found[place] += max(0.0, opened)
    return found
