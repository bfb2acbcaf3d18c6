"""Typed text to SI and back, over all units, fractions and whatever a thumb in a glove can type."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from fanwright.errors import QuantityError
from fanwright.quantities import Unit, Units, dimension, dimensions, read, units, units_of, write_fraction

UNITS = sorted(
    ((unit, key) for unit in units().values() for key in unit.dimensions),
    key=lambda pair: (pair[0].name, pair[1]),
)
unit_of_dimension = st.sampled_from(UNITS)
places = st.integers(0, 4)
hundredths = st.integers(-(10**11), 10**11)


def words(refusal: QuantityError) -> list[str]:
    return [str(value.value) for message in refusal.messages for value in message.values.values()]


@given(unit_of_dimension, hundredths, places, st.booleans())
def test_what_is_written_is_read_back(pair: tuple[Unit, str], whole: int, decimals: int, comma: bool) -> None:
    """Within half a step of what was written, thousands and decimal comma included."""
    unit, key = pair
    step_si = 10.0**-decimals * unit.factor
    si = unit.to_si(whole / 10**decimals)
    typed = Units({key: unit.name}, comma).write(si, key, step_si=step_si)
    assume(not (comma and "," in typed and decimals == 3))
    if comma:
        assume(abs(whole) < 1000 * 10**decimals)
    back = read(typed, key, "fr" if comma else "en")
    assert back.unit == unit
    rounding = 1e-12 * max(abs(si), abs(unit.offset * unit.factor))
    assert abs(back.si - si) <= 0.5 * step_si + rounding
    if decimals:
        assert back.step_si == pytest.approx(step_si, rel=1e-9)


@given(unit_of_dimension, st.floats(-1e9, 1e9))
def test_without_a_step_what_people_read_comes_back(pair: tuple[Unit, str], value: float) -> None:
    """To the finest difference people read of the unit."""
    unit, key = pair
    back = read(Units({key: unit.name}).write(unit.to_si(value), key), key)
    assert abs(unit.from_si(back.si) - value) <= 0.5 * unit.step + 1e-9 * max(1.0, abs(value))


@given(st.integers(-64 * 400, 64 * 400), st.sampled_from([8, 16, 32, 64]))
def test_fractions_of_an_inch_come_back(parts: int, finest: int) -> None:
    """Every division of the rule is written as the trade reads it and read back as the same length."""
    metres = parts / finest * 0.0254
    assert read(write_fraction(metres, finest), "length").si == pytest.approx(metres, abs=1e-12)


@given(st.floats(-10.0, 10.0))
def test_any_length_is_written_to_the_nearest_division(metres: float) -> None:
    back = read(write_fraction(metres), "length").si
    assert abs(back - metres) <= 0.0254 / 128.0 * (1.0 + 1e-9)


@given(unit_of_dimension, st.integers(0, 999_999), st.data())
def test_every_spelling_means_the_same(pair: tuple[Unit, str], value: int, data: st.DataObject) -> None:
    unit, key = pair
    spelling = data.draw(st.sampled_from(unit.spellings))
    blank = data.draw(st.sampled_from(["", " ", "  ", "\u00a0", "\u202f"]))
    found = read(f"{value}{blank}{spelling}", key)
    assert found.unit.name == unit.name
    assert found.si == unit.to_si(float(value))


@given(st.integers(1000, 10**12))
def test_thousands_by_comma_by_blank_and_plain_are_one_number(value: int) -> None:
    grouped = f"{value:,}"
    for typed in (f"{value} mi", f"{grouped} mi", f"{grouped.replace(',', ' ')} mi"):
        assert read(typed, "distance").si == value * 1609.344


@given(st.sampled_from(sorted(dimensions())), st.floats() | st.integers() | st.none() | st.booleans())
def test_bare_numbers_are_refused_with_the_units_that_would_do(key: str, bare: object) -> None:
    for typed in (bare, str(bare)):
        with pytest.raises(QuantityError) as refusal:
            read(typed, key)
        assert len(refusal.value.messages) == 1
        assert all(any(unit.printed in said for said in words(refusal.value)) for unit in units_of(key))


@given(
    unit_of_dimension,
    st.sampled_from(["nan", "NaN", "inf", "-inf", "Infinity", "1e5", "0x10", "١٢", "1_000", "--1"]),
)
def test_no_number_is_refused(pair: tuple[Unit, str], odd: str) -> None:
    unit, key = pair
    with pytest.raises(QuantityError):
        read(f"{odd} {unit.printed}", key)


@given(unit_of_dimension, st.sampled_from(sorted(dimensions())))
def test_the_wrong_dimension_is_refused(pair: tuple[Unit, str], asked: str) -> None:
    """Unless the spelling measures that dimension too, upper and lower case forgiven."""
    unit, _ = pair
    known = {spelling.casefold() for other in units_of(asked) for spelling in other.spellings}
    assume(unit.printed.casefold() not in known)
    with pytest.raises(QuantityError) as refusal:
        read(f"12 {unit.printed}", asked)
    assert dimension(asked).name in words(refusal.value)


@given(st.text(max_size=60), st.sampled_from(sorted(dimensions())), st.sampled_from(["en", "es", "fr"]))
@example("1/0 in", "length", "en")
@example("9" * 5000 + " psi", "pressure", "en")
@example("1/" + "9" * 5000 + " in", "length", "en")
@example("9" * 5000 + "/8 in", "length", "en")
@example("9" * 5000 + "-1/8 in", "length", "en")
@example("1," + "9" * 5000 + " psi", "pressure", "fr")
@example("." + "9" * 5000 + " psi", "pressure", "en")
@example("", "pressure", "en")
@example("{typed} psi", "pressure", "en")
@example("\x00", "pressure", "en")
def test_any_text_is_read_or_refused(typed: str, key: str, language: str) -> None:
    try:
        found = read(typed, key, language)
    except QuantityError:
        return
    assert math.isfinite(found.si)
    assert 0.0 < found.step_si < math.inf


@given(
    st.lists(
        st.sampled_from([*"0123456789", ".", ",", "/", "-", "+", " ", "in", "psi", "1/2", "000"]), max_size=14
    )
)
def test_near_misses_are_read_or_refused(pieces: list[str]) -> None:
    for key in ("length", "pressure"):
        try:
            found = read("".join(pieces), key)
        except QuantityError:
            continue
        assert math.isfinite(found.si)
        assert found.step_si > 0.0
