"""One truck, one day: what was found, done and said about it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from fanwright.diagnosis.model import Cause, Diagnosis, LeadsTo, NextTest
from fanwright.evidence.reading import Evidence, Reading
from fanwright.judging.verdict import Finding, Judgement
from fanwright.truck.model import Truck
from fanwright.visit.life import Life
from fanwright.words import Message


@dataclass(frozen=True)
class Past:
    """One line of history: date, odometer and readings of an earlier visit."""

    date: dt.date
    odometer_m: float | None
    readings: tuple[Reading, ...]


@dataclass(frozen=True)
class Work:
    """What was done: cause named, parts, minutes of labour, and a note."""

    cause: str = ""
    parts: tuple[str, ...] = ()
    labour_s: float | None = None
    note: str = ""


@dataclass(frozen=True)
class Visit:
    """One truck, one day, as it was written down.

    Args:
        unit: The fleet's own number of the truck.
        truck: The machine, from the preset and what the visit file says of its drive.
        kind: ``planned``, ``complaint`` or ``retest``.
        date: The day.
        odometer_m: Distance run, or None [m].
        engine_time_s: Engine hours, or None [s].
        identity: For the record only: vin, make, model_year, serial, tire_size and the like.
        circumstances: time, zone, place, lock_out, technician and the like.
        readings: Readings as found, each marked with its origin.
        readings_after: Readings after the repair.
        not_done: Tests that could not be done, with the reason given.
        work: What was done.
        history: Earlier visits, oldest first.
        files: Files named by the visit, by what they are (``air_trace``, ``recording``, ``photos``).
        assumed: What the file does not say and was taken for granted, and what is kept for the record only.
    """

    unit: str
    truck: Truck
    kind: str
    date: dt.date
    odometer_m: float | None
    engine_time_s: float | None
    identity: Mapping[str, str]
    circumstances: Mapping[str, str]
    readings: tuple[Reading, ...]
    readings_after: tuple[Reading, ...]
    not_done: Mapping[str, str]
    work: Work
    history: tuple[Past, ...]
    files: Mapping[str, tuple[str, ...]]
    assumed: tuple[Message, ...] = ()


@dataclass(frozen=True)
class NotJudged:
    """A reading that was kept but not judged, with the reason."""

    test: str
    why: Message
    reading: Reading | None


@dataclass(frozen=True)
class Assessment:
    """Everything that can honestly be said about a visit; built whole, changed never.

    Args:
        visit: What was assessed.
        overall: The worst verdict given; ``good`` only if the whole core set is good.
        overall_why: The reason in one sentence.
        overall_after: The same with each reading after the repair in place of the one before, or None.
        verdicts: Judgements of the readings as found, worst first.
        verdicts_after: Judgements of the readings after the repair, worst first.
        not_judged: What was read but not judged, and why.
        diagnosis: What is wrong, how sure that is and what to do next; None where it failed.
        life: How long the facing will last; None where it was never measured at a known distance.
        listed: Readings beside a surer one of the same test that agrees with them.
        not_done: What was not done, and why.
        missing: Tests of the core set that nobody took or could judge.
        findings: Contradictions and likely slips.
        evidence: The exhibits and notes behind the readings.
        shop_file: The shop's own data in force, or empty.
        shop_sha256: Hash of that file, or empty.
    """

    visit: Visit
    overall: str
    overall_why: Message
    overall_after: str | None
    verdicts: tuple[Judgement, ...]
    verdicts_after: tuple[Judgement, ...]
    not_judged: tuple[NotJudged, ...]
    not_done: Mapping[str, str]
    missing: tuple[str, ...]
    findings: tuple[Finding, ...]
    evidence: tuple[Evidence, ...]
    shop_file: str = ""
    shop_sha256: str = ""
    listed: tuple[Reading, ...] = ()
    diagnosis: Diagnosis | None = None
    life: Life | None = None

    @property
    def causes(self) -> tuple[Cause, ...]:
        """What may be wrong, most probable first."""
        return () if self.diagnosis is None else self.diagnosis.causes

    @property
    def next_tests(self) -> tuple[NextTest, ...]:
        """Tests worth doing, the best first."""
        return () if self.diagnosis is None else self.diagnosis.next_tests

    @property
    def leading_to(self) -> tuple[LeadsTo, ...]:
        """Results with the causes to look for before the visit is closed."""
        return () if self.diagnosis is None else self.diagnosis.leading_to
