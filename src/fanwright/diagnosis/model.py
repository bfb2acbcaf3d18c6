"""What the diagnosis holds: the network as data, the facts it is asked about, and its answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from fanwright.catalogue.model import GripsBy
from fanwright.words import Message

Row = tuple[float, ...]


@dataclass(frozen=True)
class Chain:
    """States that are reasoned about together.

    Args:
        root: The states at its head; every mix of their values is one condition.
        below: States that hang on that condition, one beside the other.
    """

    root: tuple[str, ...]
    below: tuple[str, ...] = ()


@dataclass(frozen=True)
class Doing:
    """What one fault does to one state.

    Args:
        fault: The fault (catalogue id).
        chances: Chance of each value of the state, mildest first [-].
        grips_by: It holds only where this makes the drive grip; None for both.
    """

    fault: str
    chances: Row
    grips_by: GripsBy | None = None


@dataclass(frozen=True)
class Look:
    """What one test shows.

    Args:
        at: The view of the states it looks at; empty where it sees only what faults show by themselves.
        rows: Chance of each outcome word, by value of the view; ``else`` serves the values without a row [-].
    """

    at: str
    rows: Mapping[str, Row]


@dataclass(frozen=True)
class Prior:
    """How faults come together; every number is judgement.

    Args:
        pair_share: Share of faulty trucks that have two faults at once [-].
        along_leads_to: Share of those pairs that are a cause with one of its results [-].
        third_share: Chance of a third fault beyond a pair with evidence [-].
    """

    pair_share: float
    along_leads_to: float
    third_share: float


@dataclass(frozen=True)
class Network:
    """Faults act on states, tests look at states.

    Args:
        states: Values of each state, mildest first.
        chains: Which states are reasoned about together.
        does: What faults do to each state.
        looks: What each test shows.
        shows: What a fault makes seen by itself: chance of each outcome word, by fault and test [-].
        spread: Mean and standard deviation of readings between trucks, by test and value of the view [SI, or
            share of the nominal].
        certain: The fault that an outcome shows directly, or the faults of which it shows one, with the error
            of looking, by test and outcome [-].
        prior: How faults come together.
        source: Where the numbers come from.
        same: Tests that see the same thing as a test, by test.
    """

    states: Mapping[str, tuple[str, ...]]
    chains: Mapping[str, Chain]
    does: Mapping[str, tuple[Doing, ...]]
    looks: Mapping[str, Look]
    shows: Mapping[str, Mapping[str, Row]]
    spread: Mapping[str, Mapping[str, tuple[float, float]]]
    certain: Mapping[str, Mapping[str, tuple[tuple[str, ...], float]]]
    prior: Prior
    source: str
    same: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class Fact:
    """One thing that was found out.

    Args:
        test: The test (catalogue id).
        outcome: Its outcome word; empty where only a value is known.
        value: The value in the unit of the test's cut points, or None [SI, or share of the nominal].
        sd: Its standard uncertainty in the same unit [SI, or share of the nominal].
    """

    test: str
    outcome: str = ""
    value: float | None = None
    sd: float = 0.0


@dataclass(frozen=True)
class Sign:
    """What one fact says of one fault.

    Args:
        test: The test.
        outcome: What it showed, as the nearest outcome word.
        with_fault: How likely that is with this fault alone [-].
        without: How likely it is on a sound truck [-].
    """

    test: str
    outcome: str
    with_fault: float
    without: float


@dataclass(frozen=True)
class Cause:
    """One thing that may be wrong.

    Args:
        fault: The fault (catalogue id), or ``no_fault``.
        probability: How probable it is that it is present, whatever else is [-].
        fix: What cures it.
        speaks_for: Facts that this fault makes more likely, the strongest first.
        speaks_against: Facts that it makes less likely, the strongest first.
    """

    fault: str
    probability: float
    fix: str
    speaks_for: tuple[Sign, ...] = ()
    speaks_against: tuple[Sign, ...] = ()


@dataclass(frozen=True)
class NextTest:
    """A test worth doing.

    Args:
        test: The test (catalogue id).
        minutes: What it takes as the truck stands now [min].
        worth_usd: What it is worth, before its own minutes are paid: cost saved, and doubt that other tests
            would have to take away [USD].
        why: Why this one.
        forced: Whether it stands here for safety or order, not for its worth.
    """

    test: str
    minutes: float
    worth_usd: float
    why: Message
    forced: bool = False


@dataclass(frozen=True)
class Skipped:
    """A test that would be worth doing but cannot be done."""

    test: str
    why: Message


@dataclass(frozen=True)
class Alike:
    """Faults that look the same so far.

    Args:
        faults: Their ids, most probable first.
        split_by: The test that parts them best, or empty.
        shared_fix: Whether one part cures each of them.
        why: What to do about it.
    """

    faults: tuple[str, ...]
    split_by: str
    shared_fix: bool
    why: Message


@dataclass(frozen=True)
class LeadsTo:
    """A result, and what may have caused it.

    Args:
        result: The fault that is a result.
        cause: A fault that leads to it.
        probability: How probable it is that the cause is present [-].
        ask: Tests not done yet that would show it, the most telling first.
        why: What to do before the visit is closed.
        tells: How such a chain of events looks, and what it must not be taken for; None where none is known.
    """

    result: str
    cause: str
    probability: float
    ask: tuple[str, ...]
    why: Message
    tells: Message | None = None


@dataclass(frozen=True)
class Repair:
    """One step of the repair.

    Args:
        fault: What is repaired.
        probability: How probable it is that it is needed [-].
        cost_usd: Labour and parts, the middle of what they may be [USD].
        minutes: Labour, the middle of what it may be [min].
        retest: Tests to repeat afterwards.
        if_left: What happens if it is left.
    """

    fault: str
    probability: float
    cost_usd: float
    minutes: float
    retest: tuple[str, ...]
    if_left: str


@dataclass(frozen=True)
class Diagnosis:
    """What is wrong, how sure that is, what to do next and what to repair.

    Args:
        causes: What may be wrong, most probable first; ``no_fault`` is among them.
        next_tests: Tests worth doing, the best first; empty when none is worth its time.
        stop: Why no further test is proposed, or None.
        skipped: Tests that would help but cannot be done.
        alike: Faults that look the same so far.
        leading_to: Results with the causes to look for; a visit does not close before.
        repairs: What to repair, in this order.
        doubts: Facts that fit no likely cause: shown, never silently lowered.
        unused: Readings that say nothing here, with the reason.
    """

    causes: tuple[Cause, ...]
    next_tests: tuple[NextTest, ...] = ()
    stop: Message | None = None
    skipped: tuple[Skipped, ...] = ()
    alike: tuple[Alike, ...] = ()
    leading_to: tuple[LeadsTo, ...] = ()
    repairs: tuple[Repair, ...] = ()
    doubts: tuple[Message, ...] = ()
    unused: tuple[Message, ...] = ()
