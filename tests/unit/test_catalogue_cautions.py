"""The catalogue's cautions: each where it belongs, in the arrangements where it belongs."""

from __future__ import annotations

import pytest

from fanwright import catalogue


def test_nothing_turns_the_fan_without_the_caution_that_fan_mount_and_hub_come_first():
    for test in catalogue.load().tests.values():
        turns = test.state.startswith("engine running")
        assert turns == ("fan_first" in [rule.caution for rule in test.cautions]), test.id


def test_faces_are_held_open_by_air_or_by_its_absence():
    hub = catalogue.load().tests["hub_rock"]
    assert "held_by_shop_air" in hub.cautions_for("spring", "nc")
    assert "held_by_shop_air" not in hub.cautions_for("air", "no")
    assert "drive_line_drained" in hub.cautions_for("air", "no")


@pytest.mark.parametrize(
    "test_id", ["drive_gauge_air_on", "shop_air_direct", "lift_off_pressure", "hub_rock", "facing_look"]
)
def test_the_drive_line_is_live_only_where_the_valve_passes_without_current(test_id):
    test = catalogue.load().tests[test_id]
    for grips_by in ("spring", "air"):
        assert "live_drive_line" in test.cautions_for(grips_by, "no")
        assert "live_drive_line" not in test.cautions_for(grips_by, "nc")


@pytest.mark.parametrize(
    ("grips_by", "valve"), [("spring", "nc"), ("spring", "no"), ("air", "no"), ("air", "nc")]
)
def test_what_key_off_does_is_said_once_in_each_arrangement(grips_by, valve):
    said = [
        one
        for one in catalogue.load().tests["fan_look"].cautions_for(grips_by, valve)
        if one.startswith("key_off")
    ]
    assert said == [f"key_off_{grips_by}_{valve}"]


def test_every_caution_is_a_sentence_that_stands_somewhere():
    loaded = catalogue.load()
    named = {rule.caution for test in loaded.tests.values() for rule in test.cautions}
    for caution in loaded.cautions.values():
        assert caution.text.endswith(".")
        assert caution.general or caution.id in named, caution.id
