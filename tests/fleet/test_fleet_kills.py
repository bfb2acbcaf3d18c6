"""Processes killed on the way: nothing is lost, nothing is counted twice, the result is the same."""

from __future__ import annotations

import hashlib
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from fanwright.desk import fleet_duty_pool
from fanwright.desk.fleet_duty import FleetJob, read_fleet
from fanwright.desk.fleet_duty_result import opened
from fanwright.errors import InputError
from fanwright.report.say import say_all

BY_NAME = r"/(?P<unit>\d+)-2026"


def fingerprint(into: Path) -> str:
    """Everything but the list, whose lines come in the order in which recordings were done."""
    digest = hashlib.sha256()
    for path in sorted(into.rglob("*.parquet")):
        digest.update(path.relative_to(into).as_posix().encode() + path.read_bytes())
    return digest.hexdigest()


@pytest.fixture(scope="module")
def whole(small_fleet: Any, tmp_path_factory: pytest.TempPathFactory) -> str:
    into = tmp_path_factory.mktemp("whole") / "out"
    read_fleet(FleetJob([str(small_fleet.folder)], into, unit_from=BY_NAME, workers=2))
    return fingerprint(into)


def children_of(parent: int) -> list[int]:
    found = []
    for status in Path("/proc").glob("[0-9]*/stat"):
        try:
            words = status.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(words[1]) == parent:
            found.append(int(status.parent.name))
    return found


def command(folder: Path, into: Path, workers: int = 1) -> subprocess.Popen[str]:
    options = ["--into", str(into), "--unit-from", BY_NAME, "--workers", str(workers)]
    return subprocess.Popen(
        [sys.executable, "-m", "fanwright", "duty", str(folder), *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def lines_in(into: Path) -> int:
    try:
        return (into / "manifest.jsonl").read_bytes().count(b"\n")
    except FileNotFoundError:
        return 0


def wait_for_lines(into: Path, many: int, process: subprocess.Popen[str]) -> None:
    end = time.monotonic() + 30.0
    while lines_in(into) < many and process.poll() is None and time.monotonic() < end:
        time.sleep(0.005)


@pytest.mark.end_to_end
@pytest.mark.parametrize("after", [1, 3, 7])
def test_a_killed_run_goes_on(small_fleet: Any, whole: str, tmp_path: Path, after: int) -> None:
    into = tmp_path / "out"
    process = command(small_fleet.folder, into)
    wait_for_lines(into, 1 + after, process)
    workers = children_of(process.pid)
    process.kill()
    process.communicate()
    read_before = lines_in(into) - 1
    assert read_before >= after
    done = read_fleet(FleetJob([str(small_fleet.folder)], into, unit_from=BY_NAME, workers=1))
    assert done.known == read_before
    assert done.read == 9 - read_before
    assert fingerprint(into) == whole
    end = time.monotonic() + 10.0
    while any(Path(f"/proc/{worker}").exists() for worker in workers) and time.monotonic() < end:
        time.sleep(0.05)
    assert [worker for worker in workers if Path(f"/proc/{worker}").exists()] == []


@pytest.mark.end_to_end
def test_a_killed_worker_changes_nothing(small_fleet: Any, whole: str, tmp_path: Path) -> None:
    into = tmp_path / "out"
    process = command(small_fleet.folder, into, workers=2)
    wait_for_lines(into, 2, process)
    killed = 0
    for child in children_of(process.pid):
        if "spawn_main" in Path(f"/proc/{child}/cmdline").read_text():
            os.kill(child, signal.SIGKILL)
            killed += 1
            break
    shown, errors = process.communicate(timeout=60)
    assert process.returncode == 0, errors
    assert killed == 1
    assert "cannot be read" not in shown
    assert fingerprint(into) == whole


def test_a_recording_that_kills_its_process_is_one_failure(
    small_fleet: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One task ends its process; the others are read, and the culprit alone is called out."""
    folder = tmp_path / "in"
    folder.mkdir()
    for path in sorted(small_fleet.folder.iterdir())[:4]:
        (folder / path.name).write_bytes(path.read_bytes())
    (folder / "666-2026.parquet").write_bytes(b"deadly")
    monkeypatch.setattr(fleet_duty_pool, "perform", die_of_666)
    done = read_fleet(FleetJob([str(folder)], tmp_path / "out", unit_from=BY_NAME, workers=2))
    assert done.read == 4
    ((file, reason),) = done.failures
    assert file.endswith("666-2026.parquet")
    assert reason == fleet_duty_pool.DIED


def die_of_666(told: str) -> str:
    from fanwright.desk.fleet_duty_task import perform

    if "666-2026" in told:
        os.kill(os.getpid(), signal.SIGKILL)
    return perform(told)


def test_two_runs_do_not_write_to_one_result(small_fleet: Any, tmp_path: Path) -> None:
    into = tmp_path / "out"
    settings = {"figures": [], "layout": "", "telemetry": {}}
    with opened(into, settings), pytest.raises(InputError) as error:
        read_fleet(FleetJob([str(small_fleet.folder)], into, unit_from=BY_NAME, workers=1))
    assert "another run writes to it" in say_all(error.value.messages)[0]


def test_a_full_disk_stops_the_run_and_fails_no_recording(
    small_fleet: Any, whole: str, tmp_path: Path
) -> None:
    """A place that cannot be written to stands for the disk: the recordings are not to blame."""
    into = tmp_path / "out"
    into.mkdir()
    settings = {"figures": [], "layout": "", "telemetry": {}}
    with opened(into, settings):
        pass
    (into / "runs").write_text("in the way")
    with pytest.raises(InputError) as error:
        read_fleet(FleetJob([str(small_fleet.folder)], into, unit_from=BY_NAME, workers=1))
    assert "run the same again" in say_all(error.value.messages)[0]
    (into / "runs").unlink()
    done = read_fleet(FleetJob([str(small_fleet.folder)], into, unit_from=BY_NAME, workers=1))
    assert done.failures == ()
    assert fingerprint(into) == whole


@pytest.mark.end_to_end
def test_ctrl_c_stops_with_a_word(small_fleet: Any, tmp_path: Path) -> None:
    into = tmp_path / "out"
    process = command(small_fleet.folder, into)
    wait_for_lines(into, 2, process)
    process.send_signal(signal.SIGINT)
    _, errors = process.communicate(timeout=30)
    assert process.returncode == 2
    assert "Traceback" not in errors
    assert "stopped" in errors
