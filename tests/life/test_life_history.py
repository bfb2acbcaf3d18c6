"""Readings in order: what is impossible is set aside and said, a grown facing is a new one."""

from __future__ import annotations

import datetime as dt

from hypothesis import given, settings
from hypothesis import strategies as st

from fanwright.life.history import History, Thickness, cleaned
from fanwright.report.say import say

INCH = 0.0254
MILE = 1609.344


def row(date: str, miles: float, inches: float, sd_in: float = 0.003, fresh: bool = False) -> Thickness:
    return Thickness(
        dt.date.fromisoformat(date), miles * MILE, inches * INCH, sd_in * INCH, fresh, f"row {date}"
    )


def clean(*rows: Thickness) -> History:
    return cleaned(History("7", rows))


def test_good_readings_stay_and_are_put_in_order() -> None:
    found = clean(row("2026-01-01", 20_000, 0.29), row("2025-01-01", 10_000, 0.30))
    assert [one.thickness_m / INCH for one in found.readings] == [0.30, 0.29]
    assert found.set_aside == ()


def test_millimetres_typed_as_inches_are_set_aside() -> None:
    found = clean(
        row("2025-01-01", 10_000, 0.30), row("2025-07-01", 15_000, 7.6), row("2026-01-01", 20_000, 0.29)
    )
    assert len(found.readings) == 2
    assert "unit" in say(found.set_aside[0].why)


def test_an_odometer_that_goes_backwards_costs_the_fewest_readings() -> None:
    found = clean(
        row("2025-01-01", 500_000, 0.30), row("2025-04-01", 508_000, 0.298),
        row("2025-07-01", 58_000, 0.296), row("2025-10-01", 520_000, 0.294),
    )  # fmt: skip
    assert [round(one.usage / MILE) for one in found.readings] == [500_000, 508_000, 520_000]
    assert "backwards" in say(found.set_aside[0].why)


def test_a_reading_that_both_neighbours_contradict_is_set_aside() -> None:
    found = clean(
        row("2025-01-01", 10_000, 0.310), row("2025-04-01", 20_000, 0.255), row("2025-07-01", 30_000, 0.302)
    )
    assert len(found.readings) == 2
    assert found.set_aside[0].reading.thickness_m == 0.255 * INCH


def test_a_grown_facing_is_a_new_one_and_said_so() -> None:
    found = clean(
        row("2025-01-01", 10_000, 0.270), row("2025-04-01", 20_000, 0.262), row("2025-07-01", 30_000, 0.343),
        row("2025-10-01", 40_000, 0.336),
    )  # fmt: skip
    assert [one.new_facing for one in found.readings] == [False, False, True, False]
    assert "nobody wrote down" in say(found.assumed[0])


def test_noise_is_no_new_facing() -> None:
    found = clean(row("2025-01-01", 10_000, 0.300, 0.005), row("2025-04-01", 20_000, 0.304, 0.005))
    assert not any(one.new_facing for one in found.readings)
    assert found.set_aside == ()


@settings(max_examples=100, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 3000), st.floats(0, 1e9), st.floats(0.0005, 0.3), st.booleans()), max_size=9
    )
)
def test_no_reading_is_ever_lost(rows: list[tuple[int, float, float, bool]]) -> None:
    readings = tuple(
        Thickness(dt.date(2020, 1, 1) + dt.timedelta(days=day), usage, thickness, 1e-4, fresh, str(number))
        for number, (day, usage, thickness, fresh) in enumerate(rows)
    )
    found = cleaned(History("7", readings))
    kept = sorted(one.row for one in found.readings) + sorted(one.reading.row for one in found.set_aside)
    assert sorted(kept) == sorted(one.row for one in readings)
    usages = [one.usage for one in found.readings]
    assert usages == sorted(usages)
