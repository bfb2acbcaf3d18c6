"""Our inference against pyagrum on the same network: fault sets at the head, chains below."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pytest

from fanwright.diagnosis.compiled import Link, Model, take
from fanwright.diagnosis.inference import believe, predict, weight_of_word

with warnings.catch_warnings():
    warnings.simplefilter(
        "ignore"
    )  # its generated wrapper warns while it is loaded, and an error there aborts
    import pyagrum


def fill(net: Any, name: str, parents: list[str], values: np.ndarray) -> None:
    """Give a table whose axes are the parents in order and the variable last."""
    axes = [*parents, name]
    order = [axes.index(each) for each in net.cpt(name).names]
    # the last name of pyagrum varies slowest in its flat list, and numpy arrays have the axes turned round
    net.cpt(name)[:] = np.ascontiguousarray(np.transpose(values, order[::-1]))


def network_of(model: Model, tests: list[str]) -> Any:
    net = pyagrum.BayesNet()
    net.add(pyagrum.LabelizedVariable("sets", "sets", len(model.sets.prior)))
    fill(net, "sets", [], model.sets.prior / model.sets.prior.sum())
    for place in {model.links[test].part for test in tests} - {-1}:
        part = model.parts[place]
        net.add(pyagrum.LabelizedVariable(f"root{place}", "", part.root.shape[1]))
        net.addArc("sets", f"root{place}")
        fill(net, f"root{place}", ["sets"], part.root)
        for number, below in enumerate(part.below):
            if any((model.links[t].part, model.links[t].below) == (place, number) for t in tests):
                net.add(pyagrum.LabelizedVariable(f"below{place}_{number}", "", below.own.shape[1]))
                net.addArc("sets", f"below{place}_{number}")
                fill(net, f"below{place}_{number}", ["sets"], below.own)
    for test in tests:
        add_test(net, model, test)
    return net


def add_test(net: Any, model: Model, test: str) -> None:
    link: Link = model.links[test]
    parents, index = ["sets"], link.index
    if link.part < 0:
        index = np.zeros((), dtype=int)
    else:
        parents.append(f"root{link.part}")
        if link.below >= 0:
            parents.append(f"below{link.part}_{link.below}")
            index = link.index[model.parts[link.part].below[link.below].key]
    rows = link.rows[index]
    count = len(model.sets.prior)
    shape = (count,) + (1,) * index.ndim
    rest = np.ones(count) if link.rest is None else link.rest
    shown = np.zeros((count, link.rows.shape[1])) if link.shown is None else link.shown
    table = rest.reshape(*shape, 1) * rows[None] + shown.reshape(*shape, -1)
    net.add(pyagrum.LabelizedVariable(test, "", link.rows.shape[1]))
    for parent in parents:
        net.addArc(parent, test)
    fill(net, test, parents, table)


@pytest.mark.parametrize("seed", range(8))
def test_random_evidence_agrees_to_1e_9(engines, seed: int) -> None:
    rng = np.random.default_rng(seed)
    engine = engines(("spring", "air")[seed % 2], ("nc", "no")[seed // 2 % 2])
    places = np.concatenate(([0], 1 + rng.choice(len(engine.model.sets.prior) - 1, 60, replace=False)))
    model = take(engine.model, places)
    tests = [str(test) for test in rng.choice(list(model.links), 7, replace=False)]
    known, asked = tests[:5], tests[5:]
    words = {test: int(rng.integers(model.links[test].rows.shape[1])) for test in known}
    beliefs = believe(model, {test: weight_of_word(model.links[test], word) for test, word in words.items()})

    net = network_of(model, tests)
    oracle = pyagrum.LazyPropagation(net)
    oracle.setEvidence(words)
    oracle.makeInference()
    assert beliefs.chances == pytest.approx(oracle.posterior("sets").toarray(), abs=1e-9)
    assert beliefs.evidence / model.sets.prior.sum() == pytest.approx(oracle.evidenceProbability(), rel=1e-9)
    for test in asked:
        expected = oracle.posterior(test).toarray()
        assert beliefs.chances @ predict(beliefs, test) == pytest.approx(expected, abs=1e-9), test
