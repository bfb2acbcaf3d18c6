"""Simulate the air circuit: one story, or the same story for many draws of its numbers."""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fanwright.errors import InputError, OutOfRange
from fanwright.truck.checks import Bound, check_part
from fanwright.virtual import equations, kernels, solver
from fanwright.virtual.circuit import BOUNDS, Circuit, circuit_of
from fanwright.virtual.faults import FAULTS, with_faults, with_loose_plug
from fanwright.virtual.story import Story, cycles, edges
from fanwright.words import Message, count, listing, text

__all__ = [
    "FAULTS",
    "Circuit",
    "Draws",
    "PistonEvent",
    "Simulation",
    "Story",
    "circuit_of",
    "cycles",
    "simulate",
    "simulate_draws",
    "warm",
    "with_faults",
    "with_loose_plug",
]

Series = NDArray[np.float64]
What = Literal["moves out", "moves back", "reaches far stop", "reaches near stop", "comes to rest"]

TOLERANCE = 5.0e-5
"""Error a step may make, as a share of 1 MPa and like scales: about 0.1 kPa at the gauges in the end."""
FULLY = 0.98
_EVENTS = 512
_WHAT: tuple[What, ...] = (
    "moves out",
    "moves back",
    "reaches far stop",
    "reaches near stop",
    "comes to rest",
    "comes to rest",
)


@dataclass(frozen=True)
class PistonEvent:
    """Something the piston did.

    Args:
        time_s: When [s].
        what: What it did; out is the way the air pushes it.
        drive_gauge_pa: Pressure at the drive then, gauge [Pa].
    """

    time_s: float
    what: What
    drive_gauge_pa: float


@dataclass(frozen=True, eq=False)
class Simulation:
    """What happened, at the times asked for; arrays have their shape (n,).

    Args:
        circuit: The circuit.
        time_s: The times [s].
        reservoir_gauge_pa: In the reservoir, gauge [Pa].
        inlet_gauge_pa: At the valve inlet, gauge [Pa].
        drive_gauge_pa: At the drive, gauge [Pa].
        piston_m: Place of the piston, 0 where the spring holds it [m].
        air_sent: Whether air was told to be sent.
        shut: Whether the shut-off was shut.
        events: What the piston did, in order (the first 512).
        mass_error_kg: Air that came from or went to nowhere; rounding when all is right [kg].
        mass_moved_kg: Air that left the reservoir or the circuit [kg].
        steps: Steps the solver tried [-].
    """

    circuit: Circuit
    time_s: Series
    reservoir_gauge_pa: Series
    inlet_gauge_pa: Series
    drive_gauge_pa: Series
    piston_m: Series
    air_sent: NDArray[np.bool_]
    shut: NDArray[np.bool_]
    events: tuple[PistonEvent, ...]
    mass_error_kg: float
    mass_moved_kg: float
    steps: int

    def fan_at(self, time_s: float) -> Literal["grips", "lets_go", "drags"]:
        """Say what the fan does at the output time nearest to a time [s]."""
        place = float(self.piston_m[np.argmin(np.abs(self.time_s - time_s))]) / self.circuit.stroke_m
        if 1.0 - FULLY < place < FULLY:
            return "drags"
        return "grips" if (place >= FULLY) == (self.circuit.grips_by == "air") else "lets_go"


@dataclass(frozen=True, eq=False)
class Draws:
    """The gauges of many draws.

    Args:
        inlet_gauge_pa: At the valve inlet, gauge [Pa], shape (draws, times).
        drive_gauge_pa: At the drive, gauge [Pa], shape (draws, times).
        mass_error_kg: Air that came from or went to nowhere [kg], shape (draws,).
    """

    inlet_gauge_pa: Series
    drive_gauge_pa: Series
    mass_error_kg: Series


def simulate(circuit: Circuit, story: Story, time_s: Series, tolerance: float = TOLERANCE) -> Simulation:
    """Run a circuit through a story.

    Args:
        circuit: The circuit.
        story: The story.
        time_s: Output times, rising, from 0 to the story's duration, shape (n,) [s].
        tolerance: Error a step may make, as a share of 1 MPa and like scales, 1e-12 to 1e-2 [-].

    Returns:
        What happened.

    Raises:
        InputError: The times or the tolerance are not as said.
        OutOfRange: The equations could not be solved for these numbers.

    Example:
        >>> from fanwright.truck.loader import presets
        >>> circuit = circuit_of(presets()["line-haul spring-on"])
        >>> shown = simulate(circuit, cycles(1, on_s=2.0, off_s=2.0), np.linspace(0.0, 4.5, 91))
        >>> shown.fan_at(0.0), shown.fan_at(2.4), shown.fan_at(4.5)
        ('grips', 'lets_go', 'grips')
    """
    clock = _clock(story, time_s, tolerance)
    drive = 2 + 2 * circuit.line_segments
    result, events, summary = np.zeros((len(clock), 4)), np.zeros((_EVENTS, 3)), np.zeros(4)
    status = kernels.compiled().run(
        circuit.vector(),
        circuit.line_segments,
        *_moves(circuit, story),
        tolerance,
        clock,
        np.array([0, 1, drive, drive + 1]),
        result,
        events,
        summary,
    )
    if status != solver.DONE:
        _refuse_failed(np.array([status]))
    ambient = circuit.ambient_absolute_pa
    return Simulation(
        circuit,
        clock,
        result[:, 0] - ambient,
        result[:, 1] - ambient,
        result[:, 2] - ambient,
        result[:, 3],
        story.told_at(clock),
        story.shut_at_time(clock),
        tuple(
            PistonEvent(float(when), _WHAT[int(kind)], float(pressure) - ambient)
            for when, kind, pressure in events[: min(_EVENTS, int(summary[3]))]
        ),
        float(summary[0]),
        float(summary[1]),
        int(summary[2]),
    )


def simulate_draws(
    circuit: Circuit,
    names: Sequence[str],
    draws: Series,
    story: Story,
    time_s: Series,
    tolerance: float = TOLERANCE,
    threads: int | None = None,
) -> Draws:
    """Run the same story for many draws of some of a circuit's numbers, on all processors.

    Args:
        circuit: The circuit, for all that is not drawn.
        names: Names of its numbers that are drawn, such as ``fill_conductance_m3_per_s_pa``.
        draws: Their values, a row for each draw, shape (draws, names) [SI].
        story: The story.
        time_s: Output times, rising, from 0 to the story's duration, shape (n,) [s].
        tolerance: As for :func:`simulate` [-].
        threads: Threads to use; all processors without it [-].

    Returns:
        The gauges of each draw.

    Raises:
        InputError: A name is no number of a circuit, or a draw lies outside its range.
        OutOfRange: The equations could not be solved for some of the draws.
    """
    clock = _clock(story, time_s, tolerance)
    many = _vectors(circuit, names, draws)
    moves, drive = _moves(circuit, story), 2 + 2 * circuit.line_segments
    results, summaries = np.empty((len(many), len(clock), 2)), np.zeros((len(many), 4))
    statuses = np.zeros(len(many), dtype=np.int64)
    run_many = kernels.compiled().run_many

    def run_part(part: slice) -> None:
        run_many(
            many[part],
            circuit.line_segments,
            *moves,
            tolerance,
            clock,
            np.array([1, drive]),
            results[part],
            summaries[part],
            statuses[part],
        )

    workers = max(1, min(threads or os.cpu_count() or 1, len(many)))
    size = -(-len(many) // (4 * workers)) if workers > 1 else max(1, len(many))
    parts = [slice(first, first + size) for first in range(0, len(many), size)]
    if workers == 1:
        for part in parts:
            run_part(part)
    else:
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(run_part, parts))
    _refuse_failed(statuses)
    results -= many[:, equations.AMBIENT, None, None]
    return Draws(results[:, :, 0], results[:, :, 1], summaries[:, 0])


def warm() -> None:
    """Compile the kernels into the cache, so that no later run waits for it."""
    circuit = Circuit(
        "spring",
        "nc",
        0.09,
        1e-8,
        4e-9,
        8e-9,
        2.5,
        6e-3,
        3e-8,
        1e-4,
        0.02,
        2.5e-3,
        3.5,
        9e3,
        1e6,
        1e3,
        1e2,
        1e2,
        8e5,
    )
    story, clock = cycles(1, on_s=0.01, off_s=0.01, first_s=0.01), np.linspace(0.0, 0.03, 4)
    simulate(circuit, story, clock)
    simulate_draws(circuit, ["exponent"], np.array([[1.0], [1.4]]), story, clock, threads=1)


def _moves(circuit: Circuit, story: Story) -> tuple[Series, Series, Series, bool, float, float]:
    times, targets = edges(circuit, story)
    shuts = np.array([time for span in story.shut for time in span])
    return times, targets, shuts, story.shut_at == "valve", -story.settle_s, story.duration_s


def _vectors(circuit: Circuit, names: Sequence[str], draws: Series) -> Series:
    order = list(BOUNDS)
    unknown = [name for name in names if name not in BOUNDS]
    if unknown or np.ndim(draws) != 2 or np.shape(draws)[1] != len(names):
        raise InputError(
            Message(
                "{given} cannot be drawn with {columns} columns; give a column for each of: {allowed}",
                {
                    "given": listing(tuple(text(name) for name in names)),
                    "columns": count(np.shape(draws)[-1] if np.ndim(draws) else 0),
                    "allowed": listing(tuple(text(name) for name in order)),
                },
            )
        )
    bounds: list[Bound] = []
    for i, name in enumerate(names):
        label, least, most, dimension = BOUNDS[name]
        ends = (float(np.min(draws[:, i])), float(np.max(draws[:, i])))
        bounds += [Bound(label, end, least, most, dimension) for end in ends]
    check_part("drawn circuits", bounds)
    many = np.tile(circuit.vector(), (len(draws), 1))
    many[:, [order.index(name) for name in names]] = draws
    return many


def _clock(story: Story, time_s: Series, tolerance: float) -> Series:
    clock = np.ascontiguousarray(time_s, dtype=np.float64)
    if not 1e-12 <= tolerance <= 1e-2:
        check_part("simulation", [Bound("tolerance", tolerance, 1e-12, 1e-2)])
    if clock.ndim == 1 and clock.size and bool((clock[1:] > clock[:-1]).all()):
        if clock[0] >= 0.0 and clock[-1] <= story.duration_s:
            return clock
        ends = [Bound("first output time", float(clock[0]), 0.0, story.duration_s, "time")]
        ends.append(Bound("last output time", float(clock[-1]), 0.0, story.duration_s, "time"))
        check_part("simulation", ends)
    raise InputError(
        Message(
            "the {given} output times do not rise from one to the next; give at least one, in order",
            {"given": count(clock.size)},
        )
    )


def _refuse_failed(statuses: NDArray[np.int64]) -> None:
    failed = int(np.count_nonzero(statuses))
    if failed:
        raise OutOfRange(
            Message(
                "{failed} of {all} circuits could not be simulated: a volume, conductance or mass is too "
                "small beside the others; give numbers nearer to a sound truck's",
                {"failed": count(failed), "all": count(statuses.size)},
            )
        )
