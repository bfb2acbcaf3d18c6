"""Virtual trucks with known faults for the trials of the diagnosis: what every test would show on each.

From the table of starting judgement, from the network itself, and from the air simulation. The table and the
network know words; the simulation gives pressures and times, and the network the rest.
"""

from __future__ import annotations

import csv
import gzip
from collections import defaultdict
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from fanwright.catalogue import Catalogue
from fanwright.diagnosis import Engine, Fact
from fanwright.diagnosis.compiled import take
from fanwright.diagnosis.inference import Beliefs, believe, predict_all
from fanwright.diagnosis.worth import after_outcome

TABLE = Path(__file__).parents[1] / "tests" / "data" / "likelihood.csv.gz"
ARRANGEMENTS = [(grips_by, valve) for grips_by in ("spring", "air") for valve in ("nc", "no")]
PSI = 6894.757293168
REAL = 5.0
"""How many times likelier than on a sound truck a direct sighting must be to count as real."""
CARELESS = 0.04
"""Share of the tests that a careless technician answers at random."""


@dataclass(frozen=True)
class Case:
    """One truck.

    Args:
        grips_by: What makes the drive grip.
        valve: What the valve does without current.
        kind: Kind of visit.
        faults: What is wrong with it.
        shows: What each test would show.
    """

    grips_by: str
    valve: str
    kind: str
    faults: frozenset[str]
    shows: dict[str, Fact]


def draw_faults(engine: Engine, rng: np.random.Generator, what: str) -> frozenset[str]:
    """Draw what is wrong: ``any`` as often as it is believed, else a single fault or a pair."""
    sets = engine.model.sets
    count = (sets.members > 0).sum(axis=1)
    keep = {"any": count >= 0, "single": count == 1, "pair": count == 2}[what]
    weight = np.where(keep, sets.prior, 0.0)
    place = rng.choice(len(weight), p=weight / weight.sum())
    return frozenset(sets.faults[number] for number in sets.members[place] if number)


@cache
def table() -> dict[tuple[str, str, str, str], dict[str, float]]:
    """The table of starting judgement."""
    found: dict[tuple[str, str, str, str], dict[str, float]] = defaultdict(dict)
    with gzip.open(TABLE, "rt", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            found[row["fault"], row["test"], row["grips_by"], row["valve"]][row["outcome"]] = float(
                row["chance"]
            )
    return found


def table_row(fault: str, test: str, grips_by: str, valve: str) -> dict[str, float] | None:
    """The row in force, or None for a test the table does not know."""
    keys = [(fault, test, g, v) for g in (grips_by, "") for v in (valve, "")]
    return next((table()[key] for key in keys if key in table()), None)


def from_table(engine: Engine, rng: np.random.Generator, what: str) -> Case:
    """Draw a truck from the table: each test by itself; of two faults the one that shows more is seen."""
    faults = draw_faults(engine, rng, what)
    arranged = engine.arranged
    shows = {}
    for test in engine.catalogue.tests:
        seen = []
        for fault in sorted(faults) or ["no_fault"]:
            row = table_row(fault, test, arranged.grips_by, arranged.valve)
            if row is not None:
                word = str(rng.choice(list(row), p=np.array(list(row.values())) / sum(row.values())))
                seen.append((word != engine.catalogue.tests[test].good, word))
        if seen:
            shows[test] = Fact(test, max(seen)[1])
    case = _case(engine, rng, faults, shows)
    return replace(case, faults=faults | _caused(engine, faults, shows))


def _caused(engine: Engine, faults: frozenset[str], shows: dict[str, Fact]) -> frozenset[str]:
    """Results that are really there: a facing measured at its limit is worn, whatever caused it.

    The table's row of a fault holds the chance that its result is there and seen; what lies above the chance
    on a sound truck is no false sighting.
    """
    found = set()
    for test, certain in engine.network.certain.items():
        shown, _ = certain.get(shows[test].outcome, ((), 0.0)) if test in shows else ((), 0.0)
        if len(shown) == 1 and any(_above_sound(engine, one, test, shows[test].outcome) for one in faults):
            found.update(shown)
    return frozenset(found)


def _above_sound(engine: Engine, fault: str, test: str, word: str) -> bool:
    arranged = engine.arranged.grips_by, engine.arranged.valve
    row, sound = table_row(fault, test, *arranged), table_row("no_fault", test, *arranged)
    return row is not None and sound is not None and row[word] > REAL * sound[word]


def from_network(
    engine: Engine, rng: np.random.Generator, what: str, known: dict[str, Fact] | None = None
) -> Case:
    """Draw a truck from the network: states first, then tests that look at them."""
    faults = draw_faults(engine, rng, what)
    return _case(engine, rng, faults, network_shows(engine, rng, faults, known or {}))


def network_shows(
    engine: Engine, rng: np.random.Generator, faults: frozenset[str], known: dict[str, Fact]
) -> dict[str, Fact]:
    """Draw what every test shows with these faults, one test after the other, given those known already."""
    beliefs = believe(take(engine.model, _place_of(engine, faults)), engine.weigh(known.values()))
    shows = dict(known)
    for test in rng.permutation(list(engine.model.asked)):
        if test not in shows:
            beliefs, word = _drawn(beliefs, str(test), engine.catalogue, rng)
            shows[str(test)] = Fact(str(test), word)
    return shows


def _place_of(engine: Engine, faults: frozenset[str]) -> Any:
    sets = engine.model.sets
    wanted = {sets.faults.index(fault) for fault in faults}
    return np.array([place for place, row in enumerate(sets.members) if {int(n) for n in row if n} == wanted])


def _drawn(
    beliefs: Beliefs, test: str, catalogue: Catalogue, rng: np.random.Generator
) -> tuple[Beliefs, str]:
    from fanwright.diagnosis.inference import predict

    chances = predict(beliefs, test)[0]
    place = int(rng.choice(len(chances), p=chances / chances.sum()))
    return after_outcome(beliefs, test, place), catalogue.tests[test].words()[place]


def _case(engine: Engine, rng: np.random.Generator, faults: frozenset[str], shows: dict[str, Fact]) -> Case:
    if engine.complaint and shows["ask_driver"].outcome == "nothing":
        chances = _complaints(engine, faults)
        shows["ask_driver"] = Fact("ask_driver", str(rng.choice(list(chances), p=list(chances.values()))))
    return Case(engine.arranged.grips_by, engine.arranged.valve, engine.kind, faults, shows)


def _complaints(engine: Engine, faults: frozenset[str]) -> dict[str, float]:
    model = take(engine.model, _place_of(engine, faults))
    chances = predict_all(believe(model, {}))[0]
    start = int(model.starts[model.order.index("ask_driver")])
    words = engine.catalogue.tests["ask_driver"].words()
    left = {word: float(chances[start + number]) for number, word in enumerate(words) if word != "nothing"}
    total = sum(left.values())
    return {word: chance / total for word, chance in left.items()}


def careless(case: Case, engine: Engine, rng: np.random.Generator) -> Case:
    """The same truck in careless hands: some tests are answered at random."""
    shows = {
        test: Fact(test, str(rng.choice(engine.catalogue.tests[test].words())))
        if rng.random() < CARELESS and test != "ask_driver"
        else fact
        for test, fact in case.shows.items()
    }
    return Case(case.grips_by, case.valve, case.kind, case.faults, shows)


def from_physics(engine: Engine, rng: np.random.Generator) -> Case:
    """Put a fault of the air into the simulated circuit of a truck, read its gauges, draw the rest."""
    from fanwright.truck.loader import presets
    from fanwright.virtual.air import simulate
    from fanwright.virtual.circuit import circuit_of
    from fanwright.virtual.faults import FAULTS, with_faults
    from fanwright.virtual.story import Story

    wanted = [truck for truck in presets().values() if (truck.grips_by, truck.valve) == _pair(engine)]
    truck = wanted[int(rng.integers(len(wanted)))]
    while True:
        faults = draw_faults(engine, rng, "single")
        if set(faults) <= set(FAULTS):
            break
    severity = float(rng.uniform(0.5, 0.95))
    circuit = with_faults(circuit_of(truck), dict.fromkeys(faults, severity))
    time_s = np.arange(0.0, 24.0, 0.02)
    run = simulate(circuit, Story(24.0, sent=((1.0, 12.0),), settle_s=20.0), time_s)
    known = _gauges(time_s, run.inlet_gauge_pa / PSI, run.drive_gauge_pa / PSI, rng)
    return _case(engine, rng, faults, network_shows(engine, rng, faults, known))


def _pair(engine: Engine) -> tuple[str, str]:
    return engine.arranged.grips_by, engine.arranged.valve


def _gauges(time_s: Any, inlet: Any, drive: Any, rng: np.random.Generator) -> dict[str, Fact]:
    """Read two needle gauges (1 psi) and a video of them (0.1 s)."""

    def psi(test: str, value: float) -> Fact:
        return Fact(test, "", (value + rng.normal(0.0, 0.4)) * PSI, 0.4 * PSI)

    def after(start: float, reached: Any) -> float:
        hits = time_s[(time_s >= start) & reached]
        return float(hits[0] - start) if hits.size else 30.0

    sent, cut = (time_s > 10.0) & (time_s < 11.9), time_s > 22.0
    found = {
        "supply_gauge_still": psi("supply_gauge_still", float(inlet[time_s < 0.9].mean())),
        "supply_gauge_cycling": psi("supply_gauge_cycling", float(inlet.min())),
        "drive_gauge_air_on": psi("drive_gauge_air_on", float(drive[sent].mean())),
        "drive_gauge_air_off": psi("drive_gauge_air_off", float(drive[cut].mean())),
    }
    fill = after(1.0, drive >= 90.0)
    if drive[time_s < 0.9].mean() < 60.0:
        found["fill_time"] = _seconds("fill_time", fill, rng)
    if drive[sent].mean() >= 90.0:
        from_90 = (
            float(time_s[(time_s > 12.0) & (drive <= 90.0)][0])
            if (drive[time_s > 12.0] <= 90.0).any()
            else 12.0
        )
        found["vent_time"] = _seconds("vent_time", after(from_90, drive <= 2.0), rng)
    return found


def _seconds(test: str, value: float, rng: np.random.Generator) -> Fact:
    if value > 10.0:
        return Fact(test, "over_3_s_or_never")
    return Fact(test, "", max(0.05, value + rng.normal(0.0, 0.08)), 0.085)
