"""The trace as a frozen series that pictures are drawn from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fanwright.words import Message

Series = NDArray[np.float64]


@dataclass(frozen=True)
class Stroke:
    """One fill or one vent seen in a trace.

    Args:
        kind: ``fill`` or ``vent``.
        start_s: When it began: air sent, or 90 psi falling [s on the trace's clock].
        end_s: When it arrived, or None if it never did [s on the trace's clock].
        sd_s: Standard uncertainty of the duration, or None if it never arrived [s].
        inlet_gauge_pa: Inlet at its start, gauge, or None without a supply column [Pa].
        half_width_s: Part of ``sd_s`` that is a rectangle: half the step between two rows [s].
        watched_s: How long it was watched, arrived or not [s].
        never: Whether it was watched long enough to say that it does not arrive.
        not_timed: Why no time is given, if so.
    """

    kind: Literal["fill", "vent"]
    start_s: float
    end_s: float | None
    sd_s: float | None
    inlet_gauge_pa: float | None
    half_width_s: float = 0.0
    watched_s: float = 0.0
    never: bool = False
    not_timed: Message | None = None

    @property
    def duration_s(self) -> float | None:
        """How long it took, or None if it never arrived [s]."""
        return None if self.end_s is None else self.end_s - self.start_s


@dataclass(frozen=True)
class Zero:
    """What was taken off the gauges because they did not stand at zero when empty.

    Args:
        supply_pa: Taken off the inlet gauge [Pa].
        drive_pa: Taken off the drive gauge [Pa].
    """

    supply_pa: float = 0.0
    drive_pa: float = 0.0


@dataclass(frozen=True, eq=False)
class TraceExhibit:
    """A pressure trace, gauges put right, single spikes taken out.

    Args:
        place: The file it came from.
        sha256: Hash of that file's bytes.
        time_s: Time from the first row [s], shape (n,).
        supply_gauge_pa: At the valve inlet, gauge [Pa], shape (n,), or None.
        drive_gauge_pa: At the drive, gauge [Pa], shape (n,).
        air_sent: Whether air was told to be sent, shape (n,), or None without such a column.
        shut: Whether the drive was shut off, shape (n,), or None without such a column.
        strokes: The fills and vents found, in order.
        zero: What was taken off the gauges.
    """

    place: str
    sha256: str
    time_s: Series
    supply_gauge_pa: Series | None
    drive_gauge_pa: Series
    air_sent: NDArray[np.bool_] | None
    shut: NDArray[np.bool_] | None
    strokes: tuple[Stroke, ...]
    zero: Zero = Zero()
