"""What the grammar of typed quantities reads, refuses and writes."""

from __future__ import annotations

import numpy as np
import pytest

from fanwright.errors import FanwrightError, InputError, QuantityError
from fanwright.quantities import (
    METRIC,
    Units,
    dimension,
    dimensions,
    find_unit,
    read,
    units,
    units_of,
    write_fraction,
)

INCH = 0.0254
PSI = 6894.757293168


@pytest.mark.parametrize(
    ("typed", "key", "si"),
    [
        ("118 psi", "pressure", 118 * PSI),
        ("118psi", "pressure", 118 * PSI),
        ("118 PSI", "pressure", 118 * PSI),
        ("8.1 bar", "pressure", 810_000.0),
        ("14.7 psia", "pressure_absolute", 14.7 * PSI),
        ("11/32 in", "length", 11 / 32 * INCH),
        ("11/32", None, None),
        ("5-1/2 in", "length", 5.5 * INCH),
        ("5 1/2 in", "length", 5.5 * INCH),
        ('0.297"', "length", 0.297 * INCH),
        ("7.6 mm", "length", 0.0076),
        ("412,300 mi", "distance", 412_300 * 1609.344),
        ("9 870 h", "engine_time", 9870 * 3600.0),
        ("0.8 s", "time", 0.8),
        (".8 s", "time", 0.8),
        ("-40 °F", "temperature", 233.15),
        ("\u221240 °F", "temperature", 233.15),
        ("+20 °C", "temperature", 293.15),
        ("14 ohm", "resistance", 14.0),
        ("14 \u03a9", "resistance", 14.0),
        ("14 \u2126", "resistance", 14.0),
        ("98 %", "share", 0.98),
    ],
)
def test_reads(typed: str, key: str | None, si: float | None) -> None:
    if key is None:
        with pytest.raises(QuantityError):
            read(typed, "length")
    else:
        assert read(typed, key).si == pytest.approx(si, rel=1e-12)


@pytest.mark.parametrize(
    ("typed", "step_si"),
    [("2.1 s", 0.1), ("2 s", 1.0), ("2.00 s", 0.01), ("1,234 s", 1.0), ("120 ms", 1e-3)],
)
def test_knows_how_finely_it_was_written(typed: str, step_si: float) -> None:
    assert read(typed, "time").step_si == pytest.approx(step_si, rel=1e-12)


def test_a_fraction_steps_by_its_denominator() -> None:
    found = read("19/64 in", "length")
    assert found.fraction
    assert found.step_si == pytest.approx(INCH / 64, rel=1e-12)
    assert not read("0.297 in", "length").fraction


@pytest.mark.parametrize(
    "typed",
    [
        *("12,5 psi", "1,23 psi", "12,50 psi", "12,5000 psi", "1234,567 psi", "1,234,56 psi", "01,234 psi"),
        *("1 234,567 psi", "1,234 567 psi", "12.3.4 psi", "1. psi", "1 2 psi", "12 34 psi", "1,2,3 psi"),
        *("5-9/8 in", "5-8/8 in", "9/0 in", "3/1001 in"),
    ],
)
def test_refuses_what_is_not_one_number(typed: str) -> None:
    with pytest.raises(QuantityError):
        read(typed, "length" if typed.endswith("in") else "pressure")


@pytest.mark.parametrize("language", ["es", "fr"])
def test_decimal_comma_in_spanish_and_french(language: str) -> None:
    assert read("8,1 bar", "pressure", language).si == pytest.approx(810_000.0)
    assert read("1,2345 bar", "pressure", language).si == pytest.approx(123_450.0)


@pytest.mark.parametrize("language", ["en", "es", "fr"])
def test_a_comma_before_three_digits_is_thousands_everywhere(language: str) -> None:
    assert read("1,250 kPa", "pressure", language).si == 1_250_000.0


REFUSALS = [
    (118, "pressure", "{typed} has no unit: {what} wants {units}, for example {example}"),
    ("118", "pressure", "{typed} has no unit: {what} wants {units}, for example {example}"),
    ("psi", "pressure", "{typed} is not a number with a unit: {what} wants {units}, for example {example}"),
    (
        "8,1 bar",
        "pressure",
        "{typed} has a decimal comma: write a point; {what} wants {units}, for example {example}",
    ),
    ("5-9/8 in", "length", "{typed} is not a proper fraction: {what} is written like {example} ({units})"),
    ("7 mm", "pressure", "{typed} does not measure {what}, which wants {units}, for example {example}"),
    (
        "7 furlongs",
        "distance",
        "{typed} has a unit that is not in the table: {what} wants {units}, for example {example}",
    ),
]


@pytest.mark.parametrize(("typed", "key", "template"), REFUSALS)
def test_a_refusal_says_what_was_given_and_what_would_do(typed: object, key: str, template: str) -> None:
    with pytest.raises(QuantityError) as refusal:
        read(typed, key)
    (message,) = refusal.value.messages
    assert message.template == template
    assert message.values["typed"].value == f"«{typed}»"
    assert message.values["what"].value == dimension(key).name
    assert message.values["units"].value == ", ".join(unit.printed for unit in units_of(key))


@pytest.mark.parametrize("key", dimensions())
def test_the_example_of_a_refusal_would_do(key: str) -> None:
    with pytest.raises(QuantityError) as refusal:
        read(None, key)
    assert read(refusal.value.messages[0].values["example"].value, key).dimension == key


@pytest.mark.parametrize(("typed", "inches"), [("3/1000 in", 0.003), ("2/1 in", 2.0), ("9/8 in", 1.125)])
def test_odd_fractions_that_are_read(typed: str, inches: float) -> None:
    assert read(typed, "length").si == pytest.approx(inches * INCH, rel=1e-12)


@pytest.mark.parametrize("typed", [118, 118.0, None, True, ["118 psi"], float("nan")])
def test_refuses_anything_but_text(typed: object) -> None:
    with pytest.raises(QuantityError) as refusal:
        read(typed, "pressure")
    assert "has no unit" in refusal.value.messages[0].template
    assert refusal.value.messages[0].values["units"].value == "Pa, kPa, bar, psi, psig"


def test_gauge_and_absolute_never_mix() -> None:
    for typed, key in (("14.7 psia", "pressure"), ("118 psig", "pressure_absolute")):
        with pytest.raises(QuantityError) as refusal:
            read(typed, key)
        assert "does not measure {what}" in refusal.value.messages[0].template


def test_a_long_slip_is_quoted_short() -> None:
    with pytest.raises(QuantityError) as refusal:
        read("x" * 500, "pressure")
    assert refusal.value.messages[0].values["typed"].value == f"«{'x' * 60}»"


def test_upper_and_lower_case_only_where_one_unit_fits() -> None:
    assert find_unit("KPA", "pressure") == units()["kPa"]
    assert find_unit("A", "current") == units()["A"]
    assert find_unit("furlong", "distance") is None


def test_refusals_are_input_errors() -> None:
    assert issubclass(QuantityError, InputError)
    assert issubclass(InputError, FanwrightError)


@pytest.mark.parametrize(
    ("si", "key", "step_si", "shown"),
    [
        (118 * PSI, "pressure", PSI, "118 psi"),
        (412_300 * 1609.344, "distance", 1609.344, "412,300 mi"),
        (0.00754, "length", 0.005 * INCH, "0.297 in"),
        (2.1, "time", 0.1, "2.1 s"),
        (-0.04, "time", 0.1, "0.0 s"),
        (293.15, "temperature", 1.0, "20 °C"),
        (233.15, "temperature", 1.0, "-40 °C"),
        (0.0, "time", None, "0 s"),
        (2.0, "time", None, "2 s"),
        (2.124, "time", None, "2.12 s"),
        (8.1e5, "pressure", None, "117.5 psi"),
        (1234.5, "force", 1.0, "1,234 N"),
        (5.0, "force", 1e6, "5 N"),
    ],
)
def test_writes_as_finely_as_known(si: float, key: str, step_si: float | None, shown: str) -> None:
    assert Units().write(si, key, step_si) == shown


def test_writes_in_the_shops_units_and_comma() -> None:
    metric = Units(METRIC, comma=True)
    assert metric.write(118 * PSI, "pressure", 1000.0) == "814 kPa"
    assert metric.write(0.0076, "length", 1e-4) == "7,6 mm"
    with pytest.raises(TypeError):
        metric.chosen["pressure"] = "bar"  # type: ignore[index]  # that it cannot be assigned is the test


@pytest.mark.parametrize(
    ("inches", "shown"),
    [
        (11 / 32, "11/32 in"),
        (5.5, "5-1/2 in"),
        (2.0, "2 in"),
        (0.0, "0 in"),
        (-0.25, "-1/4 in"),
        (0.297, "19/64 in"),
    ],
)
def test_writes_fractions_as_the_trade_reads_them(inches: float, shown: str) -> None:
    assert write_fraction(inches * INCH) == shown


def test_a_coarser_rule_writes_coarser_fractions() -> None:
    assert write_fraction(0.297 * INCH, 32) == "5/16 in"


def test_table_is_closed_and_consistent() -> None:
    for key, entry in dimensions().items():
        assert units()[entry.show] in units_of(key), key
    for name, unit in units().items():
        assert unit.source, name
        assert unit.factor > 0.0, name
        assert all(key in dimensions() for key in unit.dimensions), name
    for key in dimensions():
        spellings = [spelling for unit in units_of(key) for spelling in unit.spellings]
        assert len(spellings) == len(set(spellings)), key
        assert spellings, key


def test_json_numbers_are_in_the_unit_their_key_ends_in() -> None:
    assert dimension("pressure").to_json(118 * PSI) == pytest.approx(813.581, abs=1e-3)
    assert dimension("temperature").to_json(293.15) == pytest.approx(20.0, abs=1e-9)
    assert dimension("temperature").spread_to_json(1.5) == 1.5
    assert dimension("distance").to_json(1609.344) == 1.609344


def test_arrays_convert_like_numbers() -> None:
    degrees = np.array([32.0, 212.0])
    assert units()["degF"].to_si(degrees) == pytest.approx([273.15, 373.15])
    assert units()["degF"].from_si(units()["degF"].to_si(degrees)) == pytest.approx(degrees)
