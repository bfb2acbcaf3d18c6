"""Writers are killed at random (kill -9): what was answered is there once, and everything still holds.

25 kills for each database in every run, 500 where FANWRIGHT_SOAK is set.
"""

from __future__ import annotations

import contextlib
import os
import random
import select
import signal
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select as sql_select

from fanwright.records import tables
from fanwright.records.archive import backup, restore
from fanwright.records.keeping import ToKeep, keep
from fanwright.records.model import Author
from fanwright.records.places import Place
from fanwright.records.store import Store, open_store, utc_now
from fanwright.records.verifying import verify
from fanwright.report.say import say_all
from fanwright.visit import Assessment

KILLS = 500 if os.environ.get("FANWRIGHT_SOAK") else 25
WRITERS = 2
READINGS = {
    "facing_thickness": ["0.297 in", "0.299 in"],
    "vent_time": ["2.1 s", "2.0 s"],
    "supply_gauge_still": "118 psi",
    "exhaust_puff": "weak_or_slow",
}


def write_until_killed(place: Place, assessment: Assessment, start: int, folder: Path, answers: int) -> None:
    """Keep one visit after the other, each with a file of its own, and answer each when it is on the disk."""
    store = open_store(place)
    number = start
    while True:
        unit = f"T{number}"
        trace = folder / f"{unit}.csv"
        trace.write_text(f"time [s],drive [psi]\n0,{number}\n" * 50)
        told = replace(assessment, visit=replace(assessment.visit, unit=unit))
        keep(store, ToKeep(told, f"visit of {unit}", "toml", files=(("air_trace", trace.name, trace),)), ANA)
        os.write(answers, f"{unit}\n".encode())
        number += 1


ANA = Author("Ana", "UTC")


def start_writer(place: Place, assessment: Assessment, start: int, folder: Path) -> tuple[int, int]:
    """Start a writer as a process of its own; give its number and where its answers are read."""
    read_end, write_end = os.pipe()
    child = os.fork()
    if child == 0:  # pragma: no cover - it is killed
        os.close(read_end)
        try:
            write_until_killed(place, assessment, start, folder, write_end)
        except BaseException as error:
            os.write(write_end, f"!{error!r}\n".encode())
        finally:
            os._exit(1)
    os.close(write_end)
    return child, read_end


def kill_after(writers: list[tuple[int, int]], seconds: float, *, answered: bool = True) -> list[str]:
    """Let writers run for a while, from their first answer on or at once; kill them, give their answers."""
    if answered:
        select.select([end for _, end in writers], [], [], 20.0)
    time.sleep(seconds)
    for child, _ in writers:
        os.kill(child, signal.SIGKILL)
    told = []
    for child, end in writers:
        os.waitpid(child, 0)
        with os.fdopen(end, "rb") as pipe:
            told += pipe.read().decode().split()
    return told


def kept_units(store: Store) -> list[str]:
    of = tables.trucks.c
    with store.reading() as connection:
        return list(
            connection.execute(
                sql_select(of.unit).join(tables.visits, tables.visits.c.truck == of.id)
            ).scalars()
        )


def everything(store: Store) -> dict[str, list[tuple[Any, ...]]]:
    with store.reading() as connection:
        return {
            table.name: [
                tuple(row)
                for row in connection.execute(sql_select(table).order_by(next(iter(table.primary_key))))
            ]
            for table in tables.METADATA.sorted_tables
        }


def test_answered_writes_survive_kill_9(
    place: Place,
    new_place: Callable[[str], Place],
    assessed: Callable[..., Assessment],
    tmp_path: Path,
) -> None:
    chance = random.Random(20260414)
    open_store(place, create=True).close()
    assessment = assessed(READINGS)
    answered: list[str] = []
    for kill in range(0, KILLS, WRITERS):
        folder = tmp_path / f"round-{kill}"
        folder.mkdir()
        writers = [start_writer(place, assessment, (kill + one) * 100_000, folder) for one in range(WRITERS)]
        answered += kill_after(writers, chance.uniform(0.0, 0.12), answered=chance.random() < 0.7)
    assert [one for one in answered if one.startswith("!")] == []
    assert len(answered) >= KILLS // 5, "hardly anything was written: the rig tried nothing"

    store = open_store(place)
    with contextlib.closing(store):
        units = kept_units(store)
        assert len(units) == len(set(units)), "a write is there twice"
        assert set(answered) - set(units) == set(), "an answered write is lost"
        assert len(units) - len(answered) <= KILLS, "more than the write at hand went unanswered"
        found = verify(store)
        assert say_all(found.wrong) == []
        assert found.entries == len(units)
        assert found.files == len(units)

        made = backup(store, tmp_path / "after.zip", made_at=utc_now())
        again = new_place("sqlite")
        assert restore(made.path, again).head == found.head
        restored = open_store(again)
        with contextlib.closing(restored):
            assert everything(restored) == everything(store)
            assert verify(restored).sound


def test_the_rig_itself_can_fail(
    new_place: Callable[[str], Place], assessed: Callable[..., Assessment], tmp_path: Path
) -> None:
    """A writer that answers before it writes is caught."""
    place = new_place("sqlite")
    open_store(place, create=True).close()
    read_end, write_end = os.pipe()
    child = os.fork()
    if child == 0:  # pragma: no cover - it is killed
        store = open_store(place)
        with store.writing() as transaction, transaction.entry("x", ANA) as entry:
            transaction.add(entry, tables.trucks, unit="T1")
            transaction.flush()
            os.write(write_end, b"T1\n")
            time.sleep(30)
        os._exit(1)
    os.close(write_end)
    answered = kill_after([(child, read_end)], 0.0)
    store = open_store(place)
    with contextlib.closing(store):
        assert answered == ["T1"]
        assert kept_units(store) == []


@pytest.mark.parametrize("cut", [0.2, 0.6, 0.95])
def test_a_write_ahead_log_cut_off_loses_only_its_end(
    new_place: Callable[[str], Place], assessed: Callable[..., Assessment], tmp_path: Path, cut: float
) -> None:
    """As after a power cut in the middle of a write: what is whole is read, the rest is not there."""
    place = new_place("sqlite")
    assert place.sqlite is not None
    open_store(place, create=True).close()
    kill_after([start_writer(place, assessed(READINGS), 0, tmp_path)], 0.05)
    log = place.sqlite.with_name(place.sqlite.name + "-wal")
    whole = log.read_bytes()
    log.write_bytes(whole[: int(len(whole) * cut)])
    place.sqlite.with_name(place.sqlite.name + "-shm").unlink(missing_ok=True)
    store = open_store(place, create=True)
    with contextlib.closing(store):
        assert say_all(verify(store).wrong) == []
