"""What a recording says, whole and frozen."""

from __future__ import annotations

import statistics
from collections.abc import Iterable
from dataclasses import dataclass

from fanwright.evidence.reading import Evidence
from fanwright.evidence.recording.codes import TroubleCode
from fanwright.evidence.recording.exhibit import RecordingExhibit, Run
from fanwright.evidence.recording.intake import Tally

SHORT_S = 60.0
"""Shortest run the air conditioning should tell (common practice, no source)."""


@dataclass(frozen=True)
class ReadFile:
    """One file that was read: where, its format, its kind of clock, its hash, what was counted."""

    place: str
    format: str
    clock: str
    sha256: str
    tally: Tally


@dataclass(frozen=True)
class ReasonSum:
    """Runs that began for a reason, and the time told on for it [s]."""

    runs: int
    fan_on_s: float


@dataclass(frozen=True)
class RecordingResult:
    """What one or several recordings of one truck say.

    Args:
        evidence: Readings, exhibit, notes and what cannot be told.
        exhibit: The table of runs.
        files: The files read.
        span_s: From the first to the last time stamp, steps of the clock left out [s].
        engine_on_s: Time with the engine on, or None without engine speed [s].
        fan_known_s: Time in which told on or off is known, with the engine on where its speed is there [s].
        codes: Trouble codes.
        air_low_on_s: Air under 90 psi while told on, or None [s].
        air_low_off_s: Air under 90 psi while told off, or None [s].
        energies: Whether the drive's figures were given, so that heat, work and fuel are worked out.
        fuel_m3: Fuel for fan and slip, or None [m3].
        ambient_k: Median of the ambient air, or None [K].
        sessions: How often the logger was switched on.
        vehicle_number_matches: Whether the vehicle's number in it is the one given; None without either.
        overlap_s: Time that lies in more than one of the recordings, and is counted once [s].
    """

    evidence: Evidence
    exhibit: RecordingExhibit
    files: tuple[ReadFile, ...]
    span_s: float
    engine_on_s: float | None
    fan_known_s: float
    codes: tuple[TroubleCode, ...]
    air_low_on_s: float | None
    air_low_off_s: float | None
    energies: bool
    fuel_m3: float | None
    ambient_k: float | None
    sessions: int
    vehicle_number_matches: bool | None
    overlap_s: float = 0.0

    @property
    def runs(self) -> tuple[Run, ...]:
        """The runs, in order."""
        return self.exhibit.runs

    @property
    def told(self) -> bool:
        """Whether the recording can tell runs at all: engine speed and a fan drive's message are there."""
        return self.engine_on_s is not None and self.fan_known_s > 0.0

    @property
    def fan_on_s(self) -> float:
        """Time told on with the engine on [s]."""
        return sum(run.duration_s for run in self.runs)

    @property
    def fan_share(self) -> float | None:
        """Share of the known time with the engine on, or None [-]."""
        return self.fan_on_s / self.fan_known_s if self.told else None

    @property
    def grips_per_hour(self) -> float | None:
        """Runs an hour of known time with the engine on, or None [1/h]."""
        return len(self.runs) / (self.fan_known_s / 3600.0) if self.told else None

    @property
    def short_runs(self) -> tuple[Run, ...]:
        """Whole runs told on by the air conditioning of under 60 s, to the second as the state is sent."""
        return tuple(
            run
            for run in self.runs
            if run.reason == "air_conditioning" and run.whole and round(run.duration_s) < SHORT_S
        )

    @property
    def slip_energy_j(self) -> float | None:
        """Heat of all grips, or None [J]."""
        return _sum(run.slip_energy_j for run in self.runs) if self.energies and self.told else None

    @property
    def fan_energy_j(self) -> float | None:
        """Work the fan took, or None [J]."""
        return _sum(run.fan_energy_j for run in self.runs) if self.energies and self.told else None

    def by_reason(self) -> dict[str, ReasonSum]:
        """Sum runs by their first known reason, and their time by each reason, longest first."""
        runs: dict[str, int] = {}
        time: dict[str, float] = {}
        for run in self.runs:
            runs[run.reason] = runs.get(run.reason, 0) + 1
            for span in run.reasons:
                time[span.what] = time.get(span.what, 0.0) + span.end_s - span.start_s
        sums = {reason: ReasonSum(runs.get(reason, 0), time.get(reason, 0.0)) for reason in {*runs, *time}}
        return dict(sorted(sums.items(), key=lambda pair: (-pair[1].fan_on_s, pair[0])))

    def lengths_s(self, reason: str = "") -> list[float]:
        """Lengths of the whole runs, of one reason or of all [s]."""
        return [run.duration_s for run in self.runs if run.whole and reason in ("", run.reason)]


def _sum(values: Iterable[float | None]) -> float:
    return sum(value for value in values if value is not None)


def median(values: Iterable[float | None]) -> float | None:
    """Give the median of what is known, or None."""
    known = [value for value in values if value is not None]
    return statistics.median(known) if known else None
