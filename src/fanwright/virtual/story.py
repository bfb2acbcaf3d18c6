"""What is done to a circuit and when: air told to be sent, the plug pulled, a jumper, a shut-off turned."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fanwright.errors import InputError
from fanwright.truck.checks import not_one_of
from fanwright.virtual.circuit import Circuit
from fanwright.words import Message, quantity, text

Spans = tuple[tuple[float, float], ...]
"""Stretches of time, each from its first to its second number, in order and apart [s]."""

LONGEST_S = 86_400.0
JUST_S = 1e-9


@dataclass(frozen=True)
class Story:
    """A story of one trace.

    Args:
        duration_s: How long it lasts from time 0 [s].
        sent: When the controller wants air sent [s].
        unplugged: When the connector is off the coil [s].
        jumper: When the coil is fed by hand [s].
        shut: When the shut-off is shut [s].
        shut_at: Where the shut-off stands: at the ``drive`` or at the outlet of the ``valve``.
        settle_s: Time that passes before 0, so that leaks have done their work; the circuit begins at rest in
            the state it is in just before that time [s].

    Raises:
        InputError: One message for each mistake.

    Example:
        >>> cycles(2, on_s=1.5, off_s=2.0).sent
        ((0.5, 2.0), (4.0, 5.5))
    """

    duration_s: float
    sent: Spans = ()
    unplugged: Spans = ()
    jumper: Spans = ()
    shut: Spans = ()
    shut_at: Literal["drive", "valve"] = "drive"
    settle_s: float = 0.0

    def __post_init__(self) -> None:
        mistakes = [*not_one_of("shut_at", self.shut_at, ("drive", "valve"))]
        for name, given, least in (
            ("duration", self.duration_s, 1e-6),
            ("settling time", self.settle_s, 0.0),
        ):
            if not least <= given <= LONGEST_S:
                mistakes.append(_outside(name, given, least))
        for name in ("sent", "unplugged", "jumper", "shut"):
            mistakes += _disorder(name, getattr(self, name))
        if mistakes:
            raise InputError(mistakes)

    def told_at(self, time_s: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Say for each time whether air is told to be sent, shape as given."""
        return _inside(self.sent, time_s)

    def shut_at_time(self, time_s: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Say for each time whether the shut-off is shut, shape as given."""
        return _inside(self.shut, time_s)


def cycles(
    count: int,
    on_s: float,
    off_s: float,
    first_s: float = 0.5,
    settle_s: float = 2.0,
    begins_sent: bool = False,
) -> Story:
    """Make a story of air sent and cut off several times.

    Args:
        count: Number of times air is sent [-].
        on_s: How long it is sent each time [s].
        off_s: How long it is cut off after each [s].
        first_s: When the first change comes [s].
        settle_s: Time that passes before 0 in the first state [s].
        begins_sent: Whether air is sent from before 0 to the first change as well.
    """
    starts = [first_s + i * (on_s + off_s) + (off_s if begins_sent else 0.0) for i in range(count)]
    sent = [(start, start + on_s) for start in starts]
    if begins_sent:
        sent.insert(0, (-settle_s - 1.0, first_s))
    return Story(starts[-1] + on_s + off_s, tuple(sent), settle_s=settle_s)


def edges(circuit: Circuit, story: Story) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Work out how the valve is moved.

    Args:
        circuit: The circuit, whose wiring, coil and kind of valve decide.
        story: The story.

    Returns:
        Times of change [s], and where it is sent (1 passes, 0 shuts), one more than times.
    """
    spans = (*story.sent, *story.unplugged, *story.jumper)
    times = sorted({time for span in spans for time in span if -story.settle_s <= time < story.duration_s})
    marks = [-story.settle_s - JUST_S, *times]
    states = [_passes(circuit, story, mark) for mark in marks]
    changes = [time for time, (old, new) in zip(times, pairwise(states), strict=True) if old != new]
    targets = [states[0]] + [new for old, new in pairwise(states) if old != new]
    return np.array(changes), np.array(targets, dtype=np.float64)


def _passes(circuit: Circuit, story: Story, time: float) -> bool:
    told, unplugged, jumper = (
        any(start <= time < end for start, end in spans)
        for spans in (story.sent, story.unplugged, story.jumper)
    )
    return circuit.passes(told, unplugged, jumper)


def _inside(spans: Spans, time_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    found = np.zeros(np.shape(time_s), dtype=np.bool_)
    for start, end in spans:
        found |= (time_s >= start) & (time_s < end)
    return found


def _disorder(name: str, spans: Spans) -> list[Message]:
    flat = [time for span in spans for time in span]
    return [
        Message(
            "stretches of {name} must follow one another: {first} stands before {second}; put them in order",
            {"name": text(name), "first": quantity(early, "time"), "second": quantity(late, "time")},
        )
        for early, late in pairwise(flat)
        if not early < late
    ]


def _outside(name: str, given: float, least: float) -> Message:
    return Message(
        "{name} of the story is {given}, allowed is {least} to {most}; correct it",
        {
            "name": text(name),
            "given": quantity(given, "time"),
            "least": quantity(least, "time"),
            "most": quantity(LONGEST_S, "time"),
        },
    )
