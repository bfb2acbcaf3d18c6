"""What a trace says, held."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median

from fanwright.evidence.reading import Evidence
from fanwright.evidence.trace.exhibit import Stroke, TraceExhibit
from fanwright.evidence.trace.levels import Hold, Level
from fanwright.evidence.trace.phases import Phase
from fanwright.evidence.trace.reader import Oddities
from fanwright.evidence.trace.signal import Grain


@dataclass(frozen=True)
class Levels:
    """The levels a trace shows; None where it does not show one.

    Args:
        supply_at_rest: Inlet with the valve at rest, before anything was switched.
        supply_lowest: Lowest inlet while cycling.
        inlet_dip: How far the inlet dips in a cycle.
        drive_settled: Drive, settled with air sent.
        drive_rest: Drive, settled with air cut off.
        hold: What the drive lost while shut off.
    """

    supply_at_rest: Level | None
    supply_lowest: Level | None
    inlet_dip: Level | None
    drive_settled: Level | None
    drive_rest: Level | None
    hold: Hold | None


@dataclass(frozen=True)
class Times:
    """The times of all strokes of one kind.

    Args:
        seen: How many strokes were seen.
        arrived: Those that arrived and are timed.
        never: Those that did not arrive.
        not_timed: Those to which no time is given, with the reason.
    """

    seen: int
    arrived: tuple[Stroke, ...]
    never: tuple[Stroke, ...]
    not_timed: tuple[Stroke, ...]

    @property
    def durations_s(self) -> tuple[float, ...]:
        """The times in order [s]."""
        return tuple(stroke.duration_s for stroke in self.arrived if stroke.duration_s is not None)

    @property
    def median_s(self) -> float | None:
        """The median of those that arrived, or None [s]."""
        return median(self.durations_s) if self.arrived else None

    @property
    def worst_s(self) -> float | None:
        """The longest, or None if one never arrived or none was timed [s]."""
        return max(self.durations_s) if self.arrived and not self.never else None

    @property
    def worst(self) -> Stroke | None:
        """The stroke that took longest of those that arrived, or None."""
        return max(self.arrived, key=lambda stroke: stroke.duration_s or 0.0, default=None)


def times(strokes: tuple[Stroke, ...], kind: str) -> Times:
    """Sort the strokes of one kind."""
    mine = [stroke for stroke in strokes if stroke.kind == kind]
    return Times(
        len(mine),
        tuple(stroke for stroke in mine if stroke.not_timed is None and stroke.end_s is not None),
        tuple(stroke for stroke in mine if stroke.never),
        tuple(stroke for stroke in mine if stroke.not_timed is not None),
    )


@dataclass(frozen=True)
class TraceResult:
    """What a trace says, whole.

    Args:
        evidence: The readings, the trace as an exhibit, oddities and what cannot be told.
        fills: The fills.
        vents: The vents.
        levels: The levels.
        oddities: What was odd in the file, counted.
        phases: The stretches with air sent and with air cut off.
        drive_grain: Noise and division of the drive gauge.
        supply_grain: Noise and division of the inlet gauge, or None.
    """

    evidence: Evidence
    fills: Times
    vents: Times
    levels: Levels
    oddities: Oddities
    phases: tuple[Phase, ...]
    drive_grain: Grain
    supply_grain: Grain | None

    @property
    def exhibit(self) -> TraceExhibit:
        """The trace that pictures are drawn from."""
        exhibit = self.evidence.exhibits[0]
        assert isinstance(exhibit, TraceExhibit)
        return exhibit
