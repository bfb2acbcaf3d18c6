"""Which sets of faults are thought of, and how probable each is before anything was read.

None, each fault and each pair; a third fault only beyond a pair that the evidence asks for. The catalogue's
weights say how often one of many faults is found; ``pair_share`` of the faulty trucks have two at once,
most of those a cause with one of its results.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from fanwright.catalogue.model import Catalogue
from fanwright.diagnosis.model import Prior

Numbers = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True)
class FaultSets:
    """Sets of faults with how probable each is.

    Args:
        faults: Fault ids, ``no_fault`` first.
        members: Faults of each set as places in ``faults``, 0 for none, shape (sets, most at once).
        prior: How probable each set is before anything was read, shape (sets,) [-].
    """

    faults: tuple[str, ...]
    members: Index
    prior: Numbers

    def presence(self) -> Numbers:
        """Which fault is in which set, 0 or 1, shape (sets, faults) [-]; ``no_fault`` is the empty set."""
        found = np.zeros((len(self.prior), len(self.faults)))
        rows = np.arange(len(self.prior))
        for column in self.members.T:
            found[rows, column] = 1.0
        found[:, 0] = ~self.members.any(axis=1)
        return found


def weights(catalogue: Catalogue, kind: str) -> Numbers:
    """Give the relative weights of the faults for a kind of visit, in the catalogue's order.

    Args:
        catalogue: What can be wrong.
        kind: ``complaint``, or anything else for a truck nobody complained of.

    Returns:
        Weights, shape (faults,) [-].
    """
    chosen = [
        fault.weight_complaint if kind == "complaint" else fault.weight_planned
        for fault in catalogue.faults.values()
    ]
    return np.array(chosen, dtype=np.float64)


def fault_sets(catalogue: Catalogue, prior: Prior, kind: str) -> FaultSets:
    """Give none, each fault and each pair with their priors.

    Args:
        catalogue: What can be wrong.
        prior: How faults come together.
        kind: Kind of visit: ``planned``, ``complaint`` or ``retest``.

    Returns:
        The sets; their priors add up to 1.

    Example:
        >>> from fanwright.catalogue import load
        >>> found = fault_sets(load(), Prior(0.15, 0.667, 0.15), "planned")
        >>> round(float(found.prior.sum()), 12)
        1.0
    """
    faults = tuple(catalogue.faults)
    weight = weights(catalogue, kind)
    share = weight[1:] / weight[1:].sum()
    faulty = 1.0 - weight[0] / weight.sum()
    pairs = list(combinations(range(1, len(faults)), 2))
    first, second = (np.array(column) for column in zip(*pairs, strict=True))
    loose = share[first - 1] * share[second - 1]
    mixed = prior.along_leads_to * _along(catalogue, share, pairs)
    mixed = mixed + (1.0 - prior.along_leads_to) * loose / loose.sum()
    members = np.zeros((1 + len(share) + len(pairs), 3), dtype=np.intp)
    members[1 : 1 + len(share), 0] = np.arange(1, len(faults))
    members[1 + len(share) :, 0], members[1 + len(share) :, 1] = first, second
    chances = np.concatenate(
        ([1.0 - faulty], faulty * (1.0 - prior.pair_share) * share, faulty * prior.pair_share * mixed)
    )
    return FaultSets(faults, members, chances)


def _along(catalogue: Catalogue, share: Numbers, pairs: list[tuple[int, int]]) -> Numbers:
    """Share the pairs of a cause with its result out by how frequent the cause is."""
    place = {fault: number for number, fault in enumerate(catalogue.faults)}
    at = {pair: number for number, pair in enumerate(pairs)}
    found = np.zeros(len(pairs))
    for fault in catalogue.faults.values():
        for result in fault.leads_to:
            one, other = sorted((place[fault.id], place[result]))
            found[at[one, other]] += share[place[fault.id] - 1] / len(fault.leads_to)
    along: Numbers = found / found.sum()
    return along


def with_thirds(sets: FaultSets, chosen: Iterable[int], prior: Prior, share: Numbers) -> FaultSets:
    """Put a third fault beside chosen pairs.

    Args:
        sets: The sets so far.
        chosen: Places of the pairs.
        prior: How faults come together.
        share: Weight of each fault, ``no_fault`` first, shape (faults,) [-].

    Returns:
        Only the sets of three, each once, with the chance that a third fault stands beside each of its pairs.
    """
    single = share[1:] / share[1:].sum()
    pair_prior = {
        (int(one), int(other)): float(chance)
        for (one, other, third), chance in zip(sets.members, sets.prior, strict=True)
        if other and not third
    }
    triples: dict[tuple[int, int, int], float] = {}
    for place in chosen:
        one, other, _ = (int(number) for number in sets.members[place])
        for third in range(1, len(sets.faults)):
            if third not in (one, other):
                a, b, c = sorted((one, other, third))
                triples[a, b, c] = prior.third_share * sum(
                    pair_prior.get(pair, 0.0) * float(single[rest - 1])
                    for pair, rest in (((a, b), c), ((a, c), b), ((b, c), a))
                )
    members = np.array(list(triples), dtype=np.intp).reshape(-1, 3)
    return FaultSets(sets.faults, members, np.array(list(triples.values()), dtype=np.float64))


def with_seen(sets: FaultSets, seen: list[int], prior: Prior, share: Numbers) -> FaultSets:
    """Put everything that was seen directly into one set, alone and beside each other fault.

    Args:
        sets: The sets so far.
        seen: Places of the faults seen, two or more.
        prior: How faults come together.
        share: Weight of each fault, ``no_fault`` first, shape (faults,) [-].

    Returns:
        The sets that are not among ``sets``; their priors are rough, as what was seen settles them.
    """
    single = share / share[1:].sum()
    others = [place for place in range(1, len(sets.faults)) if place not in seen]
    width = max(3, len(seen) + 1)
    members = np.zeros((1 + len(others), width), dtype=np.intp)
    members[:, : len(seen)] = seen
    members[1:, len(seen)] = others
    together = prior.pair_share * prior.third_share ** (len(seen) - 2) * float(np.prod(single[seen]))
    chances = np.concatenate(([together], together * prior.third_share * single[others]))
    fewest = 1 if len(seen) == 2 else 0  # the pair itself is there already
    return FaultSets(sets.faults, members[fewest:], chances[fewest:])


def joined(one: FaultSets, other: FaultSets) -> FaultSets:
    """Put two lists of sets one after the other."""
    width = max(one.members.shape[1], other.members.shape[1])
    members = [np.pad(each.members, ((0, 0), (0, width - each.members.shape[1]))) for each in (one, other)]
    return FaultSets(one.faults, np.vstack(members), np.concatenate((one.prior, other.prior)))
