"""Simulating, identifying and comparing traces by the command, as they are used."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fanwright.cli import fanwright, run
from fanwright.evidence.trace.exhibit import TraceExhibit
from fanwright.evidence.trace.identify_result import Curve
from fanwright.report.pictures.trace import draw

TRUCK = "line-haul spring-on"
WRONG = ("--simulate", "-o", "x", "--truck", "nope", "--fault", "bad:x", "--fault", "foo:1")
WRONG += ("--rate", "5", "--cycles", "0", "--hold", "3")


def call(capsys: Any, *words: object) -> tuple[int, str, str]:
    code = run(
        lambda: fanwright.main([str(word) for word in words], standalone_mode=False, prog_name="fanwright")
    )
    said = capsys.readouterr()
    return code, said.out, said.err


@pytest.fixture(scope="module")
def traces(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("traces")
    paths = {}
    for name, severity in (("before", "0.7"), ("after", "0")):
        paths[name] = folder / f"{name}.csv"
        words = ["trace", "--simulate", "--truck", TRUCK, "--fault", f"exhaust_blocked:{severity}"]
        words += ["--hold", "40 s", "--seed", "3", "-o", str(paths[name])]
        assert (
            run(lambda words=words: fanwright.main(words, standalone_mode=False, prog_name="fanwright")) == 0
        )
    return paths


def test_a_simulated_trace_is_one_any_logger_could_have_written(traces: dict[str, Path]) -> None:
    lines = traces["before"].read_text("utf-8").splitlines()
    assert lines[0] == "time [s],supply [psi],drive [psi],command,shut"
    assert len(lines) > 5000
    assert {line.split(",")[3] for line in lines[1:]} == {"0", "1"}


def test_identified_as_json(capsys: Any, traces: dict[str, Path]) -> None:
    code, out, err = call(capsys, "trace", traces["before"], "--truck", TRUCK, "--json")
    assert (code, err) == (0, "")
    said = json.loads(out)
    for name in ("fill_conductance", "exhaust_conductance", "leak_conductance"):
        one = said["identified"][name]
        assert one["low"] <= one["value"] <= one["high"]
    assert said["identified"]["exhaust_conductance"]["value"] == pytest.approx(0.3 * 0.75, rel=0.08)
    assert said["lift_off_kpa"] == pytest.approx(62.93 * 6.8948, rel=0.01)
    assert said["full_stroke_kpa"] == pytest.approx(82.93 * 6.8948, rel=0.01)
    assert "of what a healthy one does" in said["summary"]
    assert "lift_off_pressure" in {one["test"] for one in said["readings"]}


def test_without_a_truck_the_circuit_is_null_and_why_is_said(capsys: Any, traces: dict[str, Path]) -> None:
    said = json.loads(call(capsys, "trace", traces["before"], "--json")[1])
    assert set(said["identified"].values()) == {None}
    assert (said["lift_off_kpa"], said["full_stroke_kpa"], said["summary"]) == (None, None, None)
    assert any("volumes" in line for line in said["cannot_tell"])


def test_identified_from_sizes_as_text(capsys: Any, traces: dict[str, Path]) -> None:
    sizes = ("--dead-volume", "0.21 dm3", "--piston-area", "210 cm2", "--stroke", "2.5 mm")
    code, out, _ = call(capsys, "trace", traces["after"], *sizes)
    assert code == 0
    assert "The feed path passes 0.3" in out
    assert "healthy" not in out


def test_before_and_after(capsys: Any, traces: dict[str, Path]) -> None:
    code, out, _ = call(capsys, "compare", traces["before"], traces["after"], "--truck", TRUCK, "--json")
    assert code == 0
    changes = {one["name"]: one for one in json.loads(out)["circuit"]}
    exhaust = changes["exhaust"]
    assert exhaust["after_dm3_per_s_bar"] / exhaust["before_dm3_per_s_bar"] == pytest.approx(
        1.0 / 0.3, rel=0.05
    )
    assert exhaust["chance_real"] > 0.999
    assert 0.5 <= changes["fill"]["chance_real"] < 0.999


def test_comparing_circuits_wants_two_traces(capsys: Any, tmp_path: Path, traces: dict[str, Path]) -> None:
    visit = tmp_path / "v.toml"
    visit.write_text("", "utf-8")
    code, out, err = call(capsys, "compare", visit, traces["after"], "--truck", TRUCK)
    assert (code, out) == (2, "")
    assert err


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        (("--simulate",), ["-o is missing"]),
        (("--simulate", "x.csv", "-o", "y.csv"), ["--simulate writes"]),
        ((), ["CSV is missing"]),
        (
            WRONG,
            ["nope", "bad:x", "foo", "--cycles is 0", "«5»", "«3»"],
        ),
    ],
)  # fmt: skip
def test_mistakes_are_told_all_together(
    capsys: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], wanted: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, err = call(capsys, "trace", *words)
    assert (code, out) == (2, "")
    for part in wanted:
        assert part in err
    assert list(tmp_path.iterdir()) == []


def test_the_picture_shows_the_fit_its_events_and_what_is_left(
    tmp_path: Path, traces: dict[str, Path], capsys: Any
) -> None:
    plot = tmp_path / "fit.svg"
    assert call(capsys, "trace", traces["before"], "--truck", TRUCK, "--plot", plot)[0] == 0
    svg = plot.read_text("utf-8")
    assert "less the fit" in svg
    assert svg.count("<circle") >= 4
    assert "The fitted air circuit lies" in svg


def test_a_picture_without_a_fit_stays_as_it_was() -> None:
    time = np.linspace(0.0, 5.0, 100)
    exhibit = TraceExhibit("x.csv", "0" * 64, time, None, 1e5 * np.sin(time) ** 2, None, None, ())
    plain = draw(exhibit)
    fitted = draw(exhibit, fitted=[Curve(time, 1e5 * np.sin(time) ** 2, None, 0.0 * time)])
    assert "less the fit" not in plain
    assert 'viewBox="0 0 760 300"' in plain
    assert "less the fit" in fitted


def test_reading_alone_loads_no_kernels(traces: dict[str, Path]) -> None:
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "fanwright", "trace", str(traces["after"])],
        capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    names = {line.rpartition("|")[2].strip().split(".")[0] for line in done.stderr.splitlines()}
    assert "fanwright" in names
    assert names & {"numba", "scipy"} == set()


def test_identifying_needs_no_scipy(traces: dict[str, Path]) -> None:
    words = ["trace", str(traces["after"]), "--truck", TRUCK]
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "fanwright", *words],
        capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    names = {line.rpartition("|")[2].strip() for line in done.stderr.splitlines()}
    assert "scipy.optimize" not in names
