"""The limits as data: bands and words to verdicts, with their source, and what a shop may override."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, cast

from fanwright.catalogue import Catalogue, Test
from fanwright.catalogue import load as load_catalogue
from fanwright.errors import DataError, InputError, QuantityError
from fanwright.judging.verdict import WORST_LAST, Verdict
from fanwright.quantities import read
from fanwright.words import Message, text

GENERAL = ("caution_share", "sure_share", "fill_from_inlet")
BAND_KEYS = ("bands", "bands_24v", "bands_without_nominal", "bands_without_nominal_24v")
TEST_KEYS = (
    *BAND_KEYS,
    "arrangement",
    "words",
    "reason",
    "reason_spring",
    "reason_air",
    "todo",
    "source",
    "against",
)
VERDICTS: tuple[str, ...] = (*WORST_LAST, "none")


@dataclass(frozen=True)
class Band:
    """A stretch of values with one verdict: above ``above_si`` up to and including ``up_to_si``."""

    verdict: Verdict
    above_si: float | None
    up_to_si: float | None


@dataclass(frozen=True)
class Against:
    """Bands on the difference to another reading or condition, where the value alone does not decide.

    Args:
        other: A test id, or a condition of the reading such as ``beside_k``.
        bands: Bands of the difference [SI].
        reason: Why.
        todo: What to do.
        source: Where it comes from.
    """

    other: str
    bands: tuple[Band, ...]
    reason: str
    todo: str
    source: str


@dataclass(frozen=True)
class TestLimits:
    """Everything that turns one test's reading into a verdict.

    Args:
        test: The test (catalogue id).
        words: Verdict of each outcome word.
        bands: Bands of the value, or of its share of the nominal; empty where only words count.
        bands_24v: The same for 24 V parts; empty where they do not differ.
        bands_without_nominal: Bands of the value itself when its nominal is not known.
        bands_without_nominal_24v: The same for 24 V parts.
        arrangement: The arrangements it holds for; ``any``.
        reason: Why the limit stands there.
        reason_spring: The same where a spring makes it grip; empty if alike.
        reason_air: The same where air makes it grip; empty if alike.
        todo: What to do when it is worse than good.
        source: Where the limit comes from.
        against: A second set of bands, or None.
    """

    test: str
    words: Mapping[str, Verdict]
    bands: tuple[Band, ...]
    bands_24v: tuple[Band, ...]
    bands_without_nominal: tuple[Band, ...]
    bands_without_nominal_24v: tuple[Band, ...]
    arrangement: str
    reason: str
    reason_spring: str
    reason_air: str
    todo: str
    source: str
    against: Against | None

    def bands_for(self, volts: float, nominal_known: bool) -> tuple[Band, ...]:
        """Choose the bands for a vehicle's voltage [V] and for whether the nominal is known."""
        if nominal_known or not self.bands_without_nominal:
            return self.bands_24v if volts > 18.0 and self.bands_24v else self.bands
        return self.bands_without_nominal_24v if volts > 18.0 else self.bands_without_nominal

    def reason_for(self, grips_by: str) -> str:
        """Choose the reason for what makes the drive grip."""
        return (self.reason_spring if grips_by == "spring" else self.reason_air) or self.reason


@dataclass(frozen=True)
class Limits:
    """All limits in force.

    Args:
        tests: Limits of each test.
        caution_share: The verdict is the worst band that holds at least this chance [-].
        sure_share: When no band holds this much, the reading should be repeated [-].
        fill_from_inlet_pa: Fill time is judged only from this inlet pressure, gauge [Pa].
    """

    tests: Mapping[str, TestLimits]
    caution_share: float
    sure_share: float
    fill_from_inlet_pa: float


def load(catalogue: Catalogue, shop: Mapping[str, Any] | None = None) -> Limits:
    """Load the limits, with a shop's overrides entry by entry.

    Args:
        catalogue: The tests they are for.
        shop: The ``[limits]`` table of a shop file, or None.

    Returns:
        The limits in force; the same object each time where nothing is overridden.

    Raises:
        InputError: Mistakes of the shop's table, all together.
        DataError: Mistakes of our own table, all together.

    Example:
        >>> from fanwright import catalogue
        >>> load(catalogue.load()).tests["vent_time"].bands[0].up_to_si
        1.0
    """
    if not shop and catalogue is load_catalogue():
        return _own()
    return _load(catalogue, shop or {})


@cache
def _own() -> Limits:
    return _load(load_catalogue(), {})


def _load(catalogue: Catalogue, shop: Mapping[str, Any]) -> Limits:
    raw = tomllib.loads(resources.files(__package__).joinpath("limits.toml").read_text("utf-8"))
    mistakes = _override(raw, shop, catalogue)
    if mistakes:
        raise InputError(mistakes)
    builder = _Builder(catalogue)
    tests = {name: builder.test(name, raw[name]) for name in raw if name not in GENERAL}
    builder.complete(tests)
    general = builder.general(raw)
    if builder.mistakes:
        raise (InputError if shop else DataError)(builder.mistakes)
    return Limits(tests, *general)


def _override(raw: dict[str, Any], shop: Mapping[str, Any], catalogue: Catalogue) -> list[Message]:
    """Lay the shop's entries over ours, in place; give back what is wrong with them."""
    mistakes = []
    for name, entry in shop.items():
        if name not in GENERAL and name not in catalogue.tests:
            mistakes.append(_mistake("limits.{where} is not a test or a general limit", name))
            continue
        if not isinstance(entry, Mapping):
            mistakes.append(_mistake("limits.{where} must be a table with its numbers and a source", name))
            continue
        allowed = ("value", "source") if name in GENERAL else TEST_KEYS
        mistakes += [
            _mistake("limits.{where} is not known", f"{name}.{key}") for key in entry if key not in allowed
        ]
        if not entry.get("source"):
            mistakes.append(_mistake("limits.{where} needs a source for its numbers", name))
        if name in GENERAL:
            raw[name] = entry.get("value")
        else:
            raw[name] = {**raw[name], **entry, "words": {**raw[name]["words"], **entry.get("words", {})}}
    return mistakes


def _mistake(template: str, where: str) -> Message:
    return Message(template, {"where": text(where)})


class _Builder:
    """Turns raw tables into limits, gathering every mistake on the way."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self.mistakes: list[Message] = []

    def test(self, name: str, entry: Mapping[str, Any]) -> TestLimits:
        test = self.catalogue.tests.get(name)
        dimension = "" if test is None else test.dimension
        scale = "share" if test is not None and test.relative_to else dimension
        against = entry.get("against")
        return TestLimits(
            test=name,
            words=cast("dict[str, Verdict]", dict(entry["words"])),
            bands=self.bands(name, entry.get("bands", ()), scale),
            bands_24v=self.bands(name, entry.get("bands_24v", ()), scale),
            bands_without_nominal=self.bands(name, entry.get("bands_without_nominal", ()), dimension),
            bands_without_nominal_24v=self.bands(name, entry.get("bands_without_nominal_24v", ()), dimension),
            arrangement=entry["arrangement"],
            reason=entry["reason"],
            reason_spring=entry.get("reason_spring", ""),
            reason_air=entry.get("reason_air", ""),
            todo=entry.get("todo", ""),
            source=entry["source"],
            against=None
            if against is None
            else Against(
                against["other"],
                self.bands(name, against["bands"], dimension),
                against["reason"],
                against["todo"],
                against["source"],
            ),
        )

    def bands(self, name: str, raw: Iterable[Mapping[str, str]], dimension: str) -> tuple[Band, ...]:
        found: list[Band] = []
        edge: float | None = None
        entries = list(raw)
        for number, entry in enumerate(entries):
            if entry.get("verdict") not in WORST_LAST:
                self.mistakes.append(_mistake("limits.{where}: a band has no verdict we know", name))
                return ()
            last = number == len(entries) - 1
            if last != ("up_to" not in entry):
                self.mistakes.append(
                    _mistake("limits.{where}: every band but the last needs its up_to, the last none", name)
                )
                return ()
            up_to = None if last else self.quantity(name, entry["up_to"], dimension)
            if up_to is not None and edge is not None and up_to <= edge:
                self.mistakes.append(_mistake("limits.{where}: the bands do not rise", name))
            found.append(Band(cast("Verdict", entry["verdict"]), edge, up_to))
            edge = up_to
        return tuple(found)

    def quantity(self, name: str, typed: object, dimension: str) -> float:
        try:
            return read(typed, dimension).si
        except (QuantityError, KeyError) as error:
            self.mistakes.append(_mistake("limits.{where}: a limit cannot be read", name))
            if isinstance(error, QuantityError):
                self.mistakes.extend(error.messages)
            return 0.0

    def complete(self, tests: Mapping[str, TestLimits]) -> None:
        for test in self.catalogue.tests.values():
            limits = tests.get(test.id)
            if limits is None:
                self.mistakes.append(_mistake("limits.{where} is missing", test.id))
            else:
                self.match(test, limits)
        for name in tests:
            if name not in self.catalogue.tests:
                self.mistakes.append(_mistake("limits.{where} is not a test", name))

    def match(self, test: Test, limits: TestLimits) -> None:
        odd = set(test.words()) ^ set(limits.words)
        self.mistakes += [
            _mistake("limits.{where}: outcome without a verdict, or not an outcome", f"{test.id}.{word}")
            for word in sorted(odd)
        ]
        if any(verdict not in VERDICTS for verdict in limits.words.values()):
            self.mistakes.append(_mistake("limits.{where}: a verdict is not known", test.id))
        informs = set(limits.words.values()) <= {"none"}
        if bool(test.dimension) != bool(limits.bands) and not informs:
            self.mistakes.append(
                _mistake("limits.{where}: a measured test needs bands, a word has none", test.id)
            )

    def general(self, raw: Mapping[str, Any]) -> tuple[float, float, float]:
        shares = []
        for name in ("caution_share", "sure_share"):
            value = raw[name]
            if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0.0 < value < 1.0:
                self.mistakes.append(_mistake("limits.{where} must be a number between 0 and 1", name))
                value = 0.5
            shares.append(float(value))
        return shares[0], shares[1], self.quantity("fill_from_inlet", raw["fill_from_inlet"], "pressure")
