"""The four arrangements against the table the trade works by, typed here by hand."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from fanwright.catalogue.model import GripsBy, Valve
from fanwright.errors import InputError
from fanwright.truck import arrangement as arr

PSI = 6894.757293168


@dataclass(frozen=True)
class Two:
    grips_by: GripsBy
    valve: Valve


SPRING_NC, AIR_NO = Two("spring", "nc"), Two("air", "no")
SPRING_NO, AIR_NC = Two("spring", "no"), Two("air", "nc")
ALL = (SPRING_NC, AIR_NO, SPRING_NO, AIR_NC)

# unplugged gauge and fan, fed gauge and fan, loss of current, loss of air. Common practice, no source.
TABLE = [
    (SPRING_NC, "zero", "grips", "high", "lets_go", "grips", "grips"),
    (AIR_NO, "high", "grips", "zero", "lets_go", "grips", "lets_go"),
    (SPRING_NO, "high", "lets_go", "zero", "grips", "lets_go", "grips"),
    (AIR_NC, "zero", "lets_go", "high", "grips", "lets_go", "lets_go"),
]


@pytest.mark.parametrize(
    ("two", "gauge_off", "fan_off", "gauge_fed", "fan_fed", "no_current", "no_air"), TABLE
)
def test_table_of_the_trade(two, gauge_off, fan_off, gauge_fed, fan_fed, no_current, no_air):
    assert arr.expected_drive_gauge(two, False) == gauge_off
    assert arr.expected_fan(two, False) == fan_off
    assert arr.expected_drive_gauge(two, True) == gauge_fed
    assert arr.expected_fan(two, True) == fan_fed
    assert arr.loss_of_current(two) == no_current
    assert arr.loss_of_air(two) == no_air


# Key off: fan with air in the tanks, fan once drained, whether the drive line stays live. Common practice.
KEY_OFF = [
    (SPRING_NC, "grips", "grips", False),
    (SPRING_NO, "lets_go", "grips", True),
    (AIR_NO, "grips", "lets_go", True),
    (AIR_NC, "lets_go", "lets_go", False),
]


@pytest.mark.parametrize(("two", "with_air", "drained", "live"), KEY_OFF)
def test_key_off(two, with_air, drained, live):
    off = arr.key_off(two)
    assert (off.with_air, off.drained, off.line_is_live) == (with_air, drained, live)
    assert off.tank_changes_fan == live  # filling or draining changes the fan only where the valve passes air


@pytest.mark.parametrize(
    ("two", "fed_on", "air_on", "lets_go"),
    [
        (SPRING_NC, False, "cut_off", "air"),
        (AIR_NO, False, "sent", "spring"),
        (SPRING_NO, True, "cut_off", "air"),
        (AIR_NC, True, "sent", "spring"),
    ],
)
def test_told_on(two, fed_on, air_on, lets_go):
    assert arr.fed_when_told_on(two) is fed_on
    assert arr.air_when_told_on(two) == air_on
    assert arr.lets_go_by(two) == lets_go
    assert arr.fed_to_send_air(two) is (two.valve == "nc")


@pytest.mark.parametrize("two", ALL)
@pytest.mark.parametrize("fed", [True, False])
def test_without_air_the_gauge_is_zero_and_the_coil_does_not_matter(two, fed):
    state = arr.state(two, fed, supplied=False)
    assert state.drive_gauge == "zero"
    assert state.fan == ("grips" if two.grips_by == "spring" else "lets_go")
    assert state.air == arr.state(two, fed).air


def test_labels_speak_of_current_and_not_of_open_or_closed():
    assert [arr.labels(two)[1].template for two in ALL] == [
        "shuts without current",
        "passes without current",
        "passes without current",
        "shuts without current",
    ]
    assert [arr.labels(two)[0].template[:5] for two in ALL] == ["sprin", "air-o", "sprin", "air-o"]


def seen(two: Two, fed: bool) -> tuple[float, str]:
    return {"high": 117.0 * PSI, "zero": 0.0}[arr.expected_drive_gauge(two, fed)], arr.expected_fan(two, fed)


@pytest.mark.parametrize("two", ALL)
def test_a_truck_that_behaves_as_labelled_has_no_contradiction(two):
    assert arr.check_proof(two, *seen(two, False)) == ()
    assert arr.check_proof(two, *seen(two, False), *seen(two, True)) == ()
    assert arr.check_proof(two, None, None) == ()


@pytest.mark.parametrize("label", ALL)
@pytest.mark.parametrize("real", ALL)
def test_every_other_arrangement_is_noticed_from_the_unplugged_state_alone(label, real):
    found = arr.check_proof(label, *seen(real, False))
    assert bool(found) == (label != real)


def test_air_on_behaviour_under_a_spring_on_label_names_the_air_on_arrangement():
    for more in ((), seen(AIR_NO, True)):
        (found,) = arr.check_proof(SPRING_NC, *seen(AIR_NO, False), *more)
        assert "air-on with a valve that passes without current" in found.template


@pytest.mark.parametrize("label", ALL)
def test_both_states_wrong_together_is_a_wrong_valve_or_crossed_ports(label):
    real = Two(label.grips_by, "no" if label.valve == "nc" else "nc")
    for fans in (True, False):
        unplugged, fed = seen(real, False), seen(real, True)
        if not fans:
            unplugged, fed = (unplugged[0], None), (fed[0], None)
        (found,) = arr.check_proof(label, *unplugged, *fed)
        assert "wrong kind or its ports are crossed" in found.template


def test_one_state_wrong_is_something_else():
    stuck_open = arr.check_proof(SPRING_NC, 117 * PSI, "lets_go", 117 * PSI, "lets_go")
    assert "not the kind of valve" in stuck_open[-1].template
    assert stuck_open[0].values["gauge"].value == pytest.approx(117 * PSI)
    unknown = arr.check_proof(SPRING_NC, 117 * PSI, None)
    assert "other state" in unknown[-1].template
    never_comes = arr.check_proof(AIR_NO, 0.0, "lets_go", 0.0, "lets_go")
    assert "first prove the air at the inlet" in never_comes[0].template
    assert "the kind of valve" in never_comes[-1].template


def test_right_gauge_and_wrong_fan_is_the_drive():
    (found,) = arr.check_proof(SPRING_NC, 0.0, "lets_go")
    assert "the drive sticks or slips" in found.template
    (found,) = arr.check_proof(SPRING_NC, 0.0, "lets_go", 117 * PSI, "grips")
    assert "names the wrong drive" in found.template
    (found,) = arr.check_proof(SPRING_NC, None, "lets_go", None, "grips")
    assert "read the drive gauge in both states" in found.template


@pytest.mark.parametrize(("psi", "clear"), [(4.9, True), (5.0, False), (59.9, False), (60.0, True)])
def test_a_gauge_in_between_proves_nothing(psi, clear):
    for label in ALL:
        found = arr.check_proof(label, psi * PSI, None)
        assert any("proves no arrangement" in one.template for one in found) == (not clear)


def test_a_word_that_is_no_fan_state_is_refused():
    with pytest.raises(InputError) as refused:
        arr.check_proof(SPRING_NC, 0.0, "slips", 0.0, "off")
    assert len(refused.value.messages) == 2


def test_a_valve_stuck_open_with_a_stuck_drive_is_not_taken_for_a_wrong_label():
    found = arr.check_proof(SPRING_NC, 117 * PSI, "grips", 117 * PSI, "grips")
    assert any("not the kind of valve" in one.template for one in found)
    assert not any("against the label" in one.template for one in found)
    assert any("the drive sticks or slips" in one.template for one in found)
