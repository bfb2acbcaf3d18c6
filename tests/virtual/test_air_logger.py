"""What the logger writes: columns, rate, noise, rounding, zero, seed; and what stories and runs refuse."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fanwright.errors import FileError, InputError
from fanwright.truck.loader import presets
from fanwright.virtual.air import Circuit, Story, circuit_of, cycles, simulate, simulate_draws
from fanwright.virtual.logger import Logger, csv_text, simulate_trace, write_csv
from fanwright.virtual.story import edges

PSI = 6894.757293168


def sound() -> Circuit:
    return circuit_of(presets()["line-haul spring-on"], 120 * PSI)


STORY = cycles(1, on_s=2.0, off_s=2.0)


def test_columns_and_rows(tmp_path: Path) -> None:
    target = tmp_path / "trace.csv"
    write_csv(simulate_trace(sound(), STORY, Logger(rate_hz=50.0)), target)
    rows = list(csv.DictReader(target.read_text(encoding="utf-8").splitlines()))
    assert list(rows[0]) == ["time [s]", "supply [psi]", "drive [psi]", "command"]
    assert len(rows) == 226
    assert {row["command"] for row in rows} == {"0", "1"}
    assert float(rows[25]["time [s]"]) == 0.5
    assert rows[25]["command"] == "1"
    assert rows[24]["command"] == "0"
    assert list(tmp_path.iterdir()) == [target]


def test_shut_column_only_where_a_shut_off_was_used() -> None:
    story = Story(3.0, ((0.5, 3.0),), shut=((2.0, 3.0),))
    text = csv_text(simulate_trace(sound(), story, Logger(rate_hz=20.0)))
    assert text.splitlines()[0].endswith(",command,shut")
    assert text.splitlines()[-1].endswith(",0,1") is False
    assert text.splitlines()[-2].endswith(",1,1")


def test_same_seed_same_bytes() -> None:
    first, again, other = (csv_text(simulate_trace(sound(), STORY, Logger(seed=seed))) for seed in (3, 3, 4))
    assert first == again != other


def test_noise_zero_and_rounding() -> None:
    logger = Logger(rate_hz=1000.0, noise_sd_pa=0.5 * PSI, division_pa=0.0, drive_zero_pa=3 * PSI, seed=1)
    trace = simulate_trace(sound(), STORY, logger)
    off = trace.drive_gauge_pa - trace.truth.drive_gauge_pa
    assert np.mean(off) / PSI == pytest.approx(3.0, abs=0.05)
    assert np.std(off) / PSI == pytest.approx(0.5, rel=0.05)
    assert np.mean(trace.supply_gauge_pa - trace.truth.inlet_gauge_pa) / PSI == pytest.approx(0.0, abs=0.05)
    coarse = simulate_trace(sound(), STORY, replace(logger, division_pa=PSI))
    assert np.allclose(np.round(coarse.drive_gauge_pa / PSI), coarse.drive_gauge_pa / PSI)


def test_a_file_that_cannot_be_written_is_said_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(FileError) as caught:
        write_csv(simulate_trace(sound(), STORY), tmp_path / "none" / "trace.csv")
    assert len(caught.value.messages) == 1


def test_logger_refuses_all_its_mistakes_at_once() -> None:
    with pytest.raises(InputError) as caught:
        Logger(rate_hz=0.0, noise_sd_pa=-1.0, division_pa=float("nan"))
    assert len(caught.value.messages) == 3


@pytest.mark.parametrize(
    "story",
    [
        {"duration_s": 0.0},
        {"duration_s": float("nan")},
        {"duration_s": 1.0, "settle_s": -1.0},
        {"duration_s": 1.0, "sent": ((0.5, 0.4),)},
        {"duration_s": 1.0, "sent": ((0.5, 0.8), (0.7, 0.9))},
        {"duration_s": 1.0, "shut_at": "tank"},
    ],
)
def test_story_refuses(story: dict[str, object]) -> None:
    with pytest.raises(InputError):
        Story(**story)


def test_story_that_begins_with_air_sent() -> None:
    story = cycles(1, on_s=1.0, off_s=1.0, begins_sent=True)
    shown = simulate(sound(), story, np.array([0.0, 1.4, 2.4, 3.4]))
    assert list(np.round(shown.drive_gauge_pa / PSI) > 90) == [True, False, True, False]
    times, targets = edges(sound(), story)
    assert list(targets) == [1.0, 0.0, 1.0, 0.0]
    assert times == pytest.approx([0.5, 1.5, 2.5])


def test_a_pulse_shorter_than_the_valve_takes_hardly_moves_anything() -> None:
    slow = replace(sound(), switch_time_s=0.5)
    story = Story(2.0, ((0.5, 0.51),))
    shown = simulate(slow, story, np.linspace(0.0, 2.0, 201))
    assert shown.drive_gauge_pa.max() < 3 * PSI
    uneven = replace(
        sound(), send_delay_s=0.4, cut_delay_s=0.0
    )  # the cut overtakes the send: nothing happens
    still = simulate(uneven, Story(2.0, ((0.5, 0.6),)), np.linspace(0.0, 2.0, 201))
    assert still.drive_gauge_pa.max() < 1.0


def test_circuit_refuses_all_its_mistakes_at_once() -> None:
    with pytest.raises(InputError) as caught:
        replace(sound(), exponent=1.5, stroke_m=-1.0, least_opening=0.8, most_opening=0.2)
    assert len(caught.value.messages) == 3
    with pytest.raises(InputError):
        replace(sound(), fill_conductance_m3_per_s_pa=float("nan"))


@pytest.mark.parametrize("times", [[], [0.0, 0.0], [1.0, 0.5], [-1.0], [5.0], [float("nan")]])
def test_output_times_are_checked(times: list[float]) -> None:
    with pytest.raises(InputError):
        simulate(sound(), STORY, np.array(times))


def test_draws_are_checked() -> None:
    clock = np.array([1.0])
    with pytest.raises(InputError):
        simulate_draws(sound(), ["no_such_number"], np.ones((2, 1)), STORY, clock)
    with pytest.raises(InputError):
        simulate_draws(sound(), ["exponent"], np.ones((2, 2)), STORY, clock)
    with pytest.raises(InputError):
        simulate_draws(sound(), ["exponent"], np.array([[1.1], [2.0]]), STORY, clock)
