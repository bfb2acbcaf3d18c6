"""Intervals hold what they promise, changes are found and dated, and hardly any are made up."""

from __future__ import annotations

import numpy as np
import pytest

from fanwright.fleet.changes import find_changes
from fanwright.fleet.intervals import Interval, draws_of, least, ratio, total
from fanwright.fleet.outliers import find_outliers


@pytest.mark.parametrize(("days", "lowest"), [(10, 0.70), (30, 0.75)])
def test_eight_in_ten_intervals_hold_the_truth(days: int, lowest: float) -> None:
    """Days of unlike length and share, the share varying as days do; 400 months drawn."""
    chance = np.random.default_rng(3)
    truth, held, held_total = 0.08, 0, 0
    for _ in range(400):
        known = chance.uniform(5e3, 4e4, days)
        on = known * truth * chance.gamma(6.0, 1.0 / 6.0, days)
        share, sum_on = ratio(on, known, draws_of(days)), total(on, draws_of(days))
        assert share is not None
        assert share.low is not None
        assert share.high is not None
        held += share.low <= truth <= share.high
        assert sum_on.low is not None
        assert sum_on.high is not None
        held_total += sum_on.low <= truth * 2.25e4 * days <= sum_on.high
    assert lowest < held / 400 < 0.87
    assert lowest - 0.02 < held_total / 400 < 0.87


def test_the_same_days_give_the_same_interval() -> None:
    each = np.arange(1.0, 13.0)
    draws_of.cache_clear()
    first = ratio(each, each[::-1].copy(), draws_of(12))
    draws_of.cache_clear()
    assert first == ratio(each, each[::-1].copy(), draws_of(12))


def test_few_days_give_no_interval_and_no_known_time_no_value() -> None:
    few = ratio(np.ones(4), np.full(4, 10.0), draws_of(4))
    assert few == Interval(0.1)
    assert ratio(np.zeros(6), np.zeros(6), draws_of(6)) is None


def test_the_shortest_run_is_known_as_finely_as_its_ends() -> None:
    """Two ends that lie anywhere within a second each: the middle 80 % of the triangle, drawn."""
    chance = np.random.default_rng(1)
    drawn = chance.uniform(-0.5, 0.5, 200_000) + chance.uniform(-0.5, 0.5, 200_000)
    found = least(np.array([90.0, 61.0]), np.full(2, np.sqrt(2.0 / 12.0)))
    assert found is not None
    assert found.value == 61.0
    assert found.high is not None
    assert found.high - 61.0 == pytest.approx(np.percentile(drawn, 90.0), abs=0.005)
    assert least(np.empty(0), np.empty(0)) is None


# --- Changes ------------------------------------------------------------------------------------------------


def days_with_change(chance: np.random.Generator, at: int, factor: float, days: int = 60) -> np.ndarray:
    level = np.where(np.arange(days) < at, 0.08, 0.08 * factor)
    return np.asarray(level * chance.gamma(12.0, 1.0 / 12.0, days))


def test_hardly_a_change_is_made_up() -> None:
    """60 fleets of 10 rows of days without any change: about 1 fleet in 20 may raise an alarm."""
    chance = np.random.default_rng(5)
    day, weight = np.arange(60), np.full(60, 3e4)
    alarms = sum(
        any(find_changes(day, days_with_change(chance, 60, 1.0), weight, 10) for _ in range(10))
        for _ in range(60)
    )
    assert alarms <= 8  # binomial(60, 0.05): 8 or fewer with a chance of 0.996


def test_a_change_is_found_and_its_date_held() -> None:
    """The interval of dates holds the true first day of the new way in about eight of ten, and is short."""
    chance = np.random.default_rng(6)
    weight = np.full(60, 3e4)
    found = held = 0
    wide = []
    for _ in range(40):
        at = int(chance.integers(15, 45))
        changes = find_changes(np.arange(100, 160), days_with_change(chance, at, 2.0), weight, 40)
        found += bool(changes)
        held += any(one.first_day <= 100 + at <= one.last_day for one in changes)
        wide += [one.last_day - one.first_day + 1 for one in changes]
    assert found >= 38
    assert 0.70 * found <= held
    assert np.mean(wide) < 5.0


def test_a_day_without_recording_widens_the_date() -> None:
    """Nothing is known of days 30 to 36, so the change can have come in any of them."""
    chance = np.random.default_rng(8)
    value = days_with_change(chance, 30, 4.0)
    seen = np.r_[0:30, 37:60]
    (change,) = find_changes(seen, value[seen], np.full(len(seen), 3e4), 2)
    assert (change.first_day, change.last_day) == (30, 37)
    assert change.before < change.after


def test_two_changes_are_both_found() -> None:
    chance = np.random.default_rng(9)
    value = days_with_change(chance, 30, 3.0, 90)
    value[60:] /= 3.0
    changes = find_changes(np.arange(90), value, np.full(90, 3e4), 2)
    assert [one.after > one.before for one in changes] == [True, False]


def test_days_all_alike_and_few_days_have_no_change() -> None:
    assert find_changes(np.arange(30), np.full(30, 0.1), np.full(30, 1e4), 1) == ()
    assert find_changes(np.arange(9), np.r_[np.zeros(4), np.ones(5)], np.full(9, 1e4), 1) == ()


# --- Outliers -----------------------------------------------------------------------------------------------


def values(*shares: float) -> list[Interval | None]:
    return [Interval(share, sd=0.05 * share) for share in shares]


def test_a_truck_far_from_the_others_is_called_out_and_hides_no_other() -> None:
    found = find_outliers("fan_share", values(0.08, 0.09, 0.07, 0.085, 0.075, 0.4, 0.5, 0.01), 0.005)
    apart = {place: one.more for place, one in found.items() if one is not None}
    assert apart == {5: True, 6: True, 7: False}
    one = found[5]
    assert one is not None
    assert one.of == 7
    assert one.peers.value == pytest.approx(0.08, rel=0.1)


def test_with_few_others_nothing_is_said() -> None:
    assert find_outliers("fan_share", values(0.08, 0.09, 0.07, 0.5), 0.005) == {}
    assert set(find_outliers("fan_share", [*values(0.08, 0.09, 0.07, 0.08, 0.5), None], 0.005)) == set(
        range(5)
    )


def test_an_unsure_truck_is_not_called_out() -> None:
    unsure = [*values(0.08, 0.09, 0.07, 0.085, 0.075), Interval(0.16, sd=0.1)]
    assert find_outliers("fan_share", unsure, 0.005)[5] is None


def test_fleets_of_equals_raise_few_alarms() -> None:
    """12 trucks that differ by chance alone, 200 months: few of 2 400 are called out."""
    chance = np.random.default_rng(4)
    alarms = 0
    for _ in range(200):
        shares = 0.08 * np.exp(chance.normal(0.0, 0.2, 12))
        found = find_outliers("fan_share", [Interval(float(one), sd=0.0) for one in shares], 0.005)
        alarms += sum(one is not None for one in found.values())
    assert alarms < 60
