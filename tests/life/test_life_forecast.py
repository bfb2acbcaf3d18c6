"""The forecast as a shop meets it: wide from one reading, narrower with many, changes, new facings."""

from __future__ import annotations

import datetime as dt
import math

import pytest

from fanwright.life import Forecast, History, Thickness, forecast_fleet
from fanwright.report.say import say

INCH, MILE = 0.0254, 1609.344
SD_M = 0.003 * INCH


def truck(
    unit: str,
    inches: list[float],
    step_mi: float = 10_000.0,
    group: tuple[str, ...] = (),
    fresh: tuple[int, ...] = (),
) -> History:
    day = dt.date(2025, 1, 1)
    rows = tuple(
        Thickness(
            day + dt.timedelta(days=90 * n),
            1e5 + n * step_mi * MILE,
            value * INCH,
            SD_M,
            n in fresh,
            f"row {n}",
        )
        for n, value in enumerate(inches)
    )
    return History(unit, rows, group=group)


def one(history: History) -> Forecast:
    return forecast_fleet([history])[0]


def width(forecast: Forecast) -> float:
    assert forecast.remaining is not None
    return math.log(forecast.remaining.p90 / forecast.remaining.p10)


def test_one_reading_is_wide_and_more_readings_narrow_it() -> None:
    inches = [0.330 - 0.004 * n for n in range(8)]
    widths = [width(one(truck("7", inches[: n + 1]))) for n in (0, 2, 4, 7)]
    assert widths[0] > 1.5
    assert widths == sorted(widths, reverse=True)


def test_many_readings_give_the_truck_its_own_rate() -> None:
    found = one(truck("7", [0.330 - 0.006 * n for n in range(8)]))
    assert found.rate is not None
    own = 0.006 * INCH / (10_000 * MILE)
    assert found.rate.p10 < own < found.rate.p90
    assert found.rate.p50 == pytest.approx(own, rel=0.1)
    assert found.remaining is not None
    assert found.remaining.p50 == pytest.approx((0.288 - 0.25) / 0.006 * 10_000 * MILE, rel=0.2)


def test_a_fleet_helps_a_truck_with_one_reading() -> None:
    """Ten trucks that all wear fast make the eleventh a fast one; alone it keeps the assumptions."""
    fleet = [truck(str(n), [0.335 - (0.010 + 0.0005 * n) * k for k in range(6)]) for n in range(10)]
    lonely = truck("99", [0.310])
    alone, helped = one(lonely).remaining, forecast_fleet([*fleet, lonely])[-1].remaining
    assert alone is not None
    assert helped is not None
    assert helped.p50 < 0.6 * alone.p50
    assert helped.p90 / helped.p10 < alone.p90 / alone.p10


def test_routes_are_kept_apart() -> None:
    fast = [truck(f"c{n}", [0.335 - 0.012 * k for k in range(5)], group=("town",)) for n in range(8)]
    slow = [truck(f"a{n}", [0.335 - 0.002 * k for k in range(5)], group=("loop",)) for n in range(8)]
    pair = [truck("x", [0.31], group=("town",)), truck("y", [0.31], group=("loop",))]
    *_, town, loop = forecast_fleet([*fast, *slow, *pair])
    assert town.remaining is not None
    assert loop.remaining is not None
    assert town.remaining.p50 < 0.4 * loop.remaining.p50


def test_a_change_of_rate_is_found_and_dated_between_readings() -> None:
    inches = [0.340, 0.338, 0.336, 0.334, 0.316, 0.298, 0.280]
    found = one(truck("204", inches)).change
    assert found is not None
    assert found.chance > 0.7
    assert found.ratio > 3.0
    readings = truck("204", inches).readings
    assert found.after_date is not None
    assert found.before_date is not None
    assert readings[2].date is not None
    assert readings[4].date is not None
    assert readings[2].date <= found.after_date < found.before_date <= readings[4].date  # a span, no day


def test_a_steady_truck_has_no_change() -> None:
    assert one(truck("201", [0.330 - 0.004 * n for n in range(8)])).change is None


def test_a_replaced_facing_starts_anew_and_keeps_the_rate() -> None:
    worn = [0.300, 0.290, 0.280, 0.270, 0.260, 0.344, 0.334]
    found = one(truck("7", worn, fresh=(5,)))
    assert found.rate is not None
    assert found.rate.p50 == pytest.approx(0.010 * INCH / (10_000 * MILE), rel=0.12)
    assert found.thickness_m is not None
    assert found.thickness_m.p50 == pytest.approx(0.334 * INCH, abs=SD_M)
    unwritten = one(truck("7", worn))
    assert unwritten.rate is not None
    assert unwritten.rate.p50 == pytest.approx(found.rate.p50, rel=1e-9)


def test_chance_of_the_limit_grows_with_the_way_ahead_and_is_never_certain() -> None:
    history = truck("7", [0.300 - 0.006 * n for n in range(6)])
    chances = [
        forecast_fleet([history], miles * MILE)[0].chance_at_limit
        for miles in (1, 10_000, 33_000, 60_000, 9e5)
    ]
    assert all(chance is not None for chance in chances)
    assert chances == sorted(chances, key=float)  # type: ignore[arg-type]
    assert 0.0 < float(chances[0] or 0.0) < 0.01
    assert 0.99 < float(chances[-1] or 0.0) < 1.0


def test_at_its_limit_already() -> None:
    found = one(truck("7", [0.262, 0.255, 0.245]))
    assert found.remaining is not None
    assert found.remaining.p50 == 0.0
    assert any("limit" in say(note) for note in found.notes)


def test_no_wear_seen_is_said() -> None:
    assert any("no wear is seen" in say(note) for note in one(truck("7", [0.343, 0.3425, 0.344])).notes)


def test_nothing_usable_says_so() -> None:
    found = one(truck("7", [7.6]))
    assert found.remaining is None
    assert found.chance_at_limit is None
    assert len(found.history.set_aside) == 1
    assert "nothing is said" in say(found.basis)
    assert forecast_fleet([]) == ()


def test_days_follow_from_the_trucks_own_pace() -> None:
    found = one(truck("7", [0.330 - 0.006 * n for n in range(8)]))
    assert found.per_day == pytest.approx(10_000 * MILE / 90)
    assert found.remaining is not None
    due = found.due()
    last = found.history.readings[-1].date
    assert due is not None
    assert last is not None
    assert (due - last).days == round(found.remaining.p50 / found.per_day)


def test_hours_instead_of_distance() -> None:
    rows = tuple(
        Thickness(None, n * 400 * 3600.0, (0.335 - 0.006 * n) * INCH, SD_M, row=str(n)) for n in range(7)
    )
    found = forecast_fleet([History("7", rows, in_hours=True)], 17_000 * MILE)[0]
    assert found.ahead == pytest.approx(500 * 3600.0)  # at 34 mi in an engine hour
    assert found.remaining is not None
    assert found.remaining.p50 / 3600 == pytest.approx((0.299 - 0.25) / 0.006 * 400, rel=0.2)


def test_the_same_input_gives_the_same_answer() -> None:
    fleet = [truck(str(n), [0.33 - 0.003 * k for k in range(n % 5 + 1)]) for n in range(12)]
    assert [a.remaining for a in forecast_fleet(fleet)] == [a.remaining for a in forecast_fleet(fleet)]


def test_order_of_trucks_does_not_matter() -> None:
    fleet = [truck(str(n), [0.33 - 0.001 * (n + 1) * k for k in range(4)]) for n in range(8)]
    forward = {a.unit: a.remaining for a in forecast_fleet(fleet)}
    backward = {a.unit: a.remaining for a in forecast_fleet(fleet[::-1])}
    for unit, left in forward.items():
        other = backward[unit]
        assert left is not None
        assert other is not None
        assert left.p50 == pytest.approx(other.p50, rel=1e-6)
