"""From raw tables to the dataclasses of the catalogue; what is wrong is gathered, never raised."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

from fanwright.catalogue.model import (
    Caution,
    CautionRule,
    Combine,
    Fault,
    GripsBy,
    Instrument,
    Outcome,
    Price,
    Test,
    Valve,
)
from fanwright.errors import QuantityError
from fanwright.quantities import dimensions, read
from fanwright.words import Message, text

CUTS = ("above", "up_to", "at_least", "under")


@dataclass(frozen=True)
class _Entry:
    """One raw table, with where it stands and where its problems go."""

    raw: Mapping[str, Any]
    where: str
    problems: list[Message]

    def problem(self, key: str, template: str, **given: object) -> None:
        """Note a problem of one key; ``{where}`` is filled here."""
        places = {"where": text(f"{self.where}.{key}" if key else self.where)}
        self.problems.append(Message(template, places | {name: text(value) for name, value in given.items()}))

    def text(self, key: str, otherwise: str | None = None) -> str:
        """Give a text; without ``otherwise`` it must be there and not be empty."""
        value = self.raw.get(key, otherwise)
        if not isinstance(value, str) or (otherwise is None and not value.strip()):
            self.problem(key, "{where} must be a text that is not empty")
            return ""
        return value

    def number(self, key: str) -> float:
        """Give a finite number that is not negative."""
        return self.checked_number(key, self.raw.get(key))

    def checked_number(self, key: str, value: object) -> float:
        """Check that something is a finite number that is not negative."""
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0.0 <= value < math.inf:
            self.problem(key, "{where} is {given}: it must be a number, 0 or more", given=value)
            return 0.0
        return float(value)

    def texts(self, key: str) -> tuple[str, ...]:
        """Give a list of texts; empty where it is absent."""
        value = self.raw.get(key, ())
        if (
            not isinstance(value, Sequence)
            or isinstance(value, str)
            or not all(isinstance(one, str) for one in value)
        ):
            self.problem(key, "{where} must be a list of texts")
            return ()
        return tuple(value)

    def quantity(self, key: str, typed: object, dimension: str) -> float:
        """Read a typed quantity [SI]."""
        if dimension not in dimensions():
            self.problem(key, "{where}: «{given}» is not a dimension of the table of units", given=dimension)
            return 0.0
        try:
            return read(typed, dimension).si
        except QuantityError as error:
            self.refused(key, error)
        return 0.0

    def difference(self, key: str, dimension: str) -> float:
        """Read a typed difference [SI]; a difference of temperature is written in K."""
        if dimension not in dimensions():
            return 0.0
        try:
            quantity = read(self.raw.get(key), dimension)
        except QuantityError as error:
            self.refused(key, error)
            return 0.0
        if quantity.unit.offset:
            self.problem(
                key, "{where} is {given}: write a difference of temperature in K", given=quantity.typed
            )
        elif quantity.si < 0.0:
            self.problem(key, "{where} is {given}: it must be 0 or more", given=quantity.typed)
        return quantity.si

    def refused(self, key: str, error: QuantityError) -> None:
        """Pass on why a quantity was refused, with where it stands."""
        place = text(f"{self.where}.{key}")
        self.problems.extend(
            Message("{where}: " + message.template, {"where": place, **message.values})
            for message in error.messages
        )

    def known(self, *allowed: str) -> None:
        """Note every key that is not allowed here."""
        for key in self.raw:
            if key not in allowed:
                self.problem(
                    key, "{where} is not known here; allowed are {allowed}", allowed=", ".join(allowed)
                )


_DERIVED = {"id", "outcomes", "outcomes_24v"}
_TEST_KEYS = ("words", "cuts", "cuts_24v", *(key for key in Test.__dataclass_fields__ if key not in _DERIVED))
_FAULT_KEYS = tuple(key for key in Fault.__dataclass_fields__ if key != "id")


def tests(
    raw: Mapping[str, Any], cautions: Mapping[str, Caution], problems: list[Message]
) -> dict[str, Test]:
    """Build the tests, in the order of the file."""
    return {
        name: _test(name, _Entry(table, f"tests.{name}", problems), raw, cautions)
        for name, table in raw["test"].items()
    }


def _test(name: str, entry: _Entry, raw: Mapping[str, Any], cautions: Mapping[str, Caution]) -> Test:
    entry.known(*_TEST_KEYS)
    dimension, relative_to = entry.text("dimension", ""), entry.text("relative_to", "")
    scale = "share" if relative_to else dimension
    state = entry.text("state")
    if state not in raw["states"]:
        entry.problem("state", "{where} is {given}, which is not one of the states", given=state)
    return Test(
        id=name,
        label=entry.text("label"),
        how=entry.text("how"),
        minutes=entry.number("minutes"),
        taken_apart=entry.text("taken_apart"),
        state=raw["states"].get(state, ""),
        instrument=entry.text("instrument", ""),
        fraction_instrument=entry.text("fraction_instrument", ""),
        dimension=dimension,
        relative_to=relative_to,
        plausible=_plausible(entry, dimension),
        combine=cast("Combine | None", entry.text("combine", "") or None),
        list_means=entry.text("list_means", ""),
        outcomes=_outcomes(entry, "cuts", scale),
        outcomes_24v=_outcomes(entry, "cuts_24v", scale) if "cuts_24v" in entry.raw else (),
        good=entry.text("good", ""),
        group=entry.text("group"),
        cautions=tuple(_rule(one, cautions) for one in entry.texts("cautions")),
        basis=entry.text("basis", raw["basis"]),
        tools=entry.text("tools", ""),
        only_from=entry.text("only_from", ""),
    )


def _rule(caution: str, cautions: Mapping[str, Caution]) -> CautionRule:
    known = cautions.get(caution)
    return CautionRule(caution) if known is None else CautionRule(caution, known.grips_by, known.valve)


def _plausible(entry: _Entry, dimension: str) -> tuple[float, float] | None:
    ends = entry.texts("plausible")
    if not ends:
        return None
    if len(ends) != 2:
        entry.problem("plausible", "{where} must hold the lowest and the highest value")
        return None
    low, high = (entry.quantity("plausible", end, dimension) for end in ends)
    return low, high


def _outcomes(entry: _Entry, key: str, dimension: str) -> tuple[Outcome, ...]:
    words: Mapping[str, Any] = entry.raw.get("words", {})
    cuts: Mapping[str, Any] = entry.raw.get(key, {})
    for word in cuts:
        if word not in words:
            entry.problem(f"{key}.{word}", "{where} is a cut for something that is not an outcome word")
    labels = _Entry(words, f"{entry.where}.words", entry.problems)
    return tuple(
        _outcome(
            word,
            labels.text(word),
            _Entry(cuts.get(word, {}), f"{entry.where}.{key}.{word}", entry.problems),
            dimension,
        )
        for word in words
    )


def _outcome(word: str, label: str, cut: _Entry, dimension: str) -> Outcome:
    cut.known(*CUTS)
    edges = {f"{key}_si": cut.quantity(key, cut.raw[key], dimension) for key in CUTS if key in cut.raw}
    if {"above", "at_least"} <= set(cut.raw) or {"up_to", "under"} <= set(cut.raw):
        cut.problem("", "{where} has two edges on one side")
    return Outcome(word, label, **edges)


def faults(raw: Mapping[str, Any], problems: list[Message]) -> dict[str, Fault]:
    """Build the faults, in the order of the file."""
    return {
        name: _fault(name, _Entry(table, f"faults.{name}", problems), raw["basis"])
        for name, table in raw["fault"].items()
    }


def _fault(name: str, entry: _Entry, basis: str) -> Fault:
    entry.known(*_FAULT_KEYS)
    labour = [entry.checked_number("labour_minutes", one) for one in entry.raw.get("labour_minutes", ())]
    if len(labour) != 2:
        entry.problem("labour_minutes", "{where} must hold the least and the most")
        labour = [0.0, 0.0]
    severity = entry.number("severity")
    return Fault(
        id=name,
        label=entry.text("label"),
        where=entry.text("where", ""),
        role=entry.text("role"),
        weight_planned=entry.number("weight_planned"),
        weight_complaint=entry.number("weight_complaint"),
        severity=int(severity),
        mechanism=entry.text("mechanism", ""),
        symptoms=entry.text("symptoms"),
        consequence=entry.text("consequence", ""),
        fix=entry.text("fix"),
        follow_up=entry.text("follow_up"),
        safety=entry.text("safety"),
        leads_to=entry.texts("leads_to"),
        labour_minutes=(labour[0], labour[1]),
        basis=entry.text("basis", basis),
    )


def instruments(raw: Mapping[str, Any], problems: list[Message]) -> dict[str, Instrument]:
    """Build the instruments."""
    return {
        name: _instrument(name, _Entry(table, f"instruments.{name}", problems)) for name, table in raw.items()
    }


def _instrument(name: str, entry: _Entry) -> Instrument:
    entry.known("label", "dimension", "division", "normal_sd", "source")
    dimension = entry.text("dimension")
    if dimension and dimension not in dimensions():
        entry.problem("dimension", "{where} is {given}, which is not a dimension we know", given=dimension)
        dimension = ""
    return Instrument(
        id=name,
        label=entry.text("label"),
        dimension=dimension,
        division_si=entry.difference("division", dimension),
        normal_sd_si=entry.difference("normal_sd", dimension),
        source=entry.text("source"),
    )


def cautions(raw: Mapping[str, Any], problems: list[Message]) -> dict[str, Caution]:
    """Build the cautions."""
    return {name: _caution(name, _Entry(table, f"cautions.{name}", problems)) for name, table in raw.items()}


def _caution(name: str, entry: _Entry) -> Caution:
    entry.known("text", "source", "general", "grips_by", "valve")
    grips_by, valve = entry.raw.get("grips_by"), entry.raw.get("valve")
    if grips_by not in (None, "spring", "air"):
        entry.problem("grips_by", "{where} is {given}: allowed are spring and air", given=grips_by)
    if valve not in (None, "nc", "no"):
        entry.problem("valve", "{where} is {given}: allowed are nc and no", given=valve)
    return Caution(
        id=name,
        text=entry.text("text"),
        source=entry.text("source"),
        general=entry.raw.get("general") is True,
        grips_by=cast("GripsBy | None", grips_by),
        valve=cast("Valve | None", valve),
    )


def prices(raw: Mapping[str, Any], problems: list[Message]) -> dict[str, Price]:
    """Build the prices."""
    return {
        name: _price(name, _Entry(table, f"prices.{name}", problems), raw["source"])
        for name, table in raw["price"].items()
    }


def _price(name: str, entry: _Entry, source: str) -> Price:
    entry.known("label", "low", "high", "unit", "source")
    unit = entry.text("unit")
    if unit and unit not in ("USD", "USD/h", "times", "share", "km", "h"):
        allowed = "{where} is {given}: allowed are USD, USD/h, times, share, km and h"
        entry.problem("unit", allowed, given=unit)
    low, high = entry.number("low"), entry.number("high")
    if low > high:
        entry.problem("low", "{where} is {low}, above the highest, {high}", low=low, high=high)
    return Price(name, entry.text("label"), low, high, unit, entry.text("source", source))


def core(raw: Mapping[str, Any], problems: list[Message]) -> dict[str, tuple[str, ...]]:
    """Build the core sets."""
    return {kind: _core(_Entry(table, f"core.{kind}", problems)) for kind, table in raw.items()}


def _core(entry: _Entry) -> tuple[str, ...]:
    entry.known("tests", "source")
    entry.text("source")
    return entry.texts("tests")
