"""Published networks through our own inference.

Asia: Lauritzen and Spiegelhalter 1988, chances as in two public copies; posteriors computed with three
independent programs to 6 digits. The rounded .088 .100 .811 .626 .182 .220 stand in the paper, from memory.
Noisy-or: computed by enumeration.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from fanwright.diagnosis.compiled import Link, Model, Part, own_chances
from fanwright.diagnosis.engine import Arrangement
from fanwright.diagnosis.inference import believe, condition_chances, predict, weight_of_word
from fanwright.diagnosis.model import Doing
from fanwright.diagnosis.sets import FaultSets

ANY = Arrangement("spring", "nc")
VALUES = ("no", "yes")


def noisy(fault: str, chance: float) -> Doing:
    return Doing(fault, (1.0 - chance, chance))


@pytest.fixture(scope="module")
def asia() -> Model:
    """Asia and smoking are faults; tuberculosis, cancer, bronchitis are states; X-ray, dyspnoea are tests.

    ``leak`` stands in every set and carries what happens without a cause.
    """
    faults = ("no_fault", "asia", "smoking", "leak")
    sets = FaultSets(
        faults,
        np.array([[3, 0, 0], [3, 1, 0], [3, 2, 0], [3, 1, 2]]),
        np.array([0.99 * 0.5, 0.01 * 0.5, 0.99 * 0.5, 0.01 * 0.5]),
    )

    def with_cause(cause: str, alone: float, leak: float) -> list[Doing]:
        return [noisy("leak", leak), noisy(cause, 1.0 - (1.0 - alone) / (1.0 - leak))]

    own = [
        own_chances(VALUES, doings, ANY, sets)
        for doings in (
            with_cause("asia", 0.05, 0.01),
            with_cause("smoking", 0.10, 0.01),
            with_cause("smoking", 0.60, 0.30),
        )
    ]
    root = np.einsum("st,sl,sb->stlb", *own).reshape(4, 8)
    conditions = list(product((0, 1), repeat=3))
    either = np.array([int(t or lung) for t, lung, _ in conditions])
    with_b = np.array([2 * int(t or lung) + b for t, lung, b in conditions])
    xray = Link(0, -1, either, np.array([[0.95, 0.05], [0.02, 0.98]]), None, None, ("none", "either"))
    dyspnoea = Link(
        0,
        -1,
        with_b,
        np.array([[0.9, 0.1], [0.2, 0.8], [0.3, 0.7], [0.1, 0.9]]),
        None,
        None,
        ("n", "b", "e", "eb"),
    )
    # The parents asked about as if they were tests without error.
    seen_asia = Link(-1, -1, np.zeros(1, int), np.array([[1.0, 0.0]]), *_seen(sets, 1), ("else",))
    seen_smoking = Link(-1, -1, np.zeros(1, int), np.array([[1.0, 0.0]]), *_seen(sets, 2), ("else",))
    return Model(sets, (Part(root, ()),), {"x": xray, "d": dyspnoea, "a": seen_asia, "s": seen_smoking}, ())


def _seen(sets: FaultSets, fault: int) -> tuple[np.ndarray, np.ndarray]:
    there = (sets.members == fault).any(axis=1).astype(float)
    return 1.0 - there, np.stack([np.zeros_like(there), there], axis=1)


def posterior(asia: Model, **evidence: int) -> dict[str, float]:
    beliefs = believe(asia, {test: weight_of_word(asia.links[test], word) for test, word in evidence.items()})
    chances = condition_chances(beliefs, 0).reshape(2, 2, 2)
    return {
        "T": chances[1].sum(),
        "L": chances[:, 1].sum(),
        "B": chances[:, :, 1].sum(),
        "E": 1.0 - chances[0, 0].sum(),
        "S": beliefs.presence()[2],
        "X": float(beliefs.chances @ predict(beliefs, "x")[:, 1]),
        "D": float(beliefs.chances @ predict(beliefs, "d")[:, 1]),
        "P(e)": beliefs.evidence,
    }


ASIA = [
    ({}, {"T": 0.0104, "L": 0.055, "B": 0.45, "S": 0.5, "E": 0.064828, "X": 0.110290, "D": 0.435971}),
    (
        {"a": 1, "d": 1},
        {
            "T": 0.087751,
            "L": 0.099525,
            "B": 0.811402,
            "S": 0.625920,
            "E": 0.182300,
            "X": 0.219539,
            "P(e)": 0.004501375,
        },
    ),
    (
        {"a": 1, "d": 1, "s": 1},
        {"T": 0.072760, "L": 0.145519, "B": 0.867258, "E": 0.211003, "X": 0.246232, "P(e)": 0.0028175},
    ),
    (
        {"d": 1, "x": 1},
        {"T": 0.113933, "L": 0.621253, "B": 0.681869, "S": 0.785610, "E": 0.728725, "P(e)": 0.0706701044},
    ),
    (
        {"a": 1, "d": 1, "s": 1, "x": 1},
        {"T": 0.289581, "L": 0.579163, "B": 0.700920, "E": 0.839786, "P(e)": 0.00069376},
    ),
    (
        {"a": 1, "d": 1, "x": 0},
        {"T": 0.002249, "L": 0.002550, "B": 0.862761, "S": 0.604512, "E": 0.004672, "P(e)": 0.00351314825},
    ),
    (
        {"d": 1, "s": 0},
        {"T": 0.024767, "L": 0.023815, "B": 0.753945, "E": 0.048334, "X": 0.094951, "P(e)": 0.1595666},
    ),
]


@pytest.mark.published
@pytest.mark.parametrize(("evidence", "expected"), ASIA)
def test_asia(asia: Model, evidence: dict[str, int], expected: dict[str, float]) -> None:
    found = posterior(asia, **evidence)
    for name, value in expected.items():
        assert found[name] == pytest.approx(value, abs=6e-7), name


@pytest.mark.published
def test_asia_rounded_as_printed(asia: Model) -> None:
    found = posterior(asia, a=1, d=1)
    printed = {"T": 0.088, "L": 0.100, "B": 0.811, "S": 0.626, "E": 0.182, "X": 0.220}
    assert {name: round(found[name], 3) for name in printed} == printed


NOISY = [noisy("leak", 0.02), noisy("one", 0.9), noisy("two", 0.6), noisy("three", 0.3)]
CAUSES = ("no_fault", "one", "two", "three", "leak")


def test_noisy_or_of_some_all_and_none() -> None:
    members = np.array([[4, 1, 3], [4, 0, 0]])
    found = own_chances(VALUES, NOISY, ANY, FaultSets(CAUSES, members, np.full(2, 0.5)))
    assert found[0, 1] == pytest.approx(0.9314, abs=1e-12)
    assert found[1, 1] == pytest.approx(0.02, abs=1e-12)
    four = np.array([[4, 1, 2, 3]])
    everything = own_chances(VALUES, NOISY, ANY, FaultSets(CAUSES, four, np.ones(1)))
    assert everything[0, 1] == pytest.approx(0.97256, abs=1e-12)


def test_noisy_or_posterior() -> None:
    priors = (0.05, 0.02, 0.10)
    members, chances = [], []
    for there in product((0, 1), repeat=3):
        members.append([4, *(number * one for number, one in zip((1, 2, 3), there, strict=True))])
        chances.append(np.prod([p if one else 1.0 - p for p, one in zip(priors, there, strict=True)]))
    sets = FaultSets(CAUSES, np.array(members), np.array(chances))
    root = own_chances(VALUES, NOISY, ANY, sets)
    effect = Link(0, -1, np.arange(2), np.eye(2), None, None, VALUES)
    beliefs = believe(Model(sets, (Part(root, ()),), {"e": effect}, ()), {"e": weight_of_word(effect, 1)})
    assert beliefs.evidence == pytest.approx(0.103070876, abs=1e-8)
    assert beliefs.presence()[1:4] == pytest.approx([0.43954255, 0.12357920, 0.34222234], abs=1e-8)
