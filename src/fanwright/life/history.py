"""Thickness readings of one truck in order, with what is impossible in them set aside and said."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from fanwright.words import Message, Value, quantity, text

LOWEST_M, HIGHEST_M = 0.15 * 0.0254, 0.36 * 0.0254
"""What an honest reading of a facing can be; the catalogue's plausible range of its thickness."""

UNLIKELY = 4.0
"""A step against the sense of wear of more than this many standard uncertainties is no reading error."""

FARTHEST = {False: 1e10, True: 200_000 * 3600.0}
"""No truck has run farther [m] or longer [s]: six million miles, 200,000 h."""

MOST_A_DAY = {False: 2.5e6, True: 86_400.0}
"""No truck runs more in a day [m or s]: 2500 km with two drivers; assumption."""

FASTEST = 0.5e-9
"""Faster wear than this is a slipping drive or a slip of the pen: 0.5 mm in 1000 km [m/m]; assumption."""

SPEED_M_S = 34.0 * 1609.344 / 3600.0
"""Distance in engine time [m/s], as the assumptions of the forecast have it."""

NEW_WITHIN_M = 0.0005

GROWN_M = 0.0008
"""A facing this much thicker after the repair than before is a new one (1/32 in)."""


@dataclass(frozen=True)
class Thickness:
    """One reading of a facing.

    Args:
        date: When.
        usage: Distance run [m], or the engine's time [s], as the history says.
        thickness_m: The thinnest place [m].
        sd_m: Its standard uncertainty [m].
        new_facing: Whether a new facing was fitted here.
        row: Where it was written: a line of a file, or a visit.
    """

    date: dt.date | None
    usage: float
    thickness_m: float
    sd_m: float
    new_facing: bool = False
    row: str = ""


@dataclass(frozen=True)
class SetAside:
    """A reading that is shown but not used, and why."""

    reading: Thickness
    why: Message


@dataclass(frozen=True)
class Noted:
    """Something a settings record or a visit says was done to a truck on a day; it may date a change."""

    date: dt.date
    what: Message


@dataclass(frozen=True)
class History:
    """What is known of one truck's facing.

    Args:
        unit: The fleet's own number of the truck.
        readings: In order of date and usage.
        limit_m: Thickness at which it is renewed [m].
        new_m: Thickness of a new facing [m].
        group: What it is pooled with: route, arrangement and preset, in this order; empty where not known.
        in_hours: Whether usage is the engine's time instead of distance.
        set_aside: Readings not used.
        assumed: What was taken for granted.
        noted: What is known to have been done to the truck, and on which day.
    """

    unit: str
    readings: tuple[Thickness, ...]
    limit_m: float = 0.00635
    new_m: float = 0.00873125
    group: tuple[str, ...] = ()
    in_hours: bool = False
    set_aside: tuple[SetAside, ...] = ()
    assumed: tuple[Message, ...] = ()
    noted: tuple[Noted, ...] = ()

    @property
    def dimension(self) -> str:
        """What usage measures, as a dimension of quantities."""
        return "engine_time" if self.in_hours else "distance"


def of_day(found: Thickness | None, mended: Thickness | None) -> tuple[Thickness, ...]:
    """Give the readings of one day: as found, and after the repair, where a grown facing is a new one.

    Example:
        >>> worn, new = Thickness(None, 1e8, 0.0064, 1e-4), Thickness(None, 1e8, 0.0087, 1e-4)
        >>> [one.new_facing for one in of_day(worn, new)]
        [False, True]
    """
    if mended is None:
        return () if found is None else (found,)
    grown = found is None or mended.thickness_m > found.thickness_m + GROWN_M
    mended = replace(mended, new_facing=mended.new_facing or grown)
    return (mended,) if found is None else (found, mended)


def cleaned(history: History) -> History:
    """Put readings in order and set aside what cannot be true, with the reason.

    Args:
        history: As it was written.

    Returns:
        The same truck; no reading is lost, each is either used or set aside.

    Example:
        >>> rows = [Thickness(None, 0.0, 0.0085, 1e-4), Thickness(None, 1e7, 0.193, 1e-4)]
        >>> len(cleaned(History("7", tuple(rows))).set_aside)
        1
    """
    ordered = sorted(history.readings, key=lambda one: (one.date is None, one.date or dt.date.min, one.usage))
    kept, aside = list(ordered), list(history.set_aside)
    for rule in (_implausible, _too_far, _backwards, _out_of_line, _before_a_cliff):
        kept, found = rule(kept, history)
        aside += found
    kept, assumed = _renewed(kept, history)
    return replace(
        history, readings=tuple(kept), set_aside=tuple(aside), assumed=(*history.assumed, *assumed)
    )


Sorted = tuple[list[Thickness], list[SetAside]]


def _implausible(readings: list[Thickness], history: History) -> Sorted:
    def wrong(one: Thickness) -> Message | None:
        if LOWEST_M - one.sd_m <= one.thickness_m <= HIGHEST_M + one.sd_m:
            return None
        return Message(
            "{row}: a facing of {given} is not possible, it lies between {low} and {high}; "
            "check whether the unit is right",
            {
                "row": text(one.row), "given": quantity(one.thickness_m, "length"),
                "low": quantity(LOWEST_M, "length"), "high": quantity(HIGHEST_M, "length"),
            },
        )  # fmt: skip

    return _split(readings, wrong)


def _too_far(readings: list[Thickness], history: History) -> Sorted:
    def wrong(one: Thickness) -> Message | None:
        if 0.0 <= one.usage <= FARTHEST[history.in_hours]:
            return None
        return Message(
            "{row}: no truck has run {usage}; check the number and its unit",
            {"row": text(one.row), "usage": quantity(one.usage, history.dimension)},
        )

    return _split(readings, wrong)


def _backwards(readings: list[Thickness], history: History) -> Sorted:
    """Set aside the fewest readings so that usage neither falls nor leaps as dates go on."""
    chains: list[tuple[int, int]] = []
    for one in readings:
        before = [
            (length, at) for at, (length, _) in enumerate(chains) if _follows(readings[at], one, history)
        ]
        length, at = max(before, default=(0, -1))
        chains.append((length + 1, at))
    keep: set[int] = set()
    at = max(range(len(chains)), key=lambda each: (chains[each][0], each), default=-1)
    while at >= 0:
        keep.add(at)
        at = chains[at][1]
    index = {id(one): number for number, one in enumerate(readings)}

    def wrong(one: Thickness) -> Message | None:
        if index[id(one)] in keep:
            return None
        return Message(
            "{row}: {usage} does not fit the readings before and after; usage cannot go backwards, or so far "
            "in so few days",
            {"row": text(one.row), "usage": quantity(one.usage, history.dimension)},
        )

    return _split(readings, wrong)


def _follows(before: Thickness, after: Thickness, history: History) -> bool:
    """Whether a truck can come from one reading's usage to the other's in the days between."""
    if before.usage > after.usage:
        return False
    if before.date is None or after.date is None:
        return True
    days = (after.date - before.date).days + 1
    return after.usage - before.usage <= days * MOST_A_DAY[history.in_hours]


def _out_of_line(readings: list[Thickness], history: History) -> Sorted:
    """Set aside a reading that its neighbours on both sides contradict, where these two agree."""
    wrongs: dict[int, Message] = {}
    for before, one, after in zip(readings, readings[1:], readings[2:], strict=False):
        if one.new_facing or after.new_facing or _rise(before, after) > UNLIKELY:
            continue
        if _rise(before, one) > UNLIKELY or _rise(one, after) > UNLIKELY:
            wrongs[id(one)] = Message(
                "{row}: {given} contradicts {before} before and {after} after it; it is not used",
                {
                    "row": text(one.row), "given": quantity(one.thickness_m, "length"),
                    "before": quantity(before.thickness_m, "length"),
                    "after": quantity(after.thickness_m, "length"),
                },
            )  # fmt: skip
    return _split(readings, lambda one: wrongs.get(id(one)))


def _before_a_cliff(readings: list[Thickness], history: History) -> Sorted:
    """Set aside what stood before a loss that no wear makes, where two readings after it agree."""
    wrongs: dict[int, Message] = {}
    fastest = FASTEST * SPEED_M_S if history.in_hours else FASTEST
    for at, (before, after, last) in enumerate(zip(readings, readings[1:], readings[2:], strict=False)):
        if after.new_facing or last.new_facing or abs(_rise(after, last)) > UNLIKELY:
            continue
        lost = -_rise(before, after) * math.hypot(before.sd_m, after.sd_m)
        allowed = fastest * (after.usage - before.usage) + UNLIKELY * math.hypot(before.sd_m, after.sd_m)
        if lost > allowed:
            said = Message(
                "{row}: from {before} to {after} within {usage}, and hardly less since: that is no wear, so "
                "nothing before counts",
                {
                    "row": text(before.row), "before": quantity(before.thickness_m, "length"),
                    "after": quantity(after.thickness_m, "length"),
                    "usage": quantity(after.usage - before.usage, history.dimension),
                },
            )  # fmt: skip
            wrongs |= {id(one): said for one in readings[: at + 1]}
    return _split(readings, lambda one: wrongs.get(id(one)))


def _renewed(readings: list[Thickness], history: History) -> tuple[list[Thickness], list[Message]]:
    """Take a facing that has grown for a new one; say so where nobody wrote it down."""
    kept: list[Thickness] = []
    said: list[Message] = []
    for one in readings:
        grown = bool(kept) and not one.new_facing and _rise(kept[-1], one) > UNLIKELY
        if grown:
            values: dict[str, Value] = {
                "row": text(one.row), "before": quantity(kept[-1].thickness_m, "length"),
                "after": quantity(one.thickness_m, "length"),
            }  # fmt: skip
            new = one.thickness_m >= history.new_m - NEW_WITHIN_M
            said.append(
                Message(
                    "{row}: from {before} to {after}: taken for a new facing that nobody wrote down", values
                )
                if new
                else Message(
                    "{row}: from {before} to {after}: taken for another facing that nobody wrote down; "
                    "if it is a misreading, take it out",
                    values,
                )
            )
        kept.append(replace(one, new_facing=True) if grown else one)
    return kept, said


def _rise(before: Thickness, after: Thickness) -> float:
    """How much thicker the later reading is, in combined standard uncertainties [-]."""
    return (after.thickness_m - before.thickness_m) / math.hypot(before.sd_m, after.sd_m)


def _split(readings: Iterable[Thickness], wrong: Callable[[Thickness], Message | None]) -> Sorted:
    kept: list[Thickness] = []
    aside: list[SetAside] = []
    for one in readings:
        why = wrong(one)
        if why is None:
            kept.append(one)
        else:
            aside.append(SetAside(one, why))
    return kept, aside
