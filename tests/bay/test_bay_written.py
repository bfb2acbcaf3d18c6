"""From base and entries to one visit file, and readings as plain data and back."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fanwright.catalogue import load
from fanwright.desk.bay_written import alive, written
from fanwright.errors import InputError
from fanwright.evidence.from_json import (
    evidence_data,
    evidence_from_data,
    message_data,
    message_from_data,
    reading_data,
    reading_from_data,
)
from fanwright.evidence.reading import Evidence, Measured, Reading
from fanwright.evidence.typed import read_entry
from fanwright.records.bay_model import BayEntry, BayFile, BayVisit
from fanwright.words import Message, listing, outcome, quantity, text

BASE: dict[str, Any] = {
    "truck": {"unit": "214"}, "drive": {"grips_by": "spring"}, "visit": {"date": "2026-04-14"},
    "readings": {"fill_time": "0.4 s"}, "not_done": {"coil_amps": "no meter"},
}  # fmt: skip


def made(*bodies: dict[str, Any], files: tuple[BayFile, ...] = ()) -> dict[str, Any]:
    entries = tuple(
        BayEntry(f"k{number}", body, "Ana", number=number) for number, body in enumerate(bodies, 1)
    )
    base = copy.deepcopy(BASE)
    found = written(BayVisit(1, "k", "214", base, entries=entries, files=files))
    assert base == BASE  # the base is never touched
    return found


def read(test: str, value: object, **more: Any) -> dict[str, Any]:
    return {"kind": "reading", "test": test, "value": value, **more}


def test_an_entry_goes_before_the_base() -> None:
    found = made(read("fill_time", "0.5 s"), read("coil_amps", "1.2 A"))
    assert found["readings"]["fill_time"] == {"value": "0.5 s", "by": "Ana"}
    assert "not_done" not in found
    assert made({"kind": "not_done", "test": "fill_time", "why": "no gauge"})["not_done"] == {
        "coil_amps": "no meter", "fill_time": "no gauge",
    }  # fmt: skip


def test_before_and_after_stand_apart() -> None:
    found = made(read("vent_time", "2.1 s"), read("vent_time", "0.6 s", after=True))
    assert found["readings"]["vent_time"]["value"] == "2.1 s"
    assert found["readings_after"]["vent_time"]["value"] == "0.6 s"


def test_lock_out_notes_and_what_is_set() -> None:
    found = made(
        {"kind": "lock_out", "confirmed": True},
        {"kind": "note", "value": "muddy"},
        {"kind": "note", "value": "wet"},
        {"kind": "set", "table": "work", "name": "cause", "value": "exhaust_blocked"},
        {"kind": "set", "table": "shop", "name": "x", "value": "y"},
    )
    assert found["visit"] == {"date": "2026-04-14", "lock_out": "engine off, tag on", "note": "muddy; wet"}
    assert found["work"] == {"cause": "exhaust_blocked"}
    assert "shop" not in found


def test_only_files_that_were_taken_and_named_are_in_the_visit() -> None:
    files = (
        BayFile("f1", "photos", "a.jpg"), BayFile("f2", "photos", "b.jpg", refused=(["no", {}],)),
        BayFile("f3", "photos", "c.jpg"), BayFile("f4", "air_trace", "t.csv"),
    )  # fmt: skip
    named = [{"kind": "file", "file": one, "what": "photos", "name": "x"} for one in ("f1", "f2", "f4")]
    assert made(*named, files=files)["files"] == {"photos": ["a.jpg"], "air_trace": ["t.csv"]}


@given(st.lists(st.tuples(st.integers(0, 12), st.booleans()), max_size=12))
def test_what_is_alive_was_entered_and_neither_replaced_nor_taken_back(steps: list[tuple[int, bool]]) -> None:
    entries = []
    for number, (target, back) in enumerate(steps):
        body = {"kind": "take_back", "of": f"k{target}"} if back else read("vent_time", "1 s")
        if not back and target < number:
            body["replaces"] = [f"k{target}"]
        entries.append(BayEntry(f"k{number}", body))
    living = {one.key for one in alive(entries)}
    gone = {key for one in entries for key in (*one.body.get("replaces", ()), one.body.get("of"))}
    assert living == {one.key for one in entries if one.kind == "reading" and one.key not in gone}


def test_what_others_took_too_is_read_in_the_long_form() -> None:
    both = {"value": ["0.297 in", "0.290 in"], "by": "Ana", "also": [{"value": "0.291 in", "by": "Bo"}]}
    found = read_entry("facing_thickness", both, load())
    assert [(one.test, one.by) for one in found] == [
        ("facing_thickness", "Ana"), ("facing_spread", "Ana"), ("facing_thickness", "Bo"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "also", ["2.1 s", [1], {"value": "2.1 s"}, [{"value": "2.1"}], [{"odd": 1}], [{"also": []}]]
)
def test_what_others_took_is_refused_when_it_cannot_be_read(also: object) -> None:
    with pytest.raises(InputError):
        read_entry("vent_time", {"value": "2.1 s", "also": also}, load())


def test_mistakes_of_several_readings_are_told_together() -> None:
    with pytest.raises(InputError) as refused:
        read_entry("vent_time", {"value": "2.1", "also": [{"value": "3"}, {"value": "1 s"}]}, load())
    assert len(refused.value.messages) == 2


def test_words_that_agree_are_judged_and_words_that_do_not_are_not() -> None:
    def puff(other: str) -> tuple[Reading, ...]:
        return read_entry("exhaust_puff", {"value": "strong", "also": [{"value": other}]}, load())

    assert [one.cannot_judge for one in puff("strong")] == [None, None]
    assert all(one.cannot_judge is not None for one in puff("weak_or_slow"))


REAL = st.floats(allow_nan=False, allow_infinity=False)
READINGS = st.builds(
    Reading,
    test=st.sampled_from(["vent_time", "fill_time"]),
    measured=st.none() | st.builds(Measured, REAL, REAL, REAL),
    outcome=st.sampled_from(["", "within_1_s"]),
    origin=st.sampled_from(["typed", "trace", "recording"]),
    after=st.booleans(),
    each_si=st.lists(REAL, max_size=3).map(tuple),
    by=st.text(max_size=5),
    place=st.text(max_size=5),
    conditions=st.dictionaries(st.sampled_from(["inlet_gauge_pa", "span_m"]), REAL),
    cannot_judge=st.none()
    | st.builds(lambda si: Message("{a} of {b}", {"a": quantity(si, "time"), "b": text("x")}), REAL),
)


@given(READINGS)
def test_a_reading_comes_back_as_it_was(reading: Reading) -> None:
    data = json.loads(json.dumps(reading_data(reading), allow_nan=False))
    assert reading_from_data(data) == reading


def test_evidence_and_lists_in_messages_come_back() -> None:
    told = Message("{all}", {"all": listing((outcome("vent_time", "x"), text("y")))})
    assert message_from_data(json.loads(json.dumps(message_data(told)))) == told
    evidence = Evidence((Reading("vent_time", outcome="x"),), notes=(told,), cannot_tell=(told,))
    assert evidence_from_data(json.loads(json.dumps(evidence_data(evidence)))) == evidence
