"""From what a visit says of its drive to a truck; the arrangement is never guessed."""

from __future__ import annotations

import tomllib

import pytest

from fanwright.errors import InputError
from fanwright.truck.loader import presets, truck_for


def mistakes_of(call, *given, **named) -> list[str]:
    with pytest.raises(InputError) as refused:
        call(*given, **named)
    return [
        message.template.format(**{name: value.value for name, value in message.values.items()})
        for message in refused.value.messages
    ]


def test_preset_alone_gives_its_own_arrangement():
    assert truck_for("line-haul air-on") == presets()["line-haul air-on"]


def test_visit_overrides_valve_and_volts_and_brings_the_coil_of_those_volts():
    truck = truck_for("city spring-on", "spring", "no", 24)
    assert (truck.preset, truck.valve, truck.volts) == ("city spring-on", "no", 24)
    assert (truck.coil.least_ohm, truck.coil.most_ohm) == (30, 120)
    assert truck.piston == presets()["city spring-on"].piston
    assert "24 V" in truck.sources["coil.least"]


@pytest.mark.parametrize(
    ("given", "name"),
    [
        (("spring", "nc", 12), "line-haul spring-on"),
        (("spring", "nc", 24.0), "line-haul spring-on 24 V"),
        (("air", "no", 12), "line-haul air-on"),
        (("spring", "no", 12), "line-haul spring-on no"),
        (("air", "nc", 24), "line-haul air-on nc"),
    ],
)
def test_without_a_preset_the_first_of_that_arrangement_is_taken(given, name):
    truck = truck_for(None, *given)
    assert (truck.preset, truck.grips_by, truck.valve, truck.volts) == (name, *given)
    assert truck.coil.least_ohm == (30 if given[2] == 24 else 8)


def test_a_named_preset_that_contradicts_names_both():
    (said,) = mistakes_of(truck_for, "line-haul spring-on", "air", "no", 12)
    assert "line-haul spring-on" in said
    assert "grips by spring" in said
    assert "grips_by is air" in said


def test_the_arrangement_is_never_guessed_and_all_is_said_together():
    said = mistakes_of(truck_for)
    assert [line.split()[0] for line in said] == ["drive.grips_by", "drive.valve", "drive.volts"]
    assert len(mistakes_of(truck_for, "no such preset", "belt", "nx", 13)) == 4
    assert len(mistakes_of(truck_for, "city spring-on", "belt")) == 1


@pytest.mark.parametrize("valve", [False, True])
def test_a_valve_without_quotes_is_explained(valve):
    (said,) = mistakes_of(truck_for, None, "air", valve, 12)
    assert '"no"' in said
    assert "quotes" in said
    assert mistakes_of(truck_for, "line-haul air-on", "air", valve, 12) == [said]


@pytest.mark.parametrize("volts", [13, 0, -12, "12 V", True, float("nan"), [12]])
def test_volts_are_12_or_24(volts):
    (said,) = mistakes_of(truck_for, "line-haul spring-on", volts=volts)
    assert "drive.volts" in said
    assert "12" in said
    assert "24" in said


@pytest.mark.parametrize(
    ("named", "value"), [("preset", 7), ("preset", ["a"]), ("grips_by", 3), ("valve", [])]
)
def test_other_kinds_of_value_are_refused_too(named, value):
    given = {"grips_by": "air", "valve": "no", "volts": 12} | {named: value}
    assert len(mistakes_of(truck_for, **given)) == 1


def test_shop_overrides_one_number_of_one_preset():
    shop = tomllib.loads(
        """
        ["line-haul spring-on".drive]
        lift_off = { value = "4.5 bar", source = "data sheet of the drive" }
        """
    )
    truck = presets(shop)["line-haul spring-on"]
    assert truck.lift_off_gauge_pa == pytest.approx(4.5e5)
    assert truck.sources["drive.lift_off"] == "data sheet of the drive"
    assert truck.spring.preload_n == pytest.approx(4.5e5 * 0.021)
    others = {name: one for name, one in presets(shop).items() if name != "line-haul spring-on"}
    assert others == {name: one for name, one in presets().items() if name != "line-haul spring-on"}


def test_shop_adds_a_preset_of_its_own():
    shop = tomllib.loads(
        """
        ["quarry"]
        like = "vocational spring-on"
        valve = "no"
        belt = { tension = { value = "800 N", source = "belt chart" } }
        """
    )
    truck = truck_for("quarry", shop=shop)
    assert (truck.valve, truck.belt.tension_n, truck.belt.ribs) == ("no", 800, 10)


def test_all_mistakes_of_a_shop_are_said_together():
    shop = tomllib.loads(
        """
        ["line-haul spring-on"]
        grips_by = "air"
        colour = "red"
        coil = 14
        ["line-haul spring-on".belt]
        tension = { value = "800 N" }
        ribs = { value = 8.5, source = "counted" }
        length = { value = "2 m", source = "measured" }
        ["mine"]
        like = "nobody"
        """
    )
    said = mistakes_of(presets, shop)
    pieces = [
        "grips_by cannot be changed",
        "colour is not known",
        "spring-on.coil must be a table",
        "belt.length is not known",
        "mine.like names no preset",
        "belt.tension must be a table of `value` and `source`",
        "belt.ribs is «8.5»",
    ]
    assert [sum(piece in line for line in said) for piece in pieces] == [1] * len(pieces)
    assert len(said) == len(pieces)


@pytest.mark.parametrize(
    ("entry", "piece"),
    [
        ({"value": "800", "source": "s"}, "no unit"),
        ({"value": 800, "source": "s"}, "no unit"),
        ({"value": "8 psi", "source": "s"}, "does not measure"),
        ({"value": "800 N", "source": " "}, "needs a source"),
        ({"value": "800 N", "source": 3}, "needs a source"),
        ({"value": "1 N", "source": "s"}, "allowed is"),
        ("800 N", "value"),
    ],
)
def test_a_number_of_a_shop_needs_unit_source_and_sense(entry, piece):
    said = mistakes_of(presets, {"line-haul spring-on": {"belt": {"tension": entry}}})
    assert any(piece in line for line in said)
    assert any("line-haul spring-on.belt" in line for line in said)


@pytest.mark.parametrize("shop", [3, {"line-haul spring-on": 3}, {"mine": "x"}, {"mine": {"volts": 12}}])
def test_a_table_of_another_shape_is_refused(shop):
    assert mistakes_of(presets, shop)
