"""How a verdict comes about: chances, caution, repeats, disagreement."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fanwright import catalogue, judging
from fanwright.errors import InputError
from fanwright.evidence.reading import Measured, Reading
from fanwright.judging import WORST_LAST, Context, judge
from fanwright.judging.chances import chance_at_most
from fanwright.truck.loader import truck_for
from fanwright.visit import Assessment, visit_from

KNOWN = catalogue.load()
LIMITS = judging.load(KNOWN)
TRUCK = truck_for(None, "spring", "nc", 12.0)
INLET = Reading("supply_gauge_still", Measured(813581.0, 3447.0, 1700.0))
CONTEXT = Context(TRUCK, KNOWN, LIMITS, {"supply_gauge_still": INLET})
RISING_IS_WORSE = ("vent_time", "fill_time", "inlet_dip", "hold_test", "drive_gauge_air_off", "feed_drop")
FALLING_IS_WORSE = ("supply_gauge_cycling", "facing_thickness", "shroud_gap", "fan_speed_on")


def verdict_of(test: str, si: float, half: float, normal: float) -> int:
    return WORST_LAST.index(judge(Reading(test, Measured(si, half, normal)), CONTEXT).verdict)


@given(
    test=st.sampled_from(RISING_IS_WORSE + FALLING_IS_WORSE),
    low=st.floats(0.0, 2.0),
    high=st.floats(0.0, 2.0),
    half=st.floats(0.001, 0.5),
    normal=st.floats(0.001, 0.5),
)
def test_a_worse_value_never_gets_a_better_verdict(
    test: str, low: float, high: float, half: float, normal: float
) -> None:
    edge = next(band.up_to_si for band in LIMITS.tests[test].bands)
    assert edge is not None
    first, second = sorted((low * edge, high * edge))
    one = verdict_of(test, first, half * edge, normal * edge)
    two = verdict_of(test, second, half * edge, normal * edge)
    assert one <= two if test in RISING_IS_WORSE else one >= two


def test_chances_of_all_bands_sum_to_one() -> None:
    for si in (0.3, 0.99, 1.0, 1.3, 1.49, 2.0):
        judged = judge(Reading("vent_time", Measured(si, 0.05, 0.06)), CONTEXT)
        assert math.isclose(sum(judged.chances.values()), 1.0, abs_tol=1e-12)


def test_the_worst_band_that_holds_a_quarter_decides() -> None:
    just_under = Measured(0.99, 0.05, 0.06)
    judged = judge(Reading("vent_time", just_under), CONTEXT)
    assert judged.chances["watch"] == pytest.approx(1.0 - chance_at_most(1.0, just_under))
    assert judged.chances["watch"] > 0.25
    assert judged.verdict == "watch"
    assert judged.repeat


def test_far_from_every_edge_nothing_is_to_be_repeated() -> None:
    assert not judge(Reading("vent_time", Measured(0.5, 0.05, 0.06)), CONTEXT).repeat


def test_two_readings_of_one_test_the_surer_one_is_judged(assessed: Callable[..., Assessment]) -> None:
    raw = {"facing_thickness": "0.300 in", "facing_spread": "0.004 in"}
    found = assessed({**raw, "facing_thickness": ["0.300 in", "0.304 in"]})
    spreads = [one for one in found.verdicts if one.test == "facing_spread"]
    assert len(spreads) == 1
    assert [one.test for one in found.listed] == ["facing_spread"]
    assert not found.not_judged


def test_readings_that_contradict_each_other_are_not_judged(assessed: Callable[..., Assessment]) -> None:
    found = assessed({"facing_thickness": ["0.300 in", "0.304 in"], "facing_spread": "0.090 in"})
    assert not [one for one in found.verdicts if one.test == "facing_spread"]
    assert any("readings_disagree" in one.why.template for one in found.not_judged)


def test_overall_is_good_only_with_the_whole_core(assessed: Callable[..., Assessment]) -> None:
    good = {test: KNOWN.tests[test].good for test in KNOWN.core["complaint"] if KNOWN.tests[test].good}
    whole = assessed(good)
    assert whole.overall == "good"
    missing = next(iter(good))
    part = assessed({test: word for test, word in good.items() if test != missing})
    assert part.overall == "not_judged"
    assert part.missing == (missing,)
    assert assessed({}).overall == "not_judged"


def test_overall_is_the_worst_verdict(assessed: Callable[..., Assessment]) -> None:
    assert assessed({"vent_time": "2.1 s", "grip": "holds"}).overall == "act_now"
    assert assessed({"vent_time": "2.1 s", "fan_look": "cracked_or_bent"}).overall == "stand_down"
    assert assessed({"cooler_look": "partly_plugged"}).overall == "watch"


def test_after_the_repair_the_later_reading_counts(assessed: Callable[..., Assessment]) -> None:
    found = assessed({"vent_time": "2.1 s"}, readings_after={"vent_time": "0.6 s"})
    assert found.overall == "act_now"
    assert found.overall_after == "not_judged"
    assert [one.verdict for one in found.verdicts_after] == ["good"]


@pytest.mark.parametrize(
    ("finding", "readings", "tables"),
    [
        ("drive_above_supply", {"drive_gauge_air_on": "118 psi", "supply_gauge_still": "104 psi"}, {}),
        (
            "arrangement_contradicted",
            {},
            {"proof": {"unplugged_drive_gauge": "118 psi", "unplugged_fan": "lets_go"}},
        ),
        (
            "odometer_backwards",
            {},
            {
                "truck": {"odometer": "377,204 mi"},
                "history": [{"date": "2025-10-02", "odometer": "391,900 mi"}],
            },
        ),
        (
            "gauges_differ_before_after",
            {"vent_time": {"value": "2.1 s", "instrument": "G-07"}},
            {"readings_after": {"vent_time": {"value": "0.6 s", "instrument": "G-11"}}},
        ),
        ("likely_unit_slip", {"facing_thickness": "7.6 in"}, {}),
        (
            "facing_grew",
            {"facing_thickness": "0.330 in"},
            {"history": [{"date": "2025-10-02", "facing_thickness": "0.280 in"}]},
        ),
    ],
)
def test_contradictions_become_findings(
    finding: str, readings: dict[str, Any], tables: dict[str, Any], assessed: Callable[..., Assessment]
) -> None:
    assert finding in {one.id for one in assessed(readings, **tables).findings}


def test_a_sound_visit_has_no_findings(assessed: Callable[..., Assessment]) -> None:
    found = assessed(
        {"drive_gauge_air_on": "117 psi", "supply_gauge_still": "118 psi", "facing_thickness": "0.297 in"},
        proof={"unplugged_drive_gauge": "0 psi", "unplugged_fan": "grips"},
        truck={"odometer": "377,204 mi"},
        history=[{"date": "2025-10-02", "odometer": "361,900 mi", "facing_thickness": "0.305 in"}],
    )
    assert found.findings == ()


def test_a_crash_inside_one_test_becomes_a_finding_about_it(
    assessed: Callable[..., Assessment], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(reading: Reading, context: Context) -> Any:
        if reading.test == "grip":
            raise ZeroDivisionError
        return judge(reading, context)

    monkeypatch.setattr("fanwright.visit.assessing.judge", broken)
    found = assessed({"grip": "holds", "let_go": "free"})
    assert [one.test for one in found.verdicts] == ["let_go"]
    assert [one.test for one in found.not_judged] == ["grip"]


def test_what_nobody_reads_is_kept_and_said(assessed: Callable[..., Assessment]) -> None:
    found = assessed({}, truck={"paint": "green"}, drive={"grips_by": "air", "valve": "no", "volts": "24 V"})
    assert found.visit.identity["paint"] == "green"
    assert found.visit.truck.volts == 24
    assert [one.id for one in found.findings] == ["assumed"]


def test_a_near_miss_of_a_key_is_a_mistake(written: Callable[..., dict[str, Any]]) -> None:
    with pytest.raises(InputError) as caught:
        visit_from(written({}, truck={"odomter": "1 mi"}), KNOWN)
    assert "did you mean" in caught.value.messages[0].template


def test_volts_left_out_are_assumed_aloud(assessed: Callable[..., Assessment]) -> None:
    found = assessed({}, drive={"grips_by": "spring", "valve": "nc"})
    assert found.visit.truck.volts == 12
    assert [one.id for one in found.findings] == ["assumed"]


@pytest.mark.parametrize(
    "drive", [{}, {"grips_by": "spring"}, {"valve": "nc"}, {"grips_by": "spring", "valve": False}]
)
def test_the_arrangement_is_never_guessed(
    drive: dict[str, Any], written: Callable[..., dict[str, Any]]
) -> None:
    with pytest.raises(InputError):
        visit_from(written({}, drive=drive), KNOWN)
