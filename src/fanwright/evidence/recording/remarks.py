"""What was odd on the way through a recording, and what it cannot tell, in plain sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from fanwright.evidence.recording.analysis import Part, clock_stepped
from fanwright.evidence.recording.codes import explained
from fanwright.evidence.recording.findings import LEAST_KNOWN_S
from fanwright.evidence.recording.result import RecordingResult
from fanwright.evidence.recording.signals import SENDERS
from fanwright.words import Message, count, listing, number, phrase, quantity, text

if TYPE_CHECKING:
    from fanwright.evidence.recording.taking import Sifted, Taken

MOST_CODES = 12


def notes(result: RecordingResult, taken: Sequence[Taken], parts: Sequence[Part]) -> Iterator[Message]:
    """Say what was counted and odd."""
    for one in taken:
        yield from one.notes()
    for part in parts:
        if part.told.disagree:
            yield Message(
                "in {many} messages of the fan drive, state and percentage differ; the state counts",
                {"many": count(part.told.disagree)},
            )
        if part.told.sender not in (None, 0):
            sender = part.told.sender or 0
            yield Message(
                "the fan drive's state comes from address {address} ({who}), not from the engine",
                {"address": count(sender), "who": phrase(SENDERS.get(sender, "not a usual sender of it"))},
            )
        if part.several.incomplete:
            yield Message(
                "{many} messages of several packets are incomplete and left out",
                {"many": count(part.several.incomplete)},
            )
    stepped = sum(
        clock_stepped(part.traffic, border.before_us, border.after_us)
        for one in taken
        for border in one.borders
        for part in parts
        if border.after_us > border.before_us
    )
    if stepped:
        yield Message(
            "{many} gaps are steps of the clock: the engine ran before and after, yet its hours stood still",
            {"many": count(stepped)},
        )
    if result.sessions > 1:
        yield Message(
            "the recording has {many} sessions; nothing is carried over from one to the next",
            {"many": count(result.sessions)},
        )
    if any(part.density is None for part in parts) and result.energies:
        yield Message("without ambient air and barometer the fan's power is taken for air of 1.2 kg/m3")
    yield from (explained(code) for code in result.codes[:MOST_CODES])
    if len(result.codes) > MOST_CODES:
        yield Message("and {many} more codes", {"many": count(len(result.codes) - MOST_CODES)})


def of_frames(one: Sifted) -> Iterator[Message]:
    """Say what was counted and odd in a file of frames."""
    tally, file = one.file.tally, {"file": text(one.file.place)}
    counted = (
        (tally.lines_unread, "{file}: {many} lines cannot be read and are left out"),
        (tally.error_frames, "{file}: {many} error frames"),
        (tally.status_lines, "{file}: {many} lines of status and counters"),
        (tally.long_data, "{file}: {many} frames with long data, which this traffic does not use"),
        (
            tally.disorder,
            "{file}: {many} time stamps were out of order by less than a second and were sorted",
        ),
        (tally.glitches, "{file}: {many} frames have a time stamp that fits nowhere and are left out"),
        (one.copies, "{file}: {many} frames are copies of another channel or of what was sent"),
        (tally.left_out, "{file}: {many} frames are on channels past the eighth and left out"),
        (
            sum(border.after_us < border.before_us for border in one.borders),
            "{file}: the clock steps back {many} times; before and after are kept apart",
        ),
        (
            sum(border.after_us > border.before_us for border in one.borders),
            "{file}: {many} gaps of more than 10 s without any frame",
        ),
    )
    for many, template in counted:
        if many:
            yield Message(template, {**file, "many": count(many)})
    if one.ratio != (1, 1):
        yield Message(
            "{file}: messages that come once a second show that its time stamps are in another unit; "
            "they were multiplied by {ratio}",
            {**file, "ratio": number(one.ratio[0] / one.ratio[1])},
        )
    if one.chosen:
        yield Message(
            "{file}: several channels speak of one fan drive and differ (two trucks, or two logs in one): "
            "only {channel} of {channels} is read",
            {**file, "channel": text(one.chosen), "channels": listing(tuple(text(n) for n in one.channels))},
        )
    yield from one.said
    if one.cut:
        yield Message("{file}: the packed file ends early or is damaged; what came before is read", file)


def cannot_tell(result: RecordingResult, parts: Sequence[Part], grips_by: str) -> Iterator[Message]:
    """Say what the recording cannot tell."""
    if result.engine_on_s is None:
        yield Message("no engine speed: when the engine was on, and so runs and shares, cannot be told")
    if not any(part.told.frames for part in parts):
        yield Message("no message of the fan drive (group 65213): whether the fan was told on cannot be told")
    elif result.fan_known_s <= 0.0:
        yield Message(
            "the fan drive's message never says on or off while the engine is on: the fan is unknown"
        )
    elif result.fan_known_s < LEAST_KNOWN_S:
        yield Message(
            "only {known} of known time with the engine on: too little to speak of the duty; record at least "
            "{least}",
            {"known": quantity(result.fan_known_s, "time"), "least": quantity(LEAST_KNOWN_S, "working_time")},
        )
    yield Message("a recording shows what the controller asked for, not whether the drive gripped")
    yield from _signals(result, parts)
    if grips_by not in ("spring", "air") and result.air_low_on_s is not None:
        yield Message("without knowing what makes the drive grip, low air where it is needed cannot be told")
    if not result.energies:
        yield Message(
            "without the drive's figures, heat of the grips, work of the fan and fuel cannot be told"
        )
    if any(one.clock == "relative" for one in result.files):
        yield Message("the time stamps count from a zero of their own: the hour of the day cannot be told")
    elif any(one.clock == "local" for one in result.files):
        yield Message("the time stamps are date and time of a zone that the file does not name")


def _signals(result: RecordingResult, parts: Sequence[Part]) -> Iterator[Message]:
    for key, template in (
        ("coolant", "no coolant temperature: whether it heats up while told on cannot be told"),
        ("air_supply", "no air pressure: whether the drive had air to change cannot be told"),
    ):
        keys = (key, "air_service_1", "air_service_2") if key == "air_supply" else (key,)
        if not any(part.traffic.series(one) is not None for part in parts for one in keys):
            yield Message(template)
    speeds = [series for part in parts if (series := part.traffic.series("fan_speed")) is not None]
    if not any((series.value > 0.0).any() for series in speeds):
        yield Message("no fan speed is measured: slip and drag cannot be told")
    unknown = (result.engine_on_s or 0.0) - result.fan_known_s
    if result.told and unknown > 5.0:
        yield Message(
            "for {time} with the engine on it is not known whether the fan was told on",
            {"time": quantity(unknown, "time")},
        )
