"""From facts to beliefs: what is kept ready for a truck, and when a third fault is thought of."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from fanwright.catalogue.model import Catalogue, GripsBy, Valve
from fanwright.diagnosis.chains import EventChain, load_chains
from fanwright.diagnosis.compiled import Model, compile_model, recompile, take
from fanwright.diagnosis.inference import Beliefs, Weight, believe, noticed
from fanwright.diagnosis.joining import joined_models
from fanwright.diagnosis.model import Fact, Network
from fanwright.diagnosis.sets import FaultSets, Index, fault_sets, weights, with_seen, with_thirds
from fanwright.diagnosis.values import weight_of

PAIR_ASKS = 0.2
"""A pair at least this probable is worth a third fault; judgement."""
PAIRS_EXTENDED = 8
KEPT = 80
"""Sets of faults that tests are weighed over; together they hold nearly all of the belief."""
KEPT_SHARE = 0.999
REPEAT = 0.6
"""How much each earlier look at the same thing weakens a later one; judgement."""


@dataclass(frozen=True)
class Arrangement:
    """The two facts that the meaning of air turns on."""

    grips_by: GripsBy
    valve: Valve


ROUNDS = 500
LEAST = 1e-12
SETTLED = 1e-10


def settled(beliefs: Beliefs) -> Beliefs:
    """Let what was seen directly stand: it is doubted no more than the error of looking.

    Sets with and without the fault are scaled until each fault seen is as probable as looking is sure
    (iterative proportional fitting, Deming and Stephan 1940); a fault more probable already stays as it is.

    Args:
        beliefs: What follows from likelihoods alone.

    Returns:
        The beliefs with that.
    """
    seen = seen_directly(beliefs)
    if not seen:
        return beliefs
    has = beliefs.sets.presence()
    at = beliefs.sets.faults.index
    there = [
        (has[:, [at(fault) for fault in faults]].any(axis=1), 1.0 - error) for faults, error in seen.items()
    ]
    chances = beliefs.chances
    for _ in range(ROUNDS):
        before = chances
        for with_it, least in there:
            now = float(chances[with_it].sum())
            if LEAST < now < least:
                chances = chances * np.where(with_it, least / now, (1.0 - least) / (1.0 - now))
        if len(there) == 1 or float(np.abs(chances - before).max()) < SETTLED:
            break
    return replace(beliefs, chances=chances / chances.sum())


def seen_directly(beliefs: Beliefs) -> dict[tuple[str, ...], float]:
    """Give what was seen directly, with the chance that it is absent all the same.

    Args:
        beliefs: What is believed.

    Returns:
        The error of the surest look [-], by the faults of which one was seen, in the order of their ids.
    """
    found: dict[tuple[str, ...], float] = {}
    for fact in beliefs.facts.values():
        if fact.seen is not None:
            faults, error = fact.seen
            found[faults] = min(error, found.get(faults, 1.0))
    return dict(sorted(found.items()))


@dataclass(frozen=True)
class Engine:
    """What is kept ready for one arrangement and kind of visit.

    Args:
        network: The network.
        catalogue: What can be observed and what can be wrong.
        arranged: The arrangement.
        volts: Nominal voltage of the vehicle [V].
        kind: Kind of visit.
    """

    network: Network
    catalogue: Catalogue
    arranged: Arrangement
    volts: float
    kind: str

    @cached_property
    def model(self) -> Model:
        """None, each fault and each pair."""
        sets = fault_sets(self.catalogue, self.network.prior, self.kind)
        return self._with_noticed(compile_model(self.network, self.catalogue, self.arranged, sets))

    def _with_noticed(self, model: Model) -> Model:
        """Where somebody complained, the driver noticed something for sure."""
        return replace(model, noticed=noticed(model)) if self.complaint else model

    @cached_property
    def alone(self) -> Model:
        """None and each fault alone, in the catalogue's order."""
        return take(self.model, np.arange(len(self.catalogue.faults), dtype=np.intp))

    @cached_property
    def chains(self) -> Mapping[str, EventChain]:
        """The first chain of events that each fault stands at the head of."""
        found: dict[str, EventChain] = {}
        for chain in load_chains(self.catalogue):
            for fault in chain.causes:
                found.setdefault(fault, chain)
        return found

    @property
    def complaint(self) -> bool:
        """Whether somebody complained."""
        return self.kind == "complaint"

    def weigh(self, facts: Iterable[Fact]) -> dict[str, Weight]:
        """Weigh facts; what says nothing is left out.

        Args:
            facts: What was found out.

        Returns:
            How well each fits, by test.
        """
        found = {}
        for fact in facts:
            link = self.model.links.get(fact.test)
            if link is None or (self.complaint and fact.test == "ask_driver" and fact.outcome == "nothing"):
                continue
            weight = weight_of(fact, self.catalogue.tests[fact.test], link, self.network, self.volts)
            if weight is not None:
                found[fact.test] = weight
        return {test: self._weakened(test, weight, found) for test, weight in found.items()}

    def _weakened(self, test: str, weight: Weight, found: Mapping[str, Weight]) -> Weight:
        """Let what was seen before already count less the second time."""
        repeats = sum(other in found for other in self.network.same.get(test, ()))
        if not repeats:
            return weight
        power = 1.0 / (1.0 + REPEAT * repeats)
        return replace(weight, rows=weight.rows**power, outcomes=weight.outcomes**power)

    def believe(self, facts: Mapping[str, Weight]) -> Beliefs:
        """Weigh all facts over none, each fault, each pair, and triples where the evidence asks for them.

        Args:
            facts: How well each fact fits, by test.

        Returns:
            The beliefs.
        """
        beliefs = believe(self.model, facts)
        more = self._more_sets(beliefs)
        if more is None:
            return settled(beliefs)
        sets = recompile(self.model, self.network, self.catalogue, self.arranged, more)
        return settled(believe(joined_models(self.model, self._with_noticed(sets)), facts))

    def _more_sets(self, beliefs: Beliefs) -> FaultSets | None:
        """Sets of three beyond pairs with evidence, and of everything that was seen directly."""
        share = weights(self.catalogue, self.kind)
        presence, at = beliefs.presence(), beliefs.sets.faults.index
        seen = {
            max((at(fault) for fault in faults), key=lambda place: float(presence[place]))
            for faults in seen_directly(beliefs)
        }
        if len(seen) > 1:
            return with_seen(beliefs.sets, sorted(seen), self.network.prior, share)
        pairs = settled(beliefs).chances * (beliefs.sets.members[:, 1] > 0)
        if pairs.sum() < PAIR_ASKS or not beliefs.facts:
            return None
        best: Index = np.argsort(-pairs)[:PAIRS_EXTENDED].astype(np.intp)
        return with_thirds(beliefs.sets, [int(place) for place in best], self.network.prior, share)

    def narrow(self, beliefs: Beliefs, most: int = KEPT) -> Beliefs:
        """Keep the sets that hold nearly all of the belief.

        Args:
            beliefs: What is believed.
            most: How many sets at most [-].

        Returns:
            The same beliefs over fewer sets.
        """
        order = np.argsort(-beliefs.chances)
        enough = int(np.searchsorted(np.cumsum(beliefs.chances[order]), KEPT_SHARE)) + 1
        places: Index = order[: min(most, enough)].astype(np.intp)
        return settled(believe(take(beliefs.model, places), beliefs.facts))
