"""From a visit's readings to facts, and from facts to what is wrong with the truck."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache

from fanwright.catalogue import Catalogue
from fanwright.catalogue import load as load_catalogue
from fanwright.diagnosis import Arrangement, Diagnosis, Engine, Fact, diagnose, load_network
from fanwright.evidence.reading import Reading
from fanwright.judging.nominal import nominal, share
from fanwright.truck.model import Truck
from fanwright.visit.model import Visit

MOST_OTHERS = 16
_OTHERS: dict[tuple[int, Arrangement, float, str], Engine] = {}
"""Engines of a shop's own or a learned catalogue: a server asks the same one again and again."""


def facts_of(readings: Iterable[Reading], truck: Truck, catalogue: Catalogue) -> tuple[Fact, ...]:
    """Turn readings into facts: a value with its uncertainty where there is one, else the word.

    Args:
        readings: One reading a test, as found; one that must not be judged is no fact.
        truck: The machine, for what a reading should be.
        catalogue: What can be observed.

    Returns:
        The facts, in the order of the readings.
    """
    others = {reading.test: reading for reading in readings}
    return tuple(
        _fact(reading, truck, catalogue, others)
        for reading in others.values()
        if reading.cannot_judge is None
    )


def _fact(reading: Reading, truck: Truck, catalogue: Catalogue, others: Mapping[str, Reading]) -> Fact:
    measured, relative_to = reading.measured, catalogue.tests[reading.test].relative_to
    if measured is not None and relative_to:
        known = nominal(relative_to, reading, truck, others)
        measured = None if known is None else share(measured, known)
    if measured is None:
        return Fact(reading.test, reading.outcome)
    return Fact(reading.test, reading.outcome, measured.si, measured.sd_si)


def engine_of(visit: Visit, catalogue: Catalogue) -> Engine:
    """Make the diagnosis ready for a visit's truck and kind.

    Args:
        visit: What was written down.
        catalogue: What can be observed and what can be wrong.

    Returns:
        The engine.
    """
    arranged = Arrangement(visit.truck.grips_by, visit.truck.valve)
    if catalogue is load_catalogue():
        return _kept_engine(arranged, visit.truck.volts, visit.kind)
    key = (id(catalogue), arranged, visit.truck.volts, visit.kind)
    held = _OTHERS.get(key)
    if held is not None and held.catalogue is catalogue:
        return held
    made = Engine(load_network(catalogue), catalogue, arranged, visit.truck.volts, visit.kind)
    if len(_OTHERS) >= MOST_OTHERS:
        _OTHERS.clear()
    _OTHERS[key] = made
    return made


@cache
def _kept_engine(arranged: Arrangement, volts: float, kind: str) -> Engine:
    """Keep one engine for each arrangement: compiling it takes longer than asking it."""
    catalogue = load_catalogue()
    return Engine(load_network(catalogue), catalogue, arranged, volts, kind)


def diagnose_visit(visit: Visit, readings: Iterable[Reading], catalogue: Catalogue) -> Diagnosis:
    """Say what is wrong with the truck of a visit.

    Args:
        visit: What was written down.
        readings: One reading a test, as found.
        catalogue: What can be observed and what can be wrong.

    Returns:
        The diagnosis.
    """
    facts = facts_of(readings, visit.truck, catalogue)
    return diagnose(engine_of(visit, catalogue), facts, visit.not_done)
