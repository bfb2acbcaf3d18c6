"""The same tasks on a Dask cluster of real processes on this computer."""

from __future__ import annotations

import datetime as dt
import hashlib
import ipaddress
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from fanwright.desk import fleet_duty_cluster
from fanwright.desk.fleet_duty import Certificates, FleetJob, read_fleet
from fanwright.desk.fleet_duty_cluster import check_address
from fanwright.desk.fleet_duty_task import Job, perform
from fanwright.errors import InputError
from fanwright.report.say import say_all

BY_NAME = r"/(?P<unit>\d+)-2026"


def fingerprint(into: Path) -> str:
    digest = hashlib.sha256()
    for path in sorted(into.rglob("*.parquet")):
        digest.update(path.relative_to(into).as_posix().encode() + path.read_bytes())
    return digest.hexdigest()


@dataclass
class Cluster:
    """A scheduler and its workers, each a process."""

    address: str
    scheduler: subprocess.Popen[bytes]
    workers: list[subprocess.Popen[bytes]]


@contextmanager
def started(
    folder: Path, workers: int = 2, more: tuple[str, ...] = (), scheme: str = "tcp"
) -> Iterator[Cluster]:
    file = folder / "scheduler.json"
    dask = [sys.executable, "-m", "dask"]
    common = ["--no-dashboard", "--host", f"{scheme}://127.0.0.1", "--scheduler-file", str(file), *more]
    log = (folder / "log.txt").open("wb")
    scheduler = subprocess.Popen([*dask, "scheduler", "--port", "0", *common], stdout=log, stderr=log)
    running = []
    try:
        end = time.monotonic() + 30.0
        while not (file.exists() and file.read_text().strip()) and time.monotonic() < end:
            time.sleep(0.05)
        time.sleep(0.1)
        address = json.loads(file.read_text())["address"]
        place = ["--local-directory", str(folder / "space"), "--no-nanny", "--nthreads", "1"]
        for _ in range(workers):
            running.append(subprocess.Popen([*dask, "worker", *common, *place], stdout=log, stderr=log))
        wait_for_workers(folder / "log.txt", workers)
        yield Cluster(address, scheduler, running)
    finally:
        for process in (*running, scheduler):
            process.kill()
            process.wait()
        log.close()


def wait_for_workers(log: Path, many: int) -> None:
    end = time.monotonic() + 40.0
    while log.read_text().count("Registered to:") < many and time.monotonic() < end:
        time.sleep(0.05)


@pytest.fixture(scope="module")
def whole(small_fleet: Any, tmp_path_factory: pytest.TempPathFactory) -> str:
    into = tmp_path_factory.mktemp("whole") / "out"
    read_fleet(FleetJob([str(small_fleet.folder)], into, unit_from=BY_NAME, workers=2))
    return fingerprint(into)


def job(fleet: Any, into: Path, address: str, **more: Any) -> FleetJob:
    return FleetJob([str(fleet.folder)], into, unit_from=BY_NAME, cluster=address, **more)


def at_line(many: int, work: Callable[[], None]) -> Callable[[int, int, int], None]:
    """Do something once, when so many recordings are done."""
    waiting = [work]

    def progress(done: int, total: int, bad: int) -> None:
        if done >= many and waiting:
            waiting.pop()()

    return progress


def test_a_worker_killed_half_way_changes_nothing(small_fleet: Any, whole: str, tmp_path: Path) -> None:
    with started(tmp_path) as cluster:
        into = tmp_path / "out"
        kill = at_line(2, lambda: os.kill(cluster.workers[0].pid, signal.SIGKILL))
        done = read_fleet(job(small_fleet, into, cluster.address), kill)
        assert (done.read, done.failures) == (9, ())
        assert fingerprint(into) == whole
        assert cluster.workers[0].wait(10) == -signal.SIGKILL


def test_a_scheduler_killed_half_way_stops_with_a_line_and_goes_on(
    small_fleet: Any, whole: str, tmp_path: Path
) -> None:
    into = tmp_path / "out"
    (tmp_path / "one").mkdir()
    with started(tmp_path / "one") as cluster:
        kill = at_line(2, lambda: os.kill(cluster.scheduler.pid, signal.SIGKILL))
        with pytest.raises(InputError) as error:
            read_fleet(job(small_fleet, into, cluster.address), kill)
    (line,) = say_all(error.value.messages)
    assert "run the same again to go on" in line
    known = (into / "manifest.jsonl").read_bytes().count(b"\n") - 1
    assert known >= 2
    done = read_fleet(FleetJob([str(small_fleet.folder)], into, unit_from=BY_NAME, workers=1))
    assert (done.known, done.read) == (known, 9 - known)
    assert fingerprint(into) == whole


def test_what_differs_is_refused(small_fleet: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The computer that asks has other versions than the cluster, one after the other."""
    true = fleet_duty_cluster.versions()
    with started(tmp_path, workers=1) as cluster:
        for name in ("python", "dask", "distributed", "fanwright"):
            other = {**true, name: "0.0.1"}
            monkeypatch.setattr(fleet_duty_cluster, "versions", Told(true, other))
            with pytest.raises(InputError) as error:
                read_fleet(job(small_fleet, tmp_path / "out", cluster.address))
            said = say_all(error.value.messages)
            assert all(f"has {name} " in line and "here is 0.0.1" in line for line in said), said
            assert len(said) == (1 if name == "fanwright" else 2)


class Told:
    """Stands for another installation here; on a worker it gives what is there."""

    def __init__(self, there: dict[str, str], here: dict[str, str]) -> None:
        self.there, self.here = there, here

    def __call__(self) -> dict[str, str]:
        return self.here

    def __reduce__(self) -> tuple[Any, ...]:
        from fanwright.desk.fleet_duty_version import versions

        return _itself, (versions,)


def _itself(thing: Any) -> Any:
    return thing


def test_a_task_for_another_version_is_refused_by_the_worker(tmp_path: Path) -> None:
    told = json.loads(perform(Job("a.log", str(tmp_path), key="0.0.1").text()))
    assert "another version" in told["stopped"]


def test_only_names_and_addresses_travel(tmp_path: Path) -> None:
    import cloudpickle

    travels = cloudpickle.dumps((perform, Job("/data/a.log", "/data/out", unit="214").text()))
    assert len(travels) < 400
    assert b"fleet_duty_task" in travels
    assert b"perform" in travels


# --- Addresses and certificates -----------------------------------------------------------------------------


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:1", "tcp://localhost:8786", "tcp://[::1]:8786"])
def test_tcp_is_taken_on_this_computer(address: str) -> None:
    check_address(address, Certificates())


@pytest.mark.parametrize(
    "address",
    [
        "tcp://10.0.0.5:8786",
        "tcp://localhost.shop.test:1",
        "tcp://0.0.0.0:8786",
        "inproc://1",
        "8786",
        "tls://",
        "tls://10.0.0.5:8786",
        "ucx://127.0.0.1:1",
    ],
)
def test_everything_else_is_refused_without_certificates(address: str) -> None:
    with pytest.raises(InputError):
        check_address(address, Certificates())


def test_nobody_there_is_one_line(small_fleet: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fleet_duty_cluster, "WAIT_S", 0.5)
    with pytest.raises(InputError) as error:
        read_fleet(job(small_fleet, tmp_path / "out", "tcp://127.0.0.1:9"))
    (line,) = say_all(error.value.messages)
    assert "no scheduler answers" in line


def test_with_certificates_the_work_is_done(small_fleet: Any, whole: str, tmp_path: Path) -> None:
    certificate, key = make_certificate(tmp_path)
    files = ("--tls-ca-file", str(certificate), "--tls-cert", str(certificate), "--tls-key", str(key))
    with started(tmp_path, 1, files, "tls") as cluster:
        assert cluster.address.startswith("tls://")
        with pytest.raises(InputError):
            read_fleet(job(small_fleet, tmp_path / "out", cluster.address))
        proof = Certificates(certificate, certificate, key)
        done = read_fleet(job(small_fleet, tmp_path / "out", cluster.address, certificates=proof))
    assert done.read == 9
    assert fingerprint(tmp_path / "out") == whole


def make_certificate(folder: Path) -> tuple[Path, Path]:
    """Make a certificate that signs itself, for this computer."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "demo")])
    now = dt.datetime.now(dt.UTC)
    here = x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address("127.0.0.1"))])
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=1))
        .add_extension(here, critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    paths = folder / "certificate.pem", folder / "key.pem"
    paths[0].write_bytes(certificate.public_bytes(serialization.Encoding.PEM))
    paths[1].write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
    )
    return paths
