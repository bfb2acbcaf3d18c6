"""What every maker of evidence returns: readings with their uncertainty, and the exhibits behind them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal, Protocol

from fanwright.words import Message

Origin = Literal["typed", "trace", "recording", "sound"]
MOST_APART = 2.5


@dataclass(frozen=True)
class Measured:
    """A value in SI with its uncertainty in two parts, because a scale division is no bell curve.

    Args:
        si: The value judged [SI].
        half_width_si: Half the scale division; the reading error from it is a rectangle [SI].
        normal_sd_si: Standard uncertainty of everything else: eye, needle, video frame, repeats [SI].
    """

    si: float
    half_width_si: float
    normal_sd_si: float

    @property
    def sd_si(self) -> float:
        """Combined standard uncertainty [SI]; GUM 4.3.7 for the rectangle, 5.1.2 for the sum.

        Example:
            >>> round(Measured(0.0, 0.0254 / 128, 0.0).sd_si * 1000, 6)
            0.114568
        """
        return math.hypot(self.half_width_si / math.sqrt(3.0), self.normal_sd_si)


def apart(one: Measured, other: Measured) -> bool:
    """Say whether two readings of one thing are over 2.5 combined standard uncertainties apart."""
    return abs(one.si - other.si) > MOST_APART * math.hypot(one.sd_si, other.sd_si)


@dataclass(frozen=True)
class Reading:
    """One answer to one test.

    Args:
        test: The test it answers (catalogue id).
        measured: The value judged, where something was measured.
        outcome: The outcome word: typed, or found from the value by the catalogue's cut points.
        origin: How it came about.
        after: Taken after the repair.
        each_si: The single values of a list (places, trials or repeats) in the order given [SI].
        instrument: The instrument's own number or the catalogue id it was read with.
        by: Who took it.
        at: When, as given.
        place: The file or place it came from.
        conditions: What else must be known to judge it, by name with its unit in the name, such as
            ``inlet_gauge_pa``.
        cannot_judge: Why this reading must not be judged, if so.
    """

    test: str
    measured: Measured | None = None
    outcome: str = ""
    origin: Origin = "typed"
    after: bool = False
    each_si: tuple[float, ...] = ()
    instrument: str = ""
    by: str = ""
    at: str = ""
    place: str = ""
    conditions: Mapping[str, float] = field(default_factory=dict)
    cannot_judge: Message | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "conditions", MappingProxyType(dict(self.conditions)))


class Exhibit(Protocol):
    """A frozen series or table that pictures are drawn from, with its origin and content hash."""

    @property
    def place(self) -> str:
        """The file it came from."""

    @property
    def sha256(self) -> str:
        """The hash of that file's bytes."""


@dataclass(frozen=True)
class Evidence:
    """What a maker hands on.

    Args:
        readings: Numbers with uncertainty; no verdicts, no culprits.
        exhibits: The series and tables behind them.
        notes: Oddities counted on the way.
        cannot_tell: What the evidence cannot say, in plain sentences.
    """

    readings: tuple[Reading, ...] = ()
    exhibits: tuple[Exhibit, ...] = ()
    notes: tuple[Message, ...] = ()
    cannot_tell: tuple[Message, ...] = ()
