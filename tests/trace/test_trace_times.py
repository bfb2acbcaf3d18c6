"""Fill and vent times against truth: crossings of noise-free curves found by bisection."""

from __future__ import annotations

import numpy as np
import pytest

from fanwright.evidence.trace import examine, read_trace
from fanwright.evidence.trace.reader import Oddities, RawTrace

PSI = 6894.757293168


def raw(rows, command: bool = True, supply: bool = True, shut=None) -> RawTrace:
    time, inlet, drive, sent = rows
    return RawTrace(
        "made",
        "",
        float(np.median(np.diff(time))),
        time,
        inlet * PSI if supply else None,
        drive * PSI,
        sent if command else None,
        shut,
        Oddities(),
        (),
    )


def errors(made, story, command: bool, rate: float, noise: float, seeds: int):
    """Errors [s] and errors in stated standard uncertainties, fills then vents."""
    true_fills, true_vents = story.true_times(without_command=not command)
    found: tuple[list[float], list[float]] = ([], [])
    scaled: tuple[list[float], list[float]] = ([], [])
    for seed in range(seeds):
        result = examine(raw(story.rows(rate, noise, seed), command))
        for kind, (times, truths) in enumerate(((result.fills, true_fills), (result.vents, true_vents))):
            assert len(times.arrived) == len(truths)
            for stroke, truth in zip(times.arrived, truths, strict=True):
                found[kind].append(stroke.duration_s - truth)
                scaled[kind].append((stroke.duration_s - truth) / stroke.sd_s)
    return found, scaled


@pytest.mark.parametrize("command", [True, False])
@pytest.mark.parametrize(
    ("rate", "noise", "seeds"), [(20, 0.2, 6), (20, 2.0, 12), (100, 0.7, 6), (500, 2.0, 4)]
)
@pytest.mark.parametrize("shape", ["exponential", "choked", "slow"])
def test_times_are_right_on_the_average_and_their_uncertainty_is_honest(
    made, command, rate, noise, seeds, shape
):
    story = {
        "exponential": made.Story(made.exponential_fill(118, 0.3), made.exponential_vent(0.18)),
        "choked": made.Story(made.choked_fill(120, 0.45), made.choked_vent(0.25)),
        "slow": made.Story(made.exponential_fill(118, 0.9), made.choked_vent(0.9)),
    }[shape]
    story.switches, story.end = (2.0, 6.0, 10.0, 14.0), 18.0
    found, scaled = errors(made, story, command, rate, noise, seeds)
    for kind in (0, 1):
        sd = float(np.std(found[kind])) if noise else 0.0
        assert abs(np.mean(found[kind])) < 0.012 + 0.75 * sd
        assert np.mean(np.abs(scaled[kind]) < 2.0) >= 0.8  # few seeds a case; the next test pools many
        assert np.max(np.abs(scaled[kind])) < 4.0


def test_coverage_over_many_seeds(made):
    inside = total = 0
    for number, (rate, noise) in enumerate([(20, 0.5), (50, 1.0), (100, 2.0), (200, 0.3), (1000, 1.0)]):
        story = made.Story(made.choked_fill(119, 0.5), made.choked_vent(0.3), switches=(1.5, 4.0), end=7.0)
        _, scaled = errors(made, story, number % 2 == 0, rate, noise, 12)
        values = np.abs(np.concatenate(scaled))
        inside, total = inside + int((values < 2.0).sum()), total + values.size
    assert inside / total >= 0.9


@pytest.mark.parametrize("unit", ["psi", "bar", "kPa"])
def test_a_change_of_unit_changes_nothing_beyond_rounding(made, tmp_path, unit):
    rows = made.Story().rows(100, 0.5, 3)
    plain = read_trace(made.write_csv(tmp_path / "plain.csv", rows, digits=9))
    other = read_trace(made.write_csv(tmp_path / "other.csv", rows, unit, digits=9))
    assert other.fills.median_s == pytest.approx(plain.fills.median_s, abs=1e-7)
    assert other.vents.median_s == pytest.approx(plain.vents.median_s, abs=1e-7)
    for one, two in zip(plain.evidence.readings, other.evidence.readings, strict=True):
        assert two.measured.si == pytest.approx(one.measured.si, rel=1e-6, abs=1e-2)
        assert two.measured.sd_si == pytest.approx(one.measured.sd_si, rel=1e-4)


def test_one_trace_gives_every_level(made):
    story = made.Story(dip=8.0, switches=(3.0, 7.0, 10.0, 14.0), end=18.0)
    result = examine(raw(story.rows(100, 0.3, 1)))
    levels = result.levels
    assert levels.supply_at_rest.value_pa / PSI == pytest.approx(118.0, abs=0.2)
    assert levels.supply_lowest.value_pa / PSI == pytest.approx(110.0, abs=0.6)
    assert levels.inlet_dip.value_pa / PSI == pytest.approx(8.0, abs=0.6)
    assert levels.drive_settled.value_pa / PSI == pytest.approx(118.0, abs=0.2)
    assert levels.drive_rest.value_pa / PSI == pytest.approx(0.0, abs=0.2)
    tests = [reading.test for reading in result.evidence.readings]
    assert tests == [
        "supply_gauge_still",
        "supply_gauge_cycling",
        "inlet_dip",
        "drive_gauge_air_on",
        "drive_gauge_air_off",
        "fill_time",
        "vent_time",
    ]
    assert all(
        reading.origin == "trace" and reading.cannot_judge is None for reading in result.evidence.readings
    )


def test_lowest_inlet_is_not_the_lowest_noise(made):
    found = []
    for seed in range(10):
        story = made.Story(dip=0.0, switches=(3.0, 6.0, 9.0, 12.0, 15.0, 18.0), end=21.0)
        found.append(examine(raw(story.rows(20, 2.0, seed))).levels.supply_lowest.value_pa / PSI - 118.0)
    assert abs(np.mean(found)) < 1.0


def test_repeated_cycles_count_and_the_worst_is_judged(made):
    story = made.Story(vent=made.choked_vent(0.25), switches=tuple(np.arange(2.0, 26.0, 3.0)), end=27.0)
    result = examine(raw(story.rows(100, 0.2, 1)))
    assert (result.fills.seen, result.vents.seen) == (4, 4)
    vent = next(reading for reading in result.evidence.readings if reading.test == "vent_time")
    assert vent.measured.si == max(vent.each_si) == result.vents.worst_s
    assert len(vent.each_si) == 4
    assert min(vent.each_si) <= result.vents.median_s <= max(vent.each_si)


def test_without_an_inlet_gauge_times_stand_but_the_fill_is_not_judged(made):
    result = examine(raw(made.Story().rows(100, 0.2, 1), supply=False))
    fill = next(reading for reading in result.evidence.readings if reading.test == "fill_time")
    assert result.fills.median_s == pytest.approx(made.Story().true_times()[0][0], abs=0.02)
    assert fill.cannot_judge is not None
    assert not fill.conditions


def test_a_fill_from_a_low_inlet_is_not_timed(made):
    story = made.Story(made.exponential_fill(104.0, 0.25), supply=104.0)
    result = examine(raw(story.rows(100, 0.2, 1)))
    assert result.fills.seen == 1
    assert result.fills.median_s is None
    assert len(result.fills.not_timed) == 1
    fill = next(reading for reading in result.evidence.readings if reading.test == "fill_time")
    assert fill.cannot_judge is not None
    assert fill.conditions["inlet_gauge_pa"] / PSI == pytest.approx(104.0, abs=0.3)
    assert fill.measured.si == pytest.approx(story.true_times()[0][0], abs=0.02)
    assert result.vents.median_s == pytest.approx(story.true_times()[1][0], abs=0.02)


@pytest.mark.parametrize("command", [True, False])
def test_a_drive_that_never_reaches_90_psi(made, command):
    story = made.Story(made.exponential_fill(71.0, 0.3), switches=(2.0, 7.0, 9.0, 14.0), end=17.0)
    result = examine(raw(story.rows(50, 0.3, 1), command))
    assert (result.fills.seen, result.vents.seen) == (2, 2)
    assert result.fills.median_s is None
    assert result.fills.worst_s is None
    assert len(result.vents.not_timed) == 2
    assert result.levels.drive_settled.value_pa / PSI == pytest.approx(71.0, abs=0.3)
    fill = next(reading for reading in result.evidence.readings if reading.test == "fill_time")
    assert fill.outcome == "over_3_s_or_never"
    assert fill.measured is None
    assert not [reading for reading in result.evidence.readings if reading.test == "vent_time"]


def test_a_drive_that_keeps_air_never_vents(made):
    story = made.Story(vent=made.exponential_vent(0.2, rest=14.0), switches=(2.0, 5.0), end=10.0)
    result = examine(raw(story.rows(50, 0.3, 1)))
    assert result.vents.seen == 1
    assert result.vents.worst_s is None
    vent = next(reading for reading in result.evidence.readings if reading.test == "vent_time")
    assert vent.outcome == "over_3_s_or_never"
    assert vent.cannot_judge is None
    assert result.levels.drive_rest.value_pa / PSI == pytest.approx(14.0, abs=0.3)
    assert result.exhibit.zero.drive_pa == 0.0


def test_one_that_never_arrived_leaves_no_worst_but_a_median(made):
    story = made.Story(switches=(2.0, 5.0, 8.0, 12.0), end=16.0)
    time, supply, drive, sent = story.rows(100, 0.2, 1)
    drive[time > 12.2] += 30.0 * (1.0 - np.exp(-(time[time > 12.2] - 12.2) / 0.1))
    result = examine(raw((time, supply, drive, sent)))
    assert result.vents.seen == 2
    assert result.vents.median_s is not None
    assert result.vents.worst_s is None


def test_a_trace_that_ends_in_mid_vent_says_so(made):
    story = made.Story(switches=(2.0, 5.0), end=5.3)
    result = examine(raw(story.rows(100, 0.2, 1)))
    assert result.vents.seen == 1
    assert result.vents.median_s is None
    assert not result.vents.never
    assert "trace ends" in result.vents.not_timed[0].not_timed.template


@pytest.mark.parametrize("command", [True, False])
def test_a_trace_that_begins_in_mid_fill_does_not_time_it(made, command):
    story = made.Story(begin_sent=True, begin_psi=40.0, switches=(3.0, 6.0, 9.0), end=12.0)
    result = examine(raw(story.rows(100, 0.2, 1), command))
    assert result.fills.seen == 1
    assert result.vents.seen == 2
    assert result.fills.arrived[0].start_s > 5.0


def test_a_trace_that_begins_with_air_sent(made):
    story = made.Story(begin_sent=True, begin_psi=118.0, switches=(3.0, 6.0, 9.0), end=12.0)
    result = examine(raw(story.rows(100, 0.2, 1)))
    assert (result.fills.seen, result.vents.seen) == (1, 2)
    assert result.levels.drive_settled.value_pa / PSI == pytest.approx(118.0, abs=0.3)


@pytest.mark.parametrize("command", [True, False])
def test_a_drive_that_never_moves(made, command):
    story = made.Story(made.exponential_fill(0.0, 0.3), switches=(2.0, 7.0), end=12.0, dip=0.0)
    result = examine(raw(story.rows(50, 0.3, 1), command))
    assert result.fills.median_s is None
    assert result.vents.median_s is None
    assert (result.fills.seen, result.vents.seen) == ((1, 1) if command else (0, 0))
    assert bool([r for r in result.evidence.readings if r.outcome == "over_3_s_or_never"]) == command


def test_single_spikes_do_not_make_strokes(made):
    time, supply, drive, sent = made.Story().rows(100, 0.2, 1)
    drive[[50, 170, 420, 700]] = [150.0, 0.0, 3.0, 95.0]
    clean = examine(raw(made.Story().rows(100, 0.2, 1), command=False))
    result = examine(raw((time, supply, drive, sent), command=False))
    assert (result.fills.seen, result.vents.seen) == (1, 1)
    assert result.vents.median_s == pytest.approx(clean.vents.median_s, abs=0.002)
    assert any("single rows" in note.template for note in result.evidence.notes)


def test_a_stuck_logger_is_not_taken_for_a_drive_that_stands_still(made):
    time, supply, drive, sent = made.Story().rows(100, 0.3, 1)
    held = time >= 5.02
    drive[held] = drive[np.argmax(held)]
    result = examine(raw((time, supply, drive, sent)))
    assert not result.vents.never
    assert "stuck" in result.vents.not_timed[0].not_timed.template


def test_an_inlet_that_falls_and_rises_is_no_stroke(made):
    time, supply, drive, sent = made.Story(switches=(2.0, 18.0), end=21.0).rows(50, 0.3, 1)
    sag = 25.0 * np.exp(-(((time - 10.0) / 3.0) ** 2))
    moved = (time > 4.0) & (time < 17.0)
    supply, drive = supply - sag, np.where(moved, drive - sag, drive)
    result = examine(raw((time, supply, drive, sent), command=False))
    assert (result.fills.seen, result.vents.seen) == (1, 1)


def test_slow_sampling_is_read_and_said(made):
    result = examine(raw(made.Story().rows(4, 0.2, 1)))
    fill = result.fills.arrived[0]
    assert fill.sd_s > 0.25 / 12**0.5
    assert any("finely" in message.template for message in result.evidence.cannot_tell)


@pytest.mark.parametrize(("hidden", "least"), [((0.3, 1.0), 0.0), ((5.05, 5.15), 0.02), ((5.5, 5.7), 0.04)])
def test_a_gap_over_a_crossing_widens_the_uncertainty(made, hidden, least):
    rows = made.Story().rows(100, 0.2, 1)
    keep = (rows[0] < hidden[0]) | (rows[0] > hidden[1])
    result = examine(raw(tuple(column[keep] for column in rows)))
    truth = made.Story().true_times()[1][0]
    vent = result.vents.arrived[0]
    assert abs(vent.duration_s - truth) < 2.0 * vent.sd_s
    assert least < vent.sd_s < least + 0.06
