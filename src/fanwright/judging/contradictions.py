"""What does not fit together in a visit, each as a finding; nothing is lowered silently."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from typing import Protocol

from fanwright.evidence.reading import Reading, apart
from fanwright.judging.judge import Context
from fanwright.judging.verdict import Finding
from fanwright.truck.arrangement import check_proof
from fanwright.words import Message, instrument, quantity, test_name

PSI_PA = 6894.757293168
EMPTY_PA = 5.0 * PSI_PA
FULL_PA = 60.0 * PSI_PA


class Past(Protocol):
    """An earlier visit, as far as contradictions look at it."""

    @property
    def odometer_m(self) -> float | None:
        """Distance run [m]."""

    @property
    def readings(self) -> tuple[Reading, ...]:
        """What was read then."""


class Seen(Protocol):
    """A visit, as far as contradictions look at it."""

    @property
    def odometer_m(self) -> float | None:
        """Distance run [m]."""

    @property
    def readings(self) -> tuple[Reading, ...]:
        """One reading a test, as found."""

    @property
    def readings_after(self) -> tuple[Reading, ...]:
        """One reading a test, after the repair."""

    @property
    def history(self) -> tuple[Past, ...]:
        """Earlier visits, oldest first."""


def find_contradictions(seen: Seen, context: Context) -> tuple[Finding, ...]:
    """Find what contradicts itself.

    Args:
        seen: The visit with one reading a test.
        context: Truck and limits.

    Returns:
        Findings, each with what to do about it.
    """
    before = {reading.test: reading for reading in seen.readings}
    after = {reading.test: reading for reading in seen.readings_after}
    return (
        *_drive_above_supply(before),
        *_drive_above_supply(after),
        *_arrangement(before, context),
        *_reversed(before),
        *_odometer(seen),
        *_different_gauges(before, after),
        *_slips(before),
        *_slips(after),
        *_facing_grew(seen, before),
    )


def _drive_above_supply(readings: Mapping[str, Reading]) -> tuple[Finding, ...]:
    drive, supply = readings.get("drive_gauge_air_on"), readings.get("supply_gauge_still")
    if drive is None or supply is None or drive.measured is None or supply.measured is None:
        return ()
    if drive.measured.si <= supply.measured.si or not apart(drive.measured, supply.measured):
        return ()
    return (
        Finding(
            "drive_above_supply",
            Message(
                "the drive gauge reads {drive}, above {supply} at the inlet, which air cannot do: "
                "zero both gauges and swap them",
                {
                    "drive": quantity(drive.measured.si, "pressure"),
                    "supply": quantity(supply.measured.si, "pressure"),
                },
            ),
            ("drive_gauge_air_on", "supply_gauge_still"),
        ),
    )


def _arrangement(readings: Mapping[str, Reading], context: Context) -> tuple[Finding, ...]:
    gauge, fan = readings.get("unplugged_drive_gauge"), readings.get("unplugged_fan")
    pressure = None if gauge is None or gauge.measured is None else gauge.measured.si
    if pressure is None and gauge is not None and gauge.outcome:
        pressure = 0.0 if gauge.outcome == "zero" else 6.9e5
    return tuple(
        Finding("arrangement_contradicted", message, ("unplugged_drive_gauge", "unplugged_fan"))
        for message in check_proof(context.truck, pressure, fan.outcome if fan and fan.outcome else None)
    )


def _reversed(readings: Mapping[str, Reading]) -> tuple[Finding, ...]:
    """No air when it is sent and air when it is cut off: both states wrong together."""
    sent, cut = readings.get("drive_gauge_air_on"), readings.get("drive_gauge_air_off")
    if sent is None or cut is None:
        return ()
    none_sent = sent.outcome == "below_5" or (sent.measured is not None and sent.measured.si < EMPTY_PA)
    stays = cut.outcome == "at_least_60" or (cut.measured is not None and cut.measured.si >= FULL_PA)
    if not (none_sent and stays):
        return ()
    return (
        Finding(
            "air_states_reversed",
            Message(
                "no air at the drive when it is sent and air when it is cut off: both states are wrong "
                "together, which points at a wrong valve, crossed ports or a wrong label"
            ),
            ("drive_gauge_air_on", "drive_gauge_air_off"),
        ),
    )


def _odometer(seen: Seen) -> tuple[Finding, ...]:
    known = [past.odometer_m for past in seen.history if past.odometer_m is not None]
    known += [] if seen.odometer_m is None else [seen.odometer_m]
    return tuple(
        Finding(
            "odometer_backwards",
            Message(
                "the odometer went from {earlier} back to {later}: "
                "check the entries, or note that it was renewed",
                {"earlier": quantity(earlier, "distance"), "later": quantity(later, "distance")},
            ),
        )
        for earlier, later in pairwise(known)
        if later < earlier
    )


def _different_gauges(before: Mapping[str, Reading], after: Mapping[str, Reading]) -> tuple[Finding, ...]:
    return tuple(
        Finding(
            "gauges_differ_before_after",
            Message(
                "{test} was read with {one} before and {other} after the repair: "
                "compare only readings of one instrument",
                {
                    "test": test_name(test),
                    "one": instrument(before[test].instrument),
                    "other": instrument(after[test].instrument),
                },
            ),
            (test,),
        )
        for test in before
        if test in after
        and before[test].origin == after[test].origin
        and before[test].measured is not None
        and after[test].measured is not None
        and before[test].instrument
        and after[test].instrument
        and before[test].instrument != after[test].instrument
    )


def _slips(readings: Mapping[str, Reading]) -> tuple[Finding, ...]:
    return tuple(
        Finding(
            "likely_unit_slip",
            replace(reading.cannot_judge, template="{_test}: " + reading.cannot_judge.template,
                    values={**reading.cannot_judge.values, "_test": test_name(reading.test)}),
            (reading.test,),
        )
        for reading in readings.values()
        if reading.cannot_judge is not None and "slip" in reading.cannot_judge.values
    )  # fmt: skip


def _facing_grew(seen: Seen, before: Mapping[str, Reading]) -> tuple[Finding, ...]:
    """A facing that grew without being renewed is a reading slip, or a renewal nobody wrote down."""
    found = [
        reading.measured
        for past in seen.history
        for reading in past.readings
        if reading.test == "facing_thickness" and reading.measured is not None
    ]
    now = before.get("facing_thickness")
    if not found or now is None or now.measured is None or now.cannot_judge is not None:
        return ()
    last = found[-1]
    if now.measured.si <= last.si or not apart(now.measured, last):
        return ()
    return (
        Finding(
            "facing_grew",
            Message(
                "the facing was {last} at the last visit and is {now} today: a facing does not grow; "
                "was it renewed, or one of the two read wrongly?",
                {"last": quantity(last.si, "length"), "now": quantity(now.measured.si, "length")},
            ),
            ("facing_thickness",),
        ),
    )
