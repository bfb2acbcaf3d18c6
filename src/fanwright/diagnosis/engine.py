"""From facts to beliefs: what is kept ready for a truck, and when a third fault is thought of."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from fanwright.catalogue.model import Catalogue, GripsBy, Valve
from fanwright.diagnosis.compiled import Model, compile_model, joined_models, recompile, take
from fanwright.diagnosis.inference import Beliefs, Weight, believe
from fanwright.diagnosis.model import Fact, Network
from fanwright.diagnosis.sets import FaultSets, Index, fault_sets, weights, with_seen, with_thirds
from fanwright.diagnosis.values import weight_of

PAIR_ASKS = 0.2
"""A pair at least this probable is worth a third fault; judgement."""
PAIRS_EXTENDED = 8
KEPT = 80
"""Sets of faults that tests are weighed over; together they hold nearly all of the belief."""
KEPT_SHARE = 0.999


@dataclass(frozen=True)
class Arrangement:
    """The two facts that the meaning of air turns on."""

    grips_by: GripsBy
    valve: Valve


ROUNDS = 20
LEAST = 1e-12


def settled(beliefs: Beliefs) -> Beliefs:
    """Let what was seen directly stand: it is doubted no more than the error of looking.

    Sets with and without the fault are scaled until each fault seen is as probable as looking is sure
    (iterative proportional fitting, Deming and Stephan 1940); a fault more probable already stays as it is.

    Args:
        beliefs: What follows from likelihoods alone.

    Returns:
        The beliefs with that.
    """
    seen = [fact.seen for fact in beliefs.facts.values() if fact.seen is not None]
    if not seen:
        return beliefs
    has = beliefs.sets.presence()
    there = [(has[:, beliefs.sets.faults.index(fault)] > 0.0, 1.0 - error) for fault, error in seen]
    chances = beliefs.chances
    for _ in range(ROUNDS):
        for with_it, least in there:
            now = float(chances[with_it].sum())
            if LEAST < now < least:
                chances = chances * np.where(with_it, least / now, (1.0 - least) / (1.0 - now))
    return replace(beliefs, chances=chances / chances.sum())


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
        return compile_model(self.network, self.catalogue, self.arranged, sets)

    @cached_property
    def alone(self) -> Model:
        """None and each fault alone, in the catalogue's order."""
        return take(self.model, np.arange(len(self.catalogue.faults), dtype=np.intp))

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
        return found

    def believe(self, facts: Mapping[str, Weight]) -> Beliefs:
        """Weigh all facts over none, each fault, each pair, and triples where the evidence asks for them.

        Args:
            facts: How well each fact fits, by test.

        Returns:
            The beliefs.
        """
        beliefs = settled(believe(self.model, facts, complaint=self.complaint))
        more = self._more_sets(beliefs)
        if more is None:
            return beliefs
        sets = recompile(self.model, self.network, self.catalogue, self.arranged, more)
        return settled(believe(joined_models(self.model, sets), facts, complaint=self.complaint))

    def _more_sets(self, beliefs: Beliefs) -> FaultSets | None:
        """Sets of three beyond pairs with evidence, and of everything that was seen directly."""
        share = weights(self.catalogue, self.kind)
        seen = sorted({fact.seen[0] for fact in beliefs.facts.values() if fact.seen is not None})
        if len(seen) > 1:
            places = [beliefs.sets.faults.index(fault) for fault in seen]
            return with_seen(beliefs.sets, places, self.network.prior, share)
        pairs = beliefs.chances * (beliefs.sets.members[:, 1] > 0)
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
        return settled(believe(take(beliefs.model, places), beliefs.facts, complaint=self.complaint))
