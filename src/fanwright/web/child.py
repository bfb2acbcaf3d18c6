"""A child process for work on what came from outside: few resources, killed and reported on breach.

The parent starts this file as a module, hands it one task as JSON and reads one answer as JSON. The heavy
libraries (numba, typesetting, pictures) are imported only here, never in the serving process.
"""

from __future__ import annotations

import contextlib
import json
import logging
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fanwright.errors import FanwrightError, InputError
from fanwright.evidence.from_json import message_data, message_from_data
from fanwright.words import Message, count, text

LOG = logging.getLogger("fanwright.web")
MB = 1 << 20
MOST_ANSWER = 32 * MB
OUT_OF_MEMORY = 77  # the child's own way to say so


@dataclass(frozen=True)
class Limits:
    """What a child may use.

    Args:
        memory_mb: Address space [MiB]; what the libraries map counts too.
        cpu_s: Processor time [s].
        wall_s: Time on the clock [s].
        file_mb: Largest file it may write [MiB].
    """

    memory_mb: int = 3000
    cpu_s: int = 90
    wall_s: int = 180
    file_mb: int = 1000


class ChildFailed(InputError):
    """The child was killed or fell over; what it worked on is not to be tried again as it is."""


def run(task: str, given: Mapping[str, Any], folder: Path, limits: Limits | None = None) -> dict[str, Any]:
    """Run one task in a child process.

    Args:
        task: Its name in ``TASKS``.
        given: What it needs, as plain data.
        folder: The folder it works in.
        limits: What it may use.

    Returns:
        Its answer.

    Raises:
        ChildFailed: It took too much memory or time, or failed; it is gone.
        InputError: What it found wrong in its input.
    """
    may = limits or Limits()
    order = json.dumps({"task": task, "given": given, "limits": vars(may)}).encode()
    process = subprocess.Popen(
        [sys.executable, "-m", "fanwright.web.child"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=folder,
        env=_environment(),
        start_new_session=True,
    )
    try:
        said, complained = process.communicate(order, timeout=may.wall_s)
    except subprocess.TimeoutExpired as error:
        raise ChildFailed(_took_too_long(may.wall_s)) from error
    finally:
        _kill(process)
    if process.returncode != 0:
        LOG.warning("child for %s ended with %s: %s", task, process.returncode, _tail(complained))
        raise ChildFailed(_why(process.returncode, may))
    answer = json.loads(said[-MOST_ANSWER:])
    if "mistakes" in answer:
        raise InputError(message_from_data(one) for one in answer["mistakes"])
    found: dict[str, Any] = answer["answer"]
    return found


def _environment() -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.endswith("PASSWORD")}
    return kept | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "NUMBA_NUM_THREADS": "1"}


def _kill(process: subprocess.Popen[bytes]) -> None:
    """Kill it with everything it started, if any of it is still there."""
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()
    for pipe in (process.stdin, process.stdout, process.stderr):
        if pipe is not None:
            pipe.close()


def _tail(said: bytes) -> str:
    return said.decode("utf-8", "replace")[-2000:]


def _took_too_long(seconds: int) -> Message:
    return Message(
        "working on it took longer than {seconds} s and was stopped: give a shorter file",
        {"seconds": count(seconds)},
    )


def _why(status: int, may: Limits) -> Message:
    if status == -signal.SIGXCPU:
        return _took_too_long(may.cpu_s)
    if status in (OUT_OF_MEMORY, -signal.SIGSEGV, -signal.SIGABRT, -signal.SIGKILL, -signal.SIGBUS):
        return Message(
            "working on it took more memory than is allowed ({megabytes} MB) and was stopped: give a smaller"
            " file",
            {"megabytes": count(may.memory_mb)},
        )
    return Message(
        "working on it failed inside the program (status {status}); details are in the server's log",
        {"status": text(status)},
    )


def _check_upload(given: Mapping[str, Any]) -> dict[str, Any]:
    from fanwright.desk.upload_check import check

    return check(given["what"], given["name"], given.get("visit"), given.get("shop", ""))


def _make_report(given: Mapping[str, Any]) -> dict[str, Any]:
    from fanwright.desk.report import make_report

    shop = Path(given["shop"]) if given.get("shop") else None
    made = make_report(
        Path(given["visit_file"]),
        Path(given["out"]),
        shop,
        language=given.get("language", "en"),
        paper=given.get("paper", "us-letter"),
        db=given.get("db"),
    )
    return {"out": str(made.path), "sha256": made.sha256}


def _eat(given: Mapping[str, Any]) -> dict[str, Any]:
    """Use up what is asked for; how the limits are tried."""
    held = bytearray(int(given.get("memory_mb", 0)) * MB)
    import time

    end = time.monotonic() + float(given.get("wall_s", 0))
    while given.get("busy") and time.monotonic() < end:
        held[:1] = b"x"
    time.sleep(max(0.0, end - time.monotonic()))
    if given.get("fall"):
        raise RuntimeError("fell over, as asked")
    return {"held": len(held)}


def _trace_page(given: Mapping[str, Any]) -> dict[str, Any]:
    from fanwright.desk.file_pages import trace_page

    return trace_page(given)


def _recording_page(given: Mapping[str, Any]) -> dict[str, Any]:
    from fanwright.desk.file_pages import recording_page

    return recording_page(given)


TASKS: Mapping[str, Callable[[Mapping[str, Any]], dict[str, Any]]] = {
    "check_upload": _check_upload,
    "make_report": _make_report,
    "trace_page": _trace_page,
    "recording_page": _recording_page,
    "eat": _eat,
}


def main() -> int:
    """Do one task, as the child.

    Returns:
        The exit status: 0 with an answer on standard output.
    """
    with os.fdopen(0, "rb") as file:
        order = json.loads(file.read())
    out = os.dup(1)
    os.dup2(2, 1)  # whatever a library prints is no answer
    _limit(order["limits"])
    answer: dict[str, Any]
    try:
        answer = {"answer": TASKS[order["task"]](order["given"])}
    except MemoryError:
        return OUT_OF_MEMORY
    except FanwrightError as error:
        answer = {"mistakes": [message_data(one) for one in error.messages]}
    with os.fdopen(out, "wb") as file:
        file.write(json.dumps(answer, allow_nan=False).encode())
    return 0


def _limit(limits: Mapping[str, int]) -> None:
    import resource

    _die_with_parent()
    memory, size = limits["memory_mb"] * MB, limits["file_mb"] * MB
    resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
    resource.setrlimit(resource.RLIMIT_CPU, (limits["cpu_s"], limits["cpu_s"] + 5))
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _die_with_parent() -> None:
    """Ask Linux to end this process when the server is gone, killed or not."""
    import ctypes

    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).prctl(1, signal.SIGKILL)  # PR_SET_PDEATHSIG


if __name__ == "__main__":
    sys.exit(main())
