"""Does an 80 % range of remaining life hold 80 %? `python trials/life.py [TRUCKS]`, by `make trials`.

Three kinds of made trucks, by code that shares nothing with `fanwright.life`: wear as a gamma process with a
random rate (the kind the forecast assumes), a random rate that changes once on the way, and wear driven by
the friction energy of grips, with seasons and a hot-facing factor. Each kind: so many trucks in each count of
readings from 1 to 8, all pooled as one fleet. Beside our forecast stands the posterior of the maker itself,
which knows everything but the truck: a library of the maker's own trucks, weighed by the readings.

Wanted in every group: 75 to 85 % of the true lives within the 80 % range, pinball loss within 5 % of the
maker's own posterior on the first kind and within 15 % on the others.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

GRID = np.concatenate([np.arange(0.0, 200.0, 5.0), np.arange(200.0, 2600.1, 20.0)])  # 1000 km
LIMIT_MM, LOWEST_START_MM, NEW_MM, ERROR_MM = 6.35, 7.9, 8.73, 0.12
COUNTS = range(1, 9)
SHARES = (0.1, 0.5, 0.9)
CAP = 2000.0
SEED = 77_000
"""Judged once on these; whatever was tuned was tuned on others."""
OUT = Path(__file__).parents[1] / "out"
Array = Any


def gamma_wear(trucks: int, rng: np.random.Generator) -> Array:
    """Wear along the grid: gamma increments, variance 0.006 mm times the mean, rates apart by 0.5 in ln."""
    rate = 0.006 * np.exp(0.5 * rng.standard_normal(trucks))
    return summed(rng.gamma(np.outer(rate, np.diff(GRID)) / 0.006, 0.006))


def changing_wear(trucks: int, rng: np.random.Generator) -> Array:
    """Wear along the grid: an even rate, and from one place on another one."""
    rate = 0.006 * np.exp(0.5 * rng.standard_normal(trucks))
    factor = np.exp(0.7 * rng.standard_normal(trucks))
    place = rng.exponential(400.0, trucks)
    before = np.minimum(GRID, place[:, None])
    return rate[:, None] * (before + factor[:, None] * (GRID - before))


def energy_wear(trucks: int, rng: np.random.Generator) -> Array:
    """Wear along the grid from the energy of each stretch: grips, season, speed squared, hot days."""
    inertia = rng.uniform(0.5, 0.9, trucks)[:, None]
    grips = np.exp(math.log(160.0) + 0.45 * rng.standard_normal(trucks))[:, None]
    season = rng.uniform(0.1, 0.8, trucks)[:, None] * np.sin(
        2.0
        * np.pi
        * (GRID[:-1] / rng.uniform(80.0, 200.0, trucks)[:, None] + rng.uniform(0.0, 1.0, trucks)[:, None])
    )
    number = rng.poisson(grips * (1.0 + season) * np.diff(GRID))
    speed = rng.uniform(130.0, 190.0, trucks)[:, None] * np.exp(0.1 * rng.standard_normal(number.shape))
    energy = number * 0.5 * inertia * speed**2  # J
    hot = 1.0 + 1.5 * (rng.random(number.shape) < 0.08)
    wear_per_energy = 4.2e-9 * np.exp(0.2 * rng.standard_normal(trucks))[:, None]  # mm/J on a face of 0.03 m2
    return summed(energy * hot * wear_per_energy)


KINDS: dict[str, tuple[Callable[[int, np.random.Generator], Array], float]] = {
    "gamma process": (gamma_wear, 1.05),
    "rate that changes": (changing_wear, 1.15),
    "driven by energy": (energy_wear, 1.15),
}


def summed(steps: Array) -> Array:
    return np.concatenate([np.zeros((len(steps), 1)), np.cumsum(steps, axis=1)], axis=1)


@dataclass
class Truck:
    """A made truck: where it was read [index of the grid], what was read [mm], what it will still run."""

    at: Array
    read_mm: Array
    left: float


def trucks_of(
    make: Callable[[int, np.random.Generator], Array], each: int, rng: np.random.Generator
) -> list[Truck]:
    """Make so many trucks in each count, none of them at its limit when last read."""
    made: list[Truck] = []
    for number in COUNTS:
        group: list[Truck] = []
        while len(group) < each:
            for wear in make(each, rng):
                truck = truck_of(wear, number, rng)
                if truck is not None and len(group) < each:
                    group.append(truck)
        made += group
    return made


def truck_of(wear: Array, number: int, rng: np.random.Generator) -> Truck | None:
    last = 0 if number == 1 else rng.integers(10, 31)
    between = rng.choice(np.arange(1, last), number - 2, replace=False) if last else []
    at = np.unique(np.append(between, [0, last])).astype(np.int64)
    start = rng.uniform(LOWEST_START_MM, NEW_MM)
    thickness = start - wear
    if thickness[last] <= LIMIT_MM:
        return None
    left = crossing(wear, start - LIMIT_MM) - GRID[last]
    return Truck(at, thickness[at] + ERROR_MM * rng.standard_normal(number), float(left))


def crossing(wear: Array, depth: float) -> float:
    return float(np.interp(depth, wear, GRID)) if wear[-1] > depth else float(GRID[-1])


def own_posterior(truck: Truck, library: Array, rng: np.random.Generator, draws: int = 500) -> Array:
    """The maker's own 10, 50 and 90 % points: its library weighed by the readings, the start integrated."""
    implied = truck.read_mm + library[:, truck.at]
    middle, spread = implied.mean(axis=1), ERROR_MM / math.sqrt(len(truck.at))
    misfit = ((implied - middle[:, None]) ** 2).sum(axis=1) / (2.0 * ERROR_MM**2)
    low, high = phi((LOWEST_START_MM - middle) / spread), phi((NEW_MM - middle) / spread)
    weight = np.exp(-(misfit - misfit.min())) * (high - low)
    picked = np.searchsorted(np.cumsum(weight / weight.sum()), (np.arange(draws) + rng.random()) / draws)
    picked = np.minimum(picked, len(library) - 1)
    found = []
    for one in picked:
        start = middle[one] + spread * phi_inverse(rng.uniform(low[one], high[one]))
        depth = start - LIMIT_MM
        if depth > library[one, truck.at[-1]]:  # not at its limit when last read, as the maker knows
            found.append(crossing(library[one], depth) - GRID[truck.at[-1]])
    return np.quantile(found or [0.0], SHARES)


def phi(values: Array) -> Array:
    from scipy.special import ndtr

    return ndtr(values)


def phi_inverse(share: float) -> float:
    from scipy.special import ndtri

    return float(ndtri(share))


def forecasts(trucks: list[Truck]) -> Array:
    """Our own 10, 50 and 90 % points, all trucks pooled [1000 km]."""
    from fanwright.life import History, Thickness, forecast_fleet

    histories = [
        History(
            str(number),
            tuple(
                Thickness(None, GRID[at] * 1e6, mm * 1e-3, ERROR_MM * 1e-3, row=str(at))
                for at, mm in zip(truck.at, truck.read_mm, strict=True)
            ),
        )
        for number, truck in enumerate(trucks)
    ]
    found = [one.remaining for one in forecast_fleet(histories)]
    assert all(one is not None for one in found)
    return np.array([[one.p10, one.p50, one.p90] for one in found if one is not None]) / 1e6


def pinball(points: Array, truth: Array) -> Array:
    """Mean loss over the three points, one a truck; lives beyond the cap count as the cap."""
    off = np.minimum(truth, CAP)[:, None] - np.minimum(points, CAP)
    return np.maximum(np.array(SHARES) * off, (np.array(SHARES) - 1.0) * off).mean(axis=1)


@dataclass
class Group:
    """How one kind and count came out."""

    kind: str
    readings: int
    trucks: int
    covered: float
    loss: float
    own_loss: float
    most_ratio: float

    @property
    def ratio(self) -> float:
        return self.loss / self.own_loss

    def misses(self, slack: float = 0.0) -> list[str]:
        """What is not as wanted, as far as so many trucks can tell."""
        found = []
        if not 0.75 - slack <= self.covered <= 0.85 + slack:
            found.append("coverage")
        if self.ratio > self.most_ratio * (1.0 + slack):
            found.append("pinball")
        return found


def trial(kind: str, each: int, library_size: int, seed: int) -> list[Group]:
    """Try one kind of trucks."""
    make, most = KINDS[kind]
    rng = np.random.default_rng(seed)
    trucks = trucks_of(make, each, rng)
    truth = np.array([truck.left for truck in trucks])
    ours = forecasts(trucks)
    library = make(library_size, rng).astype(np.float32)
    own = np.array([own_posterior(truck, library, rng) for truck in trucks])
    loss, own_loss = pinball(ours, truth), pinball(own, truth)
    inside = (ours[:, 0] <= truth) & (truth <= ours[:, 2])
    groups = []
    for number, start in zip(COUNTS, range(0, len(trucks), each), strict=True):
        part = slice(start, start + each)
        groups.append(
            Group(kind, number, each, inside[part].mean(), loss[part].mean(), own_loss[part].mean(), most)
        )
    return groups


def main(each: int = 1000) -> int:
    lines = [
        "| trucks | readings | within the 80 % range | pinball over the maker's own | as wanted |",
        "|---|---|---|---|---|",
    ]
    missed = 0
    for seed, kind in enumerate(KINDS):
        start = time.perf_counter()
        for group in trial(kind, each, 30_000, SEED + seed):
            misses = group.misses()
            missed += bool(misses)
            lines.append(
                f"| {kind} | {group.readings} | {100 * group.covered:.1f} % | {group.ratio:.3f} | "
                f"{', '.join(misses) or 'yes'} |"
            )
        print(f"{kind}: {time.perf_counter() - start:.0f} s", file=sys.stderr)
    table = "\n".join(lines) + "\n"
    print(table, end="")
    OUT.mkdir(exist_ok=True)
    (OUT / "trials-life.md").write_text(table, "utf-8")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(*(int(argument) for argument in sys.argv[1:2])))
