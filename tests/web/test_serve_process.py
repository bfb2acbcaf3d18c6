"""`fanwright serve` as a user starts it: what it refuses and prints, how it stops, how much it holds."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from fanwright.cli import fanwright, run
from fanwright.desk.demo import load_demo

PASSWORD = "correct horse battery"
OURS = {"sec-fetch-site": "same-origin"}
NEVER = {"numba", "polars", "asammdf", "can", "pandas", "distributed", "matplotlib"}

Start = Callable[..., tuple[subprocess.Popen[str], dict[str, Any]]]


@pytest.fixture(scope="module")
def demo_records(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Demo records of two trucks without recordings."""
    folder = tmp_path_factory.mktemp("demo")
    for unit in ("201", "208"):
        shutil.copy(root / "examples" / "demo" / f"{unit}.toml", folder)
    load_demo(str(folder / "demo.db"), folder)
    return folder / "demo.db"


@pytest.fixture
def errors(tmp_path: Path) -> Path:
    """What a started command writes to standard error, every import among it."""
    return tmp_path / "errors.txt"


@pytest.fixture
def start(errors: Path) -> Iterator[Start]:
    """Start the command on a free port, and give it with what it printed."""
    running: list[subprocess.Popen[str]] = []

    def run(*words: str | Path) -> tuple[subprocess.Popen[str], dict[str, Any]]:
        command = [sys.executable, "-X", "importtime", "-m", "fanwright", "serve", "--port", "0", "--json"]
        with errors.open("w") as written:
            process = subprocess.Popen(
                [*command, *map(str, words)], stdout=subprocess.PIPE, stderr=written, text=True
            )
        running.append(process)
        assert process.stdout is not None
        told = ""
        while not told.rstrip().endswith("}"):
            line = process.stdout.readline()
            assert line, errors.read_text()
            told += line
        return process, json.loads(told)

    yield run
    for process in running:
        process.kill()
        process.communicate()


@pytest.fixture
def refused(capsys: pytest.CaptureFixture[str]) -> Callable[..., list[str]]:
    """Type the command so that it never comes to serving, and give what it says."""

    def run_it(*words: str | Path) -> list[str]:
        command = ["serve", "--port", "0", *map(str, words)]
        assert run(lambda: fanwright.main(command, standalone_mode=False)) == 2
        told = capsys.readouterr()
        assert told.out == ""
        said: list[str] = told.err.splitlines()
        return said

    return run_it


def test_other_machines_are_served_to_people_and_under_a_certificate_only(
    demo_records: Path, records: Path, refused: Callable[..., list[str]]
) -> None:
    nobody, no_name = refused("--db", demo_records, "--host", "0.0.0.0")
    assert "nobody may sign in" in nobody
    assert "fanwright people add" in nobody
    assert "--name" in no_name
    assert len(refused("--db", records, "--host", "0.0.0.0")) == 1
    assert len(refused("--db", demo_records, "--host", "::", "--name", "bay.test")) == 1


def test_the_demo_is_for_this_machine_and_for_demo_records_only(
    demo_records: Path, records: Path, refused: Callable[..., list[str]]
) -> None:
    (said,) = refused("--demo", "--db", demo_records, "--host", "0.0.0.0", "--name", "bay.test")
    assert "this machine only" in said
    (said,) = refused("--demo", "--db", records)
    assert "not begun as the demo" in said


def test_what_cannot_be_served_is_told_plainly(
    records: Path, tmp_path: Path, refused: Callable[..., list[str]]
) -> None:
    assert "there are no records" in refused("--db", tmp_path / "none.db")[0]
    (said,) = refused("--db", records, "--host", "198.51.100.1", "--name", "bay.test")
    assert "cannot be listened at" in said
    (said,) = refused("--db", records, "--name", "two words")
    assert "no name of a machine" in said
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        (said,) = refused("--db", records, "--port", port)
    assert f"port {port} cannot be listened at" in said


LOOKED_AT = (
    "/", "/bay", "/bay/1", "/trucks", "/trucks/201", "/visits/1", "/install", "/sign-in", "/worker.js",
    "/shell.json", "/api/me", "/api/catalogue", "/api/bay", "/api/trucks?limit=50",
)  # fmt: skip


def pages(client: httpx.Client) -> None:
    """Visit whatever there is to look at."""
    for path in LOOKED_AT:
        answer = client.get(path, headers={"accept": "text/html"})
        assert answer.status_code < 500, (path, answer.text)


def memory_mb(process: subprocess.Popen[str]) -> float:
    told = Path(f"/proc/{process.pid}/status").read_text("ascii")
    found = re.search(r"^VmRSS:\s+(\d+) kB", told, re.MULTILINE)
    assert found is not None
    return int(found[1]) / 1024


def processor_s(process: subprocess.Popen[str]) -> float:
    """Say how long a process has worked, which other work on the machine does not change [s]."""
    fields = Path(f"/proc/{process.pid}/stat").read_text("ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def test_the_demo_is_up_fast_stays_small_and_stops_with_a_stream_open(
    start: Start, demo_records: Path, errors: Path
) -> None:
    process, told = start("--db", demo_records)
    worked_s = processor_s(process)
    assert told["demo"] is True
    assert told["authority_sha256"] is None
    assert told["address"].startswith("http://127.0.0.1:")
    with httpx.Client(base_url=told["address"], headers=OURS, timeout=20) as client:
        assert client.get("/healthz").json() == {"hello": "fan"}
        assert client.get("/api/me").json()["name"] == "Rae"
        pages(client)
        assert memory_mb(process) <= 200
        with client.stream("GET", "/api/events") as stream:
            lines = stream.iter_lines()
            assert stream.headers["content-type"].startswith("text/event-stream")
            assert next(lines) == "retry: 3000"
            asked = time.monotonic()
            process.send_signal(signal.SIGTERM)
            assert list(lines)[-1] == ""
        process.communicate(timeout=10)
        assert time.monotonic() - asked < 3.0
    imported = set(re.findall(r"^import time:\s+\d+ \|\s+\d+ \|\s+(\w+)", errors.read_text(), re.MULTILINE))
    assert "fastapi" in imported
    assert imported & NEVER == set()
    said = [line for line in errors.read_text().splitlines() if not line.startswith("import time:")]
    assert said == []
    assert worked_s < 2.0, "so much work is 2 s on a machine with nothing else to do"


@pytest.mark.parametrize("way", [signal.SIGTERM, signal.SIGINT])
def test_being_told_to_stop_is_no_failure(start: Start, demo_records: Path, way: signal.Signals) -> None:
    process, told = start("--db", demo_records)
    httpx.get(told["address"] + "healthz")
    process.send_signal(way)
    process.communicate(timeout=10)
    assert process.returncode == 0


def test_tablets_are_served_under_the_shops_own_certificate(start: Start, records: Path) -> None:
    _process, told = start("--db", records, "--name", "bay.test", "--name", "127.0.0.1")
    assert told["demo"] is False
    port = httpx.URL(told["address"]).port
    assert told["address"] == f"https://bay.test:{port}/"
    keys = records.with_name("shop.db.keys")
    trusting = ssl.create_default_context(cafile=str(keys / "authority.crt"))
    here = f"https://127.0.0.1:{port}"
    with pytest.raises(httpx.ConnectError, match="CERTIFICATE_VERIFY_FAILED"):
        httpx.get(here + "/healthz")
    with pytest.raises(httpx.HTTPError):
        httpx.get(f"http://127.0.0.1:{port}/healthz")
    with httpx.Client(base_url=here, verify=trusting, headers=OURS | {"origin": here}) as client:
        page = client.get("/install")
        assert told["authority_sha256"] in page.text
        assert "bay.test, 127.0.0.1" in page.text
        given = client.get("/authority.crt")
        assert given.headers["content-type"] == "application/x-x509-ca-cert"
        assert ssl.DER_cert_to_PEM_cert(given.content).split() == (keys / "authority.crt").read_text().split()
        answer = client.post("/sign-in", data={"name": "Ana", "password": PASSWORD})
        assert answer.status_code == 303
        for cookie in answer.headers.get_list("set-cookie"):
            assert cookie.startswith("__Host-fanwright-")
            assert "Secure" in cookie
        assert client.get("/api/me").json()["name"] == "Ana"
        assert client.get("/healthz", headers={"host": "elsewhere.test"}).status_code == 421
        foreign = client.post("/sign-in", headers={"origin": f"http://127.0.0.1:{port}"})
        assert foreign.status_code == 403


def test_what_is_printed_for_people(peopled: Path, tmp_path: Path) -> None:
    """Where to go, the authority's mark, and a square that a tablet's camera reads as the address."""
    import zxingcpp
    from PIL import Image

    records = shutil.copy(peopled, tmp_path / "shop.db")
    command = [sys.executable, "-u", "-m", "fanwright", "serve", "--db", str(records), "--host", "0.0.0.0"]
    with subprocess.Popen(
        [*command, "--port", "0", "--name", "bay.test"], stdout=subprocess.PIPE, text=True, encoding="utf-8"
    ) as process:
        assert process.stdout is not None
        told = ""
        while "stop with Ctrl-C" not in told:
            told += process.stdout.readline()
        process.terminate()
    address = re.search(r"the bay page is at (https://bay\.test:\d+/)", told)
    assert address is not None
    assert re.search(r"SHA-256: ([0-9A-F]{2}:){31}[0-9A-F]{2}$", told, re.MULTILINE)
    drawn = [line for line in told.splitlines() if re.fullmatch("[█▀▄ ]+", line) and line.strip()]
    picture = Image.new("L", (len(drawn[0]), 2 * len(drawn)), 0)
    for row, line in enumerate(drawn):
        for column, sign in enumerate(line):
            picture.putpixel((column, 2 * row), 255 if sign in "█▀" else 0)
            picture.putpixel((column, 2 * row + 1), 255 if sign in "█▄" else 0)
    read = zxingcpp.read_barcodes(
        picture.resize((8 * picture.width, 8 * picture.height), Image.Resampling.NEAREST)
    )
    assert [one.text for one in read] == [address[1]]


def raw(address: str, sent: bytes) -> bytes:
    url = httpx.URL(address)
    with socket.create_connection((url.host, url.port or 80), timeout=10) as held:
        held.sendall(sent)
        answer = b""
        while piece := held.recv(65536):
            answer += piece
    return answer


def test_malformed_requests_do_no_harm(start: Start, demo_records: Path) -> None:
    process, told = start("--db", demo_records)
    host = httpx.URL(told["address"]).netloc
    end = b"\r\nconnection: close\r\n\r\n"
    for sent, status in {
        b"GET /healthz HTTP/1.1\r\nhost: " + host + b"\r\nhost: x" + end: b" 4",
        b"GET /healthz HTTP/1.0\r\n\r\n": b" 421 ",
        b"GET /healthz HTTP/1.1\r\nhost: elsewhere.example" + end: b" 421 ",
        b"GET http://elsewhere.example/healthz HTTP/1.1\r\nhost: elsewhere.example" + end: b" 421 ",
        b"GET /" + b"x" * 70_000 + b" HTTP/1.1\r\nhost: " + host + end: b" 4",
        b"nonsense\r\n\r\n": b" 400 ",
        b"POST /sign-in HTTP/1.1\r\nhost: " + host + b"\r\nx: a\r\n b\x00" + end: b" 4",
    }.items():
        answer = raw(told["address"], sent)
        assert status in answer.partition(b"\r\n")[0], (sent[:80], answer[:200])
        assert b"uvicorn" not in answer.lower()
    with httpx.Client(base_url=told["address"], headers=OURS) as client:
        form = {"content-type": "application/x-www-form-urlencoded"}
        endless = client.post("/sign-in", content=(b"x" * 4096 for _ in range(64)), headers=form)
        assert endless.status_code == 413
        assert client.get("/static/%2e%2e/app.py").status_code == 404
        assert client.get("/healthz").status_code == 200
    assert process.poll() is None
