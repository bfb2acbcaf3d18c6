"""What one recording says of a truck, as columns; and a truck's days after all its recordings were joined."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanwright.fleet.spans import Moments, Spans

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]
Names = NDArray[Any]

RUN_NUMBERS = (
    "duration_sd_s",
    "grip_rpm",
    "slip_energy_mj",
    "fan_energy_mj",
    "coolant_on_c",
    "coolant_off_c",
    "charge_air_on_c",
    "charge_air_off_c",
    "ambient_c",
    "road_speed_km_per_h",
    "lowest_air_kpa",
)
"""What is kept of each run beside its ends and reason; NaN stands for not known inside a column only."""


@dataclass(frozen=True, eq=False)
class Runs:
    """Runs as columns, in order.

    Args:
        spans: Where each begins and ends.
        reason: What each was first told on for.
        open_start: Whether its true beginning was not seen.
        open_end: Whether its true end was not seen.
        numbers: The columns of ``RUN_NUMBERS``; not a number where not known.
    """

    spans: Spans
    reason: Names
    open_start: Flags
    open_end: Flags
    numbers: Mapping[str, Numbers]

    def __len__(self) -> int:
        return len(self.spans)


@dataclass(frozen=True, eq=False)
class FileDuty:
    """What one recording says.

    Args:
        clock: ``absolute``, ``local`` or ``relative``.
        engine_on: Stretches with the engine on.
        known: Stretches with the engine on in which told on or off is known, in order, without overlap.
        told_on: Stretches told on for one reason each.
        told_for: The reason of each of those.
        runs: The runs.
        key: What the recording is known by; decides which of two equal moments is counted.
    """

    clock: str
    engine_on: Spans
    known: Spans
    told_on: Spans
    told_for: Names
    runs: Runs
    key: str = ""

    @property
    def first_us(self) -> int:
        """First known moment [us]; 0 without any."""
        return int(self.known.start_us[0]) if len(self.known) else 0

    @property
    def last_us(self) -> int:
        """Last known moment [us]; 0 without any."""
        return int(self.known.end_us[-1]) if len(self.known) else 0


@dataclass(frozen=True, eq=False)
class Days:
    """A truck's days, each second counted once.

    Args:
        day: The days, counted from 1970-01-01, in order.
        engine_on_s: Time with the engine on [s].
        fan_known_s: Time with the engine on in which told on or off is known [s].
        fan_on_s: Time told on [s].
        grips: How often it was told on.
        slip_energy_j: Heat of the grips [J].
        fan_energy_j: Work of the fan [J].
        reason_on_s: Time told on by reason [s].
        reason_grips: Grips by first reason.
        ac_day: The day of each whole run told on by the air conditioning.
        ac_length_s: How long each of those lasted [s].
        ac_sd_s: Its standard uncertainty [s].
        overlap_s: Time that more than one recording tells of, counted once [s].
    """

    day: Moments
    engine_on_s: Numbers
    fan_known_s: Numbers
    fan_on_s: Numbers
    grips: Numbers
    slip_energy_j: Numbers
    fan_energy_j: Numbers
    reason_on_s: Mapping[str, Numbers] = field(default_factory=dict)
    reason_grips: Mapping[str, Numbers] = field(default_factory=dict)
    ac_day: Moments = field(default_factory=lambda: np.empty(0, np.int64))
    ac_length_s: Numbers = field(default_factory=lambda: np.empty(0))
    ac_sd_s: Numbers = field(default_factory=lambda: np.empty(0))
    overlap_s: float = 0.0

    def where(self, chosen: Flags) -> Days:
        """Give some of the days."""
        kept = np.isin(self.ac_day, self.day[chosen])
        return Days(
            self.day[chosen],
            self.engine_on_s[chosen],
            self.fan_known_s[chosen],
            self.fan_on_s[chosen],
            self.grips[chosen],
            self.slip_energy_j[chosen],
            self.fan_energy_j[chosen],
            {name: values[chosen] for name, values in self.reason_on_s.items()},
            {name: values[chosen] for name, values in self.reason_grips.items()},
            self.ac_day[kept],
            self.ac_length_s[kept],
            self.ac_sd_s[kept],
        )
