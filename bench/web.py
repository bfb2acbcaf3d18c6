"""The pages: lists under load, weight and start of the visit page, a tap to its verdict, a large fleet.

The list of 50 of 1,000 trucks is measured against a hello in JSON from the same server, asked by the same
client in turns. FANWRIGHT_BENCH_TRUCKS makes the large fleet (10,000 trucks of 40 visits) smaller.
"""

from __future__ import annotations

import http.client
import importlib.util
import json
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType
from typing import Any

HERE = Path(__file__).parent
DEMO = HERE.parent / "examples" / "demo"
FANWRIGHT = Path(sys.executable).with_name("fanwright")
CLIENTS = 4
ROUND_S = 1.0
ROUNDS = 6
SLOW = {"offline": False, "latency": 150, "downloadThroughput": 2e5, "uploadThroughput": 2e5}  # 1.6 Mbit/s
CALM = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]


def run() -> list[dict[str, Any]]:
    with tempfile.TemporaryDirectory(prefix="fanwright-bench-") as folder:
        return [
            *lists(Path(folder) / "small.db"),
            *visit_page(Path(folder) / "demo.db"),
            *large_fleet(Path(folder) / "large.db"),
        ]


def records_bench(trucks: int) -> ModuleType:
    os.environ["FANWRIGHT_BENCH_TRUCKS"] = str(trucks)
    spec = importlib.util.spec_from_file_location("bench_records_for_web", HERE / "records.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def made(db: Path, trucks: int, days: int) -> None:
    from fanwright.records.places import place_of
    from fanwright.records.store import open_store

    bench = records_bench(trucks)
    bench.DAYS = days
    subprocess.run([FANWRIGHT, "demo", "--db", str(db)], check=True, capture_output=True)
    store = open_store(place_of(str(db)), program="bench")
    bench.load(store)
    store.close()


@contextmanager
def served(db: Path) -> Iterator[tuple[str, int, int]]:
    """The demo server on its own records: host, port, process number."""
    server = subprocess.Popen(
        [FANWRIGHT, "serve", "--db", str(db), "--demo", "--port", "0", "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    try:
        assert server.stdout is not None
        told = ""
        while "}" not in told:
            more = server.stdout.readline()
            assert more, f"the server ended: {told}"
            told += more
        found = re.search(r"127\.0\.0\.1:(\d+)", told)
        assert found, told
        yield "127.0.0.1", int(found[1]), server.pid
    finally:
        server.terminate()
        server.wait(10)


def rate(host: str, port: int, path: str) -> float:
    """Answers in a second, asked by a few clients that keep their lines open."""
    counted = [0] * CLIENTS
    stop = time.perf_counter() + ROUND_S

    def ask(client: int) -> None:
        line = http.client.HTTPConnection(host, port)
        while time.perf_counter() < stop:
            line.request("GET", path, headers={"accept-encoding": "gzip"})
            answer = line.getresponse()
            answer.read()
            assert answer.status == 200, answer.status
            counted[client] += 1
        line.close()

    threads = [threading.Thread(target=ask, args=(one,)) for one in range(CLIENTS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sum(counted) / ROUND_S


def lists(db: Path) -> list[dict[str, Any]]:
    made(db, 976, 3)  # beside the 24 of the demo
    with served(db) as (host, port, _):
        shares = []
        for _round in range(ROUNDS):
            hello = rate(host, port, "/healthz")
            trucks = rate(host, port, "/api/trucks?limit=50")
            shares.append(trucks / hello)
    return [
        row("50 of 1,000 trucks, share of a hello's rate", statistics.median(shares), 0.15, "x", "higher")
    ]


def visit_page(db: Path) -> list[dict[str, Any]]:
    from playwright.sync_api import sync_playwright

    subprocess.run([FANWRIGHT, "demo", "--db", str(db)], check=True, capture_output=True)
    with served(db) as (host, port, _), sync_playwright() as playwright:
        number = started_visit(host, port)
        chromium = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=CALM)
        usable, weights, taps = [], [], []
        for _try in range(3):
            context = chromium.new_context(viewport={"width": 800, "height": 1180}, service_workers="block")
            page = context.new_page()
            cdp = context.new_cdp_session(page)
            cdp.send("Network.enable")
            cdp.send("Network.emulateNetworkConditions", SLOW)
            cdp.send("Emulation.setCPUThrottlingRate", {"rate": 4})
            weight = [0]
            cdp.on("Network.loadingFinished", lambda event, weight=weight: add(weight, event))
            began = time.perf_counter()
            page.goto(f"http://{host}:{port}/bay/{number}", wait_until="commit")
            page.locator("html[data-usable]").wait_for(state="attached")
            usable.append(time.perf_counter() - began)
            page.wait_for_load_state("networkidle")
            weights.append(weight[0] / 1000)
            taps.append(tap(page))
            context.close()
        chromium.close()
    return [
        row("visit page over the wire", statistics.median(weights), 60.0, "kB"),
        row("visit page usable, CPU x4 and 1.6 Mbit/s", statistics.median(usable), 1.5, "s"),
        row("a tap to its verdict there", statistics.median(taps), 100.0, "ms"),
    ]


def add(weight: list[float], event: dict[str, Any]) -> None:
    weight[0] += event["encodedDataLength"]


def started_visit(host: str, port: int) -> int:
    import uuid

    line = http.client.HTTPConnection(host, port)
    body = json.dumps(
        {"key": str(uuid.uuid4()), "unit": "214", "kind": "complaint", "preset": "line-haul spring-on"}
    )
    headers = {"content-type": "application/json", "origin": f"http://{host}:{port}"}
    line.request("POST", "/api/bay", body, headers | {"sec-fetch-site": "same-origin"})
    answer = json.loads(line.getresponse().read())
    line.close()
    return int(answer["number"])


def tap(page: Any) -> float:
    """From the tap on an outcome's button to the verdict on the screen [ms]."""
    return float(page.evaluate(TAP))


TAP = """async () => {
  const { measureTap } = await import("/static/visit.mjs");
  return measureTap();
}"""


def large_fleet(db: Path) -> list[dict[str, Any]]:
    trucks = int(os.environ.get("FANWRIGHT_BENCH_FLEET", "10000"))
    made(db, trucks, 40)
    with served(db) as (host, port, process):
        number = started_visit(host, port)
        pages = [
            "/bay", "/trucks", "/trucks/T00042", "/visits/1000", f"/bay/{number}", f"/api/bay/{number}",
            f"/bay/{number}/causes", "/api/bay", "/api/trucks?limit=50", "/api/catalogue",
        ]  # fmt: skip
        worst = 0.0
        for path in pages:
            worst = max(worst, server_time(host, port, path))
        grown = resident_mb(process)
    return [
        row(f"slowest page on {trucks} trucks x 40 visits, median of 7", worst * 1000, 150.0, "ms"),
        row("serving process after all pages", grown, 200.0, "MB"),
    ]


def server_time(host: str, port: int, path: str) -> float:
    line = http.client.HTTPConnection(host, port)
    took = []
    for _ in range(7):
        began = time.perf_counter()
        line.request("GET", path)
        answer = line.getresponse()
        answer.read()
        took.append(time.perf_counter() - began)
        assert answer.status == 200, (path, answer.status)
    line.close()
    print(
        f"  {path}: {statistics.median(took) * 1000:.0f} ms, first {took[0] * 1000:.0f} ms", file=sys.stderr
    )
    return statistics.median(took)


def resident_mb(process: int) -> float:
    told = Path(f"/proc/{process}/status").read_text("utf-8")
    found = re.search(r"VmHWM:\s+(\d+) kB", told)
    assert found is not None
    return int(found[1]) / 1024


def row(name: str, measured: float, goal: float, unit: str, better: str = "lower") -> dict[str, Any]:
    return {"name": name, "measured": measured, "goal": goal, "better": better, "unit": unit}
