"""One network and one engine an arrangement for all tests of the diagnosis."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest

from fanwright.catalogue import Catalogue, load
from fanwright.diagnosis import Arrangement, Engine, Network, load_network

Engines = Callable[..., Engine]


@pytest.fixture(scope="session")
def catalogue() -> Catalogue:
    return load()


@pytest.fixture(scope="session")
def network(catalogue: Catalogue) -> Network:
    return load_network(catalogue)


@pytest.fixture(scope="session")
def engines(catalogue: Catalogue, network: Network) -> Engines:
    @cache
    def engine(
        grips_by: str = "spring", valve: str = "nc", kind: str = "planned", volts: float = 12.0
    ) -> Engine:
        return Engine(network, catalogue, Arrangement(grips_by, valve), volts, kind)

    return engine
