"""What goes into the records and what comes out, without any SQL."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from fanwright.words import Message

State = Literal["open", "in_work", "waiting_for_part", "to_sign", "signed", "re_test"]
STATES: tuple[State, ...] = ("open", "in_work", "waiting_for_part", "to_sign", "signed", "re_test")
NEXT_STATES: Mapping[State, tuple[State, ...]] = {
    "open": ("in_work", "waiting_for_part", "to_sign"),
    "in_work": ("waiting_for_part", "to_sign"),
    "waiting_for_part": ("in_work", "to_sign"),
    "to_sign": ("in_work", "waiting_for_part"),
    "signed": ("re_test",),
    "re_test": ("in_work", "waiting_for_part", "to_sign"),
}


@dataclass(frozen=True)
class Author:
    """Who writes, in which zone, and why.

    Args:
        name: The person; never empty in an entry.
        zone: Name of the time zone of the shop, such as ``America/Denver``, or an offset.
        why: The reason, where there is one to give.
    """

    name: str
    zone: str
    why: str = ""


@dataclass(frozen=True)
class KeptFile:
    """A file that belongs to a visit.

    Args:
        what: What it is (``air_trace``, ``photos``).
        name: Its name in the visit file.
        sha256: Hash of its bytes.
        size: How long it is [bytes].
    """

    what: str
    name: str
    sha256: str
    size: int


@dataclass(frozen=True)
class TruckRow:
    """One truck in a list.

    Args:
        unit: The fleet's own number.
        vin: Vehicle number, or empty.
        arrangement: What makes it grip and its valve, or empty where no whole visit was kept.
        visits: How many visits are kept.
        last_date: Day of the latest visit, or empty.
        last_overall: Its overall verdict, or empty.
        last_state: Its state, or empty.
    """

    unit: str
    vin: str
    arrangement: str
    visits: int
    last_date: str
    last_overall: str
    last_state: str


@dataclass(frozen=True)
class VisitRow:
    """One visit in a list.

    Args:
        number: Its number in the records.
        unit: The truck.
        date: The day.
        kind: ``planned``, ``complaint``, ``retest``, or ``past`` for a line of history.
        state: Where it stands in its life; empty for a line of history.
        overall: Its overall verdict; empty for a line of history.
        overall_after: The same after the repair, or empty.
        technician: Who did it, or empty.
        place: Where, or empty.
        odometer_m: Distance run [m], or None.
        corrected_by: The visit that took its place, or None.
    """

    number: int
    unit: str
    date: str
    kind: str
    state: str
    overall: str
    overall_after: str
    technician: str
    place: str
    odometer_m: float | None
    corrected_by: int | None = None


@dataclass(frozen=True)
class KeptVerdict:
    """A verdict with the limits in force on its day.

    Args:
        test: The test.
        after: Whether it is about a reading after the repair.
        verdict: The verdict.
        outcome: The outcome word, or empty.
        dimension: What value and limits measure, or empty.
        value_si: The value judged [SI], or None.
        sd_si: Its standard uncertainty [SI], or None.
        limit_si: The limit in force [SI], or None.
        watch_limit_si: The watch limit in force [SI], or None.
        chance_beyond_limit: Chance beyond the limit [-], or None.
        chance_beyond_watch: Chance beyond the watch limit [-], or None.
        repeat: Whether it should be read again.
        why: The reason.
        limit_source: Where the limit came from.
    """

    test: str
    after: bool
    verdict: str
    outcome: str
    dimension: str
    value_si: float | None
    sd_si: float | None
    limit_si: float | None
    watch_limit_si: float | None
    chance_beyond_limit: float | None
    chance_beyond_watch: float | None
    repeat: bool
    why: Message
    limit_source: str


@dataclass(frozen=True)
class KeptState:
    """One step of a visit's life.

    Args:
        state: The state it came to.
        at_utc: When, in UTC.
        by: Who said so.
        because: The reason, such as why it was closed anyway; else empty.
    """

    state: str
    at_utc: str
    by: str
    because: str


@dataclass(frozen=True)
class KeptVisit:
    """Everything kept about one visit.

    Args:
        row: What a list shows of it.
        form: ``toml`` or ``json``; ``past`` for a line of history.
        written: The visit file as it was written, or empty.
        zone: Time zone of the shop.
        at_utc: When it took place in UTC, or empty where no time was written.
        corrects: The visit it took the place of, or None.
        program: The version that assessed it.
        shop_sha256: Hash of the shop's own limits in force, or empty.
        verdicts: The verdicts of that day.
        not_done: What was not done, and why.
        causes: Causes named and whether each was confirmed by signing.
        parts: Parts fitted.
        labour_s: Working time [s], or None.
        files: Its files.
        states: Its life so far, oldest first.
        signed_by: Who signed, by role.
    """

    row: VisitRow
    form: str
    written: str
    zone: str
    at_utc: str
    corrects: int | None
    program: str
    shop_sha256: str
    verdicts: tuple[KeptVerdict, ...]
    not_done: Mapping[str, str]
    causes: Mapping[str, bool]
    parts: tuple[str, ...]
    labour_s: float | None
    files: tuple[KeptFile, ...]
    states: tuple[KeptState, ...]
    signed_by: Mapping[str, str] = field(default_factory=dict)
