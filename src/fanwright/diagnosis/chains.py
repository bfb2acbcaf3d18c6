"""Chains of events, from a cause to what it does, and what tells one from another (``chains.toml``)."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from fanwright.catalogue.model import Catalogue
from fanwright.errors import DataError
from fanwright.words import Message, text

FILE = "chains.toml"
KEYS = ("label", "causes", "seen", "beware", "speaks_for", "speaks_against")


@dataclass(frozen=True)
class EventChain:
    """One chain of events.

    Args:
        id: Its id.
        label: Its name.
        causes: Faults at its head, or ``no_fault`` where it is no fault.
        seen: What it looks like.
        beware: What it must not be taken for, and what parts the two.
        speaks_for: Outcome word by test that speaks for it.
        speaks_against: Outcome word by test that speaks against it.
    """

    id: str
    label: str
    causes: tuple[str, ...]
    seen: str
    beware: str
    speaks_for: Mapping[str, str]
    speaks_against: Mapping[str, str]


def load_chains(catalogue: Catalogue) -> tuple[EventChain, ...]:
    """Load the chains of events that belong to this program.

    Args:
        catalogue: What can be observed and what can be wrong.

    Returns:
        The checked chains.

    Raises:
        DataError: Every contradiction of the file with itself or with the catalogue.

    Example:
        >>> from fanwright.catalogue import load
        >>> [chain.label for chain in load_chains(load()) if "facing_oily" in chain.causes]
        ['Slip under load', 'Oil on the facing']
    """
    return chains_from(_raw(), catalogue)


@cache
def _raw() -> Mapping[str, Any]:
    return tomllib.loads(resources.files(__package__).joinpath(FILE).read_text("utf-8"))


def chains_from(raw: Mapping[str, Any], catalogue: Catalogue) -> tuple[EventChain, ...]:
    """Read chains of events from their parsed file.

    Args:
        raw: The parsed file.
        catalogue: What can be observed and what can be wrong.

    Returns:
        The checked chains.

    Raises:
        DataError: Every contradiction, all together.
    """
    entries = raw.get("chain", {})
    problems = [problem for name, entry in entries.items() for problem in _problems(name, entry, catalogue)]
    named = {test for entry in entries.values() for test in entry.get("speaks_for", {})}
    problems += [
        Message("chains: no chain of events uses what {test} shows", {"test": text(test.id)})
        for test in catalogue.tests.values()
        if test.only_from and test.id not in named | REPEATS
    ]
    if problems:
        raise DataError(problems)
    return tuple(
        EventChain(
            name,
            entry["label"],
            tuple(entry["causes"]),
            entry["seen"],
            entry["beware"],
            MappingProxyType(dict(entry["speaks_for"])),
            MappingProxyType(dict(entry["speaks_against"])),
        )
        for name, entry in entries.items()
    )


REPEATS = {"recording_air_low_on"}
"""Shown by a recording and named by no chain: what counts is air that is low while the drive needs it."""


def _problems(name: str, entry: Mapping[str, Any], catalogue: Catalogue) -> Iterator[Message]:
    for key in KEYS:
        if not entry.get(key):
            yield Message("chains: {chain} lacks {key}", {"chain": text(name), "key": text(key)})
    for key in entry:
        if key not in KEYS:
            yield Message(
                "chains: {chain} has {key}, which is not known", {"chain": text(name), "key": text(key)}
            )
    for fault in entry.get("causes", ()):
        if fault not in catalogue.faults:
            yield Message(
                "chains: {chain} names {fault}, which is no fault",
                {"chain": text(name), "fault": text(fault)},
            )
    for key in ("speaks_for", "speaks_against"):
        for test, word in entry.get(key, {}).items():
            if test not in catalogue.tests or word not in catalogue.tests[test].words():
                yield Message(
                    "chains: {chain} names {test} = {word}, which is no outcome of a test",
                    {"chain": text(name), "test": text(test), "word": text(word)},
                )
