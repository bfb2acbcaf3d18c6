"""Calibrations and fitted parts: added one after the other, never overwritten."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from fanwright.desk.keep import keep_visit
from fanwright.desk.records import open_records
from fanwright.desk.tools import calibrate, fit, list_fittings, list_instruments
from fanwright.errors import FanwrightError
from fanwright.records.verifying import verify
from fanwright.report.say import say

DAY = dt.date(2026, 3, 1)


@pytest.fixture
def db(root: Path, tmp_path: Path) -> str:
    named = str(tmp_path / "shop.db")
    keep_visit(root / "examples" / "demo" / "201.toml", named)
    return named


def test_calibrations(db: str) -> None:
    assert [row.number for row in list_instruments(db)] == ["G-07", "G-09"]
    calibrate(db, "G-07", DAY, dt.date(2027, 3, 1), "-8 psi", by="Rae")
    rows = calibrate(db, "G-07", dt.date(2026, 4, 1), None, "0.1 bar", by="Rae")
    assert (rows[0].calibrated, rows[0].due, rows[0].dimension) == ("2026-04-01", "", "pressure")
    assert rows[0].offset_si == pytest.approx(10_000.0)
    assert rows[1].offset_si is None
    calibrate(db, "D-1", DAY, None, "0.001 in", label="depth gauge", by="Rae")
    store = open_records(db)
    found = verify(store)
    store.close()
    assert found.sound
    assert found.entries == 4


@pytest.mark.parametrize(
    ("number", "due", "offset", "said"),
    [
        ("G-07", DAY, None, "must be after"),
        ("G-07", None, "8", "is no offset"),
        ("test_gauge", None, None, "is a kind of instrument"),
    ],
)
def test_calibrations_that_cannot_be(
    db: str, number: str, due: dt.date | None, offset: str | None, said: str
) -> None:
    from fanwright.catalogue import load

    named = next(iter(load().instruments)) if number == "test_gauge" else number
    with pytest.raises(FanwrightError) as refused:
        calibrate(db, named, DAY, due, offset, by="Rae")
    assert said in say(refused.value.messages[0])


def test_parts(db: str) -> None:
    fit(db, "201", "facing", "fitted", DAY, serial="F-1", odometer="300,000 mi", by="Ana")
    fit(db, "201", "facing", "removed", dt.date(2026, 5, 1), serial="F-1", by="Ana")
    rows = fit(db, "201", "facing", "fitted", dt.date(2026, 5, 1), serial="F-2", number="P-9", by="Ana")
    assert [(row.event, row.serial) for row in rows] == [
        ("fitted", "F-1"),
        ("removed", "F-1"),
        ("fitted", "F-2"),
    ]
    assert rows[0].odometer_m == pytest.approx(300_000 * 1609.344)
    with pytest.raises(FanwrightError) as refused:
        fit(db, "201", "facing", "removed", DAY, serial="F-2", by="Ana")
    assert "after the day given" in say(refused.value.messages[0])
    with pytest.raises(FanwrightError) as absent:
        list_fittings(db, "999")
    assert "not in the records" in say(absent.value.messages[0])
