"""A visit kept: once, with everything of it, read back, corrected, and its past used."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from fanwright.desk.assess import assess_visit
from fanwright.desk.keep import keep_in, past_from
from fanwright.errors import InputError
from fanwright.records import tables
from fanwright.records.past import history
from fanwright.records.searching import list_trucks, list_visits, show_visit
from fanwright.records.store import Store
from fanwright.records.verifying import verify
from fanwright.report.say import say


@pytest.fixture
def visit_file(demo_folder: Path, tmp_path: Path) -> Path:
    """Truck 214: a trace before and after, a recording, two lines of history."""
    for path in demo_folder.glob("214*"):
        shutil.copy(path, tmp_path)
    return tmp_path / "214.toml"


def count(store: Store, table: Any) -> int:
    with store.reading() as connection:
        return len(connection.execute(select(table)).all())


def test_everything_of_a_visit_is_kept(store: Store, visit_file: Path) -> None:
    done = keep_in(store, visit_file)
    said = done.assessed.assessment
    assert done.kept.new
    assert done.kept.past_added == 2
    kept = show_visit(store, done.kept.visit)
    assert kept.written == visit_file.read_text("utf-8")
    assert (kept.row.unit, kept.row.date, kept.row.overall) == ("214", "2026-04-14", said.overall)
    assert kept.row.overall_after == said.overall_after
    assert len(kept.verdicts) == len(said.verdicts) + len(said.verdicts_after)
    by_test = {(one.test, one.after): one for one in kept.verdicts}
    for judged in (*said.verdicts, *said.verdicts_after):
        back = by_test[judged.test, judged.reading.after]
        assert back.verdict == judged.verdict
        assert (back.limit_si, back.watch_limit_si) == (judged.limit_si, judged.watch_limit_si)
        assert back.why == judged.why
    assert {one.name for one in kept.files} == {"214-air.csv", "214-air-after.csv", "214-duty.log"}
    for one in kept.files:
        assert store.folder.path(one.sha256).read_bytes() == (visit_file.parent / one.name).read_bytes()
    assert kept.causes == {"exhaust_blocked": False}
    assert kept.not_done == {"coil_amps": "no clamp meter"}
    assert kept.row.state == "to_sign"
    assert verify(store).sound
    with store.reading() as connection:
        numbers = set(connection.execute(select(tables.instruments.c.number)).scalars())
        named = set(connection.execute(select(tables.people.c.name)).scalars())
        setting = connection.execute(select(tables.settings.c.name, tables.settings.c.value)).all()
    assert numbers == {"G-07", "G-09"}
    assert "Ana" in named
    assert ("set_ac_time", "75.0") in [tuple(one) for one in setting]


def test_readings_come_back_as_they_were(store: Store, visit_file: Path) -> None:
    done = keep_in(store, visit_file)
    visit = done.assessed.assessment.visit
    read_out = [reading for one in done.assessed.assessment.evidence for reading in one.readings]
    wanted = [*visit.readings, *visit.readings_after, *read_out]
    (today,) = [past for past in history(store, "214") if past.date == visit.date]
    assert sorted(today.readings, key=repr) == sorted(wanted, key=repr)
    assert today.odometer_m == visit.odometer_m


def test_keeping_the_same_visit_again_changes_nothing(store: Store, visit_file: Path) -> None:
    first = keep_in(store, visit_file).kept
    again = keep_in(store, visit_file).kept
    assert (again.visit, again.new, again.head) == (first.visit, False, first.head)
    assert verify(store).entries == 1


def test_another_text_of_the_same_day_needs_a_reason(store: Store, visit_file: Path) -> None:
    first = keep_in(store, visit_file).kept
    visit_file.write_text(visit_file.read_text("utf-8").replace("377,204 mi", "377,240 mi"), "utf-8")
    with pytest.raises(InputError) as refused:
        keep_in(store, visit_file)
    assert "say why with --why" in say(refused.value.messages[0])
    assert verify(store).entries == 1

    second = keep_in(store, visit_file, by="Rae", why="two digits of the odometer were swapped").kept
    assert second.corrects == first.visit
    old, new = show_visit(store, first.visit), show_visit(store, second.visit)
    assert old.row.corrected_by == second.visit
    assert "377,204 mi" in old.written
    assert new.corrects == first.visit
    assert [row.number for row in list_visits(store, unit="214") if row.kind != "past"] == [second.visit]
    assert [past.date for past in history(store, "214")].count(dt.date(2026, 4, 14)) == 1
    with store.reading() as connection:
        entry = connection.execute(select(tables.entries).order_by(tables.entries.c.number.desc())).first()
    assert entry is not None
    assert (entry.made_by, entry.why, entry.act) == (
        "Rae",
        "two digits of the odometer were swapped",
        "visit corrected",
    )


def test_times_are_kept_in_utc_with_the_zone(store: Store, visit_file: Path) -> None:
    written = visit_file.read_text("utf-8").replace(
        "time = 07:10:00", 'time = 07:10:00\nzone = "America/Denver"'
    )
    visit_file.write_text(written, "utf-8")
    kept = show_visit(store, keep_in(store, visit_file).kept.visit)
    assert (kept.at_utc, kept.zone) == ("2026-04-14T13:10:00Z", "America/Denver")  # MDT is UTC-6


def test_a_zone_that_is_none_is_refused(store: Store, visit_file: Path) -> None:
    written = visit_file.read_text("utf-8").replace(
        "time = 07:10:00", 'time = 07:10:00\nzone = "Nowhere/Land"'
    )
    visit_file.write_text(written, "utf-8")
    with pytest.raises(InputError) as refused:
        keep_in(store, visit_file)
    assert "is not a time zone" in say(refused.value.messages[0])
    assert verify(store).entries == 0


def test_kept_days_count_in_the_next_assessment(store: Store, visit_file: Path) -> None:
    """The odometer of a kept visit shows that a later one goes backwards, without any history in the file."""
    keep_in(store, visit_file)
    later = visit_file.with_name("later.toml")
    later.write_text(
        '[truck]\nunit = "214"\nodometer = "360,000 mi"\npreset = "line-haul spring-on"\n'
        '[visit]\ndate = 2026-06-02\nkind = "planned"\n[readings]\nfacing_thickness = "0.29 in"\n'
    )
    alone = assess_visit(later).assessment
    joined = assess_visit(later, past_of=past_from(store)).assessment
    assert len(joined.visit.history) == 3
    new = {finding.id for finding in joined.findings} - {finding.id for finding in alone.findings}
    assert new
    assert any("odometer" in one for one in new)


def test_a_visit_as_json_comes_back_byte_by_byte(store: Store, tmp_path: Path) -> None:
    path = tmp_path / "7.json"
    path.write_text(
        json.dumps(
            {
                "truck": {"unit": "7"},
                "drive": {"grips_by": "air", "valve": "no", "volts": 24},
                "visit": {"date": "2026-05-01", "kind": "planned"},
                "readings": {"facing_thickness": "7.6 mm"},
            }
        )
    )
    kept = show_visit(store, keep_in(store, path, by="Bo").kept.visit)
    assert kept.form == "json"
    assert kept.written == path.read_text()


@pytest.mark.parametrize(
    ("name", "said"),
    [("../out.csv", "lies outside the folder"), ("gone.jpg", "is not there, so it cannot be kept")],
)
def test_a_file_that_cannot_be_kept_refuses_the_visit(
    store: Store, visit_file: Path, name: str, said: str
) -> None:
    visit_file.write_text(visit_file.read_text("utf-8") + f'photos = "{name}"\n', "utf-8")
    with pytest.raises(InputError) as refused:
        keep_in(store, visit_file)
    assert said in say(refused.value.messages[0])
    assert verify(store).entries == 0


def test_the_same_line_of_history_is_kept_once(store: Store, visit_file: Path) -> None:
    keep_in(store, visit_file)
    other = visit_file.with_name("next.toml")
    text = visit_file.read_text("utf-8").replace("377,204", "380,000")
    other.write_text(text.replace("date = 2026-04-14", "date = 2026-05-20"))
    assert keep_in(store, other).kept.past_added == 0
    assert len(history(store, "214")) == 4


def test_a_drive_exchanged_is_seen_by_its_serial(store: Store, visit_file: Path) -> None:
    text = visit_file.read_text("utf-8").replace("volts = 12", 'volts = 12\nserial = "D-1"\npart = "P-9"')
    visit_file.write_text(text, "utf-8")
    keep_in(store, visit_file)
    later = visit_file.with_name("later.toml")
    later.write_text(text.replace("date = 2026-04-14", "date = 2026-05-20").replace("D-1", "D-2"), "utf-8")
    keep_in(store, later)
    of = tables.fittings.c
    with store.reading() as connection:
        rows = connection.execute(select(of.event, of.serial, of.date).order_by(of.id)).all()
    assert [tuple(row) for row in rows] == [
        ("fitted", "D-1", "2026-04-14"),
        ("removed", "D-1", "2026-05-20"),
        ("fitted", "D-2", "2026-05-20"),
    ]


def test_lists_and_search(store: Store, demo_folder: Path) -> None:
    for unit in ("201", "214", "224"):
        keep_in(store, demo_folder / f"{unit}.toml")
    assert [row.unit for row in list_trucks(store)] == ["201", "214", "224"]
    assert [row.unit for row in list_trucks(store, "invented-21")] == ["214"]
    assert [row.unit for row in list_trucks(store, "%")] == []
    (row,) = list_trucks(store, "214")
    assert (row.visits, row.last_date, row.arrangement) == (3, "2026-04-14", "spring-nc")
    whole = [row.unit for row in list_visits(store) if row.kind != "past"]
    assert whole == ["224", "214", "201"]
    assert {row.unit for row in list_visits(store, search="blocked")} == {"214"}
    assert {row.unit for row in list_visits(store, search="bo") if row.kind != "past"} >= {"201"}
    assert {row.unit for row in list_visits(store, search="millrace") if row.kind != "past"} == {
        "201",
        "214",
        "224",
    }
    assert [row.unit for row in list_visits(store, state="to_sign")] == ["224", "214", "201"]
    assert [row.date for row in list_visits(store, since="2026-10-01")] == ["2026-10-06"]
    assert list_visits(store, search="no such thing") == ()
