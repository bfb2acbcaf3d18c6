"""Several recordings of one truck as one: each second counted once, clocks brought together where they can.

Recordings whose clocks are of one kind lie on one timeline. What a message says there is taken from the first
recording that has it at that moment; frames of the bus count before rows of telemetry. A recording on another
clock is laid on the timeline where its engine speed fits; where it fits nowhere it is counted by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanwright.errors import FileError
from fanwright.evidence.recording.clocks import clock_apart_us
from fanwright.evidence.recording.codes import Packets
from fanwright.evidence.recording.formats import ABSOLUTE, LOCAL, RELATIVE
from fanwright.evidence.recording.intake import Columns
from fanwright.evidence.recording.loops.frames import GAP_US
from fanwright.evidence.recording.signals import RPM, Layout
from fanwright.evidence.recording.spans import Spans
from fanwright.evidence.recording.telemetry.reading import told_of, traffic_of
from fanwright.evidence.recording.telemetry.samples import Samples
from fanwright.evidence.recording.told import FAN_GAP_US, NOT_KNOWN, OFF, Stretches, Told, what_was_told
from fanwright.evidence.recording.traffic import Series, Traffic
from fanwright.words import Message, quantity, text

Times = NDArray[np.int64]

LONGEST_HOLD_US = 30_000_000
LEAST_COMPARED_S = 60
MOST_APART_RPM = 100.0
MOST_APART_SHARE = 0.2
"""Recordings of one truck never differ so much over a minute (assumption)."""


@dataclass(frozen=True, eq=False)
class Piece:
    """One stretch of one recording's clock.

    Args:
        place: The file.
        number: Which stretch of that file's clock it is.
        clock: Its kind of clock.
        span_us: First and last time stamp [us].
        columns: Its frames, or None.
        samples: Its rows of telemetry, or None.
        several: What came in several packets, known beforehand for telemetry only.
        timeline: Pieces of one timeline can be compared; a clock with a zero of its own is one by itself.
    """

    place: str
    number: int
    clock: str
    span_us: tuple[int, int]
    columns: Columns | None = None
    samples: Samples | None = None
    several: Packets | None = None
    timeline: str = ""

    def __post_init__(self) -> None:
        if not self.timeline:
            own = self.clock == RELATIVE
            name = " ".join((self.clock, str(self.number), self.place)) if own else self.clock
            object.__setattr__(self, "timeline", name)

    @property
    def time_us(self) -> Times:
        """Times of its frames or rows [us]."""
        if self.samples is not None:
            return self.samples.time_us
        return np.empty(0, np.int64) if self.columns is None else self.columns.time_us

    def on_clock_of(self, other: Piece, shift_us: int) -> Piece:
        """Give it on the clock of another, its times moved."""
        columns, samples = self.columns, self.samples
        if columns is not None:
            columns = replace(columns, time_us=columns.time_us + shift_us)
        if samples is not None:
            samples = replace(samples, time_us=samples.time_us + shift_us)
        first, last = self.span_us
        return replace(
            self,
            clock=other.clock,
            timeline=other.timeline,
            span_us=(first + shift_us, last + shift_us),
            columns=columns,
            samples=samples,
        )

    def spans(self, longest_us: int = GAP_US) -> Spans:
        """Give the stretches in which it has frames or rows."""
        return Spans.of(self.time_us, longest_us)


@dataclass(frozen=True)
class Merged:
    """Recordings put together.

    Args:
        pieces: Stretches of clock, each second in one of them only.
        overlap_us: Time that lies in more than one recording [us].
        notes: What was done about clocks.
    """

    pieces: tuple[Piece, ...]
    overlap_us: int = 0
    notes: tuple[Message, ...] = ()


def merged(pieces: Sequence[Piece], layout: Layout) -> Merged:
    """Put the recordings of one truck together.

    Args:
        pieces: All stretches of all recordings.
        layout: What is in their frames.

    Raises:
        FileError: Two recordings tell different things of one time.
    """
    if len({piece.place for piece in pieces}) < 2:
        return Merged(tuple(pieces))
    placed, notes = _on_one_clock(list(pieces), layout)
    ordered = sorted(placed, key=lambda piece: (piece.samples is not None, piece.span_us[0]))
    kept: list[Piece] = []
    overlap_us = 0
    for piece in ordered:
        others = [one for one in kept if _meet(one, piece)]
        shared = piece.spans().common(Spans.union([one.spans() for one in others])) if others else None
        if shared is not None and shared.total_us:
            overlap_us += shared.total_us
            kept += _without(piece, others)
        else:
            kept.append(piece)
    if overlap_us:
        notes.append(
            Message(
                "{overlap} lie in more than one recording; each second is counted once",
                {"overlap": quantity(overlap_us / 1e6, "time")},
            )
        )
    return Merged(tuple(_joined(kept)), overlap_us, tuple(notes))


def _meet(one: Piece, other: Piece) -> bool:
    return (
        one.place != other.place
        and one.timeline == other.timeline
        and one.span_us[0] <= other.span_us[1]
        and other.span_us[0] <= one.span_us[1]
    )


# --- Clocks -----------------------------------------------------------------------------------------------


def _on_one_clock(pieces: list[Piece], layout: Layout) -> tuple[list[Piece], list[Message]]:
    """Bring recordings on other clocks, and those whose clock is wrong, to the first that they fit."""
    said = _Said(layout)
    notes: list[Message] = []
    fixed: list[Piece] = []
    for piece in sorted(pieces, key=lambda one: (_RANK[one.clock], one.samples is not None, one.span_us[0])):
        found = piece
        for other in fixed:
            if other.place == piece.place or not (_meet(other, piece) or _unlike(other, piece)):
                continue
            if _meet(other, piece) and not _differ(piece, other, said):
                continue
            moved = _moved(piece, other, said)
            if moved is not None:
                found, note = moved
                notes.append(note)
                break
            if _meet(other, piece):
                raise _refused(other, piece)
        else:
            if any(_unlike(other, piece) for other in fixed):
                notes.append(_unplaced(piece))
        fixed.append(found)
    return fixed, notes


_RANK = {ABSOLUTE: 0, LOCAL: 1, RELATIVE: 2}


def _unlike(one: Piece, other: Piece) -> bool:
    """Say whether two clocks cannot be compared: of different kinds, or each with a zero of its own."""
    return one.place != other.place and one.timeline != other.timeline


def _moved(piece: Piece, other: Piece, said: _Said) -> tuple[Piece, Message] | None:
    mine, its = said.of(piece)[1], said.of(other)[1]
    shift_us = None if mine is None or its is None else clock_apart_us(its, mine)
    if shift_us is None:
        return None
    values = {"file": text(piece.place), "other": text(other.place)}
    if _unlike(piece, other):
        template = "{file} has another kind of clock than {other}; its engine speed shows where it belongs"
    else:
        template = (
            "the clock of {file} is {apart} from that of {other}, as the engine speeds show; it was set"
        )
        values["apart"] = quantity(abs(shift_us) / 1e6, "time")
    return piece.on_clock_of(other, shift_us), Message(template, values)


def _unplaced(piece: Piece) -> Message:
    return Message(
        "{file} has a clock that cannot be compared with the others and fits none of them by its engine "
        "speed: it is counted by itself, and whether it repeats another cannot be told",
        {"file": text(piece.place)},
    )


def _refused(one: Piece, other: Piece) -> FileError:
    shared = one.spans().common(other.spans())
    return FileError(
        Message(
            "{one} and {other} have {overlap} in common and tell different things of it: two trucks, or a "
            "clock that is wrong; read each by itself",
            {
                "one": text(one.place),
                "other": text(other.place),
                "overlap": quantity(shared.total_us / 1e6, "time"),
            },
        )
    )


class _Said:
    """What pieces tell of the fan and the engine, worked out when asked for."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.known: dict[int, tuple[Piece, Told, Series | None]] = {}

    def of(self, piece: Piece) -> tuple[Told, Series | None]:
        """Give what the fan was told and the engine's speed."""
        if id(piece) not in self.known:
            if piece.samples is not None:
                told, speed = told_of(piece.samples), traffic_of(piece.samples).series("engine_speed")
            else:
                traffic = Traffic(piece.columns or Columns.none(), self.layout)
                told, speed = what_was_told(traffic, self.layout), traffic.series("engine_speed")
            self.known[id(piece)] = piece, told, speed
        _, told, speed = self.known[id(piece)]
        return told, speed


def _differ(piece: Piece, other: Piece, said: _Said) -> bool:
    """Say whether two recordings tell different things of the time that both have."""
    (told, speed), (its_told, its_speed) = said.of(piece), said.of(other)
    shared = piece.spans().common(other.spans())
    if shared.total_us < LEAST_COMPARED_S * 1_000_000:
        return False
    moments = np.concatenate(
        [
            np.arange(first, last, 1_000_000)
            for first, last in zip(shared.start_us, shared.end_us, strict=True)
        ]
    )
    mine, its = _code_at(told.fan, moments), _code_at(its_told.fan, moments)
    both = (mine != NOT_KNOWN) & (its != NOT_KNOWN)
    unlike = ((mine > OFF) != (its > OFF))[both]
    if len(unlike) >= LEAST_COMPARED_S and unlike.mean() > MOST_APART_SHARE:
        return True
    if speed is None or its_speed is None:
        return False
    apart = np.abs(speed.at(moments, 1_000_000) - its_speed.at(moments, 1_000_000)) / RPM
    apart = apart[~np.isnan(apart)]
    return bool(len(apart) >= LEAST_COMPARED_S and np.median(apart) > MOST_APART_RPM)


def _code_at(fan: Stretches, moments_us: Times) -> NDArray[np.int64]:
    if not len(fan.code):
        return np.full(len(moments_us), NOT_KNOWN, np.int64)
    place = np.maximum(np.searchsorted(fan.start_us, moments_us, side="right") - 1, 0)
    inside = (fan.start_us[place] <= moments_us) & (moments_us <= fan.end_us[place])
    return np.where(inside, fan.code[place], NOT_KNOWN)


# --- Each second once -------------------------------------------------------------------------------------


def _without(piece: Piece, others: list[Piece]) -> list[Piece]:
    """Give what a piece has beyond others."""
    if piece.samples is not None:
        return _rows_without(piece, piece.samples, others)
    frames = [one.columns for one in others if one.columns is not None]
    if piece.columns is None or not frames:
        return [piece]
    columns = piece.columns
    keep = np.ones(len(columns.time_us), np.bool_)
    for ident in np.unique(columns.ident):
        mine = np.flatnonzero(columns.ident == ident)
        covered = Spans.union([_covered(one, ident) for one in frames])
        keep[mine[covered.hold(columns.time_us[mine])]] = False
    rest = columns.rows(keep)
    if not len(rest.time_us):
        return []
    return [replace(piece, columns=rest, span_us=(int(rest.time_us[0]), int(rest.time_us[-1])))]


def _covered(columns: Columns, ident: Any) -> Spans:
    """Give the stretches in which one sender's message is there, held three periods."""
    time = columns.time_us[columns.ident == ident]
    usual = float(np.median(np.diff(time))) if len(time) > 1 else 0.0
    return Spans.of(time, int(min(max(3.0 * usual, FAN_GAP_US), LONGEST_HOLD_US)))


def _rows_without(piece: Piece, samples: Samples, others: list[Piece]) -> list[Piece]:
    covered = Spans.union([one.spans(FAN_GAP_US) for one in others]).hold(samples.time_us)
    left = np.flatnonzero(~covered)
    islands = np.split(left, np.flatnonzero(np.diff(left) > 1) + 1) if len(left) else []
    found = []
    for island in islands:
        rows = samples.rows(slice(int(island[0]), int(island[-1]) + 1))
        found.append(replace(piece, samples=rows, span_us=(int(rows.time_us[0]), int(rows.time_us[-1]))))
    return found


def _joined(pieces: list[Piece]) -> list[Piece]:
    """Join pieces of different recordings that follow each other or interlock."""
    found: list[tuple[Piece, dict[str, int]]] = []
    for piece in sorted(pieces, key=lambda one: one.span_us[0]):
        before = next((at for at in reversed(range(len(found))) if _follows(*found[at], piece)), None)
        if before is None:
            found.append((piece, {piece.place: piece.number}))
        else:
            earlier, origins = found[before]
            found[before] = _together(earlier, piece), {**origins, piece.place: piece.number}
    return [piece for piece, _ in found]


def _follows(one: Piece, origins: dict[str, int], other: Piece) -> bool:
    """Say whether a piece goes on where another ends; what one file's clock parted stays apart."""
    if one.timeline != other.timeline or origins.get(other.place, other.number) != other.number:
        return False
    if other.span_us[0] - one.span_us[1] > GAP_US:
        return False
    if one.samples is not None and other.samples is not None:
        return dict(one.samples.layout.columns) == dict(other.samples.layout.columns)
    return one.columns is not None and other.columns is not None


def _together(one: Piece, other: Piece) -> Piece:
    span = one.span_us[0], max(one.span_us[1], other.span_us[1])
    if one.samples is not None and other.samples is not None:
        return replace(one, samples=one.samples.joined(other.samples), span_us=span)
    columns = Columns.joined([part for part in (one.columns, other.columns) if part is not None])
    order = np.argsort(columns.time_us, kind="stable")
    return replace(one, columns=columns.rows(order), span_us=span)


# --- Trucks -----------------------------------------------------------------------------------------------


def check_one_truck(names: Sequence[tuple[str, Sequence[str], Sequence[str]]]) -> None:
    """See that recordings are of one truck, as far as they name it.

    Args:
        names: A file, the vehicle numbers in it, and the unit numbers in it.

    Raises:
        FileError: Two recordings name different trucks; vehicle numbers are not shown.
    """
    mistakes = []
    for (one, numbers, units), (other, its_numbers, its_units) in combinations(names, 2):
        values = {"one": text(one), "other": text(other)}
        if numbers and its_numbers and not {*numbers} & {*its_numbers}:
            mistakes.append(
                Message(
                    "{one} and {other} are of two trucks: their vehicle numbers differ; read each by itself",
                    values,
                )
            )
        elif units and its_units and not {*units} & {*its_units}:
            mistakes.append(
                Message(
                    "{one} is of unit {unit} and {other} of unit {its_unit}; read each by itself",
                    {**values, "unit": text(units[0]), "its_unit": text(its_units[0])},
                )
            )
    if mistakes:
        raise FileError(mistakes)
