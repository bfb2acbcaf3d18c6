"""Read the recordings of a fleet: each once, on all processors or on a cluster, into one result."""

from __future__ import annotations

import hashlib
import json
import os
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

from fanwright.desk.fleet_duty_addresses import Found, is_address, listed, shown
from fanwright.desk.fleet_duty_cluster import Certificates, check_address, on_cluster
from fanwright.desk.fleet_duty_pool import in_pool
from fanwright.desk.fleet_duty_result import FAILURES, Result, opened, tidy
from fanwright.desk.fleet_duty_task import UNITS_FILE, Job
from fanwright.desk.fleet_duty_units import UnitRule, unit_rule
from fanwright.desk.fleet_duty_version import versions
from fanwright.desk.shop import open_shop
from fanwright.errors import FanwrightError, FileError, InputError
from fanwright.fleet.manifest import Entry
from fanwright.report.writing import replace_file
from fanwright.words import Message, text

Progress = Callable[[int, int, int], None]
"""Called with recordings done, recordings in all, and how many of the done cannot be read."""


@dataclass(frozen=True)
class FleetJob:
    """What a person asks for.

    Args:
        names: Files, folders, globs and addresses.
        into: Folder of the result.
        unit_from: A regular expression with a group ``unit``; empty for none.
        units: A table that says which file or vehicle number is which truck, or None.
        figures: The drive's figures: pulley ratio, inertia, torque, power and speed in SI, or nothing.
        dbc: The shop's own layout of signals, or None.
        telemetry: What the shop's tables of telemetry call things, as in its file.
        workers: Processes; 0 for one a processor.
        cluster: Address of a Dask scheduler; empty for this computer alone.
        certificates: Our certificates for that.
    """

    names: Sequence[str]
    into: Path
    unit_from: str = ""
    units: Path | None = None
    figures: tuple[float, ...] = ()
    dbc: Path | None = None
    telemetry: Mapping[str, Any] = field(default_factory=dict)
    workers: int = 0
    cluster: str = ""
    certificates: Certificates = field(default_factory=Certificates)


@dataclass(frozen=True)
class FleetRead:
    """What a run did.

    Args:
        into: Folder of the result.
        found: Files found.
        read: Recordings read in this run.
        known: Files that an earlier run had read, unchanged.
        same: Files that hold what another file holds; counted once.
        failures: Every file of the result that cannot be read, with its reason.
        units: The trucks in the result, with how many recordings each.
    """

    into: Path
    found: int
    read: int
    known: int
    same: int
    failures: tuple[tuple[str, str], ...]
    units: Mapping[str, int]


def read_fleet(asked: FleetJob, progress: Progress | None = None) -> FleetRead:
    """Read the recordings of a fleet into a result; only what is new, if the result is there already.

    Args:
        asked: What is to be done.
        progress: Told after each recording.

    Returns:
        What was done.

    Raises:
        InputError: Every mistake of what was asked.
    """
    into = asked.into.absolute()
    mistakes: list[Message] = []
    files = _tried(mistakes, lambda: listed(asked.names, into)) or ()
    _tried(mistakes, lambda: unit_rule(asked.unit_from, asked.units, ""))
    if asked.cluster:
        _tried(mistakes, lambda: check_address(asked.cluster, asked.certificates))
        mistakes += _apart(files)
    if asked.dbc is not None:
        _tried(mistakes, lambda: _check_layout(asked.dbc))
    if mistakes:
        raise InputError(mistakes)
    settings = {
        "figures": list(asked.figures),
        "layout": _fingerprint(asked.dbc),
        "telemetry": dict(asked.telemetry),
    }
    with opened(into, settings) as result:
        rule = unit_rule(asked.unit_from, asked.units, result.salt)
        replace_file(into / UNITS_FILE, json.dumps(dict(rule.masked)).encode())
        done = _Run(asked, result, rule, progress).over(files)
        tidy(result)
    return done


def settings_from(
    truck: str, typed: Mapping[str, str], columns: str, shop_file: Path | None
) -> tuple[tuple[float, ...], Mapping[str, Any]]:
    """Find the drive's figures and what tables of telemetry call things.

    Args:
        truck: A preset's name or a visit file; empty without.
        typed: The drive's figures as typed, instead of a truck.
        columns: Columns of telemetry as typed, beside those of the shop.
        shop_file: The shop's own data, or None.

    Returns:
        The figures, or nothing; and the names as a shop file has them.

    Raises:
        InputError: Every mistake of what was given.
    """
    from fanwright.desk.duty import drive_figures, naming_of

    mistakes: list[Message] = []
    shop = open_shop(shop_file)
    figures = _tried(mistakes, lambda: drive_figures(truck, typed, shop))
    naming = _tried(mistakes, lambda: naming_of(shop, "", columns))
    if mistakes:
        raise InputError(mistakes)
    numbers = () if figures is None else tuple(float(one) for one in vars(figures).values())
    names = {**naming.columns, "reasons": dict(naming.reasons)} if naming.columns or naming.reasons else {}
    return numbers, names


def _tried(mistakes: list[Message], work: Callable[[], Any]) -> Any:
    try:
        return work()
    except FanwrightError as error:
        mistakes += error.messages
        return None


def _check_layout(path: Path | None) -> None:
    from fanwright.evidence.recording.own import layout_with

    if path is not None:
        layout_with(path)


def _fingerprint(path: Path | None) -> str:
    return "" if path is None else hashlib.sha256(path.read_bytes()).hexdigest()


def _apart(files: Iterable[Found]) -> list[Message]:
    """Addresses that mean another thing on another computer."""
    kinds = {one.address.partition("://")[0] for one in files if is_address(one.address)}
    return [
        Message(
            "addresses of «{kind}» mean another thing on each computer; name a folder that all share, or a "
            "bucket",
            {"kind": text(kind)},
        )
        for kind in sorted(kinds & {"memory"})
    ]


@dataclass
class _Run:
    """One run over the files of a fleet."""

    asked: FleetJob
    result: Result
    rule: UnitRule
    progress: Progress | None
    done: int = 0
    bad: int = 0

    @cached_property
    def tried(self) -> str:
        """What decides whether a recording can be read: this program, and the rule for trucks."""
        rule = (
            self.rule.pattern and self.rule.pattern.pattern,
            dict(self.rule.files),
            dict(self.rule.masked),
        )
        told = json.dumps((versions()["fanwright"], rule))
        return hashlib.sha256(told.encode("utf-8", "surrogateescape")).hexdigest()[:16]

    def over(self, files: Sequence[Found]) -> FleetRead:
        entries = {one.address: one for one in self.result.manifest.entries}
        new, first = self._new(files, entries)
        self.total, self.done = len(files), len(files) - len(new)
        self._tell()
        digests = self._hashed(new, Counter(one.size for one in entries.values()))
        fresh, same = self._sorted_out(new, digests, first)
        read = sum(self._take(one, answer) for one, answer in self._answers(fresh))
        return self._summary(len(files), read, len(files) - len(new), same)

    def _new(
        self, files: Sequence[Found], entries: Mapping[str, Entry]
    ) -> tuple[list[Found], dict[str, str]]:
        """Give the files that are new or changed, and where bytes that stay counted were found first."""
        changed = {one.address for one in files if not _unchanged(one, entries.get(one.address), self.tried)}
        first = {
            one.sha256: one.address
            for one in entries.values()
            if one.sha256 and not one.same_as and one.address not in changed
        }
        new = [
            one
            for one in files
            if one.address in changed
            or (entries[one.address].same_as and entries[one.address].sha256 not in first)
        ]
        return new, first

    def _hashed(self, new: Sequence[Found], sizes: Counter[int]) -> dict[str, str]:
        """Hash the files that may hold what another holds: those of a size that is there more than once."""
        sizes = sizes + Counter(one.size for one in new)
        several = {one.address: one for one in new if sizes[one.size] > 1}
        jobs = (self._job(one, only_hash=True) for one in several.values())
        found = {}
        for job, answer in self._run(jobs):
            told = _told(answer)
            if "failed" not in told:
                found[job.address] = str(told["sha256"])
        return found

    def _sorted_out(
        self, new: Sequence[Found], digests: Mapping[str, str], first: dict[str, str]
    ) -> tuple[list[Found], int]:
        """Tell first names from further names of the same bytes."""
        fresh, same = [], 0
        for one in new:
            sha256 = digests.get(one.address, "")
            original = first.setdefault(sha256, one.address) if sha256 else one.address
            if original == one.address:
                fresh.append(one)
                continue
            same += 1
            self._finished(Entry(sha256, one.address, one.size, one.stamp, same_as=original))
        return fresh, same

    def _answers(self, fresh: Sequence[Found]) -> Iterator[tuple[Found, dict[str, Any]]]:
        by_address = {one.address: one for one in fresh}
        for job, answer in self._run(self._jobs(fresh)):
            yield by_address[job.address], _told(answer)

    def _jobs(self, fresh: Sequence[Found]) -> Iterator[Job]:
        for one in fresh:
            try:
                yield self._job(one, unit=shown(self.rule.unit_of(one.address)))
            except FileError as error:
                from fanwright.report.say import say_all

                self._finished(
                    Entry("", one.address, one.size, one.stamp, failed="; ".join(say_all(error.messages)))
                )

    def _job(self, one: Found, *, unit: str = "", only_hash: bool = False) -> Job:
        return Job(
            one.address,
            str(self.result.folder),
            only_hash=only_hash,
            unit=unit,
            salt=self.result.salt,
            figures=tuple(self.asked.figures),
            dbc="" if self.asked.dbc is None else str(self.asked.dbc.absolute()),
            names=dict(self.asked.telemetry),
        )

    def _run(self, jobs: Iterator[Job]) -> Iterator[tuple[Job, str]]:
        first = next(jobs, None)
        if first is None:
            return iter(())
        waiting = _before(first, jobs)
        if self.asked.cluster:
            return on_cluster(waiting, self.asked.cluster, self.asked.certificates)
        return in_pool(waiting, self.asked.workers or os.cpu_count() or 1)

    def _take(self, one: Found, told: Mapping[str, Any]) -> bool:
        known = ("format", "clock", "tells", "parts", "sums", "failed")
        more = {name: told[name] for name in known if name in told}
        if "failed" in more:
            more["tried"] = self.tried
        entry = Entry(str(told["sha256"]), one.address, one.size, one.stamp, **more)
        self._finished(entry)
        return not entry.failed

    def _finished(self, entry: Entry) -> None:
        self.result.add(entry)
        self.done += 1
        self.bad += bool(entry.failed)
        self._tell()

    def _tell(self) -> None:
        if self.progress is not None:
            self.progress(self.done, self.total, self.bad)

    def _summary(self, found: int, read: int, known: int, same: int) -> FleetRead:
        entries = self.result.entries()
        units = Counter(unit for one in entries for unit in one.units)
        failures = tuple(sorted((shown(one.address), one.failed) for one in entries if one.failed))
        return FleetRead(self.result.folder, found, read, known, same, failures, dict(sorted(units.items())))


def _before(first: Job, others: Iterator[Job]) -> Iterator[Job]:
    yield first
    yield from others


def _unchanged(found: Found, entry: Entry | None, tried: str) -> bool:
    """Say whether a file was dealt with before and has not changed since.

    What could not be read is tried again with another program or another rule for trucks.
    """
    if entry is None or not entry.sha256 or (entry.failed and entry.tried != tried):
        return False
    return bool(found.stamp) and (entry.size, entry.stamp) == (found.size, found.stamp)


def _told(answer: str) -> dict[str, Any]:
    """Read a task's answer.

    Raises:
        InputError: Nothing more can be done, such as when the disk is full.
    """
    told: dict[str, Any] = json.loads(answer)
    if "stopped" in told:
        raise InputError(
            Message(
                "stopped: {reason}; what was read is kept, run the same again to go on",
                {"reason": text(told["stopped"])},
            )
        )
    return told


__all__ = ["FAILURES", "Certificates", "FleetJob", "FleetRead", "read_fleet", "settings_from"]
