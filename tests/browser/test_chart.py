"""The chart of a trace in a real browser: zoom by fingers, wheel and keys; cursors; spikes are never lost."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from fanwright.desk.chart import MOST_ROWS, trace_chart
from fanwright.quantities import Units
from fanwright.report.say import Reader
from fanwright.truck.loader import presets

SHOW = """async (data) => {
  const { Chart } = await import("/chart.mjs");
  const place = document.createElement("div");
  document.body.replaceChildren(place);
  window.chart = new Chart(place, data);
  window.chart.svg.style.width = "900px";
  window.chart.svg.style.height = "400px";
  await new Promise(requestAnimationFrame);
  await new Promise(requestAnimationFrame);
}"""
VIEW = "() => window.chart.view"


def trace(tmp_path: Path, rows: int = 3000, step_s: float = 0.001, spike_at: int | None = None) -> Path:
    """A drive that fills, rests and vents; slow enough to be read by eye."""
    lines = ["time [s],supply [psi],drive [psi],command"]
    for row in range(rows):
        at = row * step_s
        sent = 0.5 <= at < 0.6 * rows * step_s
        drive = 118.0 * (1 - math.exp(-(at - 0.5) / 0.2)) if sent else 0.0
        if at >= 0.6 * rows * step_s:
            drive = 118.0 * math.exp(-(at - 0.6 * rows * step_s) / 0.2)
        if row == spike_at:
            drive = 140.0
        lines.append(f"{at:.4f},118.0,{drive:.2f},{int(sent)}")
    path = tmp_path / "trace.csv"
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return path


@pytest.fixture
def shown(modules: Page, tmp_path: Path) -> Page:
    data = trace_chart(trace(tmp_path), Reader())
    modules.evaluate(SHOW, json.loads(json.dumps(data)))
    return modules


def test_what_the_server_sends_is_what_was_measured(modules: Page, tmp_path: Path) -> None:
    data = trace_chart(trace(tmp_path), Reader())
    assert [one["name"] for one in data["series"]] == ["inlet", "drive"]
    assert data["unit"] == "psi"
    assert [one["kind"] for one in data["strokes"]] == ["fill", "vent"]
    drive = json.loads(json.dumps(data["series"][1]))
    times, values = modules.evaluate(
        """async (one) => {
          const { unpack } = await import("/chart.mjs");
          return [[...unpack(one.times)], [...unpack(one.values)]];
        }""",
        drive,
    )
    assert len(times) == len(values) == 3000
    assert times[1500] == pytest.approx(1.5, abs=1e-5)
    assert values[1500] == pytest.approx(118.0 * (1 - math.exp(-1.0 / 0.2)), abs=0.06)


def test_in_the_units_of_the_reader(tmp_path: Path) -> None:
    data = trace_chart(trace(tmp_path), Reader(Units({"pressure": "bar"})))
    assert data["unit"] == "bar"
    assert data["marks"][0]["value"] == pytest.approx(6.205, abs=0.001)


def test_the_fit_stands_beside_the_trace(tmp_path: Path) -> None:
    data = trace_chart(trace(tmp_path), Reader(), presets()["line-haul spring-on"])
    assert {one["name"] for one in data["series"]} >= {"inlet", "drive"}
    assert data["said"]


def test_a_long_trace_is_thinned_without_losing_its_least_and_most(tmp_path: Path) -> None:
    rows = 3 * MOST_ROWS
    data = trace_chart(trace(tmp_path, rows, 0.0002), Reader())
    assert data["thinned"]
    sizes = [len(one["values"]["base64"]) for one in data["series"]]
    assert max(sizes) <= MOST_ROWS * 2 * 4 / 3 + 4


def test_a_spike_of_one_sample_is_drawn(modules: Page) -> None:
    kept = modules.evaluate(
        """async () => {
          const { thinned } = await import("/chart.mjs");
          const times = Float64Array.from({ length: 20000 }, (_, at) => at / 1000);
          const values = new Float64Array(20000);
          values[12345] = 140;
          const points = thinned(times, values, 0, 20, 600);
          return [points.length, Math.max(...points.map(([, value]) => value))];
        }"""
    )
    assert kept[0] <= 4 * 601
    assert kept[1] == 140


def test_wheel_and_keys_zoom_and_come_back(shown: Page) -> None:
    whole = shown.evaluate(VIEW)
    box = shown.locator("svg.chart").bounding_box()
    assert box is not None
    shown.mouse.move(box["x"] + 300, box["y"] + 100)
    shown.mouse.wheel(0, -200)
    shown.wait_for_timeout(50)
    near = shown.evaluate(VIEW)
    assert near[1] - near[0] < whole[1] - whole[0]
    shown.locator("svg.chart").focus()
    shown.keyboard.press("+")
    nearer = shown.evaluate(VIEW)
    assert nearer[1] - nearer[0] < near[1] - near[0]
    shown.keyboard.press("PageDown")
    assert shown.evaluate(VIEW)[0] > nearer[0]
    shown.keyboard.press("0")
    assert shown.evaluate(VIEW) == whole


def test_two_cursors_tell_time_and_pressure(shown: Page) -> None:
    shown.locator("svg.chart").focus()
    shown.keyboard.press("ArrowRight")
    shown.keyboard.press("Shift+ArrowLeft")
    told = shown.locator("p.readout").inner_text()
    assert "1: 1.56 s" in told
    assert "drive" in told
    assert "between them 0.12 s" in told
    shown.keyboard.press("Escape")
    assert shown.locator("p.readout").inner_text() == ""


def test_two_fingers_zoom_the_chart_and_not_the_page(shown: Page) -> None:
    box = shown.locator("svg.chart").bounding_box()
    assert box is not None
    session = shown.context.new_cdp_session(shown)

    def touch(kind: str, *points: tuple[float, float]) -> None:
        where: list[dict[str, Any]] = [{"x": box["x"] + x, "y": box["y"] + y} for x, y in points]
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": where})

    whole = shown.evaluate(VIEW)
    touch("touchStart", (400, 150), (500, 150))
    for away in (20, 60, 100, 140):
        touch("touchMove", (400 - away, 150), (500 + away, 150))
    touch("touchEnd")
    near = shown.evaluate(VIEW)
    assert near[1] - near[0] < 0.6 * (whole[1] - whole[0])
    assert shown.evaluate("() => window.visualViewport.scale") == 1
