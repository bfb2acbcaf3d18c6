"""What can be observed and what can be wrong. No judgement, no likelihoods."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Combine = Literal["lowest", "highest", "mean"]
Valve = Literal["nc", "no"]
GripsBy = Literal["spring", "air"]

NOMINALS = ("nominal_volts", "expected_current", "target_tone", "belt_span", "lift_off_spec")


@dataclass(frozen=True)
class Outcome:
    """One outcome word of a test.

    At most one lower and one upper cut; without any, the word cannot be told from a number.

    Args:
        word: Its id.
        label: Its words on screens.
        above_si: The value must lie above this, where the test is measured [SI, or share of a nominal].
        up_to_si: The value must not lie above this [SI, or share of a nominal].
        at_least_si: The value must not lie below this [SI, or share of a nominal].
        under_si: The value must lie below this [SI, or share of a nominal].

    Example:
        >>> Outcome("within_1_s", "within 1 s", up_to_si=1.0).holds(1.0)
        True
    """

    word: str
    label: str
    above_si: float | None = None
    up_to_si: float | None = None
    at_least_si: float | None = None
    under_si: float | None = None

    @property
    def has_cut(self) -> bool:
        """Whether a number can fall under this word at all."""
        return any(
            edge is not None for edge in (self.above_si, self.up_to_si, self.at_least_si, self.under_si)
        )

    @property
    def lowest_si(self) -> float:
        """Its lower edge; minus infinity where it is open below [SI, or share of a nominal]."""
        edges = [edge for edge in (self.above_si, self.at_least_si) if edge is not None]
        return max(edges, default=-math.inf)

    @property
    def highest_si(self) -> float:
        """Its upper edge; infinity where it is open above [SI, or share of a nominal]."""
        edges = [edge for edge in (self.up_to_si, self.under_si) if edge is not None]
        return min(edges, default=math.inf)

    def holds(self, value: float) -> bool:
        """Say whether a value falls under this word.

        A value that differs from an edge only by the rounding of its unit (1 in 10^9) stands on the edge.
        """
        on_lowest, on_highest = _same(value, self.lowest_si), _same(value, self.highest_si)
        return (
            self.has_cut
            and (self.at_least_si is not None if on_lowest else value > self.lowest_si)
            and (self.up_to_si is not None if on_highest else value < self.highest_si)
        )


def _same(value: float, edge: float) -> bool:
    return math.isclose(value, edge, rel_tol=1e-9)


@dataclass(frozen=True)
class CautionRule:
    """A caution that a test needs, in some arrangements only where ``grips_by`` or ``valve`` is set."""

    caution: str
    grips_by: GripsBy | None = None
    valve: Valve | None = None


@dataclass(frozen=True)
class Test:
    """One thing a technician can find out.

    Args:
        id: Its id.
        label: Its plain name.
        how: How it is done.
        minutes: How long it takes [min].
        taken_apart: What is opened or taken off.
        state: The state the vehicle must be in.
        instrument: Default instrument (id), empty where none is needed.
        fraction_instrument: Instrument taken for granted when the reading was typed as a fraction.
        dimension: What is measured (key of ``quantities``); empty where only words exist.
        relative_to: Empty, or the nominal its cut points and bands are shares of (one of ``NOMINALS``).
        plausible: Lowest and highest value an honest reading can have [SI].
        combine: How a list becomes one value.
        list_means: ``places``, ``trials`` or ``repeats``; empty where a list is refused.
        outcomes: Its outcome words.
        outcomes_24v: The same with the cut points of 24 V parts, where they differ.
        good: The outcome word of a sound truck; empty where the test only informs.
        group: Tests in one group share a cause.
        cautions: Cautions that stand at this step.
        basis: Where it comes from.
        tools: What is taken in hand, in words.
        only_from: ``recording`` where only a recording gives it, so that nobody is asked for it; else empty.
    """

    id: str
    label: str
    how: str
    minutes: float
    taken_apart: str
    state: str
    instrument: str
    fraction_instrument: str
    dimension: str
    relative_to: str
    plausible: tuple[float, float] | None
    combine: Combine | None
    list_means: str
    outcomes: tuple[Outcome, ...]
    outcomes_24v: tuple[Outcome, ...]
    good: str
    group: str
    cautions: tuple[CautionRule, ...]
    basis: str
    tools: str = ""
    only_from: str = ""

    def words(self) -> tuple[str, ...]:
        """Give its outcome words in order."""
        return tuple(outcome.word for outcome in self.outcomes)

    def word_for(self, value: float, volts: float = 12.0) -> str:
        """Find the outcome word a value falls under.

        Args:
            value: The value, or its share of the nominal where ``relative_to`` says so [SI or -].
            volts: Nominal voltage of the vehicle [V].

        Returns:
            The word, or an empty text where no word covers the value.
        """
        table = self.outcomes_24v if volts > 18.0 and self.outcomes_24v else self.outcomes
        return next((outcome.word for outcome in table if outcome.holds(value)), "")

    def cautions_for(self, grips_by: GripsBy, valve: Valve) -> tuple[str, ...]:
        """Give the cautions of this step in an arrangement, as ids."""
        return tuple(
            rule.caution
            for rule in self.cautions
            if rule.grips_by in (None, grips_by) and rule.valve in (None, valve)
        )


@dataclass(frozen=True)
class Instrument:
    """How finely something is read.

    Args:
        id: Its id.
        label: Its name.
        dimension: What it reads.
        division_si: Scale division; the reading error from it is a rectangle of this width [SI].
        normal_sd_si: Standard uncertainty of eye, needle or frame [SI].
        source: Where the numbers come from.
    """

    id: str
    label: str
    dimension: str
    division_si: float
    normal_sd_si: float
    source: str


@dataclass(frozen=True)
class Caution:
    """A caution as a full sentence, with where it comes from.

    Args:
        id: Its id.
        text: The sentence.
        source: Where it comes from.
        general: Whether it stands over every visit, whatever is tested.
        grips_by: It stands only where this makes the drive grip; None for both.
        valve: It stands only with this valve; None for both.
    """

    id: str
    text: str
    source: str
    general: bool = False
    grips_by: GripsBy | None = None
    valve: Valve | None = None


@dataclass(frozen=True)
class Fault:
    """One thing that can be wrong. Weights are relative, one of many; severity 1 to 5.

    Args:
        id: Its id.
        label: Its plain name.
        where: The part of the truck.
        role: ``cause``, ``result``, ``both`` or ``none``.
        weight_planned: Relative weight at planned visits [-].
        weight_complaint: Relative weight at complaint visits [-].
        severity: 1 (nothing breaks) to 5 (people or the engine are in danger) [-].
        mechanism: How it comes about.
        symptoms: What is noticed.
        consequence: What happens if it is left.
        fix: What cures it.
        follow_up: What shows that it is cured.
        safety: The caution for the repair.
        leads_to: Faults it causes in time (ids).
        labour_minutes: Least and most [min].
        basis: Where it comes from.
    """

    id: str
    label: str
    where: str
    role: str
    weight_planned: float
    weight_complaint: float
    severity: int
    mechanism: str
    symptoms: str
    consequence: str
    fix: str
    follow_up: str
    safety: str
    leads_to: tuple[str, ...]
    labour_minutes: tuple[float, float]
    basis: str


@dataclass(frozen=True)
class Price:
    """An assumption about money or what a choice rests on besides, lowest and highest.

    Args:
        id: Its id.
        label: What is paid for.
        low: The lowest [unit].
        high: The highest [unit].
        unit: ``USD``, ``USD/h``, ``times`` (of the first cost), ``share``, ``km`` or ``h``.
        source: Where it comes from.
    """

    id: str
    label: str
    low: float
    high: float
    unit: str
    source: str


@dataclass(frozen=True)
class Catalogue:
    """Everything that can be observed, be wrong, be used, be warned of and be paid.

    Args:
        tests: Tests by id, in the order of the procedure.
        faults: Faults by id.
        instruments: Instruments by id.
        cautions: Cautions by id.
        prices: Prices by id.
        core: The tests that must be judged good before a visit of a kind is good.
    """

    tests: Mapping[str, Test]
    faults: Mapping[str, Fault]
    instruments: Mapping[str, Instrument]
    cautions: Mapping[str, Caution]
    prices: Mapping[str, Price]
    core: Mapping[str, tuple[str, ...]]
