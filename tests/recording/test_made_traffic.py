"""Made-up days read back: the reader must find what the maker knows to be true."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from fanwright.errors import InputError
from fanwright.evidence.recording import read_recording
from fanwright.truck.loader import presets
from fanwright.virtual.traffic import FAULTS, Day, DayStory, make_day

Write = Callable[[str | bytes, str], Path]
ROUTE = {"coolers_plugged": "quarry", "set_fan_with_brake": "mountain"}


def _day(fault: str, **more: object) -> Day:
    route = ROUTE.get(fault, "town" if fault in ("ac_switch_chatters", "set_ac_time_short") else "line_haul")
    return make_day(DayStory(7, 1.2, route, 27.0, fault, fan_sensor=True, engine_every_s=0.5, **more))  # type: ignore[arg-type]


@pytest.mark.parametrize("fault", FAULTS)
def test_the_reader_finds_the_truth(fault: str, written: Write) -> None:
    day = _day(fault)
    result = read_recording([written(day.text(), "a.log")], truck=presets()["line-haul spring-on"])
    begin = day.story.begin.timestamp()
    assert len(result.runs) == len(day.truth.runs)
    for found, true in zip(result.runs, day.truth.runs, strict=True):
        assert found.start_s - begin == pytest.approx(true.start_s, abs=1.1)
        assert found.end_s - begin == pytest.approx(true.end_s, abs=1.1)
        assert found.reason == true.reason
    assert result.engine_on_s == pytest.approx(day.truth.engine_on_s, abs=1.1)
    codes = {(code.sender, code.number, code.mode) for code in result.codes}
    assert codes == set(day.truth.codes)


@pytest.mark.parametrize(
    ("fault", "word"), [("ac_switch_chatters", "many_short"), ("set_ac_time_short", "many_short")]
)
def test_words_fit_the_story(fault: str, word: str, written: Write) -> None:
    result = read_recording([written(_day(fault).text(), "a.log")])
    words = {reading.test: reading.outcome for reading in result.evidence.readings if reading.outcome}
    assert words["recording_runs"] == word
    assert words["recording_reason"] == "ac"


def test_a_timer_stacks_and_a_chatter_scatters(written: Write) -> None:
    """The two look alike by count and share; the spread of the lengths tells them apart."""
    spreads = {}
    for fault in ("ac_switch_chatters", "set_ac_time_short"):
        lengths = read_recording([written(_day(fault).text(), "a.log")]).lengths_s("air_conditioning")
        spreads[fault] = max(lengths) - min(lengths)
    assert spreads["set_ac_time_short"] < 2.0 < 15.0 < spreads["ac_switch_chatters"]


def test_a_weak_spring_shows_as_slip(written: Write) -> None:
    result = read_recording(
        [written(_day("clamp_spring_weak").text(), "a.log")], truck=presets()["line-haul spring-on"]
    )
    measured = {one.test: one.measured for one in result.evidence.readings if one.measured}
    assert measured["fan_speed_on"].si == pytest.approx(0.82, abs=0.02)


def test_dirt_is_counted_and_does_not_matter_much(written: Write) -> None:
    clean, dirty = _day("set_ac_time_short"), _day("set_ac_time_short", damaged_share=0.002)
    result = read_recording([written(dirty.text(), "a.log")])
    assert dirty.truth.damaged_lines > 20
    assert result.files[0].tally.lines_unread == dirty.truth.damaged_lines
    assert result.fan_on_s == pytest.approx(
        sum(run.end_s - run.start_s for run in clean.truth.runs), rel=0.02
    )


def test_equal_stories_give_equal_bytes() -> None:
    assert _day("no_fault").text() == _day("no_fault").text()
    assert _day("no_fault").text() != make_day(DayStory(8, 1.2)).text()


def test_the_vehicle_number_is_sent_in_packets(written: Write) -> None:
    day = _day("no_fault", vehicle_number="DEMO0000000000214")
    result = read_recording([written(day.text(), "a.log")], vehicle_number="DEMO0000000000214")
    assert result.vehicle_number_matches is True


def test_unknown_stories_are_refused_together() -> None:
    with pytest.raises(InputError) as refused:
        DayStory(route="moon", fault="ghost", hours=-1.0)
    assert len(refused.value.messages) == 3
