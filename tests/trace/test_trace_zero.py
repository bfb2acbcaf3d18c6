"""Gauges off zero, told apart from air left in the drive; and what is lost while shut off."""

from __future__ import annotations

import numpy as np
import pytest

from fanwright.evidence.trace import examine
from fanwright.evidence.trace.reader import Oddities, RawTrace

PSI = 6894.757293168


def raw(rows, command: bool = True, supply: bool = True, shut=None) -> RawTrace:
    time, inlet, drive, sent = rows
    pressure = inlet * PSI if supply else None
    return RawTrace(
        "made",
        "",
        time[1] - time[0],
        time,
        pressure,
        drive * PSI,
        sent if command else None,
        shut,
        Oddities(),
        (),
    )


@pytest.mark.parametrize("command", [True, False])
@pytest.mark.parametrize("offset", [3.0, -8.0, 6.0, -1.5])
def test_a_drive_gauge_off_zero_is_put_right(made, offset, command):
    story = made.Story(drive_offset=offset)
    truth = story.true_times(without_command=not command)
    result = examine(raw(story.rows(100, 0.3, 1), command))
    assert result.exhibit.zero.drive_pa / PSI == pytest.approx(offset, abs=0.15)
    assert result.exhibit.zero.supply_pa == 0.0
    assert result.fills.median_s == pytest.approx(truth[0][0], abs=0.02)
    assert result.vents.median_s == pytest.approx(truth[1][0], abs=0.03)
    assert any("taken off" in note.template for note in result.evidence.notes)


def test_both_gauges_below_zero_are_put_right_but_the_rest_pressure_is_not_known(made):
    story = made.Story(drive_offset=-4.0, supply_offset=-4.0)
    result = examine(raw(story.rows(100, 0.3, 1)))
    assert result.exhibit.zero.supply_pa / PSI == pytest.approx(-4.0, abs=0.2)
    assert result.levels.supply_at_rest.value_pa / PSI == pytest.approx(118.0, abs=0.3)
    rest = next(reading for reading in result.evidence.readings if reading.test == "drive_gauge_air_off")
    assert rest.cannot_judge is not None


@pytest.mark.parametrize("at_the_end", [True, False])
def test_both_gauges_above_zero_are_put_right_where_the_inlet_is_empty_too(made, at_the_end):
    time, supply, drive, sent = made.Story(drive_offset=3.0, supply_offset=2.0, end=12.0).rows(100, 0.3, 1)
    empty = time > 10.0 if at_the_end else time < 1.0
    supply[empty] -= 118.0
    result = examine(raw((time, supply, drive, sent)))
    assert result.exhibit.zero.drive_pa / PSI == pytest.approx(3.0, abs=0.2)
    assert result.exhibit.zero.supply_pa / PSI == pytest.approx(2.0, abs=0.2)
    assert result.vents.median_s == pytest.approx(made.Story().true_times()[1][0], abs=0.03)


def test_air_left_in_the_drive_is_not_taken_for_a_gauge_off_zero(made):
    story = made.Story(vent=made.exponential_vent(0.15, rest=4.0), end=12.0)
    result = examine(raw(story.rows(100, 0.3, 1)))
    assert result.exhibit.zero.drive_pa == 0.0
    assert result.levels.drive_rest.value_pa / PSI == pytest.approx(4.0, abs=0.2)
    vent = next(reading for reading in result.evidence.readings if reading.test == "vent_time")
    assert vent.outcome == "over_3_s_or_never"
    assert vent.cannot_judge is None


@pytest.mark.parametrize("supply", [True, False])
def test_where_the_two_cannot_be_told_apart_nothing_is_corrected_and_that_is_said(made, supply):
    story = made.Story(drive_offset=3.0, supply_offset=3.0, end=12.0)
    result = examine(raw(story.rows(100, 0.3, 1), supply=supply))
    assert result.exhibit.zero.drive_pa == 0.0
    assert any("cannot be told apart" in message.template for message in result.evidence.cannot_tell)
    vent = next(reading for reading in result.evidence.readings if reading.test == "vent_time")
    assert vent.cannot_judge is not None


def shut_off(
    loss_psi_per_min: float, held_s: float, noise: float = 0.2, sag: float = 0.0, tau: float | None = None
):
    rng = np.random.default_rng(5)
    time = np.arange(0.0, 6.0 + held_s + 5.0, 0.02)
    shut = (time >= 6.0) & (time < 6.0 + held_s)
    since = np.maximum(time - 6.0, 0.0)
    drive = np.where(time < 2.0, 0.0, 118.0 * (1.0 - np.exp(-np.maximum(time - 2.0, 0.0) / 0.3)))
    falling = 118.0 * np.exp(-since / tau) if tau else 118.0 - loss_psi_per_min * since / 60.0
    drive = np.where(time >= 6.0, falling - sag * (1.0 - np.exp(-since / 8.0)), drive)
    noisy = drive + rng.normal(0.0, noise, time.size)
    return time, np.full(time.size, 118.0) + rng.normal(0.0, noise, time.size), noisy, time >= 2.0, shut


@pytest.mark.parametrize("loss", [0.0, 1.5, 10.0, 40.0])
def test_hold_loss_is_the_slope_after_settling(loss):
    *rows, shut = shut_off(loss, 70.0, sag=3.0)
    held = examine(raw(rows, shut=shut)).levels.hold
    assert held.loss_pa_per_s * 60.0 / PSI == pytest.approx(loss, abs=0.4)
    assert not held.warm
    assert held.lost_sd_pa / PSI < 0.1


def test_a_short_hold_says_that_cooling_air_may_look_like_a_leak():
    *rows, shut = shut_off(3.0, 20.0)
    result = examine(raw(rows, shut=shut))
    assert result.levels.hold.warm
    assert result.levels.hold.loss_pa_per_s * 60.0 / PSI == pytest.approx(3.0, abs=0.6)
    assert any("cooling" in message.template for message in result.evidence.cannot_tell)


def test_a_drive_that_empties_in_a_second_while_shut_off_lost_all_it_had():
    *rows, shut = shut_off(0.0, 30.0, tau=0.4)
    held = examine(raw(rows, shut=shut)).levels.hold
    assert held.lost_in_60_s_pa / PSI == pytest.approx(118.0, abs=6.0)
    assert held.loss_pa_per_s / PSI > 100.0


def test_hold_loss_only_where_shut_off():
    *rows, _ = shut_off(10.0, 70.0)
    result = examine(raw(rows))
    assert result.levels.hold is None
    assert not [reading for reading in result.evidence.readings if reading.test == "hold_at_drive"]
    assert any("drive shut off" in message.template for message in result.evidence.cannot_tell)


def test_a_hold_of_two_seconds_is_too_short_and_that_is_said():
    *rows, shut = shut_off(3.0, 2.0)
    result = examine(raw(rows, shut=shut))
    assert result.levels.hold is None
    assert any("long enough" in message.template for message in result.evidence.cannot_tell)
