"""The recording as a frozen table of runs that pictures are drawn from."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Span:
    """A stretch of time with one meaning: a reason, or engine on.

    Args:
        start_s: Its start on the recording's clock [s].
        end_s: Its end on the recording's clock [s].
        what: What held, such as ``air_conditioning``.
    """

    start_s: float
    end_s: float
    what: str


@dataclass(frozen=True)
class Run:
    """One unbroken stretch of fan told on with the engine on.

    Args:
        start_s: Its start on the recording's clock: the first message that says on [s].
        end_s: Its end on the recording's clock: the first message that says off, or the last known [s].
        reason: Its first known reason, else ``unknown``.
        reasons: The stretches of its reasons, in order.
        open_end: Whether the recording cannot show its true end (gap, engine stopped, end of file).
        grip_rpm: Engine speed at its beginning, or None [r/min].
        open_start: Whether the recording cannot show its true beginning.
        earliest_start_s: The last message that said off; the truth lies between it and the start [s].
        earliest_end_s: The last message that said on; the truth lies between it and the end [s].
        coolant_on_k: Coolant at its beginning, or None [K].
        coolant_off_k: Coolant at its end, or None [K].
        charge_air_on_k: Charge air at its beginning, or None [K].
        charge_air_off_k: Charge air at its end, or None [K].
        ambient_k: Ambient air at its beginning, or None [K].
        road_speed_m_s: Road speed at its beginning, or None [m/s].
        retarder_share: Hardest braking of the retarder within 2 s of its beginning, or None [-].
        lowest_air_gauge_pa: Lowest supply or service air during it, gauge, or None [Pa].
        coolant_rise_k_per_s: Slope of the coolant after its first minute, or None [K/s].
        charge_air_rise_k_per_s: Slope of the charge air after its first minute, or None [K/s].
        slip_energy_j: Heat of its grip, or None [J].
        fan_energy_j: Work the fan took during it, or None [J].
    """

    start_s: float
    end_s: float
    reason: str
    reasons: tuple[Span, ...]
    open_end: bool
    grip_rpm: float | None
    open_start: bool = False
    earliest_start_s: float | None = None
    earliest_end_s: float | None = None
    coolant_on_k: float | None = None
    coolant_off_k: float | None = None
    charge_air_on_k: float | None = None
    charge_air_off_k: float | None = None
    ambient_k: float | None = None
    road_speed_m_s: float | None = None
    retarder_share: float | None = None
    lowest_air_gauge_pa: float | None = None
    coolant_rise_k_per_s: float | None = None
    charge_air_rise_k_per_s: float | None = None
    slip_energy_j: float | None = None
    fan_energy_j: float | None = None

    @property
    def duration_s(self) -> float:
        """How long it lasted [s]."""
        return self.end_s - self.start_s

    @property
    def whole(self) -> bool:
        """Whether its beginning and its end were seen."""
        return not (self.open_start or self.open_end)

    @property
    def duration_sd_s(self) -> float:
        """Standard uncertainty of its length: each end is a rectangle between two messages [s]."""
        first = self.start_s - (self.start_s if self.earliest_start_s is None else self.earliest_start_s)
        last = self.end_s - (self.end_s if self.earliest_end_s is None else self.earliest_end_s)
        return float(((first * first + last * last) / 12.0) ** 0.5)


Line = tuple[tuple[float, float], ...]
"""Points of a line: time on the recording's clock [s] and value."""


@dataclass(frozen=True)
class RecordingExhibit:
    """A recording as runs.

    Args:
        place: The file it came from.
        sha256: Hash of that file's bytes.
        clock: ``absolute``, ``local`` (date and time of an unknown zone), or ``relative`` when the file's
            zero is not known.
        first_s: First time stamp [s since 1970 UTC, or of the file's own zero].
        span_s: From the first to the last time stamp [s].
        engine_on: Stretches with the engine on.
        fan_known: Stretches in which it is known whether the fan was told on.
        runs: The runs, in order.
        coolant: Coolant over time, thinned for drawing [K].
        road_speed: Road speed over time, thinned for drawing [m/s].
    """

    place: str
    sha256: str
    clock: str
    first_s: float
    span_s: float
    engine_on: tuple[Span, ...]
    fan_known: tuple[Span, ...]
    runs: tuple[Run, ...]
    coolant: Line = ()
    road_speed: Line = ()
