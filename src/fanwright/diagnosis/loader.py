"""From network.toml to a checked network."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from fanwright.catalogue.model import Catalogue
from fanwright.diagnosis.checks import problems_of
from fanwright.diagnosis.circuit import VIEWS, VIEWS_BELOW
from fanwright.diagnosis.model import Chain, Doing, Look, Network, Prior, Row
from fanwright.errors import DataError
from fanwright.quantities import read
from fanwright.words import Message, text

FILE = "network.toml"


def load_network(catalogue: Catalogue) -> Network:
    """Load the network that belongs to this program.

    Args:
        catalogue: What can be observed and what can be wrong.

    Returns:
        The checked network.

    Raises:
        DataError: Every contradiction of the file with itself or with the catalogue.

    Example:
        >>> from fanwright.catalogue import load
        >>> load_network(load()).states["hub"]
        ('sound', 'worn')
    """
    return network_from(_raw(), catalogue)


@cache
def _raw() -> Mapping[str, Any]:
    return tomllib.loads(resources.files(__package__).joinpath(FILE).read_text("utf-8"))


def network_from(raw: Mapping[str, Any], catalogue: Catalogue) -> Network:
    """Read a network from its parsed file.

    Args:
        raw: The parsed file.
        catalogue: What can be observed and what can be wrong.

    Returns:
        The checked network.

    Raises:
        DataError: Every contradiction, all together.
    """
    problems = problems_of(raw, catalogue)
    if problems:
        raise DataError(problems)
    states = {name: tuple(values) for name, values in raw["state"].items()}
    network = Network(
        states=MappingProxyType(states),
        chains=MappingProxyType({name: _chain(entry) for name, entry in raw["chain"].items()}),
        does=MappingProxyType({name: _doings(states[name], raw["does"].get(name, {})) for name in states}),
        looks=MappingProxyType({test: _look(entry) for test, entry in raw["test"].items()}),
        shows=MappingProxyType(
            {
                fault: MappingProxyType({test: _shown(catalogue, test, row) for test, row in entry.items()})
                for fault, entry in raw["shows"].items()
            }
        ),
        spread=MappingProxyType({test: _spread(catalogue, test, row) for test, row in raw["spread"].items()}),
        certain=MappingProxyType(
            {
                test: MappingProxyType(
                    {word: (faults_of(given), float(error)) for word, (given, error) in row.items()}
                )
                for test, row in raw["certain"].items()
            }
        ),
        prior=Prior(**{name: float(value) for name, value in raw["prior"].items()}),
        source=str(raw["source"]),
        same=MappingProxyType({test: tuple(others) for test, others in raw["same"].items()}),
    )
    silent = [fault for fault in catalogue.faults if fault != "no_fault" and not _seen(network, fault)]
    if silent:
        raise DataError(
            [Message("fault {fault} shows in no test and no state", {"fault": text(one)}) for one in silent]
        )
    return network


def faults_of(given: str | Iterable[str]) -> tuple[str, ...]:
    """Read one fault, or several of which one is meant."""
    return (given,) if isinstance(given, str) else tuple(given)


def _seen(network: Network, fault: str) -> bool:
    looked_at = {state for look in network.looks.values() for state in states_behind(network, look.at)}
    return fault in network.shows or any(
        doing.fault == fault for state in looked_at for doing in network.does[state]
    )


def states_behind(network: Network, view: str) -> tuple[str, ...]:
    """Name the states that a view looks at.

    Args:
        network: The network.
        view: A view of the circuit, a chain, or empty.

    Returns:
        States; none for an empty view.
    """
    if view in VIEWS:
        return network.chains["circuit"].root
    if view in VIEWS_BELOW:
        return (*network.chains["circuit"].root, VIEWS_BELOW[view].state)
    return network.chains[view].root if view else ()


def _chain(entry: Mapping[str, Any]) -> Chain:
    return Chain(tuple(entry["root"]), tuple(entry.get("below", ())))


def _doings(values: tuple[str, ...], entries: Mapping[str, Mapping[str, Any]]) -> tuple[Doing, ...]:
    return tuple(_doing(values, fault, entry) for fault, entry in entries.items())


def _doing(values: tuple[str, ...], fault: str, entry: Mapping[str, Any]) -> Doing:
    chances = [float(entry.get(value, 0.0)) for value in values]
    chances[0] = max(0.0, 1.0 - sum(chances[1:]))
    return Doing(fault, _whole(chances), entry.get("grips_by"))


def _look(entry: Mapping[str, Any]) -> Look:
    rows = {value: _whole(row) for value, row in entry.items() if value != "looks_at"}
    return Look(entry["looks_at"], MappingProxyType(rows))


def _whole(row: Iterable[float]) -> Row:
    values = [float(value) for value in row]
    return tuple(value / sum(values) for value in values)


def _shown(catalogue: Catalogue, test: str, row: Mapping[str, float]) -> Row:
    return tuple(float(row.get(word, 0.0)) for word in catalogue.tests[test].words())


def _spread(
    catalogue: Catalogue, test: str, row: Mapping[str, list[str]]
) -> Mapping[str, tuple[float, float]]:
    shape = catalogue.tests[test]
    dimension = "share" if shape.relative_to else shape.dimension
    return MappingProxyType(
        {value: (read(mean, dimension).si, read(sd, dimension).si) for value, (mean, sd) in row.items()}
    )
