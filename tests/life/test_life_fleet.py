"""`fanwright lives`: whole lives from sheets and readings, whether renewing by age pays, wrong input."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from pathlib import Path

import pytest

from fanwright.desk.lives import OwnCosts, renew_by_lives
from fanwright.errors import InputError
from fanwright.life.history import History, Thickness
from fanwright.life.lives import lives_of
from fanwright.life.renewing import Costs, renewing
from fanwright.life.weibull import Life
from fanwright.report.life_data import renewing_data
from fanwright.report.say import Reader, say

FAILED_H = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)
NIST = "good_at [h],ended_by [h],watched_from,number\n" + "".join(f"{h},{h},,\n" for h in FAILED_H)
INSPECTED = (
    "good_at,ended_by,number\n,20 h,1\n20 h,40 h,3\n40 h,60 h,7\n60 h,80 h,9\n80 h,100 h,6\n100 h,,4\n"
)
COSTS = Costs(200.0, 900.0, 40.0, 1.0)


def sheet(folder: Path, written: str) -> Path:
    path = folder / "lives.csv"
    path.write_text(written, "utf-8")
    return path


def test_nist_life_from_a_sheet(tmp_path: Path) -> None:
    """NIST/SEMATECH e-Handbook 8.4.1.3: shape 1.7208, scale 606.5280 h; 10 of 20 still run at 500 h."""
    found = renew_by_lives(
        sheet(tmp_path, NIST + "500,,,10\n"), costs=OwnCosts("200 USD", "900 USD", "40 USD")
    ).found
    assert (found.ended, found.running, found.dimension) == (10, 10, "engine_time")
    assert found.shape.value == pytest.approx(1.7208, abs=5e-5)
    assert found.scale.value / 3600.0 == pytest.approx(606.5280, abs=1e-3)
    assert found.best.age is not None
    assert found.best.age / 3600.0 == pytest.approx(370.004366, rel=1e-5)  # root of the cost rate's slope
    assert found.age is not None
    assert found.age.low < found.best.age < found.age.high
    assert found.look.low < found.look.value < found.look.high
    assert 0.5 < found.chance_pays < 1.0
    said = " / ".join(say(one) for one in found.advice)
    assert "wear-out is seen" in said
    assert "370 h" in said


def test_left_and_interval_censoring_from_a_sheet(tmp_path: Path) -> None:
    """Made counts of inspections; fitted values by lifelines, surpyval and scipy alike."""
    found = renew_by_lives(sheet(tmp_path, INSPECTED)).found
    assert found.scale.value / 3600.0 == pytest.approx(77.98502, rel=1e-5)
    assert found.shape.value == pytest.approx(2.802645, rel=1e-5)
    assert (found.ended, found.running) == (26, 4)


def test_late_entry_moves_the_fit(tmp_path: Path) -> None:
    """Made data with entry ages; fitted values by lifelines and surpyval alike."""
    ages = (31, 44, 52, 58, 63, 70, 75, 82, 60, 90, 55, 95)
    entry = (0, 10, 25, 0, 40, 15, 30, 50, 20, 45, 5, 60)
    rows = [
        f"{age} h,{age if at < 8 else ''}{' h' if at < 8 else ''},{entry[at]} h"
        for at, age in enumerate(ages)
    ]
    found = renew_by_lives(sheet(tmp_path, "good_at,ended_by,watched_from\n" + "\n".join(rows))).found
    assert found.scale.value / 3600.0 == pytest.approx(74.99697, rel=2e-6)
    assert found.shape.value == pytest.approx(2.791061, rel=2e-6)


def test_age_replacement_cannot_pay_where_no_wear_out_is_seen() -> None:
    lives = [Life.ended(x) for x in (1.0, 2.0, 5.0, 9.0, 30.0, 90.0, 200.0)]
    found = renewing(lives, COSTS)
    assert found.shape.value < 1.0
    assert found.age is None
    said = " / ".join(say(one) for one in found.advice)
    assert "no wear-out seen" in said
    assert "age replacement cannot pay" in said
    data = renewing_data(found, 0, Reader())
    assert data["renew_at_km"] is None
    assert not data["age_replacement_pays"]
    json.dumps(data, allow_nan=False)


def test_no_practical_gain_and_no_dearer_end() -> None:
    lives = [Life.ended(x) for x in (800.0, 900.0, 950.0, 1000.0, 1050.0, 1100.0, 1200.0)]
    little = renewing(lives, Costs(100.0, 104.0, 10.0, 1.0))
    assert "no practical gain" in say(little.advice[1])
    same = renewing(lives, Costs(100.0, 100.0, 10.0, 1.0))
    assert "costs no more" in say(same.advice[1])


def readings(*thickness_mm: float, fresh: tuple[int, ...] = ()) -> History:
    rows = [
        Thickness(None, 1e7 * at, mm * 1e-3, 1e-4, at in fresh, str(at)) for at, mm in enumerate(thickness_mm)
    ]
    return History("7", tuple(rows))


def test_lives_are_read_out_of_readings() -> None:
    assert lives_of([readings(8.7, 8.0, 7.5)]).lives == (Life.running(2e7),)
    assert lives_of([readings(8.7, 7.0, 6.3)]).lives == (Life(1e7, 2e7),)  # under its limit between two looks
    assert lives_of([readings(8.7, 6.5, 8.7, fresh=(2,))]).lives == (
        Life(1e7, 2e7),
    )  # renewed near its limit
    assert lives_of([readings(8.7, 7.9, 8.7, 8.0, fresh=(2,))]).lives == (
        Life.running(1e7), Life.running(1e7),
    )  # fmt: skip
    worn = lives_of([readings(7.5, 7.0)])
    assert worn.lives == ()
    assert worn.unknown == 1
    assert lives_of([readings(8.7, 6.6, 8.7, 7.0, 6.2, fresh=(0, 2))]).lives == (
        Life(1e7, 2e7), Life(1e7, 2e7),
    )  # fmt: skip


def test_a_sheet_of_readings_will_do(tmp_path: Path) -> None:
    rows = ["unit,date,odometer,facing,new_facing"]
    for unit in range(6):
        for at in range(5):
            run_km, left_mm = 100 + (30 + 3 * unit) * at, 8.7 - 0.65 * at
            rows.append(f"{unit},202{at}-01-0{unit + 1},{run_km},{left_mm:.2f} mm,{int(not at)}")
    path = sheet(tmp_path, "\n".join(rows).replace("odometer", "odometer [km]"))
    found = renew_by_lives(path).found
    assert found.dimension == "distance"
    assert found.ended == 6
    assert found.shape.low > 1.0


def test_all_mistakes_come_together(tmp_path: Path) -> None:
    path = sheet(
        tmp_path,
        "good_at,ended_by,watched_from,number\n,,,1\n50 h,40 h,,\n10,20 h,,\n10 h,20 h,30 h,\n5 h,,,x\n"
        "5 km,9 km,,\n5 h,,9 h,\n",
    )
    with pytest.raises(InputError) as refused:
        renew_by_lives(path, costs=OwnCosts("0 USD", "nine", "5 psi"))
    said = [say(one) for one in refused.value.messages]
    assert len(said) == 10, said
    with pytest.raises(InputError) as refused:
        renew_by_lives(sheet(tmp_path, "good_at,x\n1,2\n"))
    assert "ended_by" in say(refused.value.messages[0])
    with pytest.raises(InputError) as refused:
        renew_by_lives(sheet(tmp_path, "unit,date,odometer,facing\n1,2025-01-01,10 mi,0.3 in\n"))
    said = [say(one) for one in refused.value.messages]
    assert "at least 2" in said[0]
    assert "first seen worn" in said[1]


def test_the_command(tmp_path: Path) -> None:
    path = sheet(tmp_path, NIST + "500,,,10\n")

    def run(*arguments: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "fanwright", "lives", *arguments]
        return subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)

    shown = run(str(path))
    assert shown.returncode == 0, shown.stderr
    assert "607 h" in shown.stdout
    data = json.loads(run(str(path), "--json").stdout)
    assert data["scale_h"]["low"] < data["scale_h"]["value"] < data["scale_h"]["high"]
    assert all(math.isfinite(value) for value in data["shape"].values())
    assert run(str(path), "--db", "x.db").returncode == 2
    assert run("--db", str(tmp_path / "none.db")).returncode == 2
