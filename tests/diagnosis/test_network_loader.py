"""A network file that contradicts itself is refused, every contradiction named at once."""

from __future__ import annotations

import copy
import tomllib
from importlib import resources
from typing import Any

import pytest

from fanwright.catalogue import Catalogue
from fanwright.diagnosis.loader import network_from
from fanwright.errors import DataError


@pytest.fixture
def raw() -> dict[str, Any]:
    return copy.deepcopy(
        tomllib.loads(resources.files("fanwright.diagnosis").joinpath("network.toml").read_text("utf-8"))
    )


def refused(raw: dict[str, Any], catalogue: Catalogue) -> list[str]:
    with pytest.raises(DataError) as refusal:
        network_from(raw, catalogue)
    return [message.template for message in refusal.value.messages]


def test_our_own_file_is_taken(raw: dict[str, Any], catalogue: Catalogue) -> None:
    asked_for = {test.id for test in catalogue.tests.values() if not test.only_from}
    assert network_from(raw, catalogue).looks.keys() >= asked_for


def test_an_impossible_outcome_is_refused(raw: dict[str, Any], catalogue: Catalogue) -> None:
    raw["test"]["click"]["coil_dead"] = [0.0, 0.0, 1.0]
    assert any("impossible" in one for one in refused(raw, catalogue))


def test_a_fault_that_shows_nowhere_is_refused(raw: dict[str, Any], catalogue: Catalogue) -> None:
    del raw["shows"]["coolers_plugged"]
    assert refused(raw, catalogue) == ["fault {fault} shows in no test and no state"]


def test_a_test_that_nothing_explains_is_refused(raw: dict[str, Any], catalogue: Catalogue) -> None:
    for entry in raw["shows"].values():
        entry.pop("coolant_check", None)
    assert any("explains" in one for one in refused(raw, catalogue))


def test_every_mistake_is_told_at_once(raw: dict[str, Any], catalogue: Catalogue) -> None:
    del raw["test"]["grip"]
    raw["does"]["hub"]["no_such_fault"] = {"worn": 0.5}
    raw["prior"]["pair_share"] = 2.0
    raw["shows"]["facing_worn"]["disc_look"] = {"clean": 0.9, "light_marks_or_straw": 0.9}
    assert len(refused(raw, catalogue)) >= 4
