"""Records of a large fleet: loading, one truck's past, search, the walk along the chain, sixteen writers.

The fleet is made: 10,000 trucks with 40 days each (400,000 visits, each an entry of the chain of its own), on
SQLite. FANWRIGHT_BENCH_TRUCKS makes it smaller. Writers keep real visits of six readings through the one
function that keeps visits.
"""

from __future__ import annotations

import datetime as dt
import os
import random
import statistics
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

TRUCKS = int(os.environ.get("FANWRIGHT_BENCH_TRUCKS", "10000"))
DAYS = 40
WRITERS = 16
WRITES_EACH = 40
TRUCKS_AT_ONCE = 25
TRIES = 41
PEOPLE = 40
SHOPS = 5
GOAL_S = 600.0


def run() -> list[dict[str, Any]]:
    from fanwright.records.past import history
    from fanwright.records.places import place_of
    from fanwright.records.searching import list_trucks, list_visits
    from fanwright.records.store import open_store
    from fanwright.records.verifying import verify

    rng = random.Random(7)
    with tempfile.TemporaryDirectory(prefix="fanwright-bench-") as folder:
        store = open_store(place_of(str(Path(folder) / "fleet.db")), create=True, program="bench")
        loaded_s = timed(lambda: load(store))
        visits = TRUCKS * DAYS
        some = [unit(rng.randrange(TRUCKS)) for _ in range(TRIES)]
        past_s = statistics.median(timed(lambda one=one: history(store, one)) for one in some)
        found_s = {
            what: statistics.median(timed(lambda one=one, ask=ask: ask(one)) for one in some)
            for what, ask in {
                "a truck's visits": lambda one: list_visits(store, search=one, most=50),
                "trucks": lambda one: list_trucks(store, one[2:5], 50),
                "newest visits": lambda _: list_visits(store, most=50),
                "a person's visits": lambda one: list_visits(store, search=f"person {one[-1]}3", most=50),
                "a shop's visits": lambda _: list_visits(store, search="shop 3", most=50),
                "visits of a cause": lambda _: list_visits(store, search="blocked", most=50),
            }.items()
        }
        started = time.process_time()  # one thread's work: neighbours on the machine must not count
        found = verify(store)
        walked = found.entries / (time.process_time() - started)
        if not found.sound or found.entries != visits + 1:
            raise AssertionError(found)
        waits = sixteen_writers(store)
        store.close()
    return [
        row(f"{TRUCKS} trucks x {DAYS} visits loaded", loaded_s, GOAL_S, "s"),
        row("one truck's past, median", past_s * 1000, 20.0, "ms"),
        *(row(f"search: {what}, median", taken * 1000, 50.0, "ms") for what, taken in found_s.items()),
        row("verify", walked, 20_000.0, "entries/s", better="higher"),
        row(f"{WRITERS} writers, p99 over p50", waits[98] / waits[49], 6.0, "x"),
        row(f"{WRITERS} writers, p50", waits[49] * 1000, 1000.0, "ms"),
    ]


def unit(number: int) -> str:
    return f"T{number:05d}"


def timed(work: Callable[[], object]) -> float:
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def load(store: Any) -> None:
    """Load the fleet: each day an entry, a few trucks a transaction."""
    from fanwright.records import tables
    from fanwright.records.model import Author

    first = dt.date(2020, 1, 6)
    days = [(first + dt.timedelta(days=60 * number)).isoformat() for number in range(DAYS)]
    authors = [Author(f"Person {number:02d}", "UTC") for number in range(PEOPLE)]
    with store.writing() as transaction, transaction.entry("people added", authors[0]) as entry:
        for author in authors:
            transaction.add(entry, tables.people, name=author.name)
        for number in range(SHOPS):
            transaction.add(entry, tables.shops, name=f"Shop {number}", zone="UTC")
    for start in range(0, TRUCKS, TRUCKS_AT_ONCE):
        with store.writing() as transaction:
            for number in range(start, min(start + TRUCKS_AT_ONCE, TRUCKS)):
                truck = 0
                for place, day in enumerate(days):
                    author = authors[(number + place) % PEOPLE]
                    with transaction.entry("visit kept", author, unit(number)) as entry:
                        truck = truck or transaction.add(entry, tables.trucks, unit=unit(number))
                        add_visit(transaction, entry, truck, number, place, day)


def add_visit(transaction: Any, entry: Any, truck: int, number: int, place: int, day: str) -> None:
    """Add one made visit: three readings, what was said of it, where it stands, now and then a cause."""
    from fanwright.records import tables

    visit = transaction.add(
        entry, tables.visits, truck=truck, key=f"{number}-{place}", form="toml", kind="planned", date=day,
        technician=entry.author.name, place=f"Shop {number % SHOPS}", odometer_m=1.0e6 * place + number,
    )  # fmt: skip
    for test, value in (("facing_thickness", 0.0087 - 0.00005 * place), ("vent_time", 0.6 + number * 1e-5)):
        transaction.add(
            entry, tables.readings, visit=visit, test=test, value_si=value, half_width_si=1e-4,
            normal_sd_si=5e-5, origin="typed", instrument="G-07",
        )  # fmt: skip
    transaction.add(
        entry, tables.readings, visit=visit, test="exhaust_puff", outcome="strong", origin="typed"
    )
    transaction.add(entry, tables.assessments, visit=visit, overall="good")
    transaction.add(entry, tables.states, visit=visit, state="signed")
    if place % 10 == 3:
        transaction.add(entry, tables.causes, visit=visit, fault="exhaust_blocked", confirmed=1)


def sixteen_writers(store: Any) -> list[float]:
    """Keep real visits from sixteen threads at once; give each hundredth of the waiting times [s]."""
    from fanwright.records.keeping import ToKeep, keep
    from fanwright.records.model import Author

    assessment = a_visit()
    waits: list[float] = []
    guard = threading.Lock()

    def write(writer: int) -> None:
        own = []
        for number in range(WRITES_EACH):
            named = f"W{writer}-{number}"
            told = replace(assessment, visit=replace(assessment.visit, unit=named))
            started = time.perf_counter()
            keep(store, ToKeep(told, named, "toml"), Author("bench", "UTC"))
            own.append(time.perf_counter() - started)
        with guard:
            waits.extend(own)

    threads = [threading.Thread(target=write, args=(one,)) for one in range(WRITERS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return statistics.quantiles(waits, n=100)


def a_visit() -> Any:
    from fanwright import catalogue, judging
    from fanwright.visit import assess, visit_from

    known = catalogue.load()
    written = {
        "truck": {"unit": "W"},
        "drive": {"grips_by": "spring", "valve": "nc", "volts": 12},
        "visit": {"date": "2026-04-14", "kind": "complaint", "technician": "Ana"},
        "readings": {
            "supply_gauge_still": "118 psi",
            "drive_gauge_air_on": "117 psi",
            "vent_time": ["2.1 s", "2.0 s"],
            "exhaust_puff": "weak_or_slow",
            "facing_thickness": ["0.297 in", "0.301 in"],
        },
    }
    return assess(visit_from(written, known), known, judging.load(known))


def row(name: str, measured: float, goal: float, unit_name: str, better: str = "lower") -> dict[str, Any]:
    return {"name": name, "measured": measured, "goal": goal, "better": better, "unit": unit_name}
