"""`fanwright grips`: the same grip side by side, calibrated by two readings, and wrong input."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from fanwright.desk.grips import Asked, grip_table
from fanwright.errors import InputError
from fanwright.laws.wear import ring_area_m2
from fanwright.report.say import say
from fanwright.truck.loader import presets

PRESET = "line-haul spring-on"
RUNS = "start_s,end_s,slip_energy_mj\n0,10,0.01\n1000,1010,0.03\n3590,3600,\n"


def test_facing_lost_gives_back_the_loss_it_was_told_by() -> None:
    """0.010 in in 1000 grips at 1300 rpm: a grip at 1300 rpm takes a thousandth of it."""
    found = grip_table(Asked(PRESET, ("2100", "1300 rpm"), lost="0.010 in", over=1000))
    slow, fast = found.rows
    assert (slow.cost.engine_rpm, fast.cost.engine_rpm) == pytest.approx((1300.0, 2100.0))
    assert slow.lost_m == pytest.approx(0.254e-6)
    assert fast.lost_m == pytest.approx(0.254e-6 * fast.cost.energy_j / slow.cost.energy_j)
    facing = presets()[PRESET].facing
    area = ring_area_m2(facing.inner_radius_m, facing.outer_radius_m) * facing.faces
    assert found.wear_m3_per_j == pytest.approx(area * 0.254e-3 / (1000 * slow.cost.energy_j))
    assert slow.lost_m_per_minute == pytest.approx(slow.lost_m * slow.slip_w * 60.0 / slow.cost.energy_j)


def test_runs_tell_heat_and_pace(tmp_path: Path) -> None:
    path = tmp_path / "runs.csv"
    path.write_text(RUNS, "utf-8")
    found = grip_table(Asked(PRESET, ("1300",), lost="1 mm", over=100, runs=path))
    assert found.grips_per_hour == pytest.approx(3.0)
    facing = presets()[PRESET].facing
    area = ring_area_m2(facing.inner_radius_m, facing.outer_radius_m) * facing.faces
    assert found.wear_m3_per_j == pytest.approx(area * 1e-3 / (100 * 0.02e6))


def test_air_left_steals_torque_until_it_never_locks() -> None:
    sound = grip_table(Asked(PRESET, ("2100",)))
    weak = grip_table(Asked(PRESET, ("2100",), air="45 psi"))
    assert sound.rows[0].cost.locks
    assert not weak.rows[0].cost.locks
    assert weak.in_hand.ratio < 1.0 < sound.in_hand.ratio
    assert sound.rows[0].lost_m is None


def test_all_mistakes_come_together(tmp_path: Path) -> None:
    empty = tmp_path / "runs.csv"
    empty.write_text("start_s,end_s,slip_energy_mj\n0,10,\n", "utf-8")
    with pytest.raises(InputError) as refused:
        grip_table(Asked("none", ("9000", "abc"), 900.0, "3", "1 in", 0, empty))
    said = " / ".join(say(one) for one in refused.value.messages)
    assert len(refused.value.messages) == 7
    for part in ("--truck", "9000", "--rpm: «abc", "--air", "--per-hour", "--over", "--runs: no run"):
        assert part in said, said


def test_the_command_shows_and_refuses(tmp_path: Path) -> None:
    def run(*arguments: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "fanwright", "grips", *arguments]
        return subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)

    shown = run("--truck", PRESET)
    assert shown.returncode == 0, shown.stderr
    assert "1,300 rpm" in shown.stdout
    assert "torque in hand" in shown.stdout
    data = json.loads(run("--truck", PRESET, "--lost", "0.3 mm", "--over", "900", "--json").stdout)
    assert [one["engine_rpm"] for one in data["grips"]] == [1300.0, 2100.0]
    assert data["grips"][1]["energy_mj"] > 2 * data["grips"][0]["energy_mj"]
    wrong = run("--truck", "x", "--runs", str(tmp_path / "none.csv"))
    assert wrong.returncode == 2
    assert len(wrong.stderr.splitlines()) == 2
