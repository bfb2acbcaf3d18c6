"""Tone and tension of a belt span."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fanwright.errors import OutOfRange
from fanwright.laws.belt import span_tension_n, span_tone_hz

spans = st.floats(0.05, 3.0)
masses = st.floats(0.001, 2.0)
tensions = st.floats(20.0, 10_000.0)


@pytest.mark.published
def test_string_of_0_81_m_and_2_g_at_394_hz():
    # Physics exercise 8432884 of an open question-and-answer site: 0.81 m, 2 g, 394 Hz; it prints 1005.9 N.
    mass_per_length = 0.002 / 0.81
    assert span_tension_n(394.0, 0.81, mass_per_length) == pytest.approx(1005.9, abs=0.05)
    assert span_tone_hz(1005.9, 0.81, mass_per_length) == pytest.approx(394.0, abs=0.5)


@pytest.mark.parametrize(
    ("mass", "span", "tension", "tone", "places"),
    [
        (0.16, 0.40, 600.0, 77.0, 0.5),  # sqrt(600 / 0.16) / 0.8 = 76.547, rounded in the trade to 77
        (0.18, 0.350, 457.2288, 72.0, 1e-6),  # 4 x 0.18 x 0.35^2 x 72^2
        (0.18, 0.350, 1500.0, 130.410133, 1e-6),  # sqrt(1500 / 0.18) / 0.7
    ],
)
def test_worked_by_hand(mass, span, tension, tone, places):
    assert span_tone_hz(tension, span, mass) == pytest.approx(tone, abs=places)


def test_tension_worked_by_hand():
    assert span_tension_n(72.0, 0.350, 0.18) == pytest.approx(457.2288, rel=1e-12)


def test_one_per_cent_of_tone_is_two_of_tension():
    ratio = span_tension_n(101.0, 0.4, 0.16) / span_tension_n(100.0, 0.4, 0.16)
    assert ratio == pytest.approx(1.0201, rel=1e-12)


@given(tensions, spans, masses)
def test_round_trip(tension, span, mass):
    tone = span_tone_hz(tension, span, mass)
    if 1.0 <= tone <= 1000.0:
        assert span_tension_n(tone, span, mass) == pytest.approx(tension, rel=1e-12)


@given(st.floats(20.0, 9_000.0), spans, masses)
def test_tighter_is_higher_longer_or_heavier_is_lower(tension, span, mass):
    tone = span_tone_hz(tension, span, mass)
    assert span_tone_hz(tension * 1.1, span, mass) > tone
    assert span_tone_hz(tension, min(span * 1.1, 3.0), mass) <= tone
    assert span_tone_hz(tension, span, min(mass * 1.1, 2.0)) <= tone


def test_outside_the_range_all_is_refused_with_the_nearest_value():
    with pytest.raises(OutOfRange) as refused:
        span_tension_n(0.5, 400.0, 0.16)
    nearest = [one.values["nearest"].value for one in refused.value.messages]
    assert nearest == [1.0, 3.0]
    for tension in (0.0, -5.0, float("nan"), float("inf")):
        with pytest.raises(OutOfRange):
            span_tone_hz(tension, 0.4, 0.16)


def test_the_ends_of_the_range_belong_to_it():
    assert span_tone_hz(1.0, 3.0, 2.0) > 0
    assert span_tension_n(1000.0, 3.0, 2.0) > 0
