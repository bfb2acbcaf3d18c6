"""Parts refuse impossible numbers: every wrong field, its bound, the value."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace

import pytest

from fanwright.errors import InputError
from fanwright.truck.loader import presets
from fanwright.truck.model import Belt, Coil, Controller, Facing, Truck

TRUCK: Truck = presets()["line-haul spring-on"]


def test_all_wrong_fields_are_named_with_bound_and_value():
    with pytest.raises(InputError) as refused:
        Belt(mass_per_length_kg_m=16.0, span_m=400.0, tension_n=600.0, ribs=0)
    found = {str(one.values["name"].value): one.values for one in refused.value.messages}
    assert set(found) == {"mass per length", "free span", "ribs"}
    assert (found["free span"]["given"].value, found["free span"]["most"].value) == (400.0, 3.0)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -1.0, 0.0])
def test_numbers_that_are_none_are_refused(value):
    with pytest.raises(InputError):
        replace(TRUCK.fan, inertia_kg_m2=value)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Coil(30.0, 8.0),
        lambda: Facing(0.008, 0.0064, 0.0062, 0.085, 0.130, 1),
        lambda: Facing(0.008, 0.0064, 0.0082, 0.085, 0.130, 1),
        lambda: Facing(0.008, 0.0064, 0.0071, 0.130, 0.085, 1),
        lambda: Controller(60.0, False, 366.0, 372.0),
        lambda: replace(TRUCK, full_stroke_gauge_pa=TRUCK.lift_off_gauge_pa),
        lambda: replace(TRUCK.supply, cut_in_gauge_pa=9e5),
        lambda: replace(TRUCK.bearings, ball_diameter_m=0.07),
    ],
)
def test_what_must_be_smaller_is_checked(make):
    with pytest.raises(InputError) as refused:
        make()
    assert "must be smaller" in refused.value.messages[0].template


@pytest.mark.parametrize(
    "wrong", [{"grips_by": "magnet"}, {"valve": "open"}, {"volts": 13.0}, {"volts": True}]
)
def test_arrangement_words_are_closed(wrong):
    with pytest.raises(InputError):
        replace(TRUCK, **wrong)


def test_the_spring_balances_the_air_at_both_ends_of_the_stroke():
    spring, area_m2 = TRUCK.spring, TRUCK.piston.area_m2
    assert spring.preload_n / area_m2 == pytest.approx(TRUCK.lift_off_gauge_pa)
    full_n = spring.preload_n + spring.stiffness_n_per_m * TRUCK.piston.stroke_m
    assert full_n / area_m2 == pytest.approx(TRUCK.full_stroke_gauge_pa)


def test_a_truck_is_frozen():
    with pytest.raises(FrozenInstanceError):
        TRUCK.volts = 24.0  # type: ignore[misc]  # the point of the test
    with pytest.raises(TypeError):
        TRUCK.sources["x"] = "y"  # type: ignore[index]  # the point of the test
    assert TRUCK.fan.radius_m == pytest.approx(16 * 0.0254)
