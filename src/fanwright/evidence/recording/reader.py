"""Read recordings of one truck: format, frames, clock, runs, and what they tell."""

from __future__ import annotations

import hashlib
import math
import secrets
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from fanwright.evidence.reading import Evidence, Reading
from fanwright.evidence.recording.analysis import Part, analyse, analyse_told, joined_known, line, spans
from fanwright.evidence.recording.codes import TroubleCode
from fanwright.evidence.recording.energy import DriveFigures, fuel_for_m3
from fanwright.evidence.recording.exhibit import RecordingExhibit
from fanwright.evidence.recording.findings import Sums, readings
from fanwright.evidence.recording.intake import Columns, Tally
from fanwright.evidence.recording.merging import Merged, Piece, merged
from fanwright.evidence.recording.remarks import cannot_tell, notes
from fanwright.evidence.recording.result import RecordingResult
from fanwright.evidence.recording.signals import STANDARD, Layout
from fanwright.evidence.recording.source import Progress
from fanwright.evidence.recording.taking import Taken, check_trucks, pieces_of, repeats, take_all
from fanwright.evidence.recording.telemetry.reading import told_of, traffic_of
from fanwright.evidence.recording.telemetry.roles import Naming
from fanwright.evidence.recording.traffic import Traffic
from fanwright.truck.model import Truck
from fanwright.words import Message, text

_SALT = secrets.token_bytes(16)


def read_recording(
    paths: Sequence[Path] | Path,
    *,
    truck: Truck | None = None,
    figures: DriveFigures | None = None,
    vehicle_number: str = "",
    layout: Layout = STANDARD,
    progress: Progress | None = None,
    fingerprint: bool = True,
    naming: Naming | None = None,
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
        naming: What the shop's tables of telemetry call things.

    Returns:
        Everything the recordings say.

    Raises:
        FileError: A file cannot be read; every mistake of every file.
    """
    listed = [paths] if isinstance(paths, Path) else list(paths)
    if figures is None and truck is not None:
        figures = DriveFigures.of(truck)
    taken, twins = repeats(take_all(listed, layout, progress, fingerprint, naming or Naming()))
    check_trucks(taken, layout)
    whole = merged([piece for one in taken for piece in pieces_of(one)], layout)
    whole = with_twins(whole, twins)
    parts = tuple(_part_of(piece, layout, figures) for piece in whole.pieces)
    return _result(taken, whole, parts, truck, figures, vehicle_number)


def with_twins(whole: Merged, twins: Sequence[tuple[Taken, Taken]]) -> Merged:
    """Count files that were left out because another has the same bytes."""
    again = sum(piece.spans().total_us for one, _ in twins for piece in pieces_of(one))
    said = tuple(
        Message(
            "{file} has the same bytes as {other} and is left out",
            {"file": text(one.file.place), "other": text(other.file.place)},
        )
        for one, other in twins
    )
    return replace(whole, overlap_us=whole.overlap_us + again, notes=(*said, *whole.notes))


def _part_of(piece: Piece, layout: Layout, figures: DriveFigures | None) -> Part:
    samples, several = piece.samples, piece.several
    if samples is None or several is None:
        traffic = Traffic(piece.columns or Columns.none(), layout)
        return analyse(traffic, layout, piece.span_us, figures)
    return analyse_told(traffic_of(samples), told_of(samples), several, piece.span_us, figures)


def _result(
    taken: list[Taken],
    whole: Merged,
    parts: tuple[Part, ...],
    truck: Truck | None,
    figures: DriveFigures | None,
    vehicle_number: str,
) -> RecordingResult:
    engine = [part.told.engine_on for part in parts if part.told.engine_on is not None]
    bare = RecordingResult(
        Evidence(),
        _exhibit(taken, whole, parts),
        tuple(one.file for one in taken),
        span_s=sum(part.last_us - part.first_us for part in parts) / 1e6 or _span_s(taken),
        engine_on_s=sum(one.total_us for one in engine) / 1e6 if engine else None,
        fan_known_s=sum(part.told.known.total_us for part in parts) / 1e6,
        codes=_codes(parts),
        air_low_on_s=_seconds([part.air_low_on_us for part in parts]),
        air_low_off_s=_seconds([part.air_low_off_us for part in parts]),
        energies=figures is not None,
        fuel_m3=None,
        ambient_k=_ambient(parts),
        sessions=_sessions(taken),
        vehicle_number_matches=_same_number(parts, vehicle_number),
        overlap_s=whole.overlap_us / 1e6,
    )
    fan, slip = bare.fan_energy_j, bare.slip_energy_j
    full = replace(bare, fuel_m3=None if fan is None or slip is None else fuel_for_m3(fan, slip))
    return replace(full, evidence=_evidence(full, taken, whole, parts, truck, figures))


def _evidence(
    result: RecordingResult,
    taken: list[Taken],
    whole: Merged,
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
        (*whole.notes, *notes(result, taken, parts)),
        tuple(cannot_tell(result, parts, grips_by)),
    )


def air_low_needed_s(result: RecordingResult, grips_by: str) -> float | None:
    """Give the time of air under 90 psi where it is needed: told off if a spring grips, else told on [s]."""
    if grips_by not in ("spring", "air"):
        return None
    return result.air_low_off_s if grips_by == "spring" else result.air_low_on_s


def _exhibit(taken: list[Taken], whole: Merged, parts: tuple[Part, ...]) -> RecordingExhibit:
    digests = [one.file.sha256 for one in taken]
    joined = digests[0] if len(digests) == 1 else hashlib.sha256("".join(digests).encode()).hexdigest()
    first = min((part.first_us for part in parts), default=_first_us(taken))
    last = max((part.last_us for part in parts), default=first)
    clocks = {piece.clock for piece in whole.pieces} or {one.file.clock for one in taken}
    return RecordingExhibit(
        ", ".join(one.file.place for one in taken),
        joined if all(digests) else "",
        clocks.pop() if len(clocks) == 1 else "relative",
        first / 1e6,
        (last - first) / 1e6 if parts else _span_s(taken),
        tuple(span for part in parts for span in spans(part.told.engine_on, "engine_on")),
        tuple(span for part in parts for span in spans(joined_known(part.told), "fan_known")),
        tuple(run for part in parts for run in part.runs),
        tuple(point for part in parts for point in line(part.traffic.series("coolant"))),
        tuple(point for part in parts for point in line(part.traffic.series("road_speed"))),
    )


def _first_us(taken: list[Taken]) -> int:
    return min(one.file.tally.first_us or 0 for one in taken)


def _span_s(taken: list[Taken]) -> float:
    tallies: list[Tally] = [one.file.tally for one in taken]
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


def _sessions(taken: list[Taken]) -> int:
    return sum(1 + len(one.borders) for one in taken)


def _same_number(parts: tuple[Part, ...], given: str) -> bool | None:
    heard = {number for part in parts for number in part.several.vehicle_numbers if number}
    if not given or not heard:
        return None
    return {_digest(number) for number in heard} == {_digest(given.strip().upper())}


def _digest(number: str) -> str:
    return hashlib.sha256(_SALT + number.encode()).hexdigest()
