"""Sentences about an identified circuit: what cannot be told, and the whole in one paragraph."""

from __future__ import annotations

from collections.abc import Iterator

from fanwright.evidence.trace.identify_machine import Machine
from fanwright.evidence.trace.identify_result import Identified, Interval
from fanwright.words import Message, Value, count, number, quantity, text

SOUND_FROM, SOUND_TO, SOUND_LOW = 0.85, 1.20, 0.70
MORE_OR_LESS_PA = 3.0e4
TIGHT_PA_PER_S = 2.3e2  # 2 psi in 60 s

NO_VOLUME = Message(
    "What feed, exhaust and leak pass, and where the piston moves, cannot be told without the drive's "
    "volumes: name its truck, or give its dead volume, piston area and stroke"
)
NO_STROKE = Message(
    "The air circuit cannot be identified: the trace shows no fill from an empty drive and no vent from a "
    "full one"
)
NO_FILL = Message("The feed cannot be identified: the trace does not show a fill from an empty drive")
NO_VENT = Message("The exhaust cannot be identified: the trace does not show a vent")
NO_COMMAND = Message(
    "How soon the valve answers cannot be told: the trace has no column that says when air was sent"
)
NO_INLET = Message(
    "There is no inlet gauge: the supply path counts as part of the feed, and a leak shows only while the "
    "drive is shut off"
)
LOST_EITHER_WAY = Message(
    "Whether air is lost through a leak or through an exhaust that stays open while air is sent cannot be "
    "told"
)
PATH_UNKNOWN = {
    "fill": Message("What the feed passes cannot be told: the trace fits too many values about equally well"),
    "exhaust": Message(
        "What the exhaust passes cannot be told: the trace fits too many values about equally well"
    ),
}
GAUGE_MISPLACED = {
    "fill": Message(
        "The drive gauge follows the inlet faster than any line lets it: it cannot stand at the drive; move "
        "it there and repeat"
    ),
    "exhaust": Message(
        "The drive gauge falls faster than any line lets it: it cannot stand at the drive; move it there and "
        "repeat"
    ),
}


def drive_stayed_empty(top_pa: float) -> Message:
    """Say that air was sent and none came."""
    return Message(
        "What the feed passes cannot be told: the drive did not rise above {pressure} while air was sent",
        {"pressure": quantity(top_pa, "pressure")},
    )


def drive_stayed_full(top_pa: float) -> Message:
    """Say that air was cut off and none left."""
    return Message(
        "What the exhaust passes cannot be told: the drive kept its {pressure} after air was cut off",
        {"pressure": quantity(top_pa, "pressure")},
    )


def fill_too_quick(rows: int, interval_s: float) -> Message:
    """Say that a fill passed between too few rows."""
    return _too_quick(
        "The feed cannot be identified: the drive filled within {rows} rows {step} apart; "
        "log faster, or see that the gauge stands at the drive",
        rows,
        interval_s,
    )


def vent_too_quick(rows: int, interval_s: float) -> Message:
    """Say that a vent passed between too few rows."""
    return _too_quick(
        "The exhaust cannot be identified: the drive emptied within {rows} rows {step} apart; "
        "log faster, or see that the gauge stands at the drive",
        rows,
        interval_s,
    )


def _too_quick(template: str, rows: int, interval_s: float) -> Message:
    return Message(template, {"rows": count(rows), "step": quantity(interval_s, "time")})


def fits_badly(difference_pa: float) -> Message:
    """Say that no circuit of this drive shows such a trace."""
    return Message(
        "The air circuit cannot be identified: the best fit lies {pressure} beside the trace; the gauge may "
        "not stand at the drive, the volumes may be another drive's, or something was switched that the "
        "trace does not say",
        {"pressure": quantity(difference_pa, "pressure")},
    )


def leak_hidden_below(high: float) -> Message:
    """Say how large a leak may hide while air is sent."""
    return Message(
        "A leak up to {leak} dm3/(s bar) may hide while air is sent", {"leak": number(1.0e8 * high)}
    )


def supply_wide(least: float) -> Message:
    """Say that the inlet hardly dips."""
    return Message(
        "What the path to the inlet passes cannot be told: the inlet hardly dips, so it is at least {least}",
        {"least": quantity(least, "conductance")},
    )


def piston_unseen(top_pa: float) -> Message:
    """Say that the piston's start cannot be seen."""
    return Message(
        "Where the piston begins to move cannot be told: up to {pressure} the trace shows no bend that is "
        "clear enough",
        {"pressure": quantity(top_pa, "pressure")},
    )


def full_stroke_unseen(top_pa: float) -> Message:
    """Say that the piston's end cannot be seen."""
    return Message(
        "Where the piston arrives cannot be told: the drive did not rise clearly past it, it stood at "
        "{pressure} at most",
        {"pressure": quantity(top_pa, "pressure")},
    )


def summary(found: Identified, machine: Machine) -> tuple[Message, ...]:
    """Say what was identified in one paragraph, beside a healthy truck where one is named; no culprit.

    Args:
        found: What was identified.
        machine: The drive.
    """
    said = [*_paths(found, machine), *_piston(found, machine), *_leak(found)]
    if said and machine.preset:
        said.append(
            Message("Healthy means the preset {preset} here", {"preset": text("«" + machine.preset + "»")})
        )
    return tuple(said)


def _paths(found: Identified, machine: Machine) -> Iterator[Message]:
    circuit = machine.circuit
    sound = {
        "supply": circuit.supply_conductance_m3_per_s_pa,
        "feed": machine.with_line(
            circuit.fill_conductance_m3_per_s_pa, circuit.fill_critical_ratio, fills=True
        )[0],
        "exhaust": machine.with_line(
            circuit.exhaust_conductance_m3_per_s_pa, circuit.exhaust_critical_ratio, fills=False
        )[0],
    }
    for name, interval in (("supply", found.supply), ("feed", found.fill), ("exhaust", found.exhaust)):
        if interval is not None:
            yield _beside(name, interval, sound[name]) if machine.preset else _alone(name, interval)


_TOLD = {
    "supply": "path to the inlet",
    "feed": "feed path",
    "exhaust": "exhaust path",
}
_SOUND = {
    "supply": "The path to the inlet passes what it should",
    "feed": "Filling is as it should be",
    "exhaust": "Venting is as it should be",
}


def _beside(name: str, found: Interval, sound: float) -> Message:
    """Compare a path with a healthy one: as it should be where the interval reaches what is sound."""
    share, low, high = found.value / sound, found.low / sound, found.high / sound
    ends: dict[str, Value] = {
        "share": quantity(share, "share"),
        "low": quantity(low, "share"),
        "high": quantity(high, "share"),
    }
    if high >= SOUND_FROM and low < SOUND_LOW:
        del ends["share"]
        return Message(
            "Whether the {path} is as it should be cannot be told: it passes {low} to {high} of what a "
            "healthy one does",
            {"path": text(_TOLD[name]), **ends},
        )
    if high >= SOUND_FROM and low <= SOUND_TO:
        return Message(_SOUND[name] + " ({share} of a healthy one, {low} to {high})", ends)
    return Message(
        "The {path} passes {share} of what a healthy one does ({low} to {high})",
        {"path": text(_TOLD[name]), **ends},
    )


def _alone(name: str, found: Interval) -> Message:
    return Message(
        "The {path} passes {value} ({low} to {high})",
        {
            "path": text(_TOLD[name]),
            "value": quantity(found.value, "conductance"),
            "low": quantity(found.low, "conductance"),
            "high": quantity(found.high, "conductance"),
        },
    )


def _piston(found: Identified, machine: Machine) -> Iterator[Message]:
    if found.lift_off_pa is None:
        return
    circuit = machine.circuit
    values: dict[str, Value] = {"lift": quantity(found.lift_off_pa.value, "pressure")}
    template = "The piston begins to move at {lift}"
    if found.full_stroke_pa is not None:
        values["full"] = quantity(found.full_stroke_pa.value, "pressure")
        template += " and arrives at {full}"
    if machine.preset:
        friction = circuit.breakaway_friction_n / circuit.piston_area_m2
        lift = circuit.preload_n / circuit.piston_area_m2 + friction
        values["sound"] = quantity(lift, "pressure")
        template += ", a healthy one begins at {sound}"
    yield Message(template, values)
    if found.friction_pa is not None and found.friction_pa.low > MORE_OR_LESS_PA:
        yield Message(
            "It sticks: it takes {friction} more to move it one way and as much less the other way",
            {"friction": quantity(found.friction_pa.value, "pressure")},
        )


def _leak(found: Identified) -> Iterator[Message]:
    if found.line_leak is not None:
        yield _leaks("Air is lost before the shut-off while it is sent", found.line_leak)
    if found.seat is not None and found.seat.low > 0.0:
        yield _leaks("The shut valve lets air into the drive", found.seat)
    if found.hold_loss_pa_per_s is None and found.leak is not None and found.leak.low > 0.0:
        yield _leaks("Air is lost while it is sent", found.leak)
    if found.hold_loss_pa_per_s is None:
        return
    loss = found.hold_loss_pa_per_s
    if loss.high < TIGHT_PA_PER_S:
        yield Message(
            "The drive holds its air: it loses at most {loss}", {"loss": quantity(loss.high, "pressure_rate")}
        )
    else:
        yield Message(
            "A leak takes {loss} from the drive while shut off ({low} to {high})",
            {
                "loss": quantity(loss.value, "pressure_rate"),
                "low": quantity(loss.low, "pressure_rate"),
                "high": quantity(loss.high, "pressure_rate"),
            },
        )
    if found.sag_pa is not None:
        yield Message(
            "Apart from that the trapped air sagged by {sag} as it cooled, which is no leak",
            {"sag": quantity(found.sag_pa.value, "pressure")},
        )


def _leaks(what: str, found: Interval) -> Message:
    return Message(
        what + ": {value} dm3/(s bar) ({low} to {high})",
        {
            "value": number(1.0e8 * found.value),
            "low": number(1.0e8 * found.low),
            "high": number(1.0e8 * found.high),
        },
    )
