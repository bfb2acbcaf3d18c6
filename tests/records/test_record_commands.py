"""The commands on records as a person calls them: what they print, and what they do with wrong input."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

HEAVY = {"sqlalchemy", "alembic", "psycopg", "openpyxl", "sqlite3"}


def run(*arguments: str, folder: Path, code: int = 0, **variables: str) -> subprocess.CompletedProcess[str]:
    clean = {key: value for key, value in os.environ.items() if not key.startswith("FANWRIGHT_")}
    done = subprocess.run(
        [sys.executable, "-m", "fanwright", *arguments],
        capture_output=True, text=True, check=False, timeout=120, cwd=folder, env=clean | variables,
    )  # fmt: skip
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    return done


def data(*arguments: str, folder: Path) -> Any:
    return json.loads(run(*arguments, "--json", folder=folder).stdout)


@pytest.fixture(scope="module")
def fleet(demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the demo fleet in ``fanwright.db``."""
    folder = tmp_path_factory.mktemp("fleet")
    loaded = data("demo", str(demo_folder), folder=folder)
    assert loaded["trucks"] == loaded["new_visits"] == 24
    assert 0 < loaded["signed"] < 24
    return folder


def test_the_fleet_is_there_with_its_history(fleet: Path) -> None:
    trucks = data("trucks", folder=fleet)["trucks"]
    assert [truck["unit"] for truck in trucks] == [str(number) for number in range(201, 225)]
    assert all(truck["visits"] >= 3 for truck in trucks)
    shown = data("show", "214", folder=fleet)
    assert [day["date"] for day in shown["history"]] == ["2025-10-02", "2026-01-08", "2026-04-14"]
    signed = data("visits", "--state", "signed", folder=fleet)["visits"]
    (visit,) = [one for one in signed if one["unit"] == "214"]
    full = data("show", "--visit", str(visit["visit"]), folder=fleet)
    assert full["signed_by"]["technician"] == "Ana"
    (vent,) = [one for one in full["verdicts"] if one["test"] == "vent_time" and not one["after"]]
    assert vent["value_s"] == pytest.approx(2.1, abs=0.06)
    assert (vent["watch_limit_s"], vent["limit_s"], vent["verdict"]) == (1.0, 1.5, "act_now")
    assert "214" in run("visits", "--unit", "214", folder=fleet).stdout
    assert (
        "as found, with the limits of that day"
        in run("show", "--visit", str(visit["visit"]), folder=fleet).stdout
    )


def test_loading_again_adds_nothing(fleet: Path, demo_folder: Path) -> None:
    assert data("demo", str(demo_folder), folder=fleet)["new_visits"] == 0


def test_verify_backup_restore(fleet: Path, tmp_path: Path) -> None:
    found = data("verify", folder=fleet)
    assert found["sound"] is True
    assert found["wrong"] == found["notes"] == []
    made = data("backup", str(tmp_path / "b.zip"), folder=fleet)
    assert made["head_sha256"] == found["head_sha256"]
    again = str(tmp_path / "again.db")
    restored = data("restore", str(tmp_path / "b.zip"), "--db", again, folder=fleet)
    assert restored == {key: made[key] for key in ("entries", "rows", "files", "head_sha256")}
    assert data("verify", "--db", again, "--expect", made["head_sha256"], folder=fleet)["sound"] is True
    assert data("verify", "--expect", "ab" * 32, folder=fleet)["sound"] is False
    assert "is there already" in run("backup", str(tmp_path / "b.zip"), folder=fleet, code=2).stderr
    assert "is there already" in run("restore", str(tmp_path / "b.zip"), folder=fleet, code=2).stderr


def test_learning_retention_export(fleet: Path, tmp_path: Path) -> None:
    learned = data("learning", folder=fleet)
    assert {"fault", "kind", "confirmed", "judged_share", "learned_share"} == set(learned["shares"][0])
    assert any(one["confirmed"] for one in learned["shares"])
    assert data("retention", folder=fleet)["rule"] == "49 CFR 396.3(c)"
    assert data("export", str(tmp_path / "o.csv"), folder=fleet)["readings"] > 900
    for command in ("trucks", "visits", "learning", "retention", "verify"):
        assert run(command, folder=fleet).stdout.strip()


def test_assess_keeps_and_corrects(root: Path, tmp_path: Path) -> None:
    visit = tmp_path / "201.toml"
    visit.write_text((root / "examples" / "demo" / "201.toml").read_text("utf-8"), "utf-8")
    kept = data("assess", str(visit), "--keep", folder=tmp_path)["kept"]
    assert (kept["visit"], kept["new"], kept["corrects"]) == (1, True, None)
    assert data("assess", str(visit), "--keep", folder=tmp_path)["kept"]["new"] is False
    visit.write_text(visit.read_text("utf-8").replace("412,318", "412,381"), "utf-8")
    refused = run("assess", str(visit), "--keep", folder=tmp_path, code=2)
    assert refused.stdout == ""
    assert "say why with --why" in refused.stderr
    done = run("assess", str(visit), "--keep", "--why", "digits swapped", folder=tmp_path)
    assert re.search(r"kept as visit \d+, in place of visit 1; last entry [0-9a-f]{64}", done.stderr)


def test_a_visit_with_mistakes_starts_no_records(tmp_path: Path) -> None:
    (tmp_path / "bad.toml").write_text('[truck]\nunit = "1"\n')
    run("assess", "bad.toml", "--keep", "--db", "new.db", folder=tmp_path, code=2)
    assert list(tmp_path.iterdir()) == [tmp_path / "bad.toml"]


def test_import_with_a_preview(tmp_path: Path) -> None:
    (tmp_path / "past.csv").write_text("Unit,Date,Facing [in]\n7,2025-05-01,0.31\n7,2025-08-01,0.30\n")
    shown = run("import", "past.csv", "--preview", folder=tmp_path).stdout
    assert "2 lines in all; nothing was kept" in shown
    assert not (tmp_path / "fanwright.db").exists()
    nobody = run("import", "past.csv", folder=tmp_path, code=2)
    assert "nobody is named" in nobody.stderr
    done = json.loads(run("import", "past.csv", "--json", folder=tmp_path, FANWRIGHT_BY="Bo").stdout)
    assert done["files"][0]["kept"] == 2
    wrong = run("import", "past.csv", "--map", "facing_thickness", folder=tmp_path, code=2)
    assert "write TARGET=HEADING" in wrong.stderr


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["trucks"], "no records are named and there is no fanwright.db here"),
        (["verify", "--db", "gone.db"], "there are no records"),
        (["visits", "--db", "postgresql://u:secret@h/x"], "password on the command line"),
        (["visits", "--db", "mysql://h/x"], "is not a place for records"),
        (["restore", "gone.zip", "--db", "x.db"], "cannot be restored: No such file or directory"),
        (["demo", "gone", "--db", "x.db"], "holds no visit files"),
        (["show", "--db", "x.db"], "name a truck, or a visit"),
    ],
)
def test_wrong_calls_are_one_clear_line(tmp_path: Path, arguments: list[str], said: str) -> None:
    done = run(*arguments, folder=tmp_path, code=2)
    assert said in done.stderr
    assert "secret" not in done.stderr
    assert done.stdout == ""
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["visits", "--state", "sold"], "is not a state of a visit"),
        (["show", "999"], "truck 999 is not in the records"),
        (["show", "--visit", "999"], "there is no visit 999"),
        (["close", "999", "--by", "Ana"], "there is no visit 999"),
        (["move", "1", "sold", "--by", "Ana"], "cannot follow"),
        (["learning", "--take-out", "999", "--by", "Ana", "--why", "x"], "is not counted"),
        (["learning", "--undo", "--by", "Ana"], "say why, with --why"),
        (["export", "o.pdf"], "are written as .jsonl"),
    ],
)
def test_wrong_requests_of_real_records(fleet: Path, arguments: list[str], said: str) -> None:
    assert said in run(*arguments, folder=fleet, code=2).stderr


def test_no_database_is_imported_to_assess_or_to_help(root: Path, tmp_path: Path) -> None:
    visit = str(root / "examples" / "demo" / "201.toml")
    calls = [["--help"], ["assess", visit], ["import", "--help"], ["show", "--help"], ["close", "--help"]]
    for call in calls:
        done = subprocess.run(
            [sys.executable, "-X", "importtime", "-m", "fanwright", *call],
            capture_output=True, text=True, check=True, timeout=60, cwd=tmp_path,
        )  # fmt: skip
        names = set(re.findall(r"\|\s+([\w.]+)$", done.stderr, re.MULTILINE))
        assert {name.split(".")[0] for name in names} & HEAVY == set()
        assert not any(name.startswith("fanwright.records") for name in names)
