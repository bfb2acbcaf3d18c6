"""What a pressure logger would have written of a simulated circuit."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fanwright.errors import FileError
from fanwright.quantities import units
from fanwright.truck.checks import Bound, check_part
from fanwright.virtual.air import Simulation, simulate
from fanwright.virtual.circuit import Circuit
from fanwright.virtual.story import Story
from fanwright.words import Message, text

Series = NDArray[np.float64]
PSI = units()["psi"].factor


@dataclass(frozen=True)
class Logger:
    """A logger with two gauges.

    Args:
        rate_hz: Rows in a second [Hz].
        noise_sd_pa: Standard deviation of the noise of each row [Pa].
        division_pa: Step the values are rounded to; 0 for none [Pa].
        supply_zero_pa: What the supply gauge shows of nothing, gauge [Pa].
        drive_zero_pa: What the drive gauge shows of nothing, gauge [Pa].
        seed: Seed of the noise; the same seed gives the same trace.

    Raises:
        InputError: One message for each number outside its range.
    """

    rate_hz: float = 100.0
    noise_sd_pa: float = 0.2 * PSI
    division_pa: float = 0.1 * PSI
    supply_zero_pa: float = 0.0
    drive_zero_pa: float = 0.0
    seed: int = 0

    def __post_init__(self) -> None:
        check_part(
            "logger",
            [
                Bound("rate", self.rate_hz, 0.1, 1e5, "frequency"),
                Bound("noise", self.noise_sd_pa, 0.0, 1e5, "pressure"),
                Bound("division", self.division_pa, 0.0, 1e5, "pressure"),
                Bound("zero of the supply gauge", self.supply_zero_pa, -2e5, 2e5, "pressure"),
                Bound("zero of the drive gauge", self.drive_zero_pa, -2e5, 2e5, "pressure"),
                Bound("seed", self.seed, 0, 2**63 - 1),
            ],
        )


@dataclass(frozen=True, eq=False)
class LoggedTrace:
    """A trace as logged; arrays have the shape (n,).

    Args:
        time_s: Times [s].
        supply_gauge_pa: At the valve inlet as shown, gauge [Pa].
        drive_gauge_pa: At the drive as shown, gauge [Pa].
        air_sent: Whether air was told to be sent.
        shut: Whether the shut-off was shut, or None when it never was.
        truth: The simulation behind it.
    """

    time_s: Series
    supply_gauge_pa: Series
    drive_gauge_pa: Series
    air_sent: NDArray[np.bool_]
    shut: NDArray[np.bool_] | None
    truth: Simulation


def simulate_trace(circuit: Circuit, story: Story, logger: Logger | None = None) -> LoggedTrace:
    """Simulate a circuit and log it.

    Args:
        circuit: The circuit, with its faults.
        story: What is done to it.
        logger: How it is logged; without one, 100 Hz, 0.2 psi of noise, 0.1 psi steps.

    Returns:
        The trace, the same each time for the same seed.

    Raises:
        OutOfRange: The equations could not be solved for these numbers.

    Example:
        >>> from fanwright.truck.loader import presets
        >>> from fanwright.virtual.air import circuit_of, cycles
        >>> circuit = circuit_of(presets()["line-haul spring-on"])
        >>> trace = simulate_trace(circuit, cycles(1, on_s=2.0, off_s=2.0), Logger(rate_hz=50.0, seed=7))
        >>> len(trace.time_s)
        226
    """
    logger = logger or Logger()
    rows = int(story.duration_s * logger.rate_hz + 1e-9) + 1
    clock = np.minimum(np.arange(rows) / logger.rate_hz, story.duration_s)
    truth = simulate(circuit, story, clock)
    chance = np.random.default_rng(logger.seed)
    return LoggedTrace(
        clock,
        _shown(truth.inlet_gauge_pa + logger.supply_zero_pa, logger, chance),
        _shown(truth.drive_gauge_pa + logger.drive_zero_pa, logger, chance),
        truth.air_sent,
        truth.shut if story.shut else None,
        truth,
    )


def csv_text(trace: LoggedTrace) -> str:
    """Give a trace as comma-separated text, gauges in psi.

    Args:
        trace: The trace.

    Returns:
        The text, with a header line ``time [s],supply [psi],drive [psi],command`` and perhaps ``,shut``.
    """
    columns = [trace.time_s, trace.supply_gauge_pa / PSI, trace.drive_gauge_pa / PSI, trace.air_sent]
    header, forms = "time [s],supply [psi],drive [psi],command", ["%.5f", "%.3f", "%.3f", "%d"]
    if trace.shut is not None:
        columns.append(trace.shut)
        header, forms = header + ",shut", [*forms, "%d"]
    target = io.StringIO()
    np.savetxt(target, np.column_stack(columns), forms, ",", header=header, comments="")
    return target.getvalue().replace("-0.000,", "0.000,")


def write_csv(trace: LoggedTrace, path: Path) -> None:
    """Write a trace to a file, whole or not at all.

    Args:
        trace: The trace.
        path: Where to.

    Raises:
        FileError: The file cannot be written.
    """
    half = path.with_name(path.name + ".part")
    try:
        half.write_text(csv_text(trace), encoding="utf-8")
        half.replace(path)
    except OSError as trouble:
        half.unlink(missing_ok=True)
        raise FileError(
            Message(
                "{file} cannot be written: {why}; choose a folder that exists and may be written to",
                {"file": text(path), "why": text(trouble.strerror or trouble)},
            )
        ) from trouble


def _shown(pressure: Series, logger: Logger, chance: np.random.Generator) -> Series:
    noisy = pressure + logger.noise_sd_pa * chance.standard_normal(pressure.shape)
    if logger.division_pa <= 0.0:
        return noisy
    rounded: Series = np.round(noisy / logger.division_pa) * logger.division_pa
    return rounded
