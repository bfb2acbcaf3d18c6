"""Bay visits in both databases: every reading once, whatever is lost, sent twice or sent by two tablets."""

from __future__ import annotations

import threading
import uuid
from typing import Any

import pytest

from fanwright.desk import bay, bay_closing
from fanwright.desk.bay_written import written
from fanwright.desk.shop import Shop
from fanwright.errors import InputError
from fanwright.records import bay as rows
from fanwright.records.bay_lists import list_bays
from fanwright.records.model import Author
from fanwright.records.searching import show_visit
from fanwright.records.store import Store
from fanwright.records.verifying import verify
from fanwright.report.say import Reader, say

SHOP = Shop()
DRIVE = {"grips_by": "spring", "valve": "nc", "volts": 12}


def key() -> str:
    return str(uuid.uuid4())


def begin(store: Store, **more: Any) -> int:
    asked = {"key": key(), "unit": "214", "kind": "complaint", **DRIVE, **more}
    return bay.start(store, asked, "Ana", SHOP).number


def reading(test: str, value: object, **more: Any) -> dict[str, Any]:
    return {
        "key": key(), "kind": "reading", "test": test, "value": value, "at": "2026-04-14T07:21:04-06:00",
        "author": "Ana", **more,
    }  # fmt: skip


def enter(store: Store, number: int, body: dict[str, Any], by: str = "Ana") -> rows.Added:
    return bay.enter(store, number, body, by, SHOP)


def test_starting_again_with_the_same_key_gives_the_same_visit(store: Store) -> None:
    asked = {"key": key(), "unit": " 214 ", "kind": "planned", **DRIVE}
    one, two = bay.start(store, asked, "Ana", SHOP), bay.start(store, asked, "Bo", SHOP)
    assert (one.number, one.new, two.number, two.new) == (two.number, True, one.number, False)
    with pytest.raises(rows.OtherBody):
        bay.start(store, asked | {"unit": "215"}, "Ana", SHOP)
    held = rows.load(store, one.number)
    assert (held.unit, held.opened_by, held.state, held.version) == ("214", "Ana", "open", 1)


def test_the_machine_of_a_truck_is_known_from_its_last_visit(store: Store) -> None:
    number = begin(store, grips_by="air", valve="no")
    bay_closing.keep(store, number, "Ana", SHOP)
    again = bay.start(store, {"key": key(), "unit": "214", "kind": "planned"}, "Bo", SHOP)
    assert written(rows.load(store, again.number))["drive"] == {
        "grips_by": "air",
        "valve": "no",
        "volts": 12.0,
    }


@pytest.mark.parametrize(
    "wrong",
    [
        {"key": "x"}, {"key": None}, {"unit": ""}, {"unit": "a\x00b"}, {"unit": "x" * 41}, {"kind": "odd"},
        {"grips_by": None, "valve": None, "volts": None}, {"volts": [12]}, {"grips_by": "magnet"},
        {"from_visit": "1"}, {"from_visit": 999},
    ],
)  # fmt: skip
def test_a_visit_that_cannot_be_read_is_not_started(store: Store, wrong: dict[str, Any]) -> None:
    with pytest.raises(InputError):
        begin(store, **wrong)
    assert list_bays(store) == ()


def test_the_same_entry_sent_at_once_from_many_threads_is_kept_once(store: Store) -> None:
    number, body = begin(store), reading("vent_time", "2.1 s")
    found: list[rows.Added] = []
    threads = [
        threading.Thread(target=lambda: found.append(enter(store, number, dict(body)))) for _ in range(12)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [one.version for one in found] == [2] * 12
    assert sorted(one.new for one in found) == [False] * 11 + [True]
    assert len(rows.load(store, number).entries) == 1
    assert verify(store).sound


def test_many_tablets_at_once_lose_nothing(store: Store) -> None:
    number = begin(store)

    def work(name: str) -> None:
        for turn in range(5):
            body = reading("vent_time", f"2.{turn} s", author=name)
            enter(store, number, body, name)
            enter(store, number, body, name)  # the answer was lost

    threads = [threading.Thread(target=work, args=(name,)) for name in ("Ana", "Bo", "Kit", "Rae")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    entries = rows.load(store, number).entries
    assert len(entries) == 20
    for name in ("Ana", "Bo", "Kit", "Rae"):
        assert [one.body["value"] for one in entries if one.author == name] == [f"2.{n} s" for n in range(5)]
    assert verify(store).sound


def test_the_same_key_with_another_body_or_visit_is_refused(store: Store) -> None:
    one, two, body = begin(store), begin(store, unit="215"), reading("vent_time", "2.1 s")
    enter(store, one, body)
    with pytest.raises(rows.OtherBody):
        enter(store, one, body | {"value": "2.2 s"})
    with pytest.raises(rows.OtherBody):
        enter(store, two, body)
    assert rows.load(store, one).entries[0].body["value"] == "2.1 s"
    assert rows.load(store, two).entries == ()


def test_a_replay_by_another_person_with_another_token_is_still_the_same_entry(store: Store) -> None:
    number, body = begin(store), reading("vent_time", "2.1 s")
    assert enter(store, number, body | {"author_token": "1.x"}).new
    assert not enter(store, number, body | {"author_token": "2.y"}, "Bo").new
    (entry,) = rows.load(store, number).entries
    assert (entry.author, entry.sent_by, entry.proved) == ("Ana", "Ana", False)
    assert "author_token" not in entry.body


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"value": "2.1"}, "unit"),
        ({"value": None}, "value"),
        ({"value": []}, "value"),
        ({"value": {"a": 1}}, "value"),
        ({"value": "x\x00y"}, "value"),
        ({"test": "made_up"}, "test"),
        ({"kind": "shout"}, "kind"),
        ({"kind": ["reading"]}, "kind"),
        ({"key": "../../x"}, "key"),
        ({"at": "07:21"}, "at"),
        ({"at": 7}, "at"),
        ({"after": "yes"}, "after"),
        ({"replaces": "all"}, "replaces"),
        ({"replaces": ["x"]}, "replaces"),
        ({"language": "xx"}, "language"),
        ({"author": 7}, "author"),
        ({"surprise": 1}, "surprise"),
        ({"kind": "not_done", "value": None, "why": " "}, "value"),
        ({"note": "x" * 3000}, "note"),
    ],
)
def test_an_entry_that_is_wrong_is_refused_with_its_reason(
    store: Store, change: dict[str, Any], said: str
) -> None:
    number = begin(store)
    with pytest.raises(InputError) as refused:
        enter(store, number, reading("vent_time", "2.1 s") | change)
    assert said in " ".join(say(one) for one in refused.value.messages)
    assert rows.load(store, number).version == 1


def test_all_mistakes_of_an_entry_are_told_together(store: Store) -> None:
    number = begin(store)
    with pytest.raises(InputError) as refused:
        enter(store, number, reading("made_up", "2.1 s", at="x", after=3, odd=1))
    assert len(refused.value.messages) == 4


def test_what_would_make_the_whole_visit_unreadable_is_refused(store: Store) -> None:
    number = begin(store)
    for table, name, value in (
        ("truck", "odometer", "377"), ("drive", "valve", "maybe"), ("work", "cause", "gremlins"),
        ("truck", "unit", "215"), ("visit", "date", "2026-01-01"), ("files", "photos", "x"),
        ("drive", "volts", "1 s"),
    ):  # fmt: skip
        body = {"kind": "set", "table": table, "name": name, "value": value}
        with pytest.raises(InputError):
            enter(store, number, {"key": key(), "at": "2026-04-14T07:21:04-06:00", **body})
    body = {"kind": "set", "table": "truck", "name": "odometer", "value": "377,204 mi"}
    assert enter(store, number, {"key": key(), "at": "2026-04-14T07:21:04-06:00", **body}).new


def test_two_tablets_on_one_visit_are_both_kept_and_judged_by_the_rule_for_two(store: Store) -> None:
    number = begin(store)
    enter(store, number, reading("vent_time", "2.1 s"))
    enter(store, number, reading("vent_time", "2.0 s", author="Bo"), "Bo")
    made = bay.assessed(store, rows.load(store, number), SHOP)
    assert [one.test for one in made.verdicts] == ["vent_time"]
    assert {made.verdicts[0].reading.by, *(one.by for one in made.listed)} == {"Ana", "Bo"}
    enter(store, number, reading("vent_time", "0.4 s", author="Kit"), "Kit")
    made = bay.assessed(store, rows.load(store, number), SHOP)
    assert [one.test for one in made.verdicts] == []
    assert "readings_disagree" in " ".join(one.why.template for one in made.not_judged)


def test_words_that_contradict_each_other_are_not_judged(store: Store) -> None:
    number = begin(store)
    enter(store, number, reading("exhaust_puff", "strong"))
    enter(store, number, reading("exhaust_puff", "weak_or_slow", author="Bo"), "Bo")
    made = bay.assessed(store, rows.load(store, number), SHOP)
    assert made.verdicts == ()
    assert "exhaust_puff" in [one.test for one in made.not_judged]


def test_replacing_and_taking_back(store: Store) -> None:
    number, first = begin(store), reading("vent_time", "2.1 s")
    enter(store, number, first)
    enter(store, number, reading("vent_time", "0.6 s", replaces=[first["key"]]))
    assert written(rows.load(store, number))["readings"]["vent_time"]["value"] == "0.6 s"
    last = rows.load(store, number).entries[-1].key
    back = {"key": key(), "kind": "take_back", "of": last, "at": "2026-04-14T07:25:04-06:00"}
    enter(store, number, back)
    assert "readings" not in written(rows.load(store, number))
    assert len(rows.load(store, number).entries) == 3
    with pytest.raises(InputError):
        enter(store, number, back | {"key": key(), "of": key()})


def test_numbers_typed_in_spanish_beside_english_ones(store: Store) -> None:
    number = begin(store)
    enter(store, number, reading("vent_time", ["2,1 s", "2,05 s"], language="es"))
    enter(store, number, reading("supply_gauge_still", "118 psi"))
    visit = bay.assessed(store, rows.load(store, number), SHOP).visit
    assert {one.test: one.each_si for one in visit.readings}["vent_time"] == (2.1, 2.05)


def test_keeping_twice_changes_nothing_and_going_on_corrects(store: Store) -> None:
    number = begin(store)
    enter(store, number, reading("vent_time", "2.1 s"))
    one = bay_closing.keep(store, number, "Ana", SHOP)
    two = bay_closing.keep(store, number, "Ana", SHOP)
    assert (one.visit, one.version) == (two.visit, two.version)
    assert rows.load(store, number).state == "kept"
    enter(store, number, reading("vent_time", "0.6 s", after=True))
    assert rows.load(store, number).state == "open"
    three = bay_closing.keep(store, number, "Ana", SHOP)
    assert show_visit(store, three.visit).corrects == one.visit
    assert show_visit(store, one.visit).row.corrected_by == three.visit
    assert verify(store).sound


def test_signing_says_what_is_missing_and_then_closes(store: Store) -> None:
    number = begin(store)
    enter(store, number, reading("vent_time", "2.1 s"))
    with pytest.raises(InputError, match="no cause is named"):
        bay_closing.sign(store, number, "Ana", SHOP, proved=True)
    with pytest.raises(InputError, match="password is wrong"):
        bay_closing.sign(store, number, "Ana", SHOP, proved=False)
    enter(store, number, reading("vent_time", "0.6 s", after=True))
    ended = bay_closing.sign(store, number, "Ana", SHOP, proved=True, named_causes=("exhaust_blocked",))
    kept = show_visit(store, ended.visit)
    assert kept.row.state == "signed"
    assert kept.signed_by["technician"] == "Ana"
    assert bay_closing.sign(store, number, "Ana", SHOP, proved=True).visit == ended.visit
    late = reading("vent_time", "0.7 s", after=True)
    with pytest.raises(rows.Closed):
        enter(store, number, late)
    assert list_bays(store) == ()
    assert verify(store).sound


def test_a_kept_visit_is_gone_on_with_once(store: Store) -> None:
    first = begin(store)
    enter(store, first, reading("vent_time", "2.1 s"))
    kept = bay_closing.keep(store, first, "Ana", SHOP).visit
    assert bay.start(store, {"key": key(), "from_visit": kept}, "Bo", SHOP).number == first
    with pytest.raises(InputError):
        bay.start(store, {"key": key(), "from_visit": kept + 100}, "Bo", SHOP)


def test_two_tablets_that_go_on_with_one_visit_at_once_get_the_same(store: Store) -> None:
    first = begin(store)
    enter(store, first, reading("vent_time", "2.1 s"))
    kept = bay_closing.keep(store, first, "Ana", SHOP).visit
    rows.end(store, first, rows.SIGNED, kept, Author("Ana", "UTC"))  # done with here; the kept visit is open
    found: list[int] = []

    def go_on() -> None:
        found.append(bay.start(store, {"key": key(), "from_visit": kept}, "Bo", SHOP).number)

    threads = [threading.Thread(target=go_on) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(set(found)) == 1
    assert found[0] != first
    again = rows.load(store, found[0])
    assert written(again)["readings"]["vent_time"]["value"] == "2.1 s"


def test_the_page_data_is_held_by_version_and_look(store: Store) -> None:
    number = begin(store)
    reader = Reader(catalogue=SHOP.catalogue)
    one = bay.page_data(store, number, SHOP, reader, "en")
    assert bay.page_data(store, number, SHOP, reader, "en") is one
    enter(store, number, reading("vent_time", "2.1 s"))
    two = bay.page_data(store, number, SHOP, reader, "en")
    assert (one.version, two.version) == (1, 2)
    assert b"2.1 s" in two.body
