"""Pressure traces with known truth, from closed forms that share nothing with the code under test."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

PSI = 6894.757293168
AMBIENT_PSI = 14.696
UNIT_PA = {"psi": PSI, "bar": 1.0e5, "kPa": 1.0e3}


def exponential_fill(supply: float, tau: float) -> Callable[[float, float], float]:
    return lambda start, t: supply - (supply - start) * math.exp(-t / tau)


def choked_fill(supply: float, tau: float, b: float = 0.3) -> Callable[[float, float], float]:
    """Isothermal filling of a fixed volume, choked and then along the quarter ellipse (ISO 6358, m = 0.5)."""
    top = supply + AMBIENT_PSI

    def pressure(start: float, t: float) -> float:
        begin = (start + AMBIENT_PSI) / top
        if begin >= b:
            offset = math.asin(min((begin - b) / (1 - b), 1.0)) * (1 - b)
            angle = t / tau / (1 - b) + offset / (1 - b)
        else:
            if begin + t / tau <= b:
                return top * (begin + t / tau) - AMBIENT_PSI
            angle = (t / tau - (b - begin)) / (1 - b)
        return top * (b + (1 - b) * math.sin(min(angle, math.pi / 2))) - AMBIENT_PSI

    return pressure


def exponential_vent(tau: float, rest: float = 0.0) -> Callable[[float, float], float]:
    return lambda start, t: rest + (start - rest) * math.exp(-t / tau)


def choked_vent(tau: float, knee: float = 25.0) -> Callable[[float, float], float]:
    """Isothermal choked discharge, then a parabola (flow as the root of the pressure left) of equal slope."""

    def pressure(start: float, t: float) -> float:
        at_knee = tau * math.log((start + AMBIENT_PSI) / (knee + AMBIENT_PSI)) if start > knee else 0.0
        if t <= at_knee:
            return (start + AMBIENT_PSI) * math.exp(-t / tau) - AMBIENT_PSI
        begin = min(start, knee)
        rate = (knee + AMBIENT_PSI) / tau / math.sqrt(knee)
        return max(math.sqrt(begin) - rate / 2 * (t - at_knee), 0.0) ** 2

    return pressure


@dataclass
class Story:
    """A trace as a story: switches, and what the drive does after each."""

    fill: Callable[[float, float], float] = field(default_factory=lambda: exponential_fill(118.0, 0.3))
    vent: Callable[[float, float], float] = field(default_factory=lambda: choked_vent(0.25))
    switches: tuple[float, ...] = (2.0, 5.0)
    end: float = 8.0
    delay: float = 0.03
    supply: float = 118.0
    dip: float = 3.0
    begin_sent: bool = False
    begin_psi: float = 0.0
    supply_offset: float = 0.0
    drive_offset: float = 0.0

    def _parts(self) -> list[tuple[float, bool, float]]:
        """Start of each part, whether air is sent, pressure at its start; a valve answers after a delay."""
        parts = [(0.0, self.begin_sent, self.begin_psi)]
        sent = self.begin_sent
        for switch in self.switches:
            sent = not sent
            moment = switch + self.delay
            parts.append((moment, sent, self.drive_at(moment, parts)))
        return parts

    def drive_at(self, t: float, parts: list[tuple[float, bool, float]] | None = None) -> float:
        parts = parts or self._parts()
        start, sent, begin = next(part for part in reversed(parts) if part[0] <= t)
        if start == 0.0 and not self.begin_sent and begin == 0.0:
            return 0.0
        return (self.fill if sent else self.vent)(begin, t - start)

    def sent_at(self, t: float) -> bool:
        return (sum(switch <= t for switch in self.switches) % 2 == 1) != self.begin_sent

    def supply_at(self, t: float) -> float:
        low = 0.0
        for number, switch in enumerate(self.switches):
            if (number % 2 == 0) != self.begin_sent and t >= switch:
                low = max(low, self.dip * (t - switch) / 0.1 * math.exp(1 - (t - switch) / 0.1))
        return self.supply - low

    def true_times(self, without_command: bool = False) -> tuple[list[float], list[float]]:
        """True fill and vent times: crossings of the noise-free curve found by bisection."""
        parts = self._parts()
        edges = [*self.switches, self.end]
        fills, vents = [], []
        for number, (start, sent, begin) in enumerate(parts[1:]):
            stop = edges[number + 1] + (self.delay if number + 2 < len(edges) else 0.0)
            course = self.fill if sent else self.vent

            def past(
                level: float, start: float = start, stop: float = stop, begin: float = begin, course=course
            ):
                gap = lambda t: course(begin, t - start) - level  # noqa: E731
                if gap(start) * gap(stop) > 0:
                    return None
                return brentq(gap, start, stop, xtol=1e-10)

            if sent:
                full = past(90.0)
                if full is not None:
                    fills.append(full - (past(2.0) if without_command else self.switches[number]))
            else:
                full, empty = past(90.0), past(2.0)
                if full is not None and empty is not None:
                    vents.append(empty - full)
        return fills, vents

    def rows(self, rate_hz: float, noise_psi: float, seed: int, phase: float | None = None):
        """Time [s], supply and drive [psi], command."""
        rng = np.random.default_rng(seed)
        shift = (rng.uniform() if phase is None else phase) / rate_hz
        time = np.arange(0.0, self.end - shift, 1.0 / rate_hz)
        moments = time + shift
        parts = self._parts()
        drive = np.array([self.drive_at(t, parts) for t in moments]) + self.drive_offset
        supply = np.array([self.supply_at(t) for t in moments]) + self.supply_offset
        drive = drive + rng.normal(0, noise_psi, time.size)
        supply = supply + rng.normal(0, noise_psi, time.size)
        return time, supply, drive, np.array([self.sent_at(t) for t in moments])


def write_csv(
    path: Path, rows, unit: str = "psi", command: bool = True, supply: bool = True, digits: int = 4
) -> Path:
    time, inlet, drive, sent = rows
    factor = PSI / UNIT_PA[unit]
    columns = [("time [s]", time, "%.6f"), (f"drive [{unit}]", drive * factor, f"%.{digits}f")]
    if supply:
        columns.insert(1, (f"supply [{unit}]", inlet * factor, f"%.{digits}f"))
    if command:
        columns.append(("command", sent.astype(int), "%d"))
    table = np.column_stack([column[1] for column in columns])
    np.savetxt(
        path,
        table,
        fmt=",".join(column[2] for column in columns),
        header=",".join(column[0] for column in columns),
        comments="",
    )
    return path


class Made:
    """What the tests use, handed out by the fixture ``made``."""

    PSI = PSI
    Story = Story
    write_csv = staticmethod(write_csv)
    exponential_fill = staticmethod(exponential_fill)
    choked_fill = staticmethod(choked_fill)
    exponential_vent = staticmethod(exponential_vent)
    choked_vent = staticmethod(choked_vent)


@pytest.fixture(scope="session")
def made() -> type[Made]:
    return Made
