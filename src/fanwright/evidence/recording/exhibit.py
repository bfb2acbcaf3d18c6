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
        start_s: Its start on the recording's clock [s].
        end_s: Its end on the recording's clock [s].
        reason: Its first known reason, else ``unknown``.
        reasons: The stretches of its reasons, in order.
        open_end: Whether the recording cannot show its true end (gap, engine stopped, end of file).
        grip_rpm: Engine speed at its beginning, or None [r/min].
    """

    start_s: float
    end_s: float
    reason: str
    reasons: tuple[Span, ...]
    open_end: bool
    grip_rpm: float | None


@dataclass(frozen=True)
class RecordingExhibit:
    """A recording as runs.

    Args:
        place: The file it came from.
        sha256: Hash of that file's bytes.
        clock: ``absolute``, or ``relative`` when the file's zero is not known.
        first_s: First time stamp [s since 1970 UTC, or of the file's own zero].
        span_s: From the first to the last time stamp [s].
        engine_on: Stretches with the engine on.
        fan_known: Stretches in which it is known whether the fan was told on.
        runs: The runs, in order.
    """

    place: str
    sha256: str
    clock: str
    first_s: float
    span_s: float
    engine_on: tuple[Span, ...]
    fan_known: tuple[Span, ...]
    runs: tuple[Run, ...]
