"""Read recordings of one truck: format, frames, clock, runs, and what they tell."""

from __future__ import annotations

import hashlib
import math
import secrets
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fanwright.errors import FileError, InputError
from fanwright.evidence.reading import Evidence, Reading
from fanwright.evidence.recording.analysis import Part, analyse, joined_known, line, spans
from fanwright.evidence.recording.codes import TroubleCode
from fanwright.evidence.recording.energy import DriveFigures, fuel_for_m3
from fanwright.evidence.recording.exhibit import RecordingExhibit
from fanwright.evidence.recording.findings import Sums, readings
from fanwright.evidence.recording.formats import format_of
from fanwright.evidence.recording.intake import Border, Columns, Intake, Tally
from fanwright.evidence.recording.loops.frames import GAP_US
from fanwright.evidence.recording.remarks import cannot_tell, notes
from fanwright.evidence.recording.result import ReadFile, RecordingResult
from fanwright.evidence.recording.signals import STANDARD, Layout
from fanwright.evidence.recording.source import Progress, Source
from fanwright.evidence.recording.traffic import (
    Traffic,
    best_channel,
    channels_differ,
    stretches_of_clock,
    without_copies,
)
from fanwright.evidence.recording.units import find_ratio
from fanwright.truck.model import Truck
from fanwright.words import Message, text

_SALT = secrets.token_bytes(16)


@dataclass(frozen=True, eq=False)
class Sifted:
    """One file's kept frames.

    Args:
        file: What was read and counted.
        stretches: Frames by stretch of clock.
        borders: Jumps of the clock.
        copies: Frames dropped as copies.
        channels: Names of the channels.
        chosen: The one channel read where they contradict each other, else empty.
        ratio: Microseconds for one of the file, where its unit of time was wrong.
        cut: Whether a packed file ended early.
    """

    file: ReadFile
    stretches: tuple[Columns, ...]
    borders: tuple[Border, ...]
    copies: int
    channels: tuple[str, ...]
    chosen: str
    ratio: tuple[int, int]
    cut: bool


def read_recording(
    paths: Sequence[Path] | Path,
    *,
    truck: Truck | None = None,
    figures: DriveFigures | None = None,
    vehicle_number: str = "",
    layout: Layout = STANDARD,
    progress: Progress | None = None,
    fingerprint: bool = True,
) -> RecordingResult:
    """Read one or several recordings of one truck.

    Args:
        paths: The files; together they are one recording.
        truck: The truck, for its arrangement and its drive's figures.
        figures: The drive's figures, where they are not the truck's.
        vehicle_number: The truck's own number (VIN), to be compared with the one in the recording.
        layout: Messages and signals, with a shop's own.
        progress: Called with bytes read and bytes in all.
        fingerprint: Whether the files are hashed.

    Returns:
        Everything the recordings say.

    Raises:
        FileError: A file cannot be read; every mistake of every file.
    """
    listed = [paths] if isinstance(paths, Path) else list(paths)
    sifted = _sift_all(listed, layout, progress, fingerprint)
    if figures is None and truck is not None:
        figures = DriveFigures.of(truck)
    parts = tuple(
        analyse(Traffic(columns, layout), layout, span, figures) for columns, span in _stretches(sifted)
    )
    return _result(sifted, parts, truck, figures, vehicle_number)


def _sift_all(
    paths: list[Path], layout: Layout, progress: Progress | None, fingerprint: bool
) -> list[Sifted]:
    found: list[Sifted] = []
    mistakes: list[Message] = []
    for path in paths:
        try:
            found.append(sift_file(path, layout, progress, fingerprint))
        except InputError as error:
            mistakes += error.messages
    hashes = [one.file.sha256 for one in found]
    for place, one in enumerate(found):
        if one.file.sha256 and one.file.sha256 in hashes[:place]:
            mistakes.append(
                Message("{file} is the same recording again; name it once", {"file": text(one.file.place)})
            )
    if not paths:
        mistakes.append(Message("no recording was named; name at least one file"))
    if mistakes:
        raise FileError(mistakes)
    return sorted(found, key=lambda one: one.file.tally.first_us or 0)


def sift_file(path: Path, layout: Layout, progress: Progress | None, fingerprint: bool) -> Sifted:
    """Read one file to its kept frames.

    Raises:
        FileError: It cannot be read, is no recording, or holds no frames.
    """
    source = Source(path, progress)
    kind = format_of(source)
    ratio = find_ratio(source, kind, layout)
    intake = Intake(layout.numbers, layout.intervals_us, ratio)
    clock = kind.read(source, intake)
    tally = intake.tally()
    if not tally.frames:
        raise FileError(
            Message(
                "{file} ({format}) holds no frames that can be read",
                {"file": text(path), "format": text(kind.NAME)},
            )
        )
    columns, copies, chosen = intake.columns(), 0, ""
    names = intake.channel_names()
    if len(names) > 1 or tally.sent:
        columns, copies = without_copies(columns)
    if channels_differ(columns):
        best = best_channel(intake.counts())
        columns = columns.rows(columns.channel == best)
        chosen = names[best]
    file = ReadFile(str(path), kind.NAME, clock, source.sha256() if fingerprint else "", tally)
    borders = intake.borders()
    stretches = tuple(stretches_of_clock(columns, borders))
    return Sifted(file, stretches, borders, copies, names, chosen, ratio, source.cut)


def _stretches(sifted: list[Sifted]) -> list[tuple[Columns, tuple[int, int]]]:
    """Give all stretches of clock with first and last time, joined over files that follow each other."""
    found: list[tuple[Columns, tuple[int, int]]] = []
    last_clock = ""
    for one in sifted:
        backward = [border for border in one.borders if border.after_us < border.before_us]
        tally = one.file.tally
        starts = [tally.first_us or 0, *(border.after_us for border in backward)]
        ends = [*(border.before_us for border in backward), tally.last_us or 0]
        for number, columns in enumerate(one.stretches):
            span = (
                (starts[number], ends[number])
                if len(one.stretches) == len(starts)
                else (int(columns.time_us[0]), int(columns.time_us[-1]))
            )
            follows = one.file.clock == last_clock == "absolute" and number == 0 and found
            if follows and 0 <= span[0] - found[-1][1][1] <= GAP_US:
                before, (first, _) = found.pop()
                found.append((Columns.joined([before, columns]), (first, span[1])))
            else:
                found.append((columns, span))
        last_clock = one.file.clock
    return found


def _result(
    sifted: list[Sifted],
    parts: tuple[Part, ...],
    truck: Truck | None,
    figures: DriveFigures | None,
    vehicle_number: str,
) -> RecordingResult:
    engine = [part.told.engine_on for part in parts if part.told.engine_on is not None]
    bare = RecordingResult(
        Evidence(),
        _exhibit(sifted, parts),
        tuple(one.file for one in sifted),
        span_s=sum(part.last_us - part.first_us for part in parts) / 1e6 or _span_s(sifted),
        engine_on_s=sum(one.total_us for one in engine) / 1e6 if engine else None,
        fan_known_s=sum(part.told.known.total_us for part in parts) / 1e6,
        codes=_codes(parts),
        air_low_on_s=_seconds([part.air_low_on_us for part in parts]),
        air_low_off_s=_seconds([part.air_low_off_us for part in parts]),
        energies=figures is not None,
        fuel_m3=None,
        ambient_k=_ambient(parts),
        sessions=_sessions(sifted),
        vehicle_number_matches=_same_number(parts, vehicle_number),
    )
    fan, slip = bare.fan_energy_j, bare.slip_energy_j
    whole = replace(bare, fuel_m3=None if fan is None or slip is None else fuel_for_m3(fan, slip))
    return replace(whole, evidence=_evidence(whole, sifted, parts, truck, figures))


def _evidence(
    result: RecordingResult,
    sifted: list[Sifted],
    parts: tuple[Part, ...],
    truck: Truck | None,
    figures: DriveFigures | None,
) -> Evidence:
    grips_by = "" if truck is None else truck.grips_by
    mismatch = None
    if result.vehicle_number_matches is False:
        mismatch = Message(
            "the recording is of another truck: its vehicle number is not the one of the visit"
        )
    found: tuple[Reading, ...] = ()
    if result.told:
        found = readings(
            Sums(
                result.runs,
                result.by_reason(),
                result.fan_known_s,
                result.fan_share or 0.0,
                parts,
                result.air_low_on_s,
                air_low_needed_s(result, grips_by),
                None if figures is None else figures.pulley_ratio,
                result.exhibit.place,
                mismatch,
            )
        )
    return Evidence(
        found,
        (result.exhibit,),
        tuple(notes(result, sifted, parts)),
        tuple(cannot_tell(result, parts, grips_by)),
    )


def air_low_needed_s(result: RecordingResult, grips_by: str) -> float | None:
    """Give the time of air under 90 psi where it is needed: told off if a spring grips, else told on [s]."""
    if grips_by not in ("spring", "air"):
        return None
    return result.air_low_off_s if grips_by == "spring" else result.air_low_on_s


def _exhibit(sifted: list[Sifted], parts: tuple[Part, ...]) -> RecordingExhibit:
    digests = [one.file.sha256 for one in sifted]
    joined = digests[0] if len(digests) == 1 else hashlib.sha256("".join(digests).encode()).hexdigest()
    first = min((part.first_us for part in parts), default=_first_us(sifted))
    last = max((part.last_us for part in parts), default=first)
    clocks = {one.file.clock for one in sifted}
    return RecordingExhibit(
        ", ".join(one.file.place for one in sifted),
        joined if all(digests) else "",
        clocks.pop() if len(clocks) == 1 else "relative",
        first / 1e6,
        (last - first) / 1e6 if parts else _span_s(sifted),
        tuple(span for part in parts for span in spans(part.told.engine_on, "engine_on")),
        tuple(span for part in parts for span in spans(joined_known(part.told), "fan_known")),
        tuple(run for part in parts for run in part.runs),
        tuple(point for part in parts for point in line(part.traffic.series("coolant"))),
        tuple(point for part in parts for point in line(part.traffic.series("road_speed"))),
    )


def _first_us(sifted: list[Sifted]) -> int:
    return min(one.file.tally.first_us or 0 for one in sifted)


def _span_s(sifted: list[Sifted]) -> float:
    tallies: list[Tally] = [one.file.tally for one in sifted]
    return sum(abs((tally.last_us or 0) - (tally.first_us or 0)) for tally in tallies) / 1e6


def _seconds(values: list[int | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / 1e6 if known else None


def _ambient(parts: tuple[Part, ...]) -> float | None:
    found = [series.value for part in parts if (series := part.traffic.series("ambient")) is not None]
    median = float(np.median(np.concatenate(found))) if found else math.nan
    return None if math.isnan(median) else median


def _codes(parts: tuple[Part, ...]) -> tuple[TroubleCode, ...]:
    merged: dict[tuple[int, int, int, bool], TroubleCode] = {}
    for code in (code for part in parts for code in part.codes):
        key = (code.sender, code.number, code.mode, code.active)
        before = merged.get(key)
        merged[key] = code if before is None else replace(code, messages=code.messages + before.messages)
    return tuple(sorted(merged.values(), key=lambda code: (not code.active, -code.messages, code.number)))


def _sessions(sifted: list[Sifted]) -> int:
    return sum(1 + len(one.borders) for one in sifted)


def _same_number(parts: tuple[Part, ...], given: str) -> bool | None:
    heard = {number for part in parts for number in part.several.vehicle_numbers if number}
    if not given or not heard:
        return None
    return {_digest(number) for number in heard} == {_digest(given.strip().upper())}


def _digest(number: str) -> str:
    return hashlib.sha256(_SALT + number.encode()).hexdigest()
