"""Tasks on a pool of processes of this computer; a process that dies takes none of the others' work along."""

from __future__ import annotations

import json
import multiprocessing
import os
import signal
from collections.abc import Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from threading import Thread

from fanwright.desk.fleet_duty_task import Job, perform

AHEAD = 2
"""Tasks handed out a process: enough to keep it busy, few enough to lose little."""
THREADS = ("NUMBA_NUM_THREADS", "POLARS_MAX_THREADS", "OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS")
DIED = "the process that read it died, twice; is there enough memory?"


def begin() -> None:
    """Prepare a process of the pool: one thread a library, and an end when the caller ends."""
    for name in THREADS:
        os.environ[name] = "1"
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def in_pool(jobs: Iterable[Job], processes: int) -> Iterator[tuple[Job, str]]:
    """Run tasks, some at a time, and give each with its answer as it comes.

    Args:
        jobs: The tasks; taken only as they are needed.
        processes: How many processes.

    Yields:
        A task and what ``perform`` said of it.
    """
    waiting = iter(jobs)
    pool, running = _pool(processes), dict[Future[str], Job]()
    try:
        while True:
            _hand_out(waiting, running, pool, AHEAD * processes)
            if not running:
                return
            done, _ = wait(running, return_when=FIRST_COMPLETED)
            broken = []
            for one in done:
                job = running.pop(one)
                try:
                    yield job, one.result()
                except BrokenProcessPool:
                    broken.append(job)
            if broken:
                yield from _after_a_death([*broken, *running.values()])
                running.clear()
                pool.shutdown(wait=False)
                pool = _pool(processes)
    finally:
        _stop(pool)


def _pool(processes: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(processes, multiprocessing.get_context("spawn"), begin)


def _hand_out(
    waiting: Iterator[Job], running: dict[Future[str], Job], pool: ProcessPoolExecutor, most: int
) -> None:
    while len(running) < most:
        job = next(waiting, None)
        if job is None:
            return
        running[pool.submit(perform, job.text())] = job


def _after_a_death(suspects: Iterable[Job]) -> Iterator[tuple[Job, str]]:
    """Run the tasks a death left undone one at a time: a task that kills its process again is to blame."""
    alone = _pool(1)
    try:
        for job in suspects:
            try:
                answer = alone.submit(perform, job.text()).result()
            except BrokenProcessPool:
                answer = json.dumps({"sha256": "", "failed": DIED})
                _stop(alone)
                alone = _pool(1)
            yield job, answer
    finally:
        _stop(alone)


def _stop(pool: ProcessPoolExecutor) -> None:
    """End a pool at once: what was begun is done again another time."""
    processes = list((pool._processes or {}).values())  # its processes are named nowhere else
    pool.shutdown(wait=False, cancel_futures=True)
    for process in processes:
        process.terminate()
    for process in processes:
        process.join()
