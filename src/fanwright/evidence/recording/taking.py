"""One file after the other: frames or rows of telemetry, counted and cut into stretches of clock."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from fanwright.errors import FileError, InputError
from fanwright.evidence.recording.codes import packets
from fanwright.evidence.recording.formats import format_of
from fanwright.evidence.recording.intake import Border, Columns, Intake
from fanwright.evidence.recording.merging import Piece, check_one_truck
from fanwright.evidence.recording.remarks import of_frames
from fanwright.evidence.recording.result import ReadFile
from fanwright.evidence.recording.signals import Layout
from fanwright.evidence.recording.source import Progress, Source
from fanwright.evidence.recording.telemetry.reading import Sampled, packets_of, read_telemetry
from fanwright.evidence.recording.telemetry.roles import Naming
from fanwright.evidence.recording.telemetry.table import is_telemetry
from fanwright.evidence.recording.traffic import (
    Traffic,
    best_channel,
    channels_differ,
    stretches_of_clock,
    without_copies,
)
from fanwright.evidence.recording.units import find_ratio
from fanwright.words import Message, text


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
        said: What else is worth saying of the file.
    """

    file: ReadFile
    stretches: tuple[Columns, ...]
    borders: tuple[Border, ...]
    copies: int
    channels: tuple[str, ...]
    chosen: str
    ratio: tuple[int, int]
    cut: bool
    said: tuple[Message, ...] = ()

    def notes(self) -> Iterator[Message]:
        """Say what was odd."""
        return of_frames(self)


Taken = Sifted | Sampled


def take_all(
    paths: list[Path], layout: Layout, progress: Progress | None, fingerprint: bool, naming: Naming
) -> list[Taken]:
    """Read files, each as what it is; give them in order of time.

    Raises:
        FileError: A file cannot be read; every mistake of every file.
    """
    found: list[Taken] = []
    mistakes: list[Message] = []
    for path in paths:
        try:
            source = Source(path, progress)
            if is_telemetry(source, naming):
                found.append(read_telemetry(source, naming, fingerprint=fingerprint))
            else:
                found.append(sift_file(path, layout, progress, fingerprint))
        except InputError as error:
            mistakes += error.messages
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
    return Sifted(file, stretches, borders, copies, names, chosen, ratio, source.cut, tuple(source.said))


def repeats(taken: list[Taken]) -> tuple[list[Taken], list[tuple[Taken, Taken]]]:
    """Set aside files that are another one, byte for byte; give the rest, and each beside its twin."""
    first: dict[str, Taken] = {}
    rest: list[Taken] = []
    twins: list[tuple[Taken, Taken]] = []
    for one in taken:
        digest = one.file.sha256
        if digest and digest in first:
            twins.append((one, first[digest]))
            continue
        first[digest] = one
        rest.append(one)
    return rest, twins


def check_trucks(taken: list[Taken], layout: Layout) -> None:
    """See that files are of one truck, as far as they name it.

    Raises:
        FileError: Two name different trucks.
    """
    if len(taken) < 2:
        return
    names = []
    for one in taken:
        if isinstance(one, Sampled):
            names.append((one.file.place, one.vehicle_numbers, one.units))
            continue
        heard = [packets(Traffic(columns, layout)).vehicle_numbers for columns in one.stretches]
        numbers = tuple(number for several in heard for number in several if number)
        names.append((one.file.place, numbers, ()))
    check_one_truck(names)


def pieces_of(one: Taken) -> list[Piece]:
    """Give the stretches of a file's clock."""
    place, clock = one.file.place, one.file.clock
    if isinstance(one, Sampled):
        return [
            Piece(
                place,
                number,
                clock,
                (int(part.time_us[0]), int(part.time_us[-1])),
                samples=part,
                several=packets_of(one),
            )
            for number, part in enumerate(one.parts)
        ]
    backward = [border for border in one.borders if border.after_us < border.before_us]
    tally = one.file.tally
    starts = [tally.first_us or 0, *(border.after_us for border in backward)]
    ends = [*(border.before_us for border in backward), tally.last_us or 0]
    whole = len(one.stretches) == len(starts)
    return [
        Piece(
            place,
            number,
            clock,
            (starts[number], ends[number]) if whole else (int(columns.time_us[0]), int(columns.time_us[-1])),
            columns=columns,
        )
        for number, columns in enumerate(one.stretches)
    ]
