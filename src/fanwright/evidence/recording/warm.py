"""Compile the kernels once, at set-up: ``python -m fanwright.evidence.recording.warm``."""

from __future__ import annotations

import numpy as np

from fanwright.evidence.recording.intake import Intake
from fanwright.evidence.recording.loops.frames import SPARE


def warm() -> None:
    """Run every kernel on next to nothing, so that its compiled form lies in the user's cache.

    Example:
        >>> warm()
    """
    intake = Intake({61444: 1})
    kernels = intake.kernels
    line = b"(0000000000.000000) can0 0CF00400#FFFFFF0000FFFFFF\n"
    buffer = np.zeros(len(line) + SPARE, np.uint8)
    buffer[: len(line)] = np.frombuffer(line, np.uint8)
    sink = intake.sink(16)
    kernels.candump(buffer, len(line), True, *sink)
    kernels.blf(buffer, 0, True, *sink)
    whole = [np.zeros(1, np.int64) for _ in range(6)]
    kind, time, ident, length, channel, _ = whole
    payload = np.zeros(1, np.uint64)
    kernels.sift((kind, time, ident, payload, length, channel, np.zeros(1, np.bool_)), *intake.sink(16))
    found, content = np.zeros((1, 5), np.int64), np.zeros(8, np.uint8)
    frames = np.zeros(0, np.int64), np.zeros(0, np.uint32), np.zeros(0, np.uint64)
    kernels.reassemble(frames, np.zeros(1, np.int64), found, content)
    kernels.trouble_codes(found, 0, content, np.zeros((1, 3), np.int64))


if __name__ == "__main__":
    warm()
