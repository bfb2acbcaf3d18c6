"""Speed of the diagnosis, beside pyagrum on the same network and beside a loop over outcomes."""

from __future__ import annotations

import statistics
import sys
import time
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from fanwright.catalogue import load
from fanwright.diagnosis import Arrangement, Engine, load_network
from fanwright.diagnosis.inference import believe, predict, weight_of_word
from fanwright.diagnosis.worth import (
    after_outcome,
    costs_of,
    expected_cost,
    worth_in_two_steps,
    worth_of_tests,
)

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "diagnosis"))
FACTS = {"drive_gauge_air_on": "below_5", "click": "none", "feed_volts": "none_ever", "let_go": "locked"}


def median_s(work: Callable[[], object], times: int) -> float:
    """Median time of one call [s]."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def run() -> list[dict[str, Any]]:
    """Measure the posterior, the worth of all tests and the look-ahead."""
    catalogue = load()
    engine = Engine(load_network(catalogue), catalogue, Arrangement("spring", "nc"), 12.0, "complaint")
    model, costs = engine.model, costs_of(catalogue)
    facts = {
        test: weight_of_word(model.links[test], catalogue.tests[test].words().index(word))
        for test, word in FACTS.items()
    }
    ours = median_s(lambda: believe(model, facts), 30)

    from test_oracle import network_of

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pyagrum
    oracle = pyagrum.LazyPropagation(network_of(model, list(FACTS)))
    words = {test: catalogue.tests[test].words().index(word) for test, word in FACTS.items()}

    def peer() -> None:
        oracle.eraseAllEvidence()
        oracle.setEvidence(words)
        oracle.makeInference()
        oracle.posterior("sets")

    theirs = median_s(peer, 5)
    narrow = engine.narrow(engine.believe(facts))

    def loop() -> list[float]:
        now = float(expected_cost(narrow.presence(), costs))
        return [
            now
            - sum(
                chance * float(expected_cost(after_outcome(narrow, test, word).presence(), costs))
                for word, chance in enumerate(narrow.chances @ predict(narrow, test))
                if chance > 0.0
            )
            for test in model.order
        ]

    together = median_s(lambda: worth_of_tests(narrow, costs), 30)
    one_by_one = median_s(loop, 5)
    worth, _ = worth_of_tests(narrow, costs)
    assert np.allclose(np.maximum(loop(), 0.0), worth, atol=1e-6)
    minutes = np.array([catalogue.tests[test].minutes for test in narrow.model.order])
    two = median_s(lambda: worth_in_two_steps(narrow, minutes, costs, worth, 6), 10)
    sets, tests = len(model.sets.prior), len(minutes)
    return [
        row(f"posterior of {sets} sets, pyagrum's time over ours", theirs / ours, 5.0, "higher", "x"),
        row(f"worth of {tests} tests, a loop's time over ours", one_by_one / together, 20.0, "higher", "x"),
        row("two steps of look-ahead behind 6 tests", two * 1e3, 50.0, "lower", "ms"),
    ]


def row(name: str, measured: float, goal: float, better: str, unit: str) -> dict[str, Any]:
    """Name one measurement with its goal."""
    return {"name": name, "measured": measured, "goal": goal, "better": better, "unit": unit}
