"""Exact inference over sets of faults, vectorised; no sampling, no approximation.

Given a set of faults the chains are independent, and given the condition of a chain its tests are. So the
chance of all facts under a set is a product over chains of a sum over conditions, and that is all there is
to it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fanwright.diagnosis.compiled import Link, Model, Part
from fanwright.diagnosis.sets import FaultSets, Index, Numbers

COMPLAINT = "ask_driver"
NOTHING = 0
"""Place of the outcome word «nothing» of the driver's words."""


@dataclass(frozen=True)
class Weight:
    """How well one fact fits.

    Args:
        rows: Its likelihood under each row of its link, shape (rows,) [-].
        outcomes: Its likelihood under each outcome word that faults show by themselves, shape
            (outcomes,) [-].
        seen: The fault that it shows directly, or the faults of which it shows one, with the chance that
            none is there all the same [-]; None where it shows none.
    """

    rows: Numbers
    outcomes: Numbers
    seen: tuple[tuple[str, ...], float] | None = None


@dataclass(frozen=True)
class Weighed:
    """What is left of a chain after the facts.

    Args:
        joint: Chance of condition and facts under each set, shape (sets, conditions) [-].
        below: The same for each state below, by key and value, shape (sets, keys, values) [-].
        total: Chance of the facts under each set, shape (sets,) [-].
    """

    joint: Numbers
    below: tuple[Numbers, ...]
    total: Numbers


@dataclass(frozen=True)
class Beliefs:
    """What is believed after the facts.

    Args:
        model: The model.
        chances: How probable each set is, shape (sets,) [-].
        evidence: Chance of all facts together before any was known (a density where something was measured)
            [-].
        facts: How well each fact fits, by test.
        kept: What is left of each chain, where it is known; else it is worked out when it is asked for.
    """

    model: Model
    chances: Numbers
    evidence: float
    facts: Mapping[str, Weight]
    kept: tuple[Weighed, ...] = ()

    @cached_property
    def weighed(self) -> tuple[Weighed, ...]:
        """What is left of each chain."""
        return self.kept or tuple(
            _weigh(self.model, place, self.facts) for place in range(len(self.model.parts))
        )

    @property
    def sets(self) -> FaultSets:
        """The sets of faults."""
        return self.model.sets

    def presence(self) -> Numbers:
        """How probable each fault is to be present, whatever else is, shape (faults,) [-]."""
        found: Numbers = self.chances @ self.sets.presence()
        return found


def weight_of_word(link: Link, outcome: int) -> Weight:
    """Weigh an outcome word: the chance of that word under each row.

    Args:
        link: The test's link.
        outcome: Place of the word.

    Returns:
        Its weight.
    """
    outcomes = np.zeros(link.rows.shape[1])
    outcomes[outcome] = 1.0
    return Weight(link.rows[:, outcome], outcomes)


def believe(model: Model, facts: Mapping[str, Weight]) -> Beliefs:
    """Weigh all facts.

    Args:
        model: The model.
        facts: How well each fact fits, by test.

    Returns:
        The beliefs; the chances add up to 1.
    """
    weight = model.sets.prior.copy()
    for place in range(len(model.parts)):
        linked = _linked(model, place, facts)
        if linked:
            weight *= _total(model.parts[place], linked)
    for test, fact in facts.items():
        if model.links[test].part < 0:
            weight *= _alone(model.links[test], fact)
    if model.noticed is not None and COMPLAINT in facts:
        weight /= model.noticed
    total = float(weight.sum())
    return Beliefs(model, weight / total, total, dict(facts))


def noticed(model: Model) -> Numbers:
    """Work out how likely the driver notices anything.

    Args:
        model: The model.

    Returns:
        The chance under each set, shape (sets,) [-].
    """
    return 1.0 - predict(believe(model, {}), COMPLAINT)[:, NOTHING]


def _alone(link: Link, fact: Weight) -> Numbers:
    base = float(fact.rows[0])
    if link.rest is None or link.shown is None:
        return np.array([base])
    found: Numbers = link.rest * base + link.shown @ fact.outcomes
    return found


Linked = list[tuple[Link, Weight]]


def _linked(model: Model, place: int, facts: Mapping[str, Weight]) -> Linked:
    return [(model.links[test], fact) for test, fact in facts.items() if model.links[test].part == place]


def _total(part: Part, linked: Linked) -> Numbers:
    """Chance of the facts of one chain under each set, conditions that look alike taken together."""
    at_root = [(link, fact) for link, fact in linked if link.below < 0]
    flat = np.ones(part.root.shape[1])
    for link, fact in at_root:
        flat = flat * fact.rows[link.index]
    kinds, of_set = part.kinds
    shown = _showing(at_root)
    used = sorted({link.below for link, _ in linked if link.below >= 0})
    if not used:
        total: Numbers = (kinds @ flat)[of_set]
        if shown.size:
            total[shown] = _joint_shown(part, at_root, shown).sum(axis=1)
        return total
    inside, keys = part.groups
    grouped = (kinds @ (inside * flat[:, None]))[of_set]
    if shown.size:
        grouped[shown] = _joint_shown(part, at_root, shown) @ inside
    for number in used:
        grouped *= _weigh_below(part, number, linked).sum(axis=2)[:, keys[number]]
    found: Numbers = grouped.sum(axis=1)
    return found


def _joint_shown(part: Part, at_root: Linked, sets: Index) -> Numbers:
    """Chance of condition and facts under the sets in which a fault shows by itself."""
    joint = part.root[sets]
    for link, fact in at_root:
        joint *= fitting(link, fact, sets)
    return joint


def _weigh(model: Model, place: int, facts: Mapping[str, Weight]) -> Weighed:
    part = model.parts[place]
    linked = _linked(model, place, facts)
    below = tuple(_weigh_below(part, number, linked) for number in range(len(part.below)))
    if not linked:
        return Weighed(part.root, below, np.ones(len(part.root)))
    at_root = [(link, fact) for link, fact in linked if link.below < 0]
    flat = np.ones(part.root.shape[1])
    for link, fact in at_root:
        flat = flat * fact.rows[link.index]
    joint = part.root * flat
    rows = _showing(at_root)
    if rows.size:
        joint[rows] = _joint_shown(part, at_root, rows)
    for number, values in enumerate(below):
        if any(link.below == number for link, _ in linked):
            joint *= np.take(values.sum(axis=2), part.below[number].key, axis=1)
    return Weighed(joint, below, joint.sum(axis=1))


def _showing(linked: Linked) -> Index:
    """Sets in which a fault shows by itself in one of these tests; in all others only the states do."""
    found = [link.rest < 1.0 for link, _ in linked if link.rest is not None]
    return np.flatnonzero(np.any(found, axis=0)) if found else np.zeros(0, dtype=np.intp)


def _weigh_below(part: Part, number: int, linked: Linked) -> Numbers:
    below = part.below[number]
    shape = (len(below.own), below.keys, below.own.shape[1])
    found: Numbers = np.broadcast_to(below.own[:, None, :], shape)
    for link, fact in linked:
        if link.below == number:
            found = found * fitting(link, fact)
    return found


def fitting(link: Link, fact: Weight, sets: Index | None = None) -> Numbers:
    """Give the likelihood of a fact under each set and place its test looks at.

    Args:
        link: The test's link.
        fact: How well the fact fits each row.
        sets: Places of the sets asked for, or None for all.

    Returns:
        Likelihoods, shape (sets or 1, places...) [-].
    """
    seen = fact.rows[link.index]
    if link.rest is None or link.shown is None:
        return seen[None]
    shape = (-1,) + (1,) * seen.ndim
    rest, shown = (link.rest, link.shown) if sets is None else (link.rest[sets], link.shown[sets])
    found: Numbers = rest.reshape(shape) * seen + (shown @ fact.outcomes).reshape(shape)
    return found


def predict(beliefs: Beliefs, test: str) -> Numbers:
    """Predict a test not done yet: the chance of each outcome word under each set, given the facts.

    Args:
        beliefs: What is believed so far.
        test: The test.

    Returns:
        Chances, shape (sets, outcomes) [-].
    """
    link = beliefs.model.links[test]
    rows = _places(beliefs, link.part, link.below) @ link.rows[link.index].reshape(-1, link.rows.shape[1])
    if link.rest is None or link.shown is None:
        return rows
    return link.rest[:, None] * rows + link.shown


def predict_all(beliefs: Beliefs) -> Numbers:
    """Predict every test at once, in the order of the model.

    Args:
        beliefs: What is believed so far.

    Returns:
        Chance of each outcome of each test under each set, shape (sets, outcomes of all tests) [-].
    """
    return np.hstack(
        [
            _places(beliefs, stack.part, stack.below) @ stack.rows * stack.rest + stack.shown
            for stack in beliefs.model.stacks
        ]
    )


def _places(beliefs: Beliefs, part: int, below: int) -> Numbers:
    """How probable each place that a test looks at is, under each set, given the facts."""
    if part < 0:
        return np.ones((len(beliefs.chances), 1))
    left = beliefs.weighed[part]
    conditions = _shares(left.joint, left.total)
    if below < 0:
        return conditions
    hung = beliefs.model.parts[part].below[below]
    of_key = np.zeros((len(hung.key), hung.keys))
    of_key[np.arange(len(hung.key)), hung.key] = 1.0
    values = left.below[below]
    shares = values / np.maximum(values.sum(axis=2, keepdims=True), 1e-300)
    found: Numbers = ((conditions @ of_key)[:, :, None] * shares).reshape(len(conditions), -1)
    return found


def _shares(joint: Numbers, total: Numbers) -> Numbers:
    found: Numbers = joint / np.maximum(total, 1e-300)[:, None]
    return found


def condition_chances(beliefs: Beliefs, part: int) -> Numbers:
    """How probable each condition of a chain is, whatever the faults are, shape (conditions,) [-].

    Args:
        beliefs: What is believed.
        part: Place of the chain.

    Returns:
        Chances.
    """
    left = beliefs.weighed[part]
    found: Numbers = beliefs.chances @ _shares(left.joint, left.total)
    return found
