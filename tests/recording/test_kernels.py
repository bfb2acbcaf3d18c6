"""The compiled loops against plain ways of doing the same: a regular expression, any split, any order."""

from __future__ import annotations

import re
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fanwright.evidence.recording.formats.candump_log import LINE
from fanwright.evidence.recording.intake import CHUNK, Columns, Intake, pump
from fanwright.evidence.recording.kernels import cache_folder, fingerprint
from fanwright.evidence.recording.loops.frames import SPARE
from fanwright.evidence.recording.signals import STANDARD

GOOD = b"(1634254884.935126) can1 18FEBD00#FAF4FFFF01020304\n"
PARTS = re.compile(rb"\((\d+)\.(\d+)\) (\S+) ([0-9A-Fa-f]+)#([0-9A-Fa-f]*)(.*)", re.DOTALL)


def _walk(content: bytes) -> Intake:
    intake = Intake(STANDARD.numbers)
    buffer = np.full(len(content) + SPARE, 0x30, np.uint8)
    buffer[: len(content)] = np.frombuffer(content, np.uint8)
    intake.kernels.candump(buffer, len(content), True, *intake.sink(len(content)))
    intake.store()
    return intake


class _Clock:
    """Which time stamps are believed: one that jumps waits for the next to confirm it."""

    def __init__(self) -> None:
        self.last: int | None = None
        self.waiting: tuple[int, list[tuple[int, int, int]]] | None = None

    def believed(self, time: int, row: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
        waiting, self.waiting = self.waiting, None
        if self.last is None or 0 <= time - self.last <= 10_000_000:
            self.last = time
            return row
        if -1_000_000 <= time - self.last < 0:
            return row
        if waiting is not None and (
            -1_000_000 <= time - waiting[0] <= 10_000_000 or time > waiting[0] > self.last
        ):
            self.last = time
            return waiting[1] + row
        self.waiting = (time, row)
        return []


def _expected(content: bytes) -> tuple[int, int, int, list[tuple[int, int, int]]]:
    frames, errors, unread = 0, 0, 0
    kept: list[tuple[int, int, int]] = []
    clock = _Clock()
    for raw in content.split(b"\n"):
        line = raw[:-1] if raw.endswith(b"\r") else raw
        if not line:
            continue
        if LINE.fullmatch(line) is None:
            unread += 1
            continue
        found = PARTS.fullmatch(line)
        assert found is not None
        ident = int(found[4], 16)
        time = int(found[1]) * 1_000_000 + int((found[2] + b"000000")[:6])
        if len(found[4]) == 8 and ident >> 29 == 1:
            errors += 1
            kept += clock.believed(time, [])
            continue
        frames += 1
        data = bytes.fromhex(found[5].decode())
        group = (ident >> 8) & (0x3FFFF if (ident >> 16) & 0xFF >= 240 else 0x3FF00)
        plain = len(found[4]) == 8 and not found[6].startswith((b"#", b"R"))
        wanted = plain and group in STANDARD.streams
        kept += clock.believed(time, [(time, ident, int.from_bytes(data, "little"))] if wanted else [])
    return frames, errors, unread, kept


def _found(intake: Intake) -> tuple[int, int, int, list[tuple[int, int, int]]]:
    tally, columns = intake.tally(), intake.columns()
    rows = zip(columns.time_us.tolist(), columns.ident.tolist(), columns.payload.tolist(), strict=True)
    return tally.frames, tally.error_frames, tally.lines_unread, list(rows)


@pytest.mark.parametrize(
    "line",
    [
        GOOD,
        GOOD.lower(),
        GOOD.replace(b"\n", b"\r\n"),
        b"(12.5) vcan0 18FEBD00#00F0\n",
        b"(1634254884.935126) can1 123#0102 T\n",
        b"(1634254884.935126) can1 18FEBD00#R8\n",
        b"(1634254884.935126) can1 18FEBD00##1FAF4FF\n",
        b"(1634254884.935126) can1 20000080#0000000000000000\n",
        b"(1634254884.935126789) a_name_of_15_ch 18FEBD00#FAF4FFFFFFFFFFFF_9 R\n",
    ],
)
def test_one_line_with_every_byte_set_to_every_value(line: bytes) -> None:
    for place in range(len(line)):
        for value in range(256):
            changed = GOOD + line[:place] + bytes([value]) + line[place + 1 :] + GOOD
            assert _found(_walk(changed)) == _expected(changed), changed


@pytest.mark.parametrize("line", [GOOD, b"(12.5) vcan0 18FEBD00#00F0\n"])
def test_one_line_cut_or_grown_at_every_place(line: bytes) -> None:
    for place in range(len(line) + 1):
        for changed in (line[:place], line[place:], line[:place] + b"0" + line[place:], line[:place] + line):
            whole = GOOD + changed + b"\n" + GOOD
            assert _found(_walk(whole)) == _expected(whole), whole


_LINES = st.lists(
    st.one_of(
        st.just(GOOD),
        st.just(b"(1634254885.000000) can1 0CF00400#FFFFFF802EFFFFFF\n"),
        st.just(b"(1634254886.1) can0 18FEEE00#7D\r\n"),
        st.just(b"\n"),
        st.just(b"damaged\n"),
        st.binary(min_size=1, max_size=80).map(lambda raw: raw + b"\n"),
    ),
    max_size=40,
)


@settings(max_examples=60, deadline=None)
@given(_LINES, st.lists(st.integers(1, 97), min_size=1, max_size=30))
def test_any_split_gives_the_same_table(lines: list[bytes], sizes: list[int]) -> None:
    content = b"".join(lines)
    whole = _walk(content)
    split = Intake(STANDARD.numbers)
    left = memoryview(content)
    turn = 0

    def fill(room: memoryview) -> int:
        nonlocal left, turn
        size = sizes[turn % len(sizes)]
        turn += 1
        piece, left = left[:size], left[size:]
        room[: len(piece)] = piece
        return len(piece)

    pump(fill, split.kernels.candump, split)
    assert _found(split) == _found(whole)
    assert split.tally() == whole.tally()


def test_a_line_longer_than_a_chunk_counts_once() -> None:
    content = GOOD + b"x" * (3 * CHUNK) + b"\n" + GOOD
    intake = Intake(STANDARD.numbers)
    left = memoryview(content)

    def fill(room: memoryview) -> int:
        nonlocal left
        piece, left = left[: len(room)], left[len(room) :]
        room[: len(piece)] = piece
        return len(piece)

    pump(fill, intake.kernels.candump, intake)
    assert intake.tally().frames == 2
    assert intake.tally().lines_unread == 1


def test_thinning_keeps_what_is_counted() -> None:
    """Engine speed at 100 Hz is thinned to 5 Hz, but each crossing of 400 r/min and each grip stay exact."""
    lines = []
    for step in range(3000):
        rpm = 1500 if step % 997 > 500 else 0
        raw = (rpm * 8).to_bytes(2, "little").hex().upper()
        lines.append(f"({1_790_000_000 + step / 100:.6f}) can0 0CF00400#FFFFFF{raw}FFFFFF\n")
        if step % 100 == 37:
            lines.append(f"({1_790_000_000 + step / 100:.6f}) can0 18FEBD00#FAF4FFFFFFFFFFFF\n")
    content = "".join(lines).encode()
    every, thinned = Intake(STANDARD.numbers), Intake(STANDARD.numbers, STANDARD.intervals_us)
    for intake in (every, thinned):
        buffer = np.zeros(len(content) + SPARE, np.uint8)
        buffer[: len(content)] = np.frombuffer(content, np.uint8)
        intake.kernels.candump(buffer, len(content), True, *intake.sink(len(lines)))
        intake.store()
    assert every.tally() == thinned.tally()
    full, few = _engine(every.columns()), _engine(thinned.columns())
    assert len(few) < len(full) / 5
    crossings = [now for before, now in pairwise(full) if before[1] != now[1]]
    assert set(crossings) <= set(few)
    fan = every.columns().rows(every.columns().stream == 2).time_us
    for moment in fan.tolist():
        first = next(row for row in full if row[0] >= moment and row[0] > moment - 1)
        assert any(abs(row[0] - first[0]) <= 10_000 for row in few)


def _engine(columns: Columns) -> list[tuple[int, int]]:
    engine = columns.rows(columns.stream == 1)
    return list(zip(engine.time_us.tolist(), engine.payload.tolist(), strict=True))


def test_compiled_code_is_kept_under_the_hash_of_its_sources() -> None:
    assert cache_folder().name.endswith(fingerprint())
    assert cache_folder().is_dir()
