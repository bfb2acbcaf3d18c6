"""Which test to do next, and what stands in front of it for safety and order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanwright.catalogue.model import Catalogue
from fanwright.diagnosis.inference import Beliefs, predict
from fanwright.diagnosis.model import NextTest, Skipped
from fanwright.diagnosis.sets import Numbers
from fanwright.diagnosis.worth import Costs, value_of_tests, worth_in_two_steps
from fanwright.words import Message, chance, fault, outcome, phrase, test_name

GATE = ("fan_look", "mount_tight", "hub_rock")
"""Nothing turns the fan before these were found sound."""
TURNS_FAN = "engine running"
READ_FIRST = "stored_codes"
"""Codes are read and written down before anything that may set or clear one."""
DERIVED = ("facing_spread",)
"""Found from the reading of another test, never asked for by itself."""
GAUGES = ("supply_gauge_still", "supply_gauge_cycling", "drive_gauge_air_on", "drive_gauge_air_off")
Flags = NDArray[np.bool_]
LOOK = 6
SHOWN = 4
EQUAL = 0.02
"""Worth per minute closer than this share counts as equal: the more telling test goes first."""


@dataclass(frozen=True)
class Done:
    """What was done on this truck so far.

    Args:
        outcomes: Outcome word of each test done, empty for a value without a word.
        cannot: Tests that cannot be done, with the reason given.
        last: The test done last, or empty.
    """

    outcomes: Mapping[str, str]
    cannot: Mapping[str, str]
    last: str = ""


@dataclass(frozen=True)
class Advice:
    """What to do next.

    Args:
        tests: Tests worth doing, the best first.
        stop: Why none is, or None.
        skipped: Tests that would help but cannot be done.
    """

    tests: tuple[NextTest, ...]
    stop: Message | None
    skipped: tuple[Skipped, ...]


def minutes_now(catalogue: Catalogue, costs: Costs, done: Done, test: str) -> float:
    """Say what a test takes as the truck stands now: gauges fitted or not, and in which state it is.

    Args:
        catalogue: What can be observed.
        costs: What a change takes.
        done: What was done so far.
        test: The test.

    Returns:
        Minutes [min].
    """
    entry = catalogue.tests[test]
    minutes = entry.minutes
    if "gauge already fitted" in entry.taken_apart and not any(gauge in done.outcomes for gauge in GAUGES):
        minutes += costs.fit_gauge_minutes
    if test == "recording_reason" and "recording_runs" not in done.outcomes:
        minutes += catalogue.tests["recording_runs"].minutes
    if done.last in catalogue.tests and catalogue.tests[done.last].state != entry.state:
        minutes += costs.change_state_minutes
    return minutes


def impossible(done: Done, test: str) -> Message | None:
    """Say why a test cannot be taken at all as things stand, or None.

    Args:
        done: What was done so far.
        test: The test.

    Returns:
        The reason.
    """
    if test in done.cannot:
        return Message("{reason}", {"reason": phrase(done.cannot[test])})
    never = done.outcomes.get("drive_gauge_air_on", "at_least_90") not in ("at_least_90", "")
    if test == "vent_time" and never:
        return Message("the drive does not reach the pressure to vent from, so it cannot be timed")
    if test == "fill_time" and done.outcomes.get("drive_gauge_air_off") == "at_least_60":
        return Message("the air never leaves the drive, so filling cannot be timed")
    return None


def advise(beliefs: Beliefs, catalogue: Catalogue, costs: Costs, done: Done, *, look: int = LOOK) -> Advice:
    """Choose the next tests.

    Args:
        beliefs: What is believed, over the sets that hold nearly all of it.
        catalogue: What can be observed.
        costs: What faults and minutes cost.
        done: What was done so far.
        look: How many tests to look one step further behind [-].

    Returns:
        The advice: safety and order first, then worth per minute; nothing where no test is worth its time.
    """
    order = beliefs.model.order
    minutes = np.array([minutes_now(catalogue, costs, done, test) for test in order])
    open_ = np.array([test not in done.outcomes and test not in DERIVED for test in order])
    reasons = {test: impossible(done, test) for test in order}
    free = open_ & np.array([reasons[test] is None for test in order])
    worth, bits = value_of_tests(beliefs, costs)
    gates = [[order.index(one) for one in gate_before(catalogue, done, test)] for test in order]
    gated = minutes + np.array([minutes[places].sum() for places in gates])
    spent = np.where(free, gated, np.inf)
    two = worth_in_two_steps(beliefs, spent, costs, worth, look) if look else worth
    two = two + np.array([worth[places].sum() for places in gates])
    good = free & (two > spent * costs.usd_per_minute) & (worth > 0.0)
    skipped = tuple(
        Skipped(test, reason)
        for place, test in enumerate(order)
        if open_[place]
        and (reason := reasons[test]) is not None
        and worth[place] > minutes[place] * costs.usd_per_minute
    )
    if not good.any():
        return Advice((), _why_stop(beliefs), skipped)
    places = _ranked(two, gated, bits, good)
    tests = tuple(
        NextTest(order[place], float(minutes[place]), float(worth[place]), _why(beliefs, catalogue, place))
        for place in places[:SHOWN]
    )
    return Advice(with_gate(tests, catalogue, costs, done), None, skipped)


def _ranked(worth: Numbers, minutes: Numbers, bits: Numbers, good: Flags) -> list[int]:
    rate = np.where(good, worth / np.maximum(minutes, 1e-9), -np.inf)
    best = float(rate.max())
    near = good & (rate >= best * (1.0 - EQUAL))
    first = int(np.argmax(np.where(near, bits, -np.inf)))
    rest = [int(place) for place in np.argsort(-rate) if good[place] and place != first]
    return [first, *rest]


def gate_before(catalogue: Catalogue, done: Done, test: str) -> tuple[str, ...]:
    """Name the tests that must stand in front of a test.

    Args:
        catalogue: What can be observed.
        done: What was done so far.
        test: The test.

    Returns:
        Tests to do first, in order; those that cannot be done are not asked for again.
    """
    entry = catalogue.tests[test]
    first: list[str] = []
    if entry.state.startswith(TURNS_FAN):
        first += GATE
    if "connector" in entry.taken_apart or "plug" in entry.taken_apart:
        first.append(READ_FIRST)
    return tuple(one for one in first if one != test and one not in done.outcomes and one not in done.cannot)


def with_gate(
    tests: Sequence[NextTest], catalogue: Catalogue, costs: Costs, done: Done
) -> tuple[NextTest, ...]:
    """Put in front of each test what must be done before it.

    Args:
        tests: Tests to do, in order.
        catalogue: What can be observed.
        costs: What a change takes.
        done: What was done so far.

    Returns:
        The same with safety and order in front; no test twice.
    """
    found: list[NextTest] = []
    named: set[str] = set()
    for test in tests:
        for first in gate_before(catalogue, done, test.test):
            if first not in named:
                named.add(first)
                found.append(
                    NextTest(
                        first,
                        minutes_now(catalogue, costs, done, first),
                        next((one.worth_usd for one in tests if one.test == first), 0.0),
                        _why_first(first, test.test),
                        forced=True,
                    )
                )
        if test.test not in named:
            named.add(test.test)
            found.append(test)
    return tuple(found)


def _why_first(first: str, test: str) -> Message:
    if first == READ_FIRST:
        return Message(
            "before {test}: codes are read and written down before anything is unplugged or cleared",
            {"test": test_name(test)},
        )
    return Message(
        "before {test}: nothing turns the fan until fan, mount and hub were found sound",
        {"test": test_name(test)},
    )


def _why(beliefs: Beliefs, catalogue: Catalogue, place: int) -> Message:
    """Name the outcome that would change most, and what it would point at."""
    test = beliefs.model.order[place]
    chances = predict(beliefs, test)
    joint = chances * beliefs.chances[:, None]
    seen = joint.sum(axis=0)
    presence = (joint.T @ beliefs.sets.presence()) / np.maximum(seen, 1e-300)[:, None]
    gain = (presence - beliefs.presence()) * seen[:, None]
    gain[:, 0] = 0.0
    word, fault_place = np.unravel_index(int(np.argmax(gain)), gain.shape)
    return Message(
        "{outcome} ({seen} likely) would put {fault} from {now} to {then}",
        {
            "outcome": outcome(test, catalogue.tests[test].words()[int(word)]),
            "seen": chance(float(seen[word])),
            "fault": fault(beliefs.sets.faults[int(fault_place)]),
            "now": chance(float(beliefs.presence()[fault_place])),
            "then": chance(float(presence[word, fault_place])),
        },
    )


def _why_stop(beliefs: Beliefs) -> Message:
    presence = beliefs.presence()
    best = int(np.argmax(presence))
    return Message(
        "no test left is worth its time: {fault} stands at {chance}, and none would change what to do"
        " enough to pay for its minutes",
        {"fault": fault(beliefs.sets.faults[best]), "chance": chance(float(presence[best]))},
    )
