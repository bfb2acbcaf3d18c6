"""The same tasks handed to a running Dask scheduler; only the name of the task and addresses travel."""

from __future__ import annotations

import concurrent.futures
import importlib
import ipaddress
import json
import logging
import secrets
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from fanwright.desk.fleet_duty_addresses import is_address, shown
from fanwright.desk.fleet_duty_task import Job, perform
from fanwright.desk.fleet_duty_version import versions
from fanwright.errors import InputError
from fanwright.words import Message, text

AHEAD = 4
"""Tasks handed out a thread of the workers."""
DIED = "the workers that read it died, again and again; is there enough memory?"
WAIT_S = 10.0


@dataclass(frozen=True)
class Certificates:
    """Files that prove who speaks, for ``tls://``.

    Args:
        authority: Certificate of whoever signed the others.
        certificate: Our own.
        key: The key to it.
    """

    authority: Path | None = None
    certificate: Path | None = None
    key: Path | None = None


def check_address(address: str, certificates: Certificates) -> None:
    """Refuse an address that would send tasks about unprotected.

    Raises:
        InputError: Every mistake.
    """
    parts = urlsplit(address)
    mistakes: list[Message] = []
    given = {"address": text(address)}
    if parts.scheme not in ("tcp", "tls") or not parts.hostname:
        mistakes.append(
            Message("--cluster «{address}» is no address of a scheduler such as tls://10.0.0.5:8786", given)
        )
    elif parts.scheme == "tcp" and not _loopback(parts.hostname):
        mistakes.append(
            Message(
                "--cluster «{address}»: anybody on the way could give orders to the workers; tcp:// is taken "
                "on this computer only, elsewhere start the scheduler with certificates and use tls://",
                given,
            )
        )
    files = {
        "--cluster-ca": certificates.authority,
        "--cluster-cert": certificates.certificate,
        "--cluster-key": certificates.key,
    }
    if parts.scheme == "tls":
        mistakes += [
            Message("{option} is missing: tls:// needs it", {"option": text(option)})
            for option, path in files.items()
            if path is None
        ]
        mistakes += [
            Message("{file} is not there; check the name", {"file": text(path)})
            for path in files.values()
            if path is not None and not path.is_file()
        ]
    if mistakes:
        raise InputError(mistakes)


def _loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def on_cluster(jobs: Iterable[Job], address: str, certificates: Certificates) -> Iterator[tuple[Job, str]]:
    """Run tasks on the workers of a scheduler and give each with its answer as it comes.

    Args:
        jobs: The tasks; taken only as they are needed.
        address: The scheduler's address.
        certificates: Our certificates, for ``tls://``.

    Yields:
        A task and what ``perform`` said of it.

    Raises:
        InputError: The scheduler cannot be reached, has no workers, or anything there differs from here.
    """
    check_address(address, certificates)
    try:
        distributed = importlib.import_module("distributed")  # untyped, and an extra
    except ImportError as error:
        raise InputError(
            Message("--cluster needs the package distributed: install fanwright with its extra «fleet»")
        ) from error
    logging.getLogger("distributed").setLevel(logging.CRITICAL + 1)  # what matters is told in our own words
    client = _client(distributed, address, certificates)
    try:
        _check_versions(client, address)
        yield from _run(distributed, client, iter(jobs), address)
    finally:
        client.close(timeout=2)


def _client(distributed: Any, address: str, certificates: Certificates) -> Any:
    security = None
    if address.startswith("tls://"):
        security = distributed.Security(
            tls_ca_file=str(certificates.authority),
            tls_client_cert=str(certificates.certificate),
            tls_client_key=str(certificates.key),
            require_encryption=True,
        )
    try:
        return distributed.Client(
            address, security=security, timeout=WAIT_S, set_as_default=False, direct_to_workers=False
        )
    except Exception as error:  # refused, unreachable, wrong certificate: one line for all
        raise InputError(
            Message(
                "{address}: no scheduler answers there ({reason})",
                {"address": text(address), "reason": text(" ".join(str(error).split()))},
            )
        ) from error


def _check_versions(client: Any, address: str) -> None:
    """Refuse a cluster on which anything differs from here.

    Raises:
        InputError: Every difference.
    """
    told = client.get_versions(check=False)
    places: dict[str, Mapping[str, Any]] = {"the scheduler": told["scheduler"], **told["workers"]}
    if not told["workers"]:
        raise InputError(Message("{address}: the scheduler has no workers yet", {"address": text(address)}))
    mistakes = []
    for place, found in places.items():
        there = {**found["packages"], "python": str(found["host"]["python"]).removesuffix(".final.0")}
        for name in ("python", "dask", "distributed"):
            mistakes += _difference(place, name, there.get(name))
    if not mistakes:
        for place, answer in client.run(versions, on_error="return").items():
            same = answer.get("fanwright") if isinstance(answer, dict) else None
            mistakes += _difference(place, "fanwright", same)
    if mistakes:
        raise InputError(mistakes)


def _difference(place: str, name: str, there: str | None) -> list[Message]:
    here = versions()[name]
    if there is not None and (there == here or (name == "python" and _plain(there) == here)):
        return []
    return [
        Message(
            "{place} has {name} {there}, here is {here}; install the same on all computers",
            {
                "place": text(place),
                "name": text(name),
                "there": text(there or "not at all"),
                "here": text(here),
            },
        )
    ]


def _plain(version: str) -> str:
    return ".".join(version.split(".")[:3])


def _run(distributed: Any, client: Any, waiting: Iterator[Job], address: str) -> Iterator[tuple[Job, str]]:
    upcoming = next(waiting, None)
    if upcoming is None:
        return
    _check_folder(client, upcoming)
    running: dict[Any, Job] = {}
    queue = distributed.as_completed(loop=client.loop)
    most = AHEAD * max(sum(client.nthreads().values()), 1)
    while True:
        while upcoming is not None and len(running) < most:
            told = replace(upcoming, key=versions()["fanwright"]).text()
            future = client.submit(perform, told, pure=False)
            running[future] = upcoming
            queue.add(future)
            upcoming = next(waiting, None)
        if not running:
            return
        done = next(queue)
        yield running.pop(done), _answer(distributed, done, address)


def _check_folder(client: Any, first: Job) -> None:
    """See that every worker sees the folder of the result, and the first recording.

    Raises:
        InputError: Some do not.
    """
    mark = Path(first.into, "." + secrets.token_hex(8))
    mark.write_bytes(b"")
    try:
        mistakes = _blind(client, str(mark), first.into)
    finally:
        mark.unlink()
    if not is_address(first.address):
        mistakes += _blind(client, first.address, first.address)
    if mistakes:
        raise InputError(mistakes)


def _blind(client: Any, path: str, meant: str) -> list[Message]:
    seen = client.run(_is_there, path, on_error="return")
    blind = [str(place) for place, found in seen.items() if found is not True]
    if not blind:
        return []
    return [
        Message(
            "{workers} do not see {place}: recordings and result must lie where all computers find them "
            "under the same name",
            {"workers": text(", ".join(blind)), "place": text(shown(meant))},
        )
    ]


def _is_there(path: str) -> bool:
    return Path(path).exists()


def _answer(distributed: Any, done: Any, address: str) -> str:
    try:
        answer: str = done.result()
    except distributed.KilledWorker:
        return json.dumps({"sha256": "", "failed": DIED})
    except Exception as error:  # the scheduler went away, or a worker cannot do the task at all
        lost = isinstance(error, concurrent.futures.CancelledError | OSError)
        reason = "the connection to its scheduler is lost" if lost else " ".join(str(error).split())
        raise InputError(
            Message(
                "{address}: the cluster gave up ({reason}); what was read is kept, run the same again to go "
                "on",
                {"address": text(address), "reason": text(reason or type(error).__name__)},
            )
        ) from error
    return answer
