"""Keeps a visit: what was written, read, judged, done, and the files behind it, as one entry of the chain."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import Table, exists, select

from fanwright.errors import InputError
from fanwright.evidence.reading import Reading
from fanwright.judging import Judgement
from fanwright.records.files import Stored
from fanwright.records.forecasts import add_forecasts
from fanwright.records.model import Author
from fanwright.records.past import add_past, all_past
from fanwright.records.register import add_details, add_instruments, add_person, add_shop, truck_of
from fanwright.records.store import Store, Transaction
from fanwright.records.tables import (
    assessments,
    causes,
    files,
    not_done,
    parts,
    readings,
    settings,
    states,
    trucks,
    verdicts,
    visit_files,
    visits,
    work,
)
from fanwright.records.times import moment_utc
from fanwright.records.told import message_text, reading_columns
from fanwright.visit import Assessment
from fanwright.words import Message, count, text


@dataclass(frozen=True)
class ToKeep:
    """A visit ready to be kept.

    Args:
        assessment: What was written and what was said about it.
        written: The visit file as it was written.
        form: ``toml`` or ``json``.
        language: Language of its numbers.
        files: Its files: what each is, its name in the visit file, and where it stands.
        known_instruments: Ids of the catalogue's instruments, which are no instruments of the shop.
    """

    assessment: Assessment
    written: str
    form: str
    language: str = "en"
    files: tuple[tuple[str, str, Path], ...] = ()
    known_instruments: frozenset[str] = field(default_factory=frozenset)


@dataclass(frozen=True)
class Kept:
    """A visit that is on the disk.

    Args:
        visit: Its number.
        unit: The truck.
        new: Whether it was written now; False when the very same visit was there already.
        corrects: The visit it takes the place of, or None.
        past_added: Lines of its history that were not known before.
        head: SHA-256 of the chain's last entry, to be noted where it cannot be changed.
        clock_behind: Whether the machine's clock stands before the entry that was written last.
    """

    visit: int
    unit: str
    new: bool
    corrects: int | None
    past_added: int
    head: str
    clock_behind: bool


def keep(store: Store, visit: ToKeep, author: Author) -> Kept:
    """Keep a visit; keeping the very same one again changes nothing.

    Args:
        store: The records.
        visit: What to keep.
        author: Who keeps it; ``why`` is needed where it corrects a visit kept earlier.

    Returns:
        Its number, and what else is to be known.

    Raises:
        InputError: There is another visit of that truck, day and time, and no reason to correct it is given.
        FileError: The records or a file cannot be used; nothing was kept.
    """
    stored = tuple((what, name, store.folder.put(path)) for what, name, path in visit.files)
    key = _key(visit, stored)
    with store.writing() as transaction:
        there = transaction.connection.execute(select(visits.c.id).where(visits.c.key == key)).scalar()
        if there is not None:
            return Kept(there, visit.assessment.visit.unit, False, None, 0, transaction.head, False)
        return _Keeping(transaction, visit, author, stored, key).run()


def _key(visit: ToKeep, stored: tuple[tuple[str, str, Stored], ...]) -> str:
    held = [visit.written, visit.language, *sorted([what, name, file.sha256] for what, name, file in stored)]
    return hashlib.sha256(json.dumps(held).encode("ascii")).hexdigest()


class _Keeping:
    """Writes the rows of one visit."""

    def __init__(
        self,
        transaction: Transaction,
        visit: ToKeep,
        author: Author,
        stored: tuple[tuple[str, str, Stored], ...],
        key: str,
    ) -> None:
        self.transaction, self.given, self.author = transaction, visit, author
        self.stored, self.key = stored, key
        self.assessment = visit.assessment
        self.visit = visit.assessment.visit
        self.zone = self.visit.circumstances.get("zone") or author.zone
        self.at_utc = moment_utc(self.visit.date, self.visit.circumstances.get("time", ""), self.zone)

    def run(self) -> Kept:
        corrects = self._corrected()
        act = "visit kept" if corrects is None else "visit corrected"
        with self.transaction.entry(act, self.author, self.visit.unit) as entry:
            self.entry = entry
            truck = truck_of(self.transaction, entry, self.visit.unit)
            number = self._visit(truck, corrects)
            add_details(self.transaction, entry, truck, number, self.visit)
            self._people_and_tools()
            self._readings(truck, number)
            self._said(number)
            self._done(number)
            add_forecasts(self.transaction, entry, number, self.assessment)
            self._files(number)
            added = self._history(truck)
        return Kept(
            number,
            self.visit.unit,
            True,
            corrects,
            added,
            self.transaction.head,
            self.transaction.clock_behind,
        )

    def _corrected(self) -> int | None:
        """Find the visit of the same truck, day and time that this one takes the place of."""
        later = visits.alias()
        found = self.transaction.connection.execute(
            select(visits.c.id)
            .join(trucks, trucks.c.id == visits.c.truck)
            .where(trucks.c.unit == self.visit.unit)
            .where(visits.c.date == self.visit.date.isoformat(), visits.c.kind != "past")
            .where(visits.c.at_utc == self.at_utc)
            .where(~exists().where(later.c.corrects == visits.c.id))
        ).scalar()
        if found is None or self.author.why.strip():
            return found
        raise InputError(
            Message(
                "truck {unit} has a visit of {date} already (number {visit}), and it is not the same: to"
                " correct that one, say why with --why; if this is another visit, write its time",
                {
                    "unit": text(self.visit.unit),
                    "date": text(self.visit.date.isoformat()),
                    "visit": count(found),
                },
            )
        )

    def _add(self, table: Table, **values: object) -> int:
        return self.transaction.add(self.entry, table, **values)

    def _visit(self, truck: int, corrects: int | None) -> int:
        seen = self.visit.circumstances
        return self._add(
            visits,
            truck=truck,
            key=self.key,
            corrects=corrects,
            form=self.given.form,
            written=self.given.written,
            language=self.given.language,
            kind=self.visit.kind,
            date=self.visit.date.isoformat(),
            at_utc=self.at_utc,
            zone=self.zone,
            place=seen.get("place", ""),
            technician=seen.get("technician", ""),
            odometer_m=self.visit.odometer_m,
            engine_time_s=self.visit.engine_time_s,
        )

    def _people_and_tools(self) -> None:
        seen = self.visit.circumstances
        names = [seen.get("technician", ""), seen.get("second_person", ""), self.author.name]
        names += [reading.by for reading in self._all_readings()]
        for name in dict.fromkeys(filter(None, names)):
            add_person(self.transaction, self.entry, name)
        if seen.get("place"):
            add_shop(self.transaction, self.entry, seen["place"], self.zone)
        numbers = {reading.instrument for reading in self._all_readings()} - self.given.known_instruments
        add_instruments(self.transaction, self.entry, sorted(filter(None, numbers)))

    def _all_readings(self) -> tuple[Reading, ...]:
        read_out = (reading for one in self.assessment.evidence for reading in one.readings)
        return (*self.visit.readings, *self.visit.readings_after, *read_out)

    def _readings(self, truck: int, number: int) -> None:
        for reading in self._all_readings():
            self._add(readings, visit=number, **reading_columns(reading))
            if reading.test.startswith("set_"):
                value = reading.outcome if reading.measured is None else repr(reading.measured.si)
                self._add(
                    settings,
                    truck=truck,
                    visit=number,
                    name=reading.test,
                    value=value,
                    after=int(reading.after),
                )
        for test, why in self.visit.not_done.items():
            self._add(not_done, visit=number, test=test, why=why)

    def _said(self, number: int) -> None:
        said = self.assessment
        self._add(
            assessments,
            visit=number,
            overall=said.overall,
            overall_why=message_text(said.overall_why),
            overall_after=said.overall_after or "",
            shop_sha256=said.shop_sha256,
        )
        for judged in (*said.verdicts, *said.verdicts_after):
            self._add(verdicts, visit=number, **_verdict_columns(judged))

    def _done(self, number: int) -> None:
        done = self.visit.work
        if done.cause:
            self._add(causes, visit=number, fault=done.cause, confirmed=0)
        if done.labour_s is not None or done.note:
            self._add(work, visit=number, labour_s=done.labour_s, note=done.note)
        for part in done.parts:
            self._add(parts, visit=number, name=part)
        finished = (
            bool(done.cause or done.parts or self.visit.readings_after) or self.assessment.overall == "good"
        )
        self._add(states, visit=number, state="to_sign" if finished else "open")

    def _files(self, number: int) -> None:
        for what, name, stored in self.stored:
            found = self.transaction.connection.execute(
                select(files.c.id).where(files.c.sha256 == stored.sha256)
            ).scalar()
            waiting = {row[2]: row[0] for row in self.entry.rows.get("files", ())}
            file = found or waiting.get(stored.sha256)
            if file is None:
                file = self._add(files, sha256=stored.sha256, size=stored.size)
            self._add(visit_files, visit=number, file=file, what=what, name=name)

    def _history(self, truck: int) -> int:
        """A line of a day on which a whole visit is kept says nothing new."""
        known = all_past(self.transaction.connection, truck)
        whole = select(visits.c.date).where(visits.c.truck == truck, visits.c.kind != "past")
        days = set(self.transaction.connection.execute(whole).scalars())
        told = [past for past in self.visit.history if past.date.isoformat() not in days]
        return add_past(self.transaction, self.entry, truck, told, known, self.zone)


def _verdict_columns(judged: Judgement) -> Mapping[str, object]:
    return {
        "test": judged.test,
        "after": int(judged.reading.after),
        "verdict": judged.verdict,
        "outcome": judged.reading.outcome,
        "dimension": judged.dimension,
        "value_si": judged.value_si,
        "sd_si": judged.sd_si,
        "limit_si": judged.limit_si,
        "watch_limit_si": judged.watch_limit_si,
        "chance_beyond_limit": judged.chance_beyond_limit,
        "chance_beyond_watch": judged.chance_beyond_watch,
        "repeat": int(judged.repeat),
        "why": message_text(judged.why),
        "limit_source": judged.limit_source,
    }
