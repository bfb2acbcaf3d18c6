"""The commands as a user starts them: exit codes, one line a mistake, JSON that holds what is promised."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

VISIT = """
[truck]
unit = "214"
odometer = "377,204 mi"
engine_hours = "9,412 h"
preset = "line-haul spring-on"

[drive]
grips_by = "spring"
valve = "nc"
volts = 12

[visit]
date = 2026-04-14
kind = "complaint"
technician = "Ana"

[proof]
unplugged_drive_gauge = "0 psi"
unplugged_fan = "grips"

[readings]
supply_gauge_still = "118 psi"
drive_gauge_air_on = "117 psi"
vent_time = { value = ["2.1 s", "2.0 s"], instrument = "G-07", at = 07:21:00, by = "Ana" }
exhaust_puff = "weak_or_slow"
facing_thickness = ["0.297 in", "19/64 in", "0.301 in", "7.6 mm"]

[readings_after]
vent_time = { value = "0.6 s", instrument = "G-07" }

[not_done]
coil_amps = "no clamp meter"

[work]
cause = "exhaust_blocked"
parts = []
labour = "12 min"

[[history]]
date = 2025-10-02
odometer = "361,900 mi"
facing_thickness = "0.305 in"
"""


def fanwright(*words: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "fanwright", *map(str, words)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def read_json(*words: str | Path) -> Any:
    done = fanwright(*words, "--json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture
def visit(tmp_path: Path) -> Path:
    path = tmp_path / "visit.toml"
    path.write_text(VISIT)
    return path


def test_assess_gives_the_promised_json(visit: Path) -> None:
    found = read_json("assess", visit)
    assert found["unit"] == "214"
    assert found["overall"] == "act_now"
    vent = next(one for one in found["verdicts"] if one["test"] == "vent_time")
    assert vent["verdict"] == "act_now"
    assert vent["value_s"] == pytest.approx(2.1)
    assert vent["limit_s"] == pytest.approx(1.5)
    assert vent["watch_limit_s"] == pytest.approx(1.0)
    assert vent["sd_s"] > 0
    assert vent["chance_beyond_limit"] > 0.99
    assert vent["repeat"] is False
    assert vent["source"] == "typed"
    assert vent["why"]
    puff = next(one for one in found["verdicts"] if one["test"] == "exhaust_puff")
    assert puff["outcome"] == "weak_or_slow"
    assert found["not_done"] == [{"test": "coil_amps", "why": "no clamp meter"}]
    assert {one["test"] for one in found["not_judged"]} == {"facing_spread"}
    assert [one["verdict"] for one in found["verdicts_after"]] == ["good"]
    first = [cause["fault"] for cause in found["causes"][:2]]
    assert sorted(first) == ["drive_line_restricted", "exhaust_blocked"]  # without a fill time, one of these
    assert all(set(cause) >= {"fault", "probability", "fix", "for", "against"} for cause in found["causes"])
    assert "life" not in found or found["life"] is None or found["life"]["remaining_km"]


def test_a_json_visit_is_the_same_visit(visit: Path, tmp_path: Path) -> None:
    import tomllib

    again = tmp_path / "visit.json"
    again.write_text(json.dumps(tomllib.loads(VISIT), default=str))
    assert read_json("assess", again)["verdicts"] == read_json("assess", visit)["verdicts"]


def test_text_for_people_is_plain_when_piped(visit: Path) -> None:
    done = fanwright("assess", visit)
    assert done.returncode == 0
    assert "\x1b" not in done.stdout
    assert "ACT NOW" in done.stdout
    assert "2.1 s" in done.stdout
    assert "caution:" in done.stdout


def test_all_mistakes_of_a_file_at_once(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text(
        '[truck]\nunit="1"\n[drive]\ngrips_by="sprung"\nvalve="nc"\n[visit]\ndate="soon"\nkind="planed"\n'
        '[readings]\nvent_time=2.1\ngrip="hold"\nvent_tim="1 s"\nsupply_gauge_still="118"\n'
    )
    done = fanwright("assess", bad)
    assert done.returncode == 2
    lines = done.stderr.strip().splitlines()
    assert len(lines) == 7
    assert done.stdout == ""
    for part in ("sprung", "soon", "planed", "2.1", "hold", "vent_time?", "«118»"):
        assert any(part in line for line in lines), part
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("content", "part"),
    [
        (b"", "empty"),
        (b"\x00\x01\x02", "not text"),
        (b"\xff\xfe\xfa", "UTF-8"),
        (b"[truck\n", "TOML"),
        (b"{", "JSON"),
        (b"[1]", ""),
        (b'{"truck": NaN}', "JSON"),
    ],
)
def test_a_damaged_file_gives_one_line(content: bytes, part: str, tmp_path: Path) -> None:
    bad = tmp_path / "visit.toml"
    bad.write_bytes(content)
    done = fanwright("assess", bad)
    assert done.returncode == 2
    assert part in done.stderr
    assert "Traceback" not in done.stderr


def test_a_missing_file_and_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        done = fanwright("assess", path)
        assert (done.returncode, len(done.stderr.strip().splitlines())) == (2, 1)


def test_a_missing_trace_is_a_mistake_of_the_visit(visit: Path) -> None:
    visit.write_text(VISIT + '\n[files]\nair_trace = "none.csv"\n')
    done = fanwright("assess", visit)
    assert done.returncode == 2
    assert "air_trace" in done.stderr


def test_a_shop_moves_limits_but_not_words(visit: Path, tmp_path: Path) -> None:
    shop = tmp_path / "our.toml"
    shop.write_text(
        '[limits.vent_time]\nsource = "data sheet of the drive"\n'
        'bands = [{verdict="good", up_to="2.5 s"}, {verdict="watch", up_to="3 s"}, {verdict="act_now"}]\n'
        '[units]\npressure = "kPa"\n'
    )
    found = read_json("assess", visit, "--shop", shop)
    vent = next(one for one in found["verdicts"] if one["test"] == "vent_time")
    assert vent["verdict"] == "good"
    assert vent["limit_source"] == "data sheet of the drive"
    assert len(found["shop"]["sha256"]) == 64
    assert "kPa" in fanwright("assess", visit, "--shop", shop).stdout


@pytest.mark.parametrize(
    ("written", "part"),
    [
        ("[limits.vent_tim]\nsource='x'\n", "vent_tim"),
        ("[limits.vent_time]\nbands=[{verdict='good'}]\n", "source"),
        (
            "[limits.vent_time]\nsource='x'\nbands=[{verdict='good', up_to='2 psi'},{verdict='watch'}]\n",
            "2 psi",
        ),
        ("[limits.vent_time]\nsource='x'\nwords={within_2_s='good'}\n", "within_2_s"),
        ("[colour]\nx=1\n", "colour"),
        ("[units]\npressure='mm'\n", "mm"),
    ],
)
def test_a_wrong_shop_file_is_refused(written: str, part: str, visit: Path, tmp_path: Path) -> None:
    shop = tmp_path / "our.toml"
    shop.write_text(written)
    done = fanwright("assess", visit, "--shop", shop)
    assert done.returncode == 2
    assert part in done.stderr
    assert "Traceback" not in done.stderr


def test_shop_beside_the_visit_is_found(visit: Path) -> None:
    (visit.parent / "shop.toml").write_text("[limits.caution_share]\nvalue = 0.4\nsource = 'ours'\n")
    assert read_json("assess", visit)["shop"]["file"].endswith("shop.toml")


def test_new_writes_a_visit_that_only_needs_readings(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    done = fanwright("new", path, "--unit", '7 "x"', "--preset", "line-haul air-on", "--kind", "complaint")
    assert done.returncode == 0, done.stderr
    assert read_json("assess", path)["overall"] == "not_judged"
    before = path.read_bytes()
    again = fanwright("new", path, "--unit", "8")
    assert again.returncode == 2
    assert path.read_bytes() == before


def test_new_hints_are_themselves_valid(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    fanwright("new", path, "--unit", "7")
    text = path.read_text()
    for hint in ('grips_by = "spring"', 'valve = "nc"', "volts = 12", 'technician = "Ana"'):
        assert f"# {hint}" in text
    filled = text.replace('# grips_by = "spring"', 'grips_by = "spring"').replace(
        '# valve = "nc"', 'valve = "nc"'
    )
    path.write_text(filled)
    assert fanwright("assess", path).returncode == 0


def test_tests_and_limits_list_everything() -> None:
    tests = read_json("tests")
    assert len(tests) == 76
    assert all(test["source"] and test["how"] for test in tests)
    limits = read_json("limits")
    assert {limit["test"] for limit in limits["tests"]} == {test["test"] for test in tests}
    assert all(limit["source"] for limit in limits["tests"])
    one = fanwright("tests", "vent_time").stdout
    assert "caution" in one
    wrong = fanwright("tests", "vent_tme")
    assert (wrong.returncode, "vent_time" in wrong.stderr) == (2, True)


def test_compare_two_visits(visit: Path, tmp_path: Path) -> None:
    later = tmp_path / "later.toml"
    later.write_text(VISIT.replace('"2.1 s", "2.0 s"', '"0.6 s"').split("[readings_after]")[0])
    changes = {one["test"]: one for one in read_json("compare", visit, later)["changes"]}
    vent = changes["vent_time"]
    assert vent["change_s"] == pytest.approx(-1.5)
    assert vent["chance_real"] > 0.99
    assert (vent["verdict_before"], vent["verdict_after"]) == ("act_now", "good")
    assert fanwright("compare", visit, later).returncode == 0


def test_help_and_wrong_words() -> None:
    assert "assess" in fanwright("--help").stdout
    assert fanwright("asess").returncode == 2
    assert fanwright("assess").returncode == 2
    assert fanwright("assess", "--nope", "x").returncode == 2


def test_our_own_fault_is_one_line_and_exit_1(monkeypatch: pytest.MonkeyPatch) -> None:
    from fanwright.cli import run

    def broken() -> None:
        raise ZeroDivisionError

    assert run(broken) == 1
