"""The made traces and recordings: the same bytes each time, quick, small, and telling the story."""

from __future__ import annotations

import csv
import hashlib
import re
import resource
import statistics
import subprocess
import sys
import tomllib
from itertools import pairwise
from pathlib import Path

import can
import pytest

EXAMPLES = Path(__file__).parents[2] / "examples"
FRAME = re.compile(r"\((\d+\.\d{6})\) can0 ([0-9A-F]{8})#([0-9A-F]{16})")


def run_script(folder: Path) -> float:
    """Run it; gives the processor time it took, which other work on the machine does not change [s]."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, str(EXAMPLES / "make_demo.py"), str(folder)], check=True, capture_output=True
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo")
    run_script(folder)
    return folder


def hashes(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()}


def test_same_bytes_each_run_and_quick(made: Path, tmp_path: Path) -> None:
    assert run_script(tmp_path / "again") < 5.0
    assert hashes(made) == hashes(tmp_path / "again")


def test_every_file_a_visit_names_is_made_and_small(made: Path) -> None:
    named = set()
    for path in (EXAMPLES / "demo").glob("*.toml"):
        named |= set(tomllib.loads(path.read_text("utf-8")).get("files", {}).values())
    assert named == {path.name for path in made.iterdir()}
    assert max(path.stat().st_size for path in made.iterdir()) < 900_000


def rows(path: Path) -> list[dict[str, float]]:
    with path.open(encoding="utf-8", newline="") as file:
        return [{name: float(cell) for name, cell in row.items()} for row in csv.DictReader(file)]


def times_to(path: Path, sent: int, start_psi: float | None, end_psi: float) -> list[float | None]:
    """Time each stroke plainly: from the command edge or the start pressure to the end pressure."""
    trace, found = rows(path), []
    edges = [i for i in range(1, len(trace)) if trace[i]["command"] == sent != trace[i - 1]["command"]]
    for edge in edges:
        begin, end = (edge if start_psi is None else None), None
        for i in range(edge, len(trace)):
            drive = trace[i]["drive [psi]"]
            if trace[i]["command"] != sent:
                break
            if begin is None and start_psi is not None and drive <= start_psi:
                begin = i
            if drive >= end_psi if sent else drive <= end_psi:
                end = i
                break
        found.append(
            None if begin is None or end is None else trace[end]["time [s]"] - trace[begin]["time [s]"]
        )
    return found


def settled(path: Path, column: str, sent: int) -> list[float]:
    """Give the last value before each change of the command."""
    trace = rows(path)
    return [
        before[column] for before, after in pairwise(trace) if before["command"] == sent != after["command"]
    ]


@pytest.mark.parametrize(
    ("name", "fill_s", "vent_s"),
    [("202-air.csv", 0.4, 2.1), ("214-air.csv", 0.4, 2.1), ("214-air-after.csv", 0.4, 0.6)],
)
def test_fill_and_vent_times_of_the_story(made: Path, name: str, fill_s: float, vent_s: float) -> None:
    fills, vents = times_to(made / name, 1, None, 90.0), times_to(made / name, 0, 90.0, 2.0)
    assert fills == pytest.approx([fill_s] * len(fills), abs=0.05)
    assert vents == pytest.approx([vent_s] * len(vents), abs=0.08)


@pytest.mark.parametrize(
    ("name", "drive_psi"), [("207-air.csv", 71), ("209-air.csv", 41), ("217-air.csv", 62)]
)
def test_pressure_that_does_not_arrive(made: Path, name: str, drive_psi: float) -> None:
    assert set(times_to(made / name, 1, None, 90.0)) == {None}
    assert statistics.median(settled(made / name, "drive [psi]", 1)) == pytest.approx(drive_psi, abs=1.0)
    assert rows(made / name)[0]["supply [psi]"] == pytest.approx(118, abs=0.7)


def test_207_dips_at_the_inlet_and_empties_when_shut_off(made: Path) -> None:
    trace = rows(made / "207-air.csv")
    assert min(row["supply [psi]"] for row in trace) < 113
    held = [row for row in trace if row["shut"] == 1]
    empty = next(row["time [s]"] for row in held if row["drive [psi]"] <= 2.0)
    assert empty - held[0]["time [s]"] == pytest.approx(1.0, abs=0.3)


def test_218_never_vents(made: Path) -> None:
    assert set(times_to(made / "218-air.csv", 0, 90.0, 2.0)) == {None}
    assert min(row["drive [psi]"] for row in rows(made / "218-air.csv")) > 115


def decode(path: Path) -> tuple[list[tuple[float, int, float]], float, float]:
    """Give runs as (length, first reason, engine speed at the grip), seconds told on, seconds engine on."""
    runs, told_on_s, engine_on_s, rpm, begun, last = [], 0.0, 0.0, 0.0, None, 0.0
    for line in path.read_text("ascii").splitlines():
        found = FRAME.fullmatch(line)
        assert found, line
        at, identifier, data = float(found[1]), found[2], bytes.fromhex(found[3])
        assert at > last
        last = at
        if identifier == "0CF00400":
            rpm = int.from_bytes(data[3:5], "little") * 0.125
            engine_on_s += 0.5 * (rpm >= 400)
        if identifier == "18FEBD00":
            state = data[1] & 0x0F
            assert (data[0] > 125) == (state != 0)
            told_on_s += state != 0
            if state and begun is None:
                begun = (at, state, rpm)
            if not state and begun is not None:
                runs.append((at - begun[0], begun[1], begun[2]))
                begun = None
    if begun is not None:
        runs.append((last - begun[0], begun[1], begun[2]))
    return runs, told_on_s, engine_on_s


def test_an_independent_reader_reads_every_line(made: Path) -> None:
    """Read by python-can, a general CAN library."""
    for path in made.glob("*.log"):
        with can.CanutilsLogReader(path) as reader:
            read = list(reader)
        assert len(read) == len(path.read_text("ascii").splitlines())
        assert all(frame.is_extended_id and frame.dlc == 8 for frame in read)


def test_204_runs_stack_at_15_s(made: Path) -> None:
    runs, _, engine_on_s = decode(made / "204-duty.log")
    assert len(runs) / engine_on_s * 3600 == pytest.approx(38.0)
    assert {reason for _, reason, _ in runs} == {11}
    assert [length for length, _, _ in runs] == pytest.approx([15.0] * len(runs), abs=0.01)


def test_205_runs_are_scattered(made: Path) -> None:
    runs, _, engine_on_s = decode(made / "205-duty.log")
    lengths = [length for length, _, _ in runs]
    assert len(runs) / engine_on_s * 3600 == pytest.approx(31.0, abs=0.05)
    assert min(lengths) == pytest.approx(2, abs=0.1)
    assert max(lengths) == pytest.approx(40, abs=0.1)
    assert statistics.stdev(lengths) > 8


def test_203_grips_with_the_engine_brake_at_speed(made: Path) -> None:
    runs, _, _ = decode(made / "203-duty.log")
    braking = [rpm for _, reason, rpm in runs if reason == 13]
    assert len(braking) > len(runs) / 2
    assert all(1900 <= rpm <= 2200 for rpm in braking)


def test_206_is_told_on_41_percent(made: Path) -> None:
    runs, told_on_s, engine_on_s = decode(made / "206-duty.log")
    assert told_on_s / engine_on_s == pytest.approx(0.41, abs=0.002)
    assert min(length for length, _, _ in runs) > 60


def test_214_is_ordinary_duty(made: Path) -> None:
    runs, told_on_s, engine_on_s = decode(made / "214-duty.log")
    assert 2 <= len(runs) / engine_on_s * 3600 <= 10
    assert 0.02 < told_on_s / engine_on_s < 0.15
    assert engine_on_s == pytest.approx(1780, abs=1)


def test_220_heats_up_while_told_on(made: Path) -> None:
    runs, _, _ = decode(made / "220-duty.log")
    assert len(runs) == 1
    coolant = []
    for line in (made / "220-duty.log").read_text("ascii").splitlines():
        if " 18FEEE00#" in line:
            coolant.append(int(line.split("#")[1][:2], 16) - 40)
    per_minute = (coolant[-1] - coolant[-1201]) / 20
    assert 0.5 < per_minute < 1.0
