"""A made fleet: telemetry of a row a second with a truth that is known because it was drawn first."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import polars
import pytest
from numpy.typing import NDArray

DAY_S = 86_400
BEGIN = dt.datetime(2026, 4, 6, 5, 0, tzinfo=dt.UTC)
REASONS = {4: "coolant", 2: "charge_air", 11: "air_conditioning"}


@dataclass
class TrueDay:
    """What was drawn for one truck and day: runs as start, end [s from BEGIN] and state; engine time [s]."""

    unit: str
    day: int
    runs: list[tuple[int, int, int]]
    engine_on_s: int
    share: float = 0.0

    @property
    def fan_on_s(self) -> int:
        return sum(end - start for start, end, _ in self.runs)


@dataclass
class MadeFleet:
    """Files of a made fleet, with the truth beside them."""

    folder: Path
    days: list[TrueDay] = field(default_factory=list)

    def of(self, unit: str) -> list[TrueDay]:
        return [day for day in self.days if day.unit == unit]


def draw_runs(
    chance: np.random.Generator, share: float, seconds: int, begin: int
) -> list[tuple[int, int, int]]:
    """Draw runs that fill about a share of the time; none touches an end of the recording."""
    runs: list[tuple[int, int, int]] = []
    at = begin + 20 + int(chance.integers(200))
    while True:
        long = int(chance.integers(65, 240))
        if at + long > begin + seconds - 30:
            return runs
        runs.append((at, at + long, int(chance.choice((4, 4, 2, 11)))))
        at += long + max(int(chance.exponential(150.0 * (1.0 - share) / share)), 12)


def table(
    runs: list[tuple[int, int, int]], begin: int, seconds: int, stops: list[tuple[int, int]] | None = None
) -> polars.DataFrame:
    """Paint the rows of one recording; the engine stands still in the stops."""
    state = np.zeros(seconds, np.int8)
    for start, end, code in runs:
        state[max(start - begin, 0) : max(end - begin, 0)] = code
    speed = np.full(seconds, 1250.0)
    for start, end in stops or []:
        speed[start - begin : end - begin] = 0.0
    time_us = (np.arange(begin, begin + seconds) + int(BEGIN.timestamp())) * 1_000_000
    return polars.DataFrame(
        {
            "time": polars.Series(time_us).cast(polars.Datetime("us", "UTC")),
            "fan state": state,
            "engine speed [rpm]": speed,
            "coolant [°C]": np.round(88.0 + 4.0 * np.sin(np.arange(seconds) / 300.0), 1),
            "air [kPa]": np.full(seconds, 800.0),
        }
    )


def make_fleet(
    folder: Path,
    share_of: Callable[[int, int], float],
    trucks: int = 20,
    days: int = 30,
    hours: float = 4.0,
    seed: int = 7,
) -> MadeFleet:
    """Write a recording a truck and day; the engine is off for ten minutes in each, the fan told on then."""
    fleet, seconds = MadeFleet(folder), round(hours * 3600)
    folder.mkdir(parents=True, exist_ok=True)
    chance = np.random.default_rng(seed)
    for truck in range(trucks):
        for day in range(days):
            begin = day * DAY_S
            share = share_of(truck, day)
            runs = draw_runs(chance, share, seconds - 660, begin)
            stop = (begin + seconds - 640, begin + seconds - 40)
            rows = table([*runs, (*stop, 4)], begin, seconds, [stop])
            unit = str(201 + truck)
            rows.write_parquet(folder / f"{unit}-2026-{day:02d}.parquet", compression="lz4")
            fleet.days.append(TrueDay(unit, day, runs, seconds - 1 - 600, share))
    return fleet


def usual_share(truck: int, day: int) -> float:
    """Truck 207 doubles its share from day 16 on, truck 213 is far above all others."""
    wave = 0.06 * (1.0 + 0.25 * np.sin(day / 3.0)) * (1.0 + 0.1 * ((truck * 7) % 5 - 2) / 2.0)
    if truck == 6 and day >= 16:
        return float(2.2 * wave)
    return float(4.0 * wave) if truck == 12 else float(wave)


@pytest.fixture(scope="session")
def made_fleet(tmp_path_factory: pytest.TempPathFactory) -> MadeFleet:
    """20 trucks, 30 days."""
    return make_fleet(tmp_path_factory.mktemp("fleet") / "in", usual_share)


@pytest.fixture(scope="session")
def small_fleet(tmp_path_factory: pytest.TempPathFactory) -> MadeFleet:
    """3 trucks, 3 days, half an hour each."""
    folder = tmp_path_factory.mktemp("small") / "in"
    return make_fleet(folder, lambda truck, day: 0.1, trucks=3, days=3, hours=0.5)


Numbers = NDArray[np.float64]
