"""What follows from two facts: what makes the drive grip, and what the valve does without current.

Nothing here is looked up: air is sent when the valve passes it, the drive gauge is high when air is sent and
there is any, and the fan grips when the gauge stands where the drive wants it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, Protocol

from fanwright.catalogue.model import GripsBy, Valve
from fanwright.errors import InputError
from fanwright.truck.checks import not_one_of
from fanwright.words import Message, Value, quantity

Air = Literal["sent", "cut_off"]
Gauge = Literal["high", "zero"]
FanState = Literal["grips", "lets_go"]

PSI = 6894.757293168
HIGH_GAUGE_PA = 60.0 * PSI
"""From here on the drive counts as under air in a proof, gauge [Pa]; common practice, no source."""
EMPTY_GAUGE_PA = 5.0 * PSI
"""Below this it counts as empty, gauge [Pa]; common practice, no source."""


class Arranged(Protocol):
    """Whatever has the two facts; a :class:`fanwright.truck.model.Truck` does."""

    @property
    def grips_by(self) -> GripsBy:
        """What makes the drive grip."""

    @property
    def valve(self) -> Valve:
        """What the valve does without current."""


@dataclass(frozen=True)
class State:
    """One state of the circuit.

    Args:
        fed: Whether the coil is fed.
        supplied: Whether there is air at the inlet.
        air: Whether air is sent to the drive or cut off.
        drive_gauge: Whether the gauge at the drive is high or zero.
        fan: Whether the fan grips or lets go.
    """

    fed: bool
    supplied: bool
    air: Air
    drive_gauge: Gauge
    fan: FanState


@dataclass(frozen=True)
class KeyOff:
    """What the drive does with the key off.

    Args:
        with_air: What the fan does while the tanks hold air.
        drained: What it does once they are drained.
        tank_changes_fan: Whether filling or draining the tanks changes the fan.
        line_is_live: Whether the drive line stays under air while the tanks hold any.
    """

    with_air: FanState
    drained: FanState
    tank_changes_fan: bool
    line_is_live: bool


def state(arranged: Arranged, fed: bool, supplied: bool = True) -> State:
    """Derive one state of the circuit.

    Args:
        arranged: The two facts.
        fed: Whether the coil is fed.
        supplied: Whether there is air at the inlet.

    Returns:
        The air, the drive gauge and the fan that follow.

    Example:
        >>> from fanwright.truck.loader import presets
        >>> state(presets()["line-haul spring-on"], fed=True).fan
        'lets_go'
    """
    sent = fed == (arranged.valve == "nc")
    high = sent and supplied
    grips = high == (arranged.grips_by == "air")
    return State(
        fed=fed,
        supplied=supplied,
        air="sent" if sent else "cut_off",
        drive_gauge="high" if high else "zero",
        fan="grips" if grips else "lets_go",
    )


def expected_drive_gauge(arranged: Arranged, fed: bool) -> Gauge:
    """Say what the gauge at the drive should show with air at the inlet: ``high`` or ``zero``."""
    return state(arranged, fed).drive_gauge


def expected_fan(arranged: Arranged, fed: bool) -> FanState:
    """Say what the fan should do with air at the inlet: ``grips`` or ``lets_go``."""
    return state(arranged, fed).fan


def fed_to_send_air(arranged: Arranged) -> bool:
    """Say whether the coil must be fed for air to be sent."""
    return state(arranged, fed=True).air == "sent"


def fed_when_told_on(arranged: Arranged) -> bool:
    """Say whether the controller feeds the coil when the fan is told on; told off is the opposite."""
    return state(arranged, fed=True).fan == "grips"


def air_when_told_on(arranged: Arranged) -> Air:
    """Say whether air is sent or cut off when the fan is told on."""
    return state(arranged, fed_when_told_on(arranged)).air


def loss_of_current(arranged: Arranged) -> FanState:
    """Say what the fan does when the current is lost and the air is there."""
    return state(arranged, fed=False).fan


def loss_of_air(arranged: Arranged) -> FanState:
    """Say what the fan does when the air is lost, whatever the coil does."""
    return state(arranged, fed=False, supplied=False).fan


def lets_go_by(arranged: Arranged) -> GripsBy:
    """Say what makes the drive let go: ``air`` or ``spring``."""
    return "air" if state(arranged, fed_to_send_air(arranged)).fan == "lets_go" else "spring"


def key_off(arranged: Arranged) -> KeyOff:
    """Derive what the drive does with the key off, when no coil is fed.

    Example:
        >>> from fanwright.truck.loader import presets
        >>> key_off(presets()["line-haul air-on"])
        KeyOff(with_air='grips', drained='lets_go', tank_changes_fan=True, line_is_live=True)
    """
    with_air, drained = state(arranged, fed=False), state(arranged, fed=False, supplied=False)
    return KeyOff(
        with_air=with_air.fan,
        drained=drained.fan,
        tank_changes_fan=with_air.fan != drained.fan,
        line_is_live=with_air.drive_gauge == "high",
    )


def labels(arranged: Arranged) -> tuple[Message, Message]:
    """Give the arrangement in the words of the screens: the drive, then the valve.

    Example:
        >>> from fanwright.truck.loader import presets
        >>> labels(presets()["line-haul air-on"])[1].template
        'passes without current'
    """
    drive = "spring-on: air lets go" if arranged.grips_by == "spring" else "air-on: a spring lets go"
    valve = "shuts without current" if arranged.valve == "nc" else "passes without current"
    return Message(drive), Message(valve)


@dataclass(frozen=True)
class _Seen:
    """One state as it was seen; None for what was not looked at or shows neither one nor the other."""

    fed: bool
    gauge_pa: float | None
    gauge_wrong: bool | None
    fan_wrong: bool | None


def check_proof(
    arranged: Arranged,
    unplugged_drive_gauge_pa: float | None,
    unplugged_fan: str | None,
    fed_drive_gauge_pa: float | None = None,
    fed_fan: str | None = None,
) -> tuple[Message, ...]:
    """Say what contradicts the arrangement on the label.

    A proof counts only where the feed was proved at the plug and air stood at the inlet. Air cut off where it
    should be sent *and* sent where it should be cut off point at a wrong valve or crossed ports; one state
    alone does not.

    Args:
        arranged: The arrangement as labelled.
        unplugged_drive_gauge_pa: Drive gauge with the coil unplugged, gauge [Pa], or None.
        unplugged_fan: ``grips`` or ``lets_go`` with the coil unplugged, or None.
        fed_drive_gauge_pa: Drive gauge with the coil fed, gauge [Pa], or None.
        fed_fan: ``grips`` or ``lets_go`` with the coil fed, or None.

    Returns:
        The contradictions; none when all that was seen agrees with the label.

    Raises:
        InputError: A word for the fan that is neither ``grips`` nor ``lets_go``.

    Example:
        >>> from fanwright.truck.loader import presets
        >>> check_proof(presets()["line-haul spring-on"], 0.0, "grips")
        ()
        >>> len(check_proof(presets()["line-haul spring-on"], 8.1e5, "grips"))
        1
    """
    words = {"unplugged_fan": unplugged_fan, "fed_fan": fed_fan}
    mistakes = [
        mistake
        for name, word in words.items()
        if word is not None
        for mistake in not_one_of(name, word, ("grips", "lets_go"))
    ]
    if mistakes:
        raise InputError(mistakes)
    unplugged = _seen(arranged, False, unplugged_drive_gauge_pa, unplugged_fan)
    fed = _seen(arranged, True, fed_drive_gauge_pa, fed_fan)
    together = _both_states(arranged, unplugged, fed)
    if together is not None:
        return (together,)
    return (*_one_state(arranged, unplugged, fed), *_one_state(arranged, fed, unplugged))


def _seen(arranged: Arranged, fed: bool, gauge_pa: float | None, fan: str | None) -> _Seen:
    gauge_wrong = None
    if gauge_pa is not None and not EMPTY_GAUGE_PA <= gauge_pa < HIGH_GAUGE_PA:
        shown = "high" if gauge_pa >= HIGH_GAUGE_PA else "zero"
        gauge_wrong = shown != expected_drive_gauge(arranged, fed)
    fan_wrong = None if fan is None else fan != expected_fan(arranged, fed)
    return _Seen(fed, gauge_pa, gauge_wrong, fan_wrong)


def _both_states(arranged: Arranged, one: _Seen, other: _Seen) -> Message | None:
    fans = {one.fan_wrong, other.fan_wrong}
    fan_right = False in fans and True not in fans
    fan_wrong = bool(one.fan_wrong and other.fan_wrong)
    if one.gauge_wrong and other.gauge_wrong:
        return (
            _turned_round(arranged)
            if fan_right
            else Message(
                "air is cut off where it should be sent and sent where it should be cut off: the valve is"
                " of the wrong kind or its ports are crossed; read the tag of the valve and follow both"
                " lines"
            )
        )
    if fan_wrong and one.gauge_wrong is None and other.gauge_wrong is None:
        return Message(
            "the fan does the opposite of the label with the coil fed and without current: either the"
            " valve is of the wrong kind or its ports are crossed, or the label names the wrong drive;"
            " read the drive gauge in both states"
        )
    if fan_wrong and one.gauge_wrong is False and other.gauge_wrong is False:
        return Message(
            "the air comes and goes as labelled, but the fan does the opposite in both states: the label"
            " names the wrong drive; read the tag of the drive"
        )
    return None


def _one_state(arranged: Arranged, seen: _Seen, other: _Seen) -> tuple[Message, ...]:
    unclear = _unclear(seen)
    if seen.gauge_wrong:
        if seen.fan_wrong is False and other.gauge_wrong is not False:
            return (_turned_round(arranged),)
        return (_gauge_alone(arranged, seen), _valve_or_not(other))
    if not seen.fan_wrong:
        return unclear
    if seen.gauge_wrong is False:
        return (
            Message(
                "the drive gauge is right without current, but the fan is not: the drive sticks or slips,"
                " or the label names the wrong drive; look at the fan with the coil fed too"
            )
            if not seen.fed
            else Message(
                "the drive gauge is right with the coil fed, but the fan is not: the drive sticks or"
                " slips, or the label names the wrong drive; look at the fan without current too"
            ),
        )
    return (
        *unclear,
        Message(
            "the fan does the opposite of the label without current: read the drive gauge to part valve"
            " from drive"
        )
        if not seen.fed
        else Message(
            "the fan does the opposite of the label with the coil fed: read the drive gauge to part valve"
            " from drive"
        ),
    )


def _gauge_alone(arranged: Arranged, seen: _Seen) -> Message:
    values: dict[str, Value] = {"gauge": quantity(seen.gauge_pa or 0.0, "pressure")}
    if expected_drive_gauge(arranged, seen.fed) == "zero":
        return Message(
            "the drive gauge shows {gauge} with the coil fed, where this arrangement shows zero"
            if seen.fed
            else "the drive gauge shows {gauge} without current, where this arrangement shows zero",
            values,
        )
    return Message(
        "the drive gauge shows {gauge} with the coil fed, where this arrangement sends air: first prove"
        " the feed at the plug and the air at the inlet"
        if seen.fed
        else "the drive gauge shows {gauge} without current, where this arrangement sends air: first prove"
        " the air at the inlet",
        values,
    )


def _valve_or_not(other: _Seen) -> Message:
    if other.gauge_wrong is False:
        return Message(
            "only one of the two states is wrong, so it is not the kind of valve: look for a valve that"
            " sticks, a blocked line or exhaust, or a coil that is not fed as thought"
        )
    return Message(
        "read the drive gauge in the other state too: both wrong is a wrong valve or crossed ports, one"
        " wrong is not"
    )


def _unclear(seen: _Seen) -> tuple[Message, ...]:
    if seen.gauge_pa is None or seen.gauge_wrong is not None:
        return ()
    return (
        Message(
            "the drive gauge shows {gauge}, which is neither empty (under {empty}) nor under air ({high}"
            " or more): it proves no arrangement",
            {
                "gauge": quantity(seen.gauge_pa, "pressure"),
                "empty": quantity(EMPTY_GAUGE_PA, "pressure"),
                "high": quantity(HIGH_GAUGE_PA, "pressure"),
            },
        ),
    )


def _turned_round(arranged: Arranged) -> Message:
    return Message(_TURNED_ROUND[arranged.grips_by][arranged.valve])


_TURNED_ROUND: Mapping[str, Mapping[str, str]] = {
    "spring": {
        "nc": "gauge and fan behave as air-on with a valve that passes without current, against the label:"
        " read both tags and correct it",
        "no": "gauge and fan behave as air-on with a valve that shuts without current, against the label:"
        " read both tags and correct it",
    },
    "air": {
        "nc": "gauge and fan behave as spring-on with a valve that passes without current, against the label:"
        " read both tags and correct it",
        "no": "gauge and fan behave as spring-on with a valve that shuts without current, against the label:"
        " read both tags and correct it",
    },
}
