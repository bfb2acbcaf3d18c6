"""The network made ready for one truck: arrays over sets of faults, conditions and outcomes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, reduce
from itertools import product

import numpy as np

from fanwright.catalogue.model import Catalogue
from fanwright.diagnosis.circuit import VIEWS, VIEWS_BELOW
from fanwright.diagnosis.model import Doing, Network, Row
from fanwright.diagnosis.sets import FaultSets, Index, Numbers
from fanwright.truck.arrangement import Arranged


@dataclass(frozen=True)
class Below:
    """A state that hangs on the condition of its chain.

    Args:
        own: Chance of each of its own values under each set, shape (sets, values) [-].
        key: Which of its keys each condition has; conditions with one key look the same from here, shape
            (conditions,).
        keys: How many keys there are [-].
    """

    own: Numbers
    key: Index
    keys: int


@dataclass(frozen=True)
class Part:
    """One chain.

    Args:
        root: Chance of each condition under each set, shape (sets, conditions) [-].
        below: The states that hang on them.
    """

    root: Numbers
    below: tuple[Below, ...]

    @cached_property
    def kinds(self) -> tuple[Numbers, Index]:
        """The rows of ``root`` that differ, and which of them each set has: most leave a chain alone."""
        order: dict[bytes, int] = {}
        of_set = [order.setdefault(row.tobytes(), len(order)) for row in self.root]
        first = np.unique(of_set, return_index=True)[1]
        return self.root[first], np.array(of_set, dtype=np.intp)

    @cached_property
    def groups(self) -> tuple[Numbers, tuple[Index, ...]]:
        """Conditions that look the same from every state below.

        Returns:
            Which condition is in which group, 0 or 1, shape (conditions, groups), and the key of each group
            for each state below.
        """
        keys = list(zip(*(below.key.tolist() for below in self.below), strict=True))
        order = {row: number for number, row in enumerate(dict.fromkeys(keys))}
        inside = np.zeros((len(keys), len(order)))
        inside[np.arange(len(keys)), [order[row] for row in keys]] = 1.0
        return inside, tuple(np.array(column, dtype=np.intp) for column in zip(*order, strict=True))


@dataclass(frozen=True)
class Link:
    """How one test looks at one chain.

    Args:
        part: Place of the chain, -1 where it looks at none.
        below: Place of the state below it, -1 where it looks at the conditions.
        index: Row for each condition, or for each key and value of the state below.
        rows: Chance of each outcome, shape (rows, outcomes) [-].
        rest: Chance that no fault of the set shows by itself, shape (sets,), or None where none
            ever does [-].
        shown: Chance of each outcome that faults show by themselves, shape (sets, outcomes), or None [-].
        values: Names of the rows.
    """

    part: int
    below: int
    index: Index
    rows: Numbers
    rest: Numbers | None
    shown: Numbers | None
    values: tuple[str, ...]


@dataclass(frozen=True)
class Stack:
    """Tests that look at one place, side by side.

    Args:
        part: Place of the chain, -1 for none.
        below: Place of the state below it, -1 for the conditions.
        tests: The tests.
        rows: Chance of each outcome of each test by condition, or by key and value, shape (places,
            outcomes) [-].
        rest: Chance that no fault shows by itself, shape (sets, outcomes) [-].
        shown: Chance of each outcome that faults show by themselves, shape (sets, outcomes) [-].
    """

    part: int
    below: int
    tests: tuple[str, ...]
    rows: Numbers
    rest: Numbers
    shown: Numbers


@dataclass(frozen=True)
class Model:
    """Everything that inference needs for one truck.

    Args:
        sets: The sets of faults with their priors.
        parts: The chains.
        links: How each test looks at them.
        asked: Tests that one can be asked to do; a recording gives the others.
        noticed: Where somebody complained: chance that the driver notices anything under each set, shape
            (sets,) [-]; None elsewhere.
    """

    sets: FaultSets
    parts: tuple[Part, ...]
    links: Mapping[str, Link]
    asked: tuple[str, ...]
    noticed: Numbers | None = None

    @cached_property
    def stacks(self) -> tuple[Stack, ...]:
        """All tests that one can be asked to do and that look at one place, side by side."""
        places = dict.fromkeys((self.links[test].part, self.links[test].below) for test in self.asked)
        return tuple(self._stack(*place) for place in places)

    @cached_property
    def order(self) -> tuple[str, ...]:
        """All tests that one can be asked to do, in the order of the stacks."""
        return tuple(test for stack in self.stacks for test in stack.tests)

    @cached_property
    def starts(self) -> Index:
        """Where the outcomes of each test begin, in the same order."""
        sizes = [self.links[test].rows.shape[1] for test in self.order]
        return np.concatenate(([0], np.cumsum(sizes)[:-1])).astype(np.intp)

    def _stack(self, part: int, below: int) -> Stack:
        tests = tuple(
            test for test in self.asked if (self.links[test].part, self.links[test].below) == (part, below)
        )
        links = [self.links[test] for test in tests]
        count = len(self.sets.prior)
        sizes = [link.rows.shape[1] for link in links]
        rest = [np.ones(count) if link.rest is None else link.rest for link in links]
        shown = [np.zeros((count, size)) if link.shown is None else link.shown
                 for link, size in zip(links, sizes, strict=True)]  # fmt: skip
        return Stack(
            part,
            below,
            tests,
            np.hstack([link.rows[link.index].reshape(-1, link.rows.shape[1]) for link in links]),
            np.repeat(np.array(rest).T, sizes, axis=1),
            np.hstack(shown),
        )


def compile_model(network: Network, catalogue: Catalogue, arranged: Arranged, sets: FaultSets) -> Model:
    """Make the network ready for one truck.

    Args:
        network: The network.
        catalogue: What can be observed and what can be wrong.
        arranged: The truck's arrangement.
        sets: The sets of faults to think of.

    Returns:
        The model.
    """
    parts = tuple(_part(network, arranged, sets, name) for name in network.chains)
    links = {test: _link(network, catalogue, arranged, sets, test, parts) for test in network.looks}
    return Model(sets, parts, links, tuple(test for test in links if not catalogue.tests[test].only_from))


def recompile(
    model: Model, network: Network, catalogue: Catalogue, arranged: Arranged, sets: FaultSets
) -> Model:
    """Make the network ready for other sets of faults on the same truck; what tests see stays as it is.

    Args:
        model: A model of the same truck.
        network: The network.
        catalogue: What can be observed and what can be wrong.
        arranged: The truck's arrangement.
        sets: The sets of faults to think of.

    Returns:
        The model.
    """
    parts = tuple(
        Part(
            _root(network, arranged, sets, name),
            tuple(
                replace(below, own=own_chances(network.states[state], network.does[state], arranged, sets))
                for state, below in zip(network.chains[name].below, part.below, strict=True)
            ),
        )
        for name, part in zip(network.chains, model.parts, strict=True)
    )
    links = {}
    for test, link in model.links.items():
        rest, shown = _shown(network, catalogue, sets, test)
        links[test] = replace(link, rest=rest, shown=shown)
    return Model(sets, parts, links, model.asked)


def own_chances(
    values: Sequence[str], doings: Sequence[Doing], arranged: Arranged, sets: FaultSets
) -> Numbers:
    """Give the chance of each value of a state under each set: the worse of what its faults do holds.

    Args:
        values: Values of the state, mildest first.
        doings: What faults do to it.
        arranged: The truck's arrangement.
        sets: The sets of faults.

    Returns:
        Chances, shape (sets, values) [-].
    """
    at_most = np.ones((len(sets.faults), len(values)))
    for doing in doings:
        if doing.grips_by in (None, arranged.grips_by):
            at_most[sets.faults.index(doing.fault)] = np.cumsum(doing.chances)
    at_most[:, -1] = 1.0
    together = reduce(np.multiply, (at_most[column] for column in sets.members.T))
    return np.diff(together, axis=1, prepend=0.0)


def _part(network: Network, arranged: Arranged, sets: FaultSets, name: str) -> Part:
    below = tuple(_below(network, arranged, sets, name, state) for state in network.chains[name].below)
    return Part(_root(network, arranged, sets, name), below)


def _root(network: Network, arranged: Arranged, sets: FaultSets, name: str) -> Numbers:
    chain = network.chains[name]
    own = [own_chances(network.states[state], network.does[state], arranged, sets) for state in chain.root]
    root = own[0]
    for more in own[1:]:
        root = (root[:, :, None] * more[:, None, :]).reshape(len(root), -1)
    return root


def _conditions(network: Network, name: str) -> list[tuple[str, ...]]:
    return list(product(*(network.states[state] for state in network.chains[name].root)))


def _below(network: Network, arranged: Arranged, sets: FaultSets, name: str, state: str) -> Below:
    views = [view for view in VIEWS_BELOW.values() if view.state == state]
    values = network.states[state]
    seen = [
        tuple(view.see(arranged, feed, path, value) for view in views for value in values)
        for feed, path in _conditions(network, name)
    ]
    order = {row: number for number, row in enumerate(dict.fromkeys(seen))}
    key = np.array([order[row] for row in seen], dtype=np.intp)
    return Below(own_chances(values, network.does[state], arranged, sets), key, len(order))


def _link(
    network: Network,
    catalogue: Catalogue,
    arranged: Arranged,
    sets: FaultSets,
    test: str,
    parts: tuple[Part, ...],
) -> Link:
    look = network.looks[test]
    rest, shown = _shown(network, catalogue, sets, test)
    words = catalogue.tests[test].words()
    part, below = -1, -1
    values: tuple[str, ...] = ("else",)
    index = np.zeros(1, dtype=np.intp)
    rows = np.array([look.rows["else"]])
    if look.at in VIEWS:
        part = list(network.chains).index("circuit")
        values = VIEWS[look.at].values
        seen = [VIEWS[look.at].see(arranged, *condition) for condition in _conditions(network, "circuit")]
        index = np.array([values.index(value) for value in seen], dtype=np.intp)
        rows = _rows(look.rows, values)
    elif look.at in VIEWS_BELOW:
        part = list(network.chains).index("circuit")
        below = network.chains["circuit"].below.index(VIEWS_BELOW[look.at].state)
        values = VIEWS_BELOW[look.at].values
        index = _index_below(network, arranged, look.at, parts[part].below[below])
        rows = _rows(look.rows, values)
    elif look.at:
        part = list(network.chains).index(look.at)
        values, rows = _chain_rows(network, look.at, look.rows, words)
        index = np.arange(len(values), dtype=np.intp)
    return Link(part, below, index, rows, rest, shown, values)


def _rows(rows: Mapping[str, Row], values: tuple[str, ...]) -> Numbers:
    return np.array([rows.get(value, rows["else"]) for value in values])


def _index_below(network: Network, arranged: Arranged, view: str, below: Below) -> Index:
    look = VIEWS_BELOW[view]
    own = network.states[look.state]
    index = np.zeros((below.keys, len(own)), dtype=np.intp)
    for key, (feed, path) in zip(below.key, _conditions(network, "circuit"), strict=True):
        index[key] = [look.values.index(look.see(arranged, feed, path, value)) for value in own]
    return index


def _chain_rows(
    network: Network, name: str, rows: Mapping[str, Row], words: tuple[str, ...]
) -> tuple[tuple[str, ...], Numbers]:
    """Rows of a chain looked at as a whole; of several things at once one is noted, each as likely."""
    root = network.chains[name].root
    if len(root) == 1:
        values = network.states[root[0]]
        return values, _rows(rows, values)
    conditions = _conditions(network, name)
    found = []
    for condition in conditions:
        bad = [
            state.removeprefix(name).lstrip("_")
            for state, value in zip(root, condition, strict=True)
            if value != network.states[state][0]
        ]
        known = [rows[word] for word in bad if word in words and word in rows]
        found.append(np.mean(known, axis=0) if known else np.array(rows["else"]))
    return tuple("+".join(condition) for condition in conditions), np.array(found)


def _shown(
    network: Network, catalogue: Catalogue, sets: FaultSets, test: str
) -> tuple[Numbers | None, Numbers | None]:
    """What faults show by themselves; where two show different things each is noted as often."""
    single = np.zeros((len(sets.faults), len(catalogue.tests[test].outcomes)))
    for fault, entry in network.shows.items():
        if test in entry:
            single[sets.faults.index(fault)] = entry[test]
    if not single.any():
        return None, None
    left = 1.0 - single.sum(axis=1)
    first = sets.members[:, 0]
    rest, shown = left[first], single[first]
    for column in sets.members.T[1:]:
        more, rest_more = single[column], left[column]
        shown = (
            shown * rest_more[:, None]
            + rest[:, None] * more
            + 0.5 * (shown * (1.0 - rest_more)[:, None] + (1.0 - rest)[:, None] * more)
        )
        rest = rest * rest_more
    return rest, shown


def take(model: Model, places: Index) -> Model:
    """Keep some sets of a model, with their priors as they are.

    Args:
        model: The model.
        places: Places of the sets kept.

    Returns:
        The smaller model.
    """
    sets = FaultSets(model.sets.faults, model.sets.members[places], model.sets.prior[places])
    parts = tuple(
        Part(part.root[places], tuple(replace(below, own=below.own[places]) for below in part.below))
        for part in model.parts
    )
    links = {
        test: replace(
            link,
            rest=None if link.rest is None else link.rest[places],
            shown=None if link.shown is None else link.shown[places],
        )
        for test, link in model.links.items()
    }
    noticed = None if model.noticed is None else model.noticed[places]
    return Model(sets, parts, links, model.asked, noticed)
