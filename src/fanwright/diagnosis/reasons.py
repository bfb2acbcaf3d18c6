"""What speaks for and against each cause, which causes look alike, and which facts fit nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from fanwright.catalogue.model import Catalogue
from fanwright.diagnosis.compiled import Model
from fanwright.diagnosis.engine import Engine
from fanwright.diagnosis.inference import Beliefs, Weight, believe, predict
from fanwright.diagnosis.model import Alike, Fact, Sign
from fanwright.diagnosis.sets import Numbers
from fanwright.diagnosis.worth import Costs
from fanwright.words import Message, chance, fault, listing, outcome, test_name

TELLING = 1.5
"""A fact speaks for or against a cause from this ratio of likelihoods on; judgement."""
MOST_SIGNS = 4
DOUBTED = 0.03
"""A fact less likely than this under everything believed fits no cause; judgement."""
MAY_FIT = 0.1
"""A fact this likely with one probable fault alone needs no closer look."""
RIVAL = 0.1
SPLITS = 0.3


def signs(
    engine: Engine, facts: Sequence[Fact], weights: Mapping[str, Weight], faults: Sequence[str]
) -> dict[str, tuple[tuple[Sign, ...], tuple[Sign, ...]]]:
    """Say what speaks for and against some faults.

    Args:
        engine: What is kept ready.
        facts: What was found out.
        weights: How well each fact fits, by test.
        faults: The faults in question.

    Returns:
        For each fault the facts for it and those against it, the strongest first.
    """
    alone = engine.alone
    unknown = believe(alone, {})
    used = [fact for fact in facts if fact.test in weights]
    ratios = {fact.test: _likelihoods(alone, fact.test, weights[fact.test]) for fact in used}
    found = {}
    for name in faults:
        place = alone.sets.faults.index(name)
        told = []
        for fact in used:
            ratio = float(ratios[fact.test][place] / max(ratios[fact.test][0], 1e-300))
            word = _word(engine.catalogue, fact, engine.volts)
            if word and not 1.0 / TELLING < ratio < TELLING:
                column = engine.catalogue.tests[fact.test].words().index(word)
                shown = predict(unknown, fact.test)[:, column]
                told.append((ratio, Sign(fact.test, word, float(shown[place]), float(shown[0]))))
        told.sort(key=lambda pair: -pair[0])
        found[name] = (
            tuple(sign for ratio, sign in told if ratio >= TELLING)[:MOST_SIGNS],
            tuple(sign for ratio, sign in reversed(told) if ratio <= 1.0 / TELLING)[:MOST_SIGNS],
        )
    return found


def _word(catalogue: Catalogue, fact: Fact, volts: float) -> str:
    test = catalogue.tests[fact.test]
    if fact.value is not None:
        return test.word_for(fact.value, volts) or fact.outcome
    return fact.outcome if fact.outcome in test.words() else ""


def _likelihoods(alone: Model, test: str, weight: Weight) -> Numbers:
    """Likelihood of one fact under none and under each fault alone."""
    beliefs = believe(alone, {test: weight})
    found: Numbers = beliefs.chances * beliefs.evidence / alone.sets.prior
    return found


def doubts(engine: Engine, beliefs: Beliefs, facts: Sequence[Fact]) -> tuple[Message, ...]:
    """Name facts that fit none of what is believed: they are shown, and should be repeated.

    Args:
        engine: What is kept ready.
        beliefs: What is believed.
        facts: What was found out.

    Returns:
        One message each.
    """
    found = []
    presence, unknown = beliefs.presence(), believe(engine.alone, {})
    for fact in facts:
        word = _word(engine.catalogue, fact, engine.volts)
        if not word or fact.test not in beliefs.facts:
            continue
        shown = predict(unknown, fact.test)[:, engine.catalogue.tests[fact.test].words().index(word)]
        if float((shown * presence).max()) > MAY_FIT:
            continue
        rest = {test: weight for test, weight in beliefs.facts.items() if test != fact.test}
        expected = believe(beliefs.model, rest)
        column = engine.catalogue.tests[fact.test].words().index(word)
        told = Beliefs(expected.model, beliefs.chances, expected.evidence, expected.facts, expected.weighed)
        likely = float(beliefs.chances @ predict(told, fact.test)[:, column])
        if likely < DOUBTED:
            found.append(
                Message(
                    "{outcome} at {test} fits nothing that is likely ({chance}): take it again, or check the"
                    " instrument",
                    {
                        "outcome": outcome(fact.test, word),
                        "test": test_name(fact.test),
                        "chance": chance(likely),
                    },
                )
            )
    return tuple(found)


def alike(
    beliefs: Beliefs, catalogue: Catalogue, costs: Costs, open_tests: Sequence[str]
) -> tuple[Alike, ...]:
    """Group rivals that look the same so far, with the test that parts them or the fix they share.

    Args:
        beliefs: What is believed, over the sets that hold nearly all of it.
        catalogue: What can be observed and what can be wrong.
        costs: Which part each repair needs.
        open_tests: Tests that can still be done.

    Returns:
        The groups, most probable first; at most one fault stands in each place.
    """
    presence = beliefs.presence()
    names = beliefs.sets.faults
    rivals = [int(place) for place in np.argsort(-presence) if place and presence[place] >= RIVAL]
    if len(rivals) < 2 or presence[rivals[0]] > 0.9:
        return ()
    group = [rivals[0], *(place for place in rivals[1:] if _apart(beliefs, rivals[0], place))]
    if len(group) < 2:
        return ()
    split, strength = _best_split(beliefs, open_tests, group[0], group[1])
    parts = {costs.parts.get(names[place], "") for place in group}
    shared = len(parts) == 1 and "" not in parts
    ids = tuple(names[place] for place in group)
    values = {"faults": listing(tuple(fault(one) for one in ids))}
    if strength >= SPLITS:
        why = Message("one of these: {faults}; {test} parts them", {**values, "test": test_name(split)})
    elif shared:
        split, why = "", Message("one of these: {faults}; the same part cures each", values)
    else:
        split, why = "", Message("one of these: {faults}; no test left parts them well", values)
    return (Alike(ids, split, shared, why),)


def _apart(beliefs: Beliefs, one: int, other: int) -> bool:
    """Whether two faults explain the facts instead of each other rather than together."""
    has = beliefs.sets.presence()
    both = float(beliefs.chances @ (has[:, one] * has[:, other]))
    return both < 0.3 * min(float(beliefs.chances @ has[:, one]), float(beliefs.chances @ has[:, other]))


def _best_split(beliefs: Beliefs, tests: Sequence[str], one: int, other: int) -> tuple[str, float]:
    best, strength = "", 0.0
    for test in tests:
        apart = 0.5 * float(np.abs(given(beliefs, test, one) - given(beliefs, test, other)).sum())
        if apart > strength:
            best, strength = test, apart
    return best, strength


def given(beliefs: Beliefs, test: str, place: int) -> Numbers:
    """Predict a test where one fault is present.

    Args:
        beliefs: What is believed.
        test: The test.
        place: Place of the fault.

    Returns:
        Chance of each outcome, shape (outcomes,) [-].
    """
    share = beliefs.chances * beliefs.sets.presence()[:, place]
    found: Numbers = (share / max(float(share.sum()), 1e-300)) @ predict(beliefs, test)
    return found
