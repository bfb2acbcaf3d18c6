"""What the fit of a circuit to a trace says, held."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fanwright.catalogue import load
from fanwright.evidence.reading import Measured, Reading
from fanwright.evidence.trace.readings import GAUGE
from fanwright.words import Message

Series = NDArray[np.float64]


@dataclass(frozen=True)
class Interval:
    """A value with the ends of its 80 % interval.

    Args:
        value: The value, half of what is believed lies above it [SI].
        low: A tenth lies below [SI].
        high: A tenth lies above [SI].
    """

    value: float
    low: float
    high: float

    @property
    def sd(self) -> float:
        """Standard uncertainty of a normal distribution with this interval [SI]."""
        return (self.high - self.low) / (2.0 * 1.2816)


@dataclass(frozen=True, eq=False)
class Curve:
    """The fitted circuit over one episode of the trace.

    Args:
        time_s: Times [s on the trace's clock], shape (n,).
        drive_gauge_pa: At the drive as fitted, gauge [Pa], shape (n,).
        inlet_gauge_pa: At the inlet as fitted, gauge [Pa], shape (n,), or None.
        difference_pa: Trace less fit at the drive [Pa], shape (n,).
        marks: When the piston began to move or arrived, and the pressure then [s on the trace's clock, Pa].
    """

    time_s: Series
    drive_gauge_pa: Series
    inlet_gauge_pa: Series | None
    difference_pa: Series
    marks: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Alike:
    """A number as it is with the given volumes and one exponent, to compare two traces of the same drive.

    Args:
        value: The number [SI].
        sd: Its standard uncertainty from this trace alone [SI].
    """

    value: float
    sd: float


@dataclass(frozen=True)
class Identified:
    """The numbers of an air circuit, found from a trace; None where the trace cannot tell.

    Args:
        fill: Conductance from the inlet gauge to the drive gauge [m3/(s Pa)].
        exhaust: Conductance from the drive gauge into the open [m3/(s Pa)].
        leak: Conductance of what leaks from what was shut off; without that, from drive and line [m3/(s Pa)].
        line_leak: Conductance of what leaks before the shut-off, where the trace shows it [m3/(s Pa)].
        supply: Conductance from the reservoir to the inlet gauge [m3/(s Pa)].
        seat: Conductance through the shut valve, where air is left in the drive [m3/(s Pa)].
        lift_off_pa: Drive pressure at which the piston begins to move on filling, gauge [Pa].
        full_stroke_pa: Drive pressure at which it arrives on filling, gauge [Pa].
        friction_pa: Pressure that overcomes its friction: half of what it moves later on filling than on
            venting [Pa].
        send_response_s: From the command to send air to the valve passing it [s].
        cut_response_s: The same for cutting it off [s].
        hold_loss_pa_per_s: What the leak alone takes at the pressure the hold began with [Pa/s].
        sag_pa: What the trapped air sagged by as it cooled, no leak [Pa].
        exponent: Exponent of the change of state as the trace shows it [-].
        difference_pa: Root mean square of trace less fit at the drive [Pa].
        alike: The same by name, as far as they can be compared with another trace of the same drive.
        curves: The fit, for pictures.
        cannot_tell: What the trace cannot say.
        summary: The whole in one paragraph, a sentence each.
    """

    fill: Interval | None = None
    exhaust: Interval | None = None
    leak: Interval | None = None
    line_leak: Interval | None = None
    supply: Interval | None = None
    seat: Interval | None = None
    lift_off_pa: Interval | None = None
    full_stroke_pa: Interval | None = None
    friction_pa: Interval | None = None
    send_response_s: Interval | None = None
    cut_response_s: Interval | None = None
    hold_loss_pa_per_s: Interval | None = None
    sag_pa: Interval | None = None
    exponent: Interval | None = None
    difference_pa: float | None = None
    alike: Mapping[str, Alike] = field(default_factory=dict)
    curves: tuple[Curve, ...] = ()
    cannot_tell: tuple[Message, ...] = ()
    summary: tuple[Message, ...] = ()

    def readings(self, place: str) -> tuple[Reading, ...]:
        """Give the readings that were identified.

        Args:
            place: The file.
        """
        if self.lift_off_pa is None:
            return ()
        own_sd_pa = load().instruments[GAUGE].normal_sd_si
        measured = Measured(self.lift_off_pa.value, 0.0, math.hypot(self.lift_off_pa.sd, own_sd_pa))
        return (Reading("lift_off_pressure", measured, origin="trace", instrument=GAUGE, place=place),)
