"""An independent maker of candump text with a known truth, for the tests of recordings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest

START_S = 1_790_000_000.0


@dataclass
class Bus:
    """Collects frames by time; everything is written out as candump -l."""

    start_s: float = START_S
    channel: str = "can0"
    frames: list[tuple[float, int, bytes]] = field(default_factory=list)

    def send(self, time_s: float, ident: int, data: bytes | str) -> None:
        raw = bytes.fromhex(data) if isinstance(data, str) else data
        self.frames.append((time_s, ident, raw))

    def engine(self, begin_s: float, end_s: float, rpm: float | None, every_s: float = 0.1) -> None:
        raw = b"\xff\xff" if rpm is None else round(rpm * 8).to_bytes(2, "little")
        for number in range(round((end_s - begin_s) / every_s)):
            self.send(begin_s + number * every_s, 0x0CF00400, b"\xff\xff\xff" + raw + b"\xff\xff\xff")

    def fan(
        self, begin_s: float, end_s: float, state: int, percent: float | None = None, sender: int = 0
    ) -> None:
        if percent is None:
            percent = 100.0 if 1 <= state <= 14 else 0.0
        share = 0xFF if percent < 0 else round(percent / 0.4)
        for number in range(round(end_s - begin_s)):
            data = bytes([share, 0xF0 | state, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF])
            self.send(begin_s + number, 0x18FEBD00 | sender, data)

    def every_second(self, begin_s: float, end_s: float, ident: int, data: str, every_s: float = 1.0) -> None:
        for number in range(round((end_s - begin_s) / every_s)):
            self.send(begin_s + number * every_s, ident, data)

    def lines(self) -> list[str]:
        found = []
        for time_s, ident, data in sorted(self.frames, key=lambda frame: frame[0]):
            stamp = f"{self.start_s + time_s:.6f}".rjust(17, "0")
            found.append(f"({stamp}) {self.channel} {ident:08X}#{data.hex().upper()}")
        return found

    def text(self) -> str:
        return "".join(line + "\n" for line in self.lines())


@pytest.fixture
def bus() -> Bus:
    return Bus()


@pytest.fixture
def make_bus() -> type[Bus]:
    return Bus


@pytest.fixture
def written(tmp_path: Path) -> Callable[[str | bytes, str], Path]:
    def write(content: str | bytes, name: str = "drive.log") -> Path:
        path = tmp_path / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    return write
