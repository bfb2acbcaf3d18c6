"""What is wrong with a network file: contradictions with itself, with the views, with the catalogue."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from fanwright.catalogue.model import Catalogue
from fanwright.diagnosis.circuit import VIEWS, VIEWS_BELOW
from fanwright.words import Message, number, text

TABLES = ("source", "state", "chain", "prior", "same", "certain", "spread", "does", "test", "shows")
PRIOR = ("pair_share", "along_leads_to", "third_share")
ROUNDING = 2e-3


def problems_of(raw: Mapping[str, Any], catalogue: Catalogue) -> list[Message]:
    """Find every contradiction of a network file.

    Args:
        raw: The parsed file.
        catalogue: What can be observed and what can be wrong.

    Returns:
        One message each; none when the file may be used.
    """
    missing = [name for name in TABLES if name not in raw]
    if missing:
        return [Message("network: the table {table} is missing", {"table": text(name)}) for name in missing]
    return [
        *_unknown("", raw, TABLES),
        *_unknown("prior.", raw["prior"], PRIOR),
        *_shares(raw["prior"]),
        *_chains(raw),
        *_does(raw, catalogue),
        *_tests(raw, catalogue),
        *_shows(raw, catalogue),
        *_same(raw, catalogue),
        *_certain(raw, catalogue),
        *_spread(raw, catalogue),
    ]


def _unknown(where: str, given: Iterable[str], allowed: Iterable[str]) -> Iterator[Message]:
    known = tuple(allowed)
    for name in given:
        if name not in known:
            yield Message(
                "network: {where}{name} is not known; allowed are {known}",
                {"where": text(where), "name": text(name), "known": text(", ".join(known))},
            )


def _shares(prior: Mapping[str, Any]) -> Iterator[Message]:
    for name in PRIOR:
        value = prior.get(name)
        if not isinstance(value, (int, float)) or not 0.0 <= value < 1.0:
            yield Message(
                "network: prior.{name} is {value}; it must be a share from 0 to under 1",
                {"name": text(name), "value": text(value)},
            )


def _chains(raw: Mapping[str, Any]) -> Iterator[Message]:
    used = [
        state
        for entry in raw["chain"].values()
        for state in (*entry.get("root", ()), *entry.get("below", ()))
    ]
    yield from _unknown("chain state ", used, raw["state"])
    for state in raw["state"]:
        if used.count(state) != 1:
            yield Message("network: state {state} must stand in exactly one chain", {"state": text(state)})


def _does(raw: Mapping[str, Any], catalogue: Catalogue) -> Iterator[Message]:
    yield from _unknown("does.", raw["does"], raw["state"])
    for state, entries in raw["does"].items():
        values = raw["state"].get(state, ())
        yield from _unknown("fault ", entries, catalogue.faults)
        for fault, entry in entries.items():
            yield from _unknown("does ", entry, (*values, "grips_by"))
            chances = [float(entry[value]) for value in values if value in entry]
            yield from _chance_row(state, fault, chances, whole=False)


def _tests(raw: Mapping[str, Any], catalogue: Catalogue) -> Iterator[Message]:
    yield from _unknown("test.", raw["test"], catalogue.tests)
    shown = {test for entry in raw["shows"].values() for test in entry}
    for test in catalogue.tests:
        if test not in raw["test"]:
            yield Message("network: test {test} has no row", {"test": text(test)})
            continue
        entry = raw["test"][test]
        view = entry.get("looks_at")
        if view == "" and test not in shown:
            yield Message("network: no fault and no state explains test {test}", {"test": text(test)})
        yield from _rows(raw, catalogue, test, entry)


def _rows(
    raw: Mapping[str, Any], catalogue: Catalogue, test: str, entry: Mapping[str, Any]
) -> Iterator[Message]:
    values = view_values(raw, entry.get("looks_at", ""), catalogue.tests[test].words())
    if values is None:
        yield Message(
            "network: test {test} looks at {view}, which is neither a chain nor a view",
            {"test": text(test), "view": text(entry.get("looks_at"))},
        )
        return
    yield from _unknown("view value ", (name for name in entry if name != "looks_at"), ("else", *values))
    for value in ("else", *values):
        row = entry.get(value)
        if row is None and value == "else":
            yield Message("network: test {test} has no row «else»", {"test": text(test)})
        if row is None:
            continue
        if len(row) != len(catalogue.tests[test].outcomes):
            yield Message(
                "network: row {value} of test {test} needs one chance for each outcome word",
                {"value": text(value), "test": text(test)},
            )
        elif min(row) <= 0.0:
            yield Message(
                "network: row {value} of test {test} calls an outcome impossible; give it a small chance",
                {"value": text(value), "test": text(test)},
            )
        yield from _chance_row(test, value, row, whole=True)


def view_values(raw: Mapping[str, Any], view: str, words: tuple[str, ...]) -> tuple[str, ...] | None:
    """Give the values a view can show.

    Args:
        raw: The parsed file.
        view: A view of the circuit, a chain, or empty.
        words: Outcome words of the test that looks (a chain of several states shows these).

    Returns:
        Its values, or None when there is no such view.
    """
    if view in VIEWS:
        return VIEWS[view].values
    if view in VIEWS_BELOW:
        return VIEWS_BELOW[view].values
    if view == "":
        return ()
    if view not in raw["chain"]:
        return None
    root = raw["chain"][view]["root"]
    return tuple(raw["state"][root[0]]) if len(root) == 1 else words


def _shows(raw: Mapping[str, Any], catalogue: Catalogue) -> Iterator[Message]:
    yield from _unknown("shows.", raw["shows"], catalogue.faults)
    for fault, entry in raw["shows"].items():
        yield from _unknown("shows test ", entry, catalogue.tests)
        for test, row in entry.items():
            if test in catalogue.tests:
                yield from _unknown("outcome ", row, catalogue.tests[test].words())
                yield from _chance_row(fault, test, list(row.values()), whole=False)


def _same(raw: Mapping[str, Any], catalogue: Catalogue) -> Iterator[Message]:
    for test, others in raw["same"].items():
        yield from _unknown("same test ", (test, *others), catalogue.tests)


def _certain(raw: Mapping[str, Any], catalogue: Catalogue) -> Iterator[Message]:
    yield from _unknown("certain.", raw["certain"], catalogue.tests)
    for test, row in raw["certain"].items():
        if test in catalogue.tests:
            yield from _unknown("outcome ", row, catalogue.tests[test].words())
        named = [given for given, _ in row.values()]
        faults = [one for given in named for one in ([given] if isinstance(given, str) else given)]
        yield from _unknown("fault ", faults, catalogue.faults)
        for word, (_, error) in row.items():
            yield from _chance_row(test, word, [error], whole=False)


def _spread(raw: Mapping[str, Any], catalogue: Catalogue) -> Iterator[Message]:
    for test, row in raw["spread"].items():
        if test not in catalogue.tests or not catalogue.tests[test].dimension:
            yield Message("network: spread.{test} is not a measured test", {"test": text(test)})
            continue
        words = catalogue.tests[test].words()
        values = view_values(raw, raw["test"].get(test, {}).get("looks_at", ""), words) or ()
        yield from _unknown("spread value ", row, values or ("else",))


def _chance_row(where: str, name: str, row: Iterable[float], *, whole: bool) -> Iterator[Message]:
    chances = list(row)
    total = sum(chances)
    wrong = abs(total - 1.0) > ROUNDING if whole else total > 1.0 + ROUNDING
    if wrong or any(not 0.0 <= chance <= 1.0 for chance in chances):
        yield Message(
            "network: {where}, {name}: the chances add up to {total}",
            {"where": text(where), "name": text(name), "total": number(total)},
        )
