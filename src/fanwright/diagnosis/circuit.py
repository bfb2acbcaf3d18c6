"""What each test can see of the air circuit, derived from the states and the truck's arrangement.

One model serves all four arrangements: a state of the feed (what the coil gets) and a state of the path
(what the air does) give the pressure at the drive when air should be sent and when it should be cut off;
what makes the drive grip turns that into a fan that grips, lets go, slips or drags.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from fanwright.truck.arrangement import Arranged, fed_when_told_on

Pressure = Literal["empty", "part", "full"]
See = Callable[[Arranged, str, str], str]
SeeBelow = Callable[[Arranged, str, str, str], str]

NEVER_FED = ("coil_drops", "coil_dead", "wire_drops", "wire_dead")
HALF_FED = ("coil_partly", "wire_partly")
WHOLE = ("low_supply", "no_supply", "low", "shut", "open", "reversed")
"""States of the path that a half pulled valve does not change."""
ON = ("holds", "slips", "spins")
OFF = ("free", "drags", "locked")


@dataclass(frozen=True)
class View:
    """What a test can see.

    Args:
        values: Everything it can show, the value of a sound truck first.
        see: From feed and path to a value.
    """

    values: tuple[str, ...]
    see: See


@dataclass(frozen=True)
class ViewBelow:
    """The same for a state that hangs below the circuit.

    Args:
        state: That state.
        values: Everything it can show, the value of a sound truck first.
        see: From feed, path and the state's own value to a value.
    """

    state: str
    values: tuple[str, ...]
    see: SeeBelow


def stuck_feed(arranged: Arranged, feed: str) -> bool | None:
    """Say whether the coil is fed all the time, never, or (None) as it is told.

    Example:
        >>> from fanwright.truck.loader import presets
        >>> stuck_feed(presets()["line-haul spring-on"], "asked_always")
        False
    """
    if feed in NEVER_FED:
        return False
    if feed == "always_fed":
        return True
    if feed == "asked_always":
        return fed_when_told_on(arranged)
    return not fed_when_told_on(arranged) if feed == "asked_never" else None


def pressure(arranged: Arranged, fed: bool, half: bool, path: str) -> Pressure:
    """Say what stands at the drive.

    Args:
        arranged: The arrangement.
        fed: Whether the coil is fed.
        half: Whether it is fed too weakly to move the valve fully.
        path: State of the path.

    Returns:
        ``empty``, ``part`` or ``full``.
    """
    sent = (fed == (arranged.valve == "nc")) != (path == "reversed")
    if sent:
        found: Pressure = (
            "empty" if path in ("no_supply", "shut") else "part" if path in ("low", "low_supply") else "full"
        )
    else:
        found = "full" if path == "open" else "part" if path in ("rest_pressure", "seat_leaks") else "empty"
    if half and fed and found != ("empty" if arranged.valve == "nc" else "full"):
        return "part"
    return found


def fan_lags(arranged: Arranged, told_on: bool, feed: str, path: str, *, by_plug: bool) -> int:
    """Say how far the fan is from what it is told: 0 not at all, 1 in part, 2 it does the opposite.

    Args:
        arranged: The arrangement.
        told_on: Whether it is told to grip.
        feed: State of the feed.
        path: State of the path.
        by_plug: Told by plugging and unplugging, which cuts the current whatever feeds the coil.

    Returns:
        0, 1 or 2 [-].
    """
    stuck = stuck_feed(arranged, feed)
    fed = fed_when_told_on(arranged) == told_on
    if stuck is False or (stuck is True and not by_plug):
        fed = bool(stuck)
    level = {"empty": 0, "part": 1, "full": 2}[pressure(arranged, fed, feed in HALF_FED, path)]
    grip = level if arranged.grips_by == "air" else 2 - level
    return 2 - grip if told_on else grip


def _air(arranged: Arranged, feed: str, path: str) -> str:
    stuck = stuck_feed(arranged, feed)
    if stuck is False:
        if arranged.valve == "nc":
            return "open" if path in ("open", "reversed") else "shut"
        return path if path in ("shut", "no_supply") else "shut" if path == "reversed" else "open"
    if feed in HALF_FED and path not in WHOLE:
        return "low" if arranged.valve == "nc" else "rest_pressure"
    return path


def _supply(_: Arranged, __: str, path: str) -> str:
    return {"dips": "dips", "slow_fill": "narrow", "low_supply": "low", "no_supply": "none"}.get(path, "good")


def _jumper(_: Arranged, feed: str, path: str) -> str:
    if feed in ("coil_drops", "coil_dead"):
        return "coil_dead"
    return feed if feed == "coil_partly" else path


def _feed(arranged: Arranged, feed: str, _: str) -> str:
    if feed == "asked_always":
        return "asked_always_fed" if stuck_feed(arranged, feed) else "asked_always_unfed"
    if feed == "asked_never":
        return "asked_never_fed" if stuck_feed(arranged, feed) else "asked_never_unfed"
    return feed


def _command(arranged: Arranged, feed: str, _: str) -> str:
    if feed in ("wire_dead", "always_fed"):
        told_on = (feed == "always_fed") == fed_when_told_on(arranged)
        return "stuck_on" if told_on else "stuck_off"
    return feed if feed.startswith("asked") else "follows"


def _result(arranged: Arranged, feed: str, path: str) -> str:
    if feed.startswith("asked"):
        return feed
    told_on = fan_lags(arranged, True, feed, path, by_plug=False)
    told_off = fan_lags(arranged, False, feed, path, by_plug=False)
    if told_on == 2:
        return "opposite" if told_off == 2 else "never_grips"
    if told_off == 2:
        return "never_lets_go"
    return "slips" if told_on else "drags" if told_off else "works"


def _gauge_without_current(arranged: Arranged, _: str, path: str) -> str:
    return pressure(arranged, False, False, path)


def _fan_without_current(arranged: Arranged, _: str, path: str) -> str:
    level = ("empty", "part", "full").index(pressure(arranged, False, False, path))
    return ("grips", "partly", "lets_go")[level if arranged.grips_by == "spring" else 2 - level]


def _told_on(arranged: Arranged, feed: str, path: str, own: str) -> str:
    return ON[max(ON.index(own), fan_lags(arranged, True, feed, path, by_plug=True))]


def _told_off_by_plug(arranged: Arranged, feed: str, path: str, own: str) -> str:
    return OFF[max(OFF.index(own), fan_lags(arranged, False, feed, path, by_plug=True))]


def _told_off(arranged: Arranged, feed: str, path: str, own: str) -> str:
    if feed == "asked_always":
        level = fan_lags(arranged, False, "follows", path, by_plug=True)
        return "asked_free" if max(level, OFF.index(own)) == 0 else OFF[max(level, OFF.index(own))]
    return OFF[max(OFF.index(own), fan_lags(arranged, False, feed, path, by_plug=False))]


def _sound(arranged: Arranged, feed: str, path: str, own: str) -> str:
    if feed.startswith("asked"):
        return "already" if feed == "asked_always" else "asked_never"
    told_on = max(ON.index(own), fan_lags(arranged, True, feed, path, by_plug=False))
    stays = fan_lags(arranged, False, feed, path, by_plug=False) == 2
    return "already" if stays and told_on < 2 else ON[told_on]


PATH = (
    "good", "seat_hisses", "dips", "slow_fill", "slow_vent", "slow_both", "seat_leaks", "rest_pressure",
    "low", "low_supply", "no_supply", "shut", "open", "reversed",
)  # fmt: skip
FEED = (
    "follows", "coil_weak", "coil_partly", "coil_drops", "coil_dead", "wire_weak", "wire_partly",
    "wire_drops", "wire_dead", "always_fed",
)  # fmt: skip
ASKED = ("asked_always_fed", "asked_always_unfed", "asked_never_fed", "asked_never_unfed")

VIEWS: dict[str, View] = {
    "supply": View(("good", "dips", "narrow", "low", "none"), _supply),
    "air": View(PATH, _air),
    "jumper": View((*PATH, "coil_dead", "coil_partly"), _jumper),
    "feed": View((*FEED, *ASKED), _feed),
    "command": View(("follows", "stuck_on", "stuck_off", "asked_always", "asked_never"), _command),
    "result": View(
        (
            "works",
            "slips",
            "drags",
            "never_grips",
            "never_lets_go",
            "opposite",
            "asked_always",
            "asked_never",
        ),
        _result,
    ),
    "gauge_without_current": View(("empty", "part", "full"), _gauge_without_current),
    "fan_without_current": View(("grips", "partly", "lets_go"), _fan_without_current),
}
VIEWS_BELOW: dict[str, ViewBelow] = {
    "told_on": ViewBelow("holds", ON, _told_on),
    "sound": ViewBelow("holds", (*ON, "already", "asked_never"), _sound),
    "told_off_by_plug": ViewBelow("frees", OFF, _told_off_by_plug),
    "told_off": ViewBelow("frees", (*OFF, "asked_free"), _told_off),
}
