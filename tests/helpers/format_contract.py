"""What every format of recordings must do: the same frames in, the same frames and runs out."""

from __future__ import annotations

import gzip
import itertools
import random
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, ClassVar

import can
import numpy as np
import pytest

from fanwright.errors import FileError
from fanwright.evidence.recording.formats import format_of
from fanwright.evidence.recording.intake import Intake
from fanwright.evidence.recording.reader import read_recording
from fanwright.evidence.recording.signals import STANDARD
from fanwright.evidence.recording.source import Source

START_S = 1_790_000_000.5
SAMPLES = Path(__file__).parents[1] / "data" / "recordings"


def story() -> list[can.Message]:
    """Two minutes with the fan told on from 40 s to 70 s, and everything a bus carries beside it."""
    found = []
    for tenth in range(1200):
        time = tenth / 10
        found.append(_message(time, 0x0CF00400, "FFFFFF802EFFFFFF"))
        if tenth % 10 == 0:
            on = 40 <= time < 70
            found.append(_message(time + 0.001, 0x18FEBD00, "FAF4FFFFFFFFFFFF" if on else "00F0FFFFFFFFFFFF"))
            found.append(_message(time + 0.002, 0x18FEEE00, "7DFFFFFFFFFFFFFF"))
        if tenth % 100 == 50:
            found.append(_message(time + 0.003, 0x123, "0102", extended=False))
            found.append(_message(time + 0.004, 0x18FF0117, "010203"))
    return found


def _message(time: float, ident: int, data: str, *, extended: bool = True) -> can.Message:
    return can.Message(
        timestamp=START_S + time,
        arbitration_id=ident,
        is_extended_id=extended,
        data=bytes.fromhex(data),
        channel=0,
        is_rx=True,
    )


class Contract:
    """What every format must do; a subclass says how a file is written and what the format cannot carry."""

    name: ClassVar[str]
    precision_s: ClassVar[float] = 1e-6
    absolute: ClassVar[bool] = True
    clock: ClassVar[str] = "absolute"
    carries_errors: ClassVar[bool] = False
    sample: ClassVar[str] = ""
    can_be_cut: ClassVar[bool] = True
    can_be_packed: ClassVar[bool] = True

    def write(self, messages: Iterable[can.Message], path: Path) -> None:
        raise NotImplementedError

    @pytest.fixture
    def file(self, tmp_path: Path) -> Path:
        path = tmp_path / "recording.bin"
        self.write(story(), path)
        return path

    def test_is_found_by_content_alone(self, file: Path) -> None:
        assert self.name == format_of(Source(file)).NAME

    def test_same_frames(self, file: Path) -> None:
        intake = Intake({group: stream.number for group, stream in STANDARD.streams.items()})
        source = Source(file)
        format_of(source).read(source, intake)
        tally, columns = intake.tally(), intake.columns()
        messages = story()
        wanted = [one for one in messages if one.is_extended_id and one.arbitration_id != 0x18FF0117]
        assert tally.frames == len(messages)
        assert tally.frames_used == len(wanted)
        assert tally.short_identifier == 12
        assert tally.lines_unread == 0
        assert columns.ident.tolist() == [one.arbitration_id for one in wanted]
        assert columns.payload.tolist() == [int.from_bytes(one.data, "little") for one in wanted]
        time = columns.time_us / 1e6
        expected = np.array([one.timestamp for one in wanted])
        shift = 0.0 if self.absolute else expected[0] - time[0]
        assert np.abs(time + shift - expected).max() <= self.precision_s

    def test_same_runs(self, file: Path) -> None:
        result = read_recording([file])
        assert [run.reason for run in result.runs] == ["coolant"]
        assert result.fan_on_s == pytest.approx(30.0, abs=2 * self.precision_s)
        assert result.engine_on_s == pytest.approx(119.9, abs=0.01)
        assert result.files[0].clock == self.clock

    def test_packed(self, file: Path) -> None:
        if not self.can_be_packed:
            return
        plain = read_recording([file])
        file.write_bytes(gzip.compress(file.read_bytes()))
        packed = read_recording([file])
        assert packed.runs == plain.runs
        assert packed.files[0].tally == plain.files[0].tally

    @pytest.mark.parametrize("keep", [0.999, 0.75, 0.31])
    def test_a_cut_file_keeps_what_is_there(self, file: Path, keep: float) -> None:
        if not self.can_be_cut:
            return
        raw = file.read_bytes()
        file.write_bytes(raw[: int(len(raw) * keep)])
        tally = read_recording([file]).files[0].tally
        assert 0 < tally.frames <= len(story())

    def test_errors_are_counted(self, tmp_path: Path) -> None:
        if not self.carries_errors:
            return
        path = tmp_path / "errors.bin"
        bad = can.Message(timestamp=START_S + 1.0, is_error_frame=True, channel=0)
        self.write([*story()[:20], bad, *story()[20:]], path)
        tally = read_recording([path]).files[0].tally
        assert tally.error_frames == 1
        assert tally.frames == len(story())

    @pytest.mark.parametrize("damage", ["empty", "head only", "cut", "zeros", *range(12)])
    def test_damaged_twins_are_read_or_refused_in_one_line(self, file: Path, damage: str | int) -> None:
        raw = bytearray(file.read_bytes())
        if isinstance(damage, int):
            chance = random.Random(damage)
            for _ in range(1 + damage):
                raw[chance.randrange(len(raw))] = chance.randrange(256)
        else:
            keep = {"empty": 0, "head only": 40, "cut": 2 * len(raw) // 3, "zeros": len(raw) // 2}[damage]
            rest = len(raw) - keep
            raw[keep:] = b"\0" * rest if damage == "zeros" else b""
        file.write_bytes(raw)
        refused: FileError | None = None
        try:
            result = read_recording([file])
        except FileError as error:
            refused = error
        if refused is not None:
            assert len(refused.messages) == 1
            assert "\n" not in str(refused.messages[0].values)
            return
        assert result.files[0].tally.frames <= 2 * len(story())
        assert result.fan_on_s <= result.fan_known_s + 1e-6

    def test_sample(self) -> None:
        if not self.sample:
            return
        result = read_recording([SAMPLES / self.sample])
        assert result.files[0].format == self.name
        assert [run.reason for run in result.runs] == ["coolant"]


def by_python_can(writer: Callable[[str], Any], messages: Iterable[can.Message], path: Path) -> None:
    named = path.with_suffix(".tmp")
    with writer(str(named)) as out:
        for message in messages:
            out.on_message_received(message)
    path.write_bytes(named.read_bytes())
    named.unlink()


def all_contracts(base: type[Contract]) -> set[type[Contract]]:
    return set(itertools.chain.from_iterable({one, *all_contracts(one)} for one in base.__subclasses__()))
