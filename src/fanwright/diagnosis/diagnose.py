"""From facts to the whole answer: causes, next tests, results with their causes, repairs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from fanwright.diagnosis.advice import DERIVED, Advice, Done, advise, impossible, minutes_now, with_gate
from fanwright.diagnosis.chains import EventChain
from fanwright.diagnosis.engine import Engine
from fanwright.diagnosis.inference import Beliefs, believe, predict_all
from fanwright.diagnosis.model import Cause, Diagnosis, Fact, LeadsTo, NextTest, Repair, Sign
from fanwright.diagnosis.order import MOST_COMPARED, best_order_for_sets
from fanwright.diagnosis.reasons import alike, doubts, signs
from fanwright.diagnosis.sets import Numbers
from fanwright.diagnosis.worth import Costs, costs_of
from fanwright.words import Message, chance, fault, listing, phrase, test_name

LISTED = 0.01
FEWEST = 3
MOST = 12
RESULT_FROM = 0.3
"""A result this probable asks for its causes; judgement."""
MAY_HAVE_LED = 0.02
"""A cause less probable than this is not asked for after a result; judgement."""
ASKED = 3
TELLS = 0.3
"""A test tells of a cause when this share of its outcomes differs from a sound truck; judgement."""
NOT_REPEATED = ("ask_driver", "recent_work")


def diagnose(
    engine: Engine, facts: Sequence[Fact], cannot: Mapping[str, str] | None = None, *, look: int = 6
) -> Diagnosis:
    """Say what is wrong, how sure that is, which test is next, and what to repair in which order.

    Args:
        engine: What is kept ready for this truck and visit.
        facts: What was found out, in the order it was done.
        cannot: Tests that cannot be done, with the reason given.
        look: How many tests to look one step further behind [-].

    Returns:
        The diagnosis.
    """
    weights = engine.weigh(facts)
    beliefs = engine.believe(weights)
    narrow = engine.narrow(beliefs)
    costs = costs_of(engine.catalogue)
    done = Done({fact.test: fact.outcome for fact in facts}, cannot or {}, facts[-1].test if facts else "")
    advice, led = next_steps(engine, beliefs, narrow, done, look=look)
    return Diagnosis(
        causes=_causes(engine, beliefs, facts),
        next_tests=advice.tests,
        stop=advice.stop,
        skipped=advice.skipped,
        alike=alike(narrow, engine.catalogue, costs, _open_tests(narrow, done)),
        leading_to=led,
        repairs=_repairs(engine, narrow, costs, facts),
        doubts=doubts(engine, narrow, facts),
        unused=tuple(
            _unused(fact) for fact in facts if fact.test in engine.model.links and fact.test not in weights
        ),
    )


def next_steps(
    engine: Engine, beliefs: Beliefs, narrow: Beliefs, done: Done, *, look: int = 6
) -> tuple[Advice, tuple[LeadsTo, ...]]:
    """Choose the next tests; where none is worth its time and only a result is known, ask for its cause.

    Args:
        engine: What is kept ready.
        beliefs: What is believed.
        narrow: The same over the sets that hold nearly all of it.
        done: What was done so far.
        look: How many tests to look one step further behind [-].

    Returns:
        The advice, and each result with the causes to look for.
    """
    costs = costs_of(engine.catalogue)
    advice = advise(narrow, engine.catalogue, costs, done, look=look)
    led = leading_to(engine, beliefs, _open_tests(narrow, done))
    asked = () if advice.tests else _ask_for_causes(engine, led, costs, done)
    return (replace(advice, tests=asked, stop=None) if asked else advice), led


def _open_tests(beliefs: Beliefs, done: Done) -> list[str]:
    return [
        test
        for test in beliefs.model.order
        if test not in done.outcomes and test not in DERIVED and impossible(done, test) is None
    ]


def _causes(engine: Engine, beliefs: Beliefs, facts: Sequence[Fact]) -> tuple[Cause, ...]:
    presence = beliefs.presence()
    names = beliefs.sets.faults
    order = [int(place) for place in np.argsort(-presence, kind="stable")]
    shown = [place for number, place in enumerate(order) if presence[place] >= LISTED or number < FEWEST][
        :MOST
    ]
    if 0 not in shown:
        shown.append(0)
    told = signs(engine, facts, beliefs.facts, [names[place] for place in shown if place])
    return tuple(
        Cause(
            names[place],
            float(min(1.0, presence[place])),
            engine.catalogue.faults[names[place]].fix,
            *told.get(names[place], ((), ())),
        )
        for place in shown
    )


def leading_to(engine: Engine, beliefs: Beliefs, open_tests: Sequence[str]) -> tuple[LeadsTo, ...]:
    """Ask for the causes of every result that is probable: a result never closes a visit.

    Args:
        engine: What is kept ready.
        beliefs: What is believed.
        open_tests: Tests that can still be done.

    Returns:
        Each result with each of its causes that is known or can still be asked for, most probable first.
    """
    presence = beliefs.presence()
    faults = engine.catalogue.faults
    told = _Told(engine)
    found = []
    for place, result in enumerate(faults.values()):
        if presence[place] < RESULT_FROM or result.role not in ("result", "both"):
            continue
        for number, cause in enumerate(faults.values()):
            if result.id in cause.leads_to:
                ask = told.most_telling(number, open_tests)
                if ask or presence[number] >= RESULT_FROM:
                    chain = engine.chains.get(cause.id)
                    found.append(_led(result.id, cause.id, float(presence[number]), ask, chain))
    found.sort(key=lambda one: -one.probability)
    return tuple(found)


class _Told:
    """How differently each test comes out with one fault alone and on a sound truck."""

    def __init__(self, engine: Engine) -> None:
        self._model = engine.alone
        chances = predict_all(believe(self._model, {}))
        self._apart = 0.5 * np.add.reduceat(np.abs(chances - chances[0]), self._model.starts, axis=1)

    def most_telling(self, place: int, tests: Sequence[str]) -> tuple[str, ...]:
        apart = dict(zip(self._model.order, self._apart[place], strict=True))
        best = sorted((test for test in tests if apart[test] > TELLS), key=lambda test: -apart[test])
        return tuple(best[:ASKED])


def _ask_for_causes(engine: Engine, led: Sequence[LeadsTo], costs: Costs, done: Done) -> tuple[NextTest, ...]:
    """Go on where only a result is known: ask for its most probable cause, whatever the minutes cost."""
    explained = {one.result for one in led if one.probability >= RESULT_FROM}
    for one in led:
        if one.result not in explained and one.ask and one.probability >= MAY_HAVE_LED:
            minutes = minutes_now(engine.catalogue, costs, done, one.ask[0])
            test = NextTest(one.ask[0], minutes, 0.0, one.why, forced=True)
            return with_gate((test,), engine.catalogue, costs, done)
    return ()


def _led(
    result: str, cause: str, probability: float, ask: tuple[str, ...], chain: EventChain | None
) -> LeadsTo:
    values = {"result": fault(result), "cause": fault(cause), "chance": chance(probability)}
    if probability >= RESULT_FROM:
        why = Message("{result} is a result; {cause} ({chance}) leads to it: cure the cause as well", values)
    else:
        why = Message(
            "{result} is a result; whether {cause} ({chance}) led to it is shown by {tests}",
            {**values, "tests": listing(tuple(test_name(test) for test in ask))},
        )
    return LeadsTo(result, cause, probability, ask, why, None if chain is None else _tells(chain))


def _tells(chain: EventChain) -> Message:
    return Message(
        "it looks like this: {seen}; not to be taken for: {beware}",
        {"seen": phrase(chain.seen), "beware": phrase(chain.beware)},
    )


def _repairs(engine: Engine, beliefs: Beliefs, costs: Costs, facts: Sequence[Fact]) -> tuple[Repair, ...]:
    """What pays to repair, in the order that costs least; of a cause and its result the cause comes first."""
    presence = beliefs.presence()
    names = beliefs.sets.faults
    pays = presence * costs.left_usd > costs.repair_usd
    pays[0] = False
    chosen = [int(place) for place in np.argsort(-presence * pays) if pays[place]][:MOST_COMPARED]
    if not chosen:
        return ()
    at = {place: number for number, place in enumerate(chosen)}
    chances: dict[frozenset[int], float] = {}
    for members, share in zip(beliefs.sets.members, beliefs.chances, strict=True):
        needed = frozenset(at[int(place)] for place in members if int(place) in at)
        chances[needed] = chances.get(needed, 0.0) + float(share)
    order, _ = best_order_for_sets(chances, [float(costs.repair_usd[place]) for place in chosen])
    told = signs(engine, facts, beliefs.facts, [names[place] for place in chosen])
    return tuple(
        _repair(engine, names[chosen[number]], presence, costs, told[names[chosen[number]]][0])
        for number in _causes_first(engine, [names[place] for place in chosen], order)
    )


def _causes_first(engine: Engine, names: Sequence[str], order: Sequence[int]) -> tuple[int, ...]:
    left, found = list(order), []
    while left:
        free = [
            one
            for one in left
            if not any(
                names[one] in engine.catalogue.faults[names[other]].leads_to for other in left if other != one
            )
        ]
        found.append((free or left)[0])
        left.remove(found[-1])
    return tuple(found)


def _repair(engine: Engine, name: str, presence: Numbers, costs: Costs, told: Sequence[Sign]) -> Repair:
    place = list(engine.catalogue.faults).index(name)
    return Repair(
        name,
        float(min(1.0, presence[place])),
        float(costs.repair_usd[place]),
        float(costs.minutes[place]),
        tuple(sign.test for sign in told if sign.test not in NOT_REPEATED),
        engine.catalogue.faults[name].consequence,
    )


def _unused(fact: Fact) -> Message:
    if fact.test == "ask_driver":
        return Message(
            "the driver noticed nothing, although this is a complaint: ask who complained, and of what"
        )
    return Message(
        "{test}: no outcome word covers this value, so it says nothing here", {"test": test_name(fact.test)}
    )
