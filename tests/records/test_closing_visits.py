"""The life of a visit, what refuses to be closed, and what closing teaches."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fanwright.catalogue import load
from fanwright.desk.close_visit import close_in
from fanwright.desk.keep import keep_in, taught_by
from fanwright.errors import InputError
from fanwright.records.lessons import (
    confirmed_counts,
    learned_shares,
    lessons,
    mark_lesson,
    shares,
    signed_without_cause,
)
from fanwright.records.life import move
from fanwright.records.model import Author
from fanwright.records.searching import list_visits, show_visit
from fanwright.records.store import Store
from fanwright.records.verifying import verify
from fanwright.report.say import say, say_all

ANA = Author("Ana", "UTC", "the hose came")

BASE = """
[truck]
unit = "{unit}"
[drive]
grips_by = "spring"
valve = "nc"
volts = 12
[visit]
date = 2026-04-14
kind = "complaint"
technician = "Ana"
[readings]
vent_time = "2.1 s"
exhaust_puff = "strong"
"""
BLOCKED = BASE + '[readings_after]\nvent_time = "0.6 s"\n[work]\ncause = "{cause}"\n'


@pytest.fixture
def kept(store: Store, tmp_path: Path) -> Callable[..., int]:
    """Keep a visit of a text, give its number."""
    numbers: dict[str, int] = {}

    def keep(text: str, **values: Any) -> int:
        unit = values.setdefault("unit", f"U{len(numbers)}")
        path = tmp_path / f"{unit}.toml"
        path.write_text(text.format(**values))
        numbers[unit] = keep_in(store, path).kept.visit
        return numbers[unit]

    return keep


def refused(call: Callable[[], object]) -> list[str]:
    with pytest.raises(InputError) as error:
        call()
    return say_all(error.value.messages)


def test_a_sound_repair_closes(store: Store, kept: Callable[..., int]) -> None:
    number = kept(BLOCKED, cause="exhaust_blocked")
    done = close_in(store, number, by="Ana", driver_told="Ana", fitted=("screen, old-1, new-1",))
    assert done.overridden == ()
    after = show_visit(store, number)
    assert after.row.state == "signed"
    assert after.signed_by == {"technician": "Ana", "driver_told": "Ana"}
    assert after.causes["exhaust_blocked"] is True
    assert after.parts == ("screen",)
    assert verify(store).sound


def test_everything_missing_is_told_together(store: Store, kept: Callable[..., int]) -> None:
    number = kept(BASE)
    told = refused(lambda: close_in(store, number, by="Ana"))
    assert len(told) == 3
    assert "no cause is named" in told[0]
    assert "was not read again after the repair" in told[1]
    assert "close it anyway and say why" in told[2]
    assert show_visit(store, number).row.state == "open"


def test_closed_anyway_is_kept_with_its_reason(store: Store, kept: Callable[..., int]) -> None:
    number = kept(BASE)
    done = close_in(store, number, by="Ana", anyway="the truck was sold")
    assert len(done.overridden) == 2
    (last,) = [one for one in show_visit(store, number).states if one.state == "signed"]
    assert last.because.startswith("closed anyway, because: the truck was sold; ")
    assert "no cause is named" in last.because
    assert last.by == "Ana"


def test_a_result_needs_its_cause(store: Store, kept: Callable[..., int]) -> None:
    number = kept(BLOCKED, cause="facing_glazed")
    told = refused(lambda: close_in(store, number, by="Ana"))
    assert "is a result: name what led to it" in told[0]
    assert "exhaust_blocked" in told[0]
    assert "is a result" in refused(lambda: close_in(store, number, by="Ana", named_causes=("wire_open",)))[0]
    close_in(store, number, by="Ana", named_causes=("exhaust_blocked",))
    assert show_visit(store, number).causes == {"facing_glazed": True, "exhaust_blocked": True}


def test_a_cause_may_lead_to_a_result_over_several_steps(store: Store, kept: Callable[..., int]) -> None:
    """Wet air -> a valve that sticks open -> a worn facing; the catalogue names each step."""
    faults = load().faults
    assert "valve_sticks_open" in faults["air_wet_or_oily"].leads_to
    assert "facing_worn" in faults["valve_sticks_open"].leads_to
    assert "facing_worn" not in faults["air_wet_or_oily"].leads_to
    number = kept(BLOCKED, cause="facing_worn")
    close_in(store, number, by="Ana", named_causes=("air_wet_or_oily",))
    assert show_visit(store, number).row.state == "signed"


def test_still_bad_after_the_repair(store: Store, kept: Callable[..., int]) -> None:
    number = kept(BLOCKED.replace('"0.6 s"', '"1.9 s"'), cause="exhaust_blocked")
    assert "still calls for action after the repair" in refused(lambda: close_in(store, number, by="Ana"))[0]


@pytest.mark.parametrize(
    "cause", ["valve_sticks_open", "hub_bearing_worn", "fan_rubs", "fan_wrong_or_backwards"]
)
@pytest.mark.parametrize("second", ["", "Ana", " Ana "])
def test_grave_work_needs_a_second_person(
    store: Store, kept: Callable[..., int], cause: str, second: str
) -> None:
    number = kept(BLOCKED, cause=cause)
    told = refused(lambda: close_in(store, number, by="Ana", second=second))
    assert "a second person must look at it" in told[0]
    done = close_in(store, number, by="Ana", second="Rae")
    assert done.signed_by == {"technician": "Ana", "second_person": "Rae"}


def test_steps_of_a_life(store: Store, kept: Callable[..., int]) -> None:
    number = kept(BASE)
    for state in ("in_work", "waiting_for_part", "to_sign"):
        assert move(store, number, state, ANA) == state
    told = refused(lambda: move(store, number, "open", ANA))
    assert told == [
        f"visit {number} is in the state to_sign; «open» cannot follow, only in_work, waiting_for_part"
    ]
    assert "only signing closes" in refused(lambda: move(store, number, "signed", ANA))[0]
    close_in(store, number, by="Ana", anyway="so")
    assert "only re_test" in refused(lambda: close_in(store, number, by="Ana"))[0]
    assert move(store, number, "re_test", ANA) == "re_test"
    life = show_visit(store, number).states
    assert [one.state for one in life] == [
        "open",
        "in_work",
        "waiting_for_part",
        "to_sign",
        "signed",
        "re_test",
    ]
    assert life[2].because == "the hose came"
    assert [row.number for row in list_visits(store, state="re_test")] == [number]
    assert list_visits(store, state="signed") == ()


def test_what_has_no_life(store: Store, kept: Callable[..., int]) -> None:
    number = kept(BASE + '[[history]]\ndate = 2026-01-02\nfacing_thickness = "0.3 in"\n')
    assert "line of history" in refused(lambda: move(store, number + 1, "in_work", ANA))[0]
    assert "there is no visit 99" in refused(lambda: move(store, 99, "in_work", ANA))[0]
    assert "is not a cause" in refused(lambda: close_in(store, number, by="Ana", named_causes=("ghost",)))[0]
    assert "nobody is named" in refused(lambda: close_in(store, number, by="", anyway="so"))[0]


def test_a_corrected_visit_cannot_be_closed(store: Store, kept: Callable[..., int], tmp_path: Path) -> None:
    number = kept(BASE, unit="9")
    path = tmp_path / "9.toml"
    path.write_text(path.read_text().replace("2.1 s", "2.2 s"))
    keep_in(store, path, why="misread")
    assert "was corrected" in refused(lambda: close_in(store, number, by="Ana", anyway="so"))[0]


def test_two_people_cannot_close_the_same_visit(store: Store, kept: Callable[..., int]) -> None:
    from fanwright.records.life import sign

    number = kept(BASE)
    move(store, number, "in_work", ANA)
    with pytest.raises(InputError) as late:
        sign(store, number, ANA, {"technician": "Ana"}, seen_states=1)
    assert "was changed meanwhile" in say(late.value.messages[0])


def test_the_posterior_mean_of_a_dirichlet() -> None:
    """(alpha_j + n_j) / (alpha_0 + n): Gelman et al., Bayesian Data Analysis, section 3.4 (from memory)."""
    weights = {"a": 6.0, "b": 3.0, "c": 1.0}
    found = learned_shares(weights, {"b": 5, "c": 15}, worth_visits=20.0)
    assert found == pytest.approx({"a": 12 / 40, "b": (6 + 5) / 40, "c": (2 + 15) / 40})
    assert sum(found.values()) == pytest.approx(1.0)
    assert learned_shares(weights, {}) == pytest.approx({"a": 0.6, "b": 0.3, "c": 0.1})


def test_closed_visits_teach_and_can_be_taken_out_and_undone(store: Store, kept: Callable[..., int]) -> None:
    first = kept(BLOCKED, cause="exhaust_blocked")
    second = kept(BLOCKED, cause="coil_weak")
    still_open = kept(BLOCKED, cause="coil_weak")
    close_in(store, first, by="Ana")
    close_in(store, second, by="Ana")
    assert [lesson.visit for lesson in lessons(store)] == [first, second]
    assert still_open not in [lesson.visit for lesson in lessons(store)]

    def counted() -> dict[str, int]:
        return dict(confirmed_counts(lessons(store))["complaint"])

    assert counted() == {"exhaust_blocked": 1, "coil_weak": 1}
    found = {one.fault: one for one in shares(store, load()) if one.kind == "complaint"}
    assert found["exhaust_blocked"].learned > found["exhaust_blocked"].judged
    assert found["wire_open"].learned < found["wire_open"].judged
    assert sum(one.learned for one in found.values()) == pytest.approx(1.0)

    mark_lesson(store, "take_out", ANA, first)
    assert counted() == {"coil_weak": 1}
    mark_lesson(store, "put_back", ANA, first)
    assert counted() == {"exhaust_blocked": 1, "coil_weak": 1}
    mark_lesson(store, "undo", ANA)
    assert counted() == {}
    third = kept(BLOCKED, cause="wire_open")
    close_in(store, third, by="Ana")
    assert counted() == {"wire_open": 1}
    mark_lesson(store, "redo", ANA)
    assert counted() == {"exhaust_blocked": 1, "coil_weak": 1, "wire_open": 1}
    assert verify(store).sound
    assert "say why" in refused(lambda: mark_lesson(store, "undo", Author("Ana", "UTC")))[0]


def test_what_was_learned_moves_the_prior_of_diagnosis(store: Store, kept: Callable[..., int]) -> None:
    judged = load()
    assert taught_by(store)(judged) is judged
    for _ in range(3):
        close_in(store, kept(BLOCKED, cause="coil_weak"), by="Ana")
    taught = taught_by(store)(judged)
    old, new = judged.faults["coil_weak"], taught.faults["coil_weak"]
    total = sum(fault.weight_complaint for fault in judged.faults.values())
    expected = (200.0 * old.weight_complaint / total + 3) / 203.0
    assert new.weight_complaint / total == pytest.approx(expected)
    assert new.weight_planned == pytest.approx(old.weight_planned)
    assert sum(fault.weight_complaint for fault in taught.faults.values()) == pytest.approx(total)


def test_a_sound_truck_teaches_too_and_a_silent_one_is_counted(
    store: Store, demo_folder: Path, kept: Callable[..., int]
) -> None:
    good = keep_in(store, demo_folder / "201.toml").kept.visit
    close_in(store, good, by="Ana")
    assert confirmed_counts(lessons(store))["planned"] == {"no_fault": 1}
    close_in(store, kept(BASE), by="Ana", anyway="sold")
    assert signed_without_cause(store) == 1
