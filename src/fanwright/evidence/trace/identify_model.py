"""The unknowns of a circuit, scaled to order one, and how far a simulation with them lies from a trace."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fanwright.errors import OutOfRange
from fanwright.evidence.trace.identify_episodes import Episode
from fanwright.evidence.trace.identify_machine import LARGEST, VOLUME_OFF, Machine
from fanwright.evidence.trace.signal import PSI
from fanwright.virtual.air import simulate_draws
from fanwright.virtual.circuit import BOUNDS

Series = NDArray[np.float64]

REFERENCE_EXPONENT = 1.2
RATIO_SD = 0.1  # how far a critical ratio lies from the usual one; assumption
PRESSURE_PA = 10.0 * PSI
LEAK = 1.0e-10
SUPPLY = 1.0e-8
RESERVOIR_M3 = 0.08
DELAY_S = 0.05
LATEST_S = 1.0
GAUGES_APART = 0.003  # share by which two gauges that were set to zero read apart; assumption
TOLERANCE = 3.0e-5
MANY = 12
STEP = 4.0e-3
HELD = 1.0e-6


@dataclass(frozen=True)
class Unknown:
    """One unknown, scaled to order one.

    Args:
        name: Its name; one of an episode ends in the episode's number.
        start: Where the search begins.
        low: Least value.
        high: Greatest value.
        prior: What is known of it before the trace, or None.
        prior_sd: Standard uncertainty of that; infinite for nothing.
        step: Step of the finite difference.
        episode: The episode it belongs to, or None for all.
    """

    name: str
    start: float
    low: float
    high: float
    prior: float = 0.0
    prior_sd: float = np.inf
    step: float = STEP
    episode: int | None = None


Extra = Literal["seat", "cooling", "line_leak"]
EXTRAS: Mapping[Extra, Unknown] = {
    "seat": Unknown("seat", 0.5, 0.0, 600.0, step=0.05),
    "cooling": Unknown("cooling", 0.15, 1e-3, 5.0, step=0.01),
    "line_leak": Unknown("line_leak", 1.0, 0.0, 600.0, step=0.1),
}
WIDE = ("leak", "line_leak", "seat", "supply_loss", "reservoir", "cooling")
NUISANCES = ("exponent", "dead", "swept")


def unknowns(
    machine: Machine, episodes: Sequence[Episode], extra: Collection[Extra] = ()
) -> tuple[Unknown, ...]:
    """List the unknowns of a trace.

    Args:
        machine: The drive.
        episodes: What the trace shows.
        extra: What a trace shows signs of: ``seat``, air left in the drive with air cut off; ``cooling``, a
            hot fill that cools down while shut off; ``line_leak``, less at the drive than at the inlet
            although the drive holds its air while shut off.
    """
    found = [
        *_of_volumes(cools="cooling" in extra),
        *_of_piston(machine),
        Unknown("leak", 0.0, 0.0, 600.0, step=0.1),
    ]
    for path, shown in (
        ("fill", [one.fills for one in episodes]),
        ("exhaust", [one.vents for one in episodes]),
    ):
        if any(shown):
            found += _of_path(machine, path)
    if any(one.story.shut for one in episodes):
        found.append(Unknown("leak_ratio", 0.4, 0.05, 0.7, 0.4, RATIO_SD))
    if "line_leak" in extra or not any(one.story.shut for one in episodes):
        found.append(Unknown("apart", 0.0, -5.0, 5.0, 0.0, 1.0, step=0.2))
    found += [EXTRAS[name] for name in extra]
    if any(one.inlet_pa is not None for one in episodes):
        found += _of_supply(machine)
    for number, one in enumerate(episodes):
        found += _of_episode(one, number)
    return tuple(found)


def _of_volumes(*, cools: bool) -> Iterator[Unknown]:
    # Where the heat that is given off is sought by itself, the rest of the change of state gives off none.
    least, middle, sd = (1.36, 1.38, 0.03) if cools else (1.0, REFERENCE_EXPONENT, 0.12)
    yield Unknown("exponent", np.log(middle), np.log(least), np.log(1.4), np.log(middle), sd)
    low, high = -np.log(1.0 + VOLUME_OFF), -np.log(1.0 - VOLUME_OFF)  # true by given
    yield Unknown("dead", 0.0, low, high, 0.0, 0.06)
    yield Unknown("swept", 0.0, low, high, 0.0, 0.06)


def _of_piston(machine: Machine) -> Iterator[Unknown]:
    circuit, area = machine.circuit, machine.circuit.piston_area_m2
    lift = (circuit.preload_n + circuit.breakaway_friction_n) / area / PRESSURE_PA
    yield Unknown("lift_off", lift, 0.02, 14.0, step=0.02)
    span = circuit.stiffness_n_per_m * circuit.stroke_m / area / PRESSURE_PA
    yield Unknown("span", span, 0.05, 8.0, step=0.02)
    yield Unknown("friction", 0.1, 0.0, 4.0, 0.1, 0.3, step=0.02)


def _of_path(machine: Machine, path: str) -> Iterator[Unknown]:
    circuit = machine.circuit
    conductance, ratio = circuit.fill_conductance_m3_per_s_pa, circuit.fill_critical_ratio
    if path == "exhaust":
        conductance, ratio = circuit.exhaust_conductance_m3_per_s_pa, circuit.exhaust_critical_ratio
    yield Unknown(path, np.log(conductance / LEAK), -6.0, 9.0)
    yield Unknown(path + "_ratio", ratio, 0.02, 0.7, ratio, RATIO_SD)


def _of_supply(machine: Machine) -> Iterator[Unknown]:
    loss = (SUPPLY / machine.circuit.supply_conductance_m3_per_s_pa) ** 2
    yield Unknown("supply_loss", loss, 1e-3, 1e4, step=0.02)
    size = RESERVOIR_M3 / machine.circuit.reservoir_volume_m3
    yield Unknown("reservoir", size, 1e-4, 100.0, 1.0, 3.0, step=0.02)


def _of_episode(one: Episode, number: int) -> Iterator[Unknown]:
    yield Unknown("supply", one.supply_pa / PRESSURE_PA, 0.5, 25.0, step=0.02, episode=number)
    for what, shown, late in (("send", one.fills, one.sends_late_s), ("cut", one.vents, one.cuts_late_s)):
        if shown:
            start, latest = (0.5 * late + 0.02) / DELAY_S, (late + LATEST_S) / DELAY_S
            yield Unknown(what, start, 0.0, latest, step=0.02, episode=number)
    if one.story.shut:  # what the drive was shut off with, beside what the fit expects: supplies drift
        yield Unknown("held", 0.0, -0.6, 0.6, 0.0, 0.2, step=0.02, episode=number)
    if one.story.shut and one.story.shut[-1][1] < float(one.time_s[-1]):
        yield Unknown("reopen", 0.0, -1.0, 1.0, 0.0, 1.0 / 3.0**0.5, step=0.2, episode=number)


@dataclass(frozen=True, eq=False)
class Model:
    """A machine, the episodes of a trace and the unknowns.

    Args:
        machine: The drive.
        episodes: What the trace shows.
        unknowns: The unknowns.
    """

    machine: Machine
    episodes: tuple[Episode, ...]
    unknowns: tuple[Unknown, ...]

    def place(self, name: str, episode: int | None = None) -> int | None:
        """Give the place of an unknown, or None."""
        for place, one in enumerate(self.unknowns):
            if one.name == name and one.episode == episode:
                return place
        return None

    def eased(self, residuals: Series) -> Model:
        """Give the model with the inlet counting less where it takes a course that no reservoir explains.

        Args:
            residuals: Scaled differences of the best fit so far, shape (differences,).
        """
        episodes, row = [], 0
        for one in self.episodes:
            size, eased = one.time_s.size, one
            if one.inlet_sd_pa is not None:
                left = float(np.mean(residuals[row + size : row + 2 * size] ** 2))
                eased = replace(one, inlet_sd_pa=one.inlet_sd_pa * max(left, 1.0) ** 0.5)
            row += size * (1 if one.inlet_pa is None else 2)
            episodes.append(eased)
        return replace(self, episodes=tuple(episodes))

    def held(self, **values: float) -> Model:
        """Give the model with some of its unknowns held at a value, by name."""
        held = tuple(
            one
            if one.name not in values
            else replace(
                one,
                start=values[one.name],
                low=values[one.name] - HELD,
                high=values[one.name] + HELD,
                prior=values[one.name],
                prior_sd=HELD,
            )
            for one in self.unknowns
        )
        return replace(self, unknowns=held)

    def holds(self, name: str) -> bool:
        """Say whether an unknown is held at a value."""
        return any(one.name == name and one.prior_sd == HELD for one in self.unknowns)

    def shortened(self, most: int) -> Model:
        """Give the model of the first episodes alone, this one if there are no more."""
        if len(self.episodes) <= most:
            return self
        mine = tuple(one for one in self.unknowns if one.episode is None or one.episode < most)
        return Model(self.machine, self.episodes[:most], mine)

    def taken_over(self, other: Model, point: Series, **starts: float) -> Series:
        """Take a point over from a model with fewer unknowns; the others begin as given."""
        taken = np.array([starts.get(one.name, one.start) for one in self.unknowns])
        for place, one in enumerate(self.unknowns):
            known = other.place(one.name, one.episode)
            taken[place] = taken[place] if known is None else point[known]
        return taken

    def column(self, points: Series, name: str, episode: int | None = None, without: float = 0.0) -> Series:
        """Give an unknown of each point, shape (points,), or what it is where it is not sought."""
        place = self.place(name, episode)
        return np.full(len(points), without) if place is None else points[:, place]

    def per_rate(self, points: Series) -> Series:
        """Give volume by exponent relative to the given ones, shape (points,).

        What a trace shows is conductance times exponent by volume; this takes it back to a conductance.
        """
        line, dead = self.machine.line_volume_m3, self.machine.circuit.dead_volume_m3
        swept = self.machine.circuit.piston_area_m2 * self.machine.circuit.stroke_m
        volume = line + dead * np.exp(self.column(points, "dead"))
        volume += swept * np.exp(self.column(points, "swept"))
        ratio: Series = volume / (line + dead + swept)
        return ratio * REFERENCE_EXPONENT / np.exp(self.column(points, "exponent"))

    def numbers(self, points: Series, episode: int) -> dict[str, Series]:
        """Turn points into numbers of circuits, an array (points,) each."""
        circuit, rate = self.machine.circuit, self.per_rate(points)
        area = circuit.piston_area_m2
        friction = self.column(points, "friction") * PRESSURE_PA * area
        preload = np.maximum(self.column(points, "lift_off") * PRESSURE_PA * area - friction, 0.0)
        stroke = circuit.stroke_m * np.exp(self.column(points, "swept"))
        numbers = {
            "exponent": np.exp(self.column(points, "exponent")),
            "dead_volume_m3": circuit.dead_volume_m3 * np.exp(self.column(points, "dead")),
            "stroke_m": stroke,
            "preload_n": preload,
            "stiffness_n_per_m": self.column(points, "span") * PRESSURE_PA * area / stroke,
            "sliding_friction_n": friction,
            "breakaway_friction_n": friction,
            "seal_leak_m3_per_s_pa": self.column(points, "leak") * LEAK * rate,
            "line_leak_m3_per_s_pa": self.column(points, "line_leak") * LEAK * rate,
            "seat_leak_m3_per_s_pa": self.column(points, "seat") * LEAK * rate,
            "supply_gauge_pa": self.column(points, "supply", episode) * PRESSURE_PA,
            "send_delay_s": self.column(points, "send", episode) * DELAY_S,
            "cut_delay_s": self.column(points, "cut", episode) * DELAY_S,
            "supply_conductance_m3_per_s_pa": np.full(len(points), LARGEST),
        }
        if self.place("leak_ratio") is not None:
            numbers["leak_critical_ratio"] = self.column(points, "leak_ratio")
        if self.place("cooling") is not None:
            numbers["wall_time_s"] = 1.0 / self.column(points, "cooling")
        for path in ("fill", "exhaust"):
            if self.place(path) is not None:
                numbers[path + "_conductance_m3_per_s_pa"] = np.exp(self.column(points, path)) * LEAK * rate
                numbers[path + "_critical_ratio"] = self.column(points, path + "_ratio")
        if self.place("supply_loss") is not None:
            loss = np.maximum(self.column(points, "supply_loss"), 1e-3)
            numbers["supply_conductance_m3_per_s_pa"] = np.minimum(SUPPLY / np.sqrt(loss), LARGEST)
            numbers["reservoir_volume_m3"] = RESERVOIR_M3 / self.column(points, "reservoir")
        for name, value in numbers.items():
            numbers[name] = np.clip(value, *BOUNDS[name][1:3])
        return numbers

    def episode_residuals(self, points: Series, number: int) -> Series:
        """Give the scaled differences of one episode, shape (points, differences); vast where it failed."""
        reopened = self.column(points, "reopen", number)
        if len(set(reopened)) > 1:
            groups = [(places, self.episode_residuals(points[places], number)) for places in _alike(reopened)]
            joined = np.empty((len(points), groups[0][1].shape[1]))
            for places, found in groups:
                joined[places] = found
            return joined
        episode = self.episodes[number]
        numbers = self.numbers(points, number)
        try:
            shown = simulate_draws(
                self.machine.circuit,
                list(numbers),
                np.column_stack(list(numbers.values())),
                episode.told(float(reopened[0])),
                np.minimum(episode.time_s, episode.story.duration_s),
                TOLERANCE,
                threads=2 if len(points) >= MANY else 1,
            )
        except OutOfRange:
            if len(points) > 1:
                return np.concatenate([self.episode_residuals(one[None], number) for one in points])
            rows = episode.time_s.size * (1 if episode.inlet_pa is None else 2)
            return np.full((1, rows), 1e6)
        held = self.column(points, "held", number)[:, None] * PRESSURE_PA * episode.shut_off
        reads = 1.0 + GAUGES_APART * self.column(points, "apart")[:, None]
        parts = [(episode.drive_pa - shown.drive_gauge_pa * reads - held) / episode.drive_sd_pa]
        if episode.inlet_pa is not None:
            assert episode.inlet_sd_pa is not None
            parts.append((episode.inlet_pa - shown.inlet_gauge_pa) / episode.inlet_sd_pa)
        return np.concatenate(parts, axis=1)

    def residuals(self, points: Series) -> Series:
        """Give the scaled differences of all episodes, shape (points, differences)."""
        return np.concatenate([self.episode_residuals(points, n) for n in range(len(self.episodes))], axis=1)

    def slopes(self, point: Series) -> tuple[Series, Series]:
        """Give the residuals at a point and their finite-difference slopes, shape (differences, unknowns)."""
        here, sloped = [], []
        for number in range(len(self.episodes)):
            mine = [i for i, one in enumerate(self.unknowns) if one.episode in (None, number)]
            steps = np.array([self._step(point, i) for i in mine])
            points = np.tile(point, (len(mine) + 1, 1))
            points[np.arange(len(mine)) + 1, mine] += steps
            found = self.episode_residuals(points, number)
            slopes = np.zeros((found.shape[1], len(self.unknowns)))
            slopes[:, mine] = ((found[1:] - found[0]) / steps[:, None]).T
            here.append(found[0])
            sloped.append(slopes)
        return np.concatenate(here), np.concatenate(sloped)

    def _step(self, point: Series, place: int) -> float:
        one = self.unknowns[place]
        wide = one.name in WIDE
        step = max(one.step, 0.01 * abs(float(point[place]))) if wide else one.step
        return step if point[place] + step <= one.high else -step


def _alike(values: Series) -> list[NDArray[np.intp]]:
    """Give the places of equal values, together."""
    return [np.flatnonzero(values == one) for one in np.unique(values)]
