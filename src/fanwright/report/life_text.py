"""A forecast in words, for the terminal and the paper alike."""

from __future__ import annotations

import math

from fanwright.life import Forecast, Range
from fanwright.life.grips import KJ, RPM, GripCost
from fanwright.report.say import Reader, say, say_all, write_chance
from fanwright.words import Message, chance, number, quantity, text

NM, COARSE = 1e-9, 10.0
"""Ends of a range are written to a tenth of its width at the finest."""


def forecast_cells(one: Forecast, reader: Reader) -> tuple[str, str, str, str]:
    """Give facing, what is left, chance of the limit by the next service, and day as short texts."""
    if one.remaining is None or one.thickness_m is None or one.chance_at_limit is None:
        return "not known", "", "", ""
    days = [one.due(share) for share in ("p10", "p50", "p90")]
    due = " / ".join("beyond telling" if day is None else day.isoformat() for day in days)
    return (
        reader.write(one.thickness_m.p50, "length"),
        spread(one.remaining, one.history.dimension, reader),
        write_chance(one.chance_at_limit, short=True),
        "" if one.days is None else due,
    )


def spread(found: Range, dimension: str, reader: Reader) -> str:
    """Write a range in one unit, no finer than it is known."""
    unit = reader.units.unit(dimension)
    wide = max(found.p90 - found.p10, unit.factor) / unit.factor
    step = 10.0 ** math.floor(math.log10(wide / COARSE)) * unit.factor
    parts = [
        reader.write(round(value / step) * step, dimension, max(step, unit.factor))
        for value in (found.p10, found.p50, found.p90)
    ]
    printed = " " + unit.printed
    return " / ".join(part.removesuffix(printed) for part in parts) + printed


def forecast_lines(one: Forecast, reader: Reader) -> list[str]:
    """Give what a forecast rests on, a change of rate and its notes as sentences."""
    told = [one.basis, *one.notes]
    if one.change is not None:
        change, kind = one.change, one.history.dimension
        dated = change.after_date is not None and change.before_date is not None
        told.append(
            Message(
                "the rate changed to {times} times what it was between {after} and {before} ({chance}); "
                "look for what was done to the truck in that time",
                {
                    "times": number(change.ratio),
                    "after": text(change.after_date) if dated else quantity(change.after, kind),
                    "before": text(change.before_date) if dated else quantity(change.before, kind),
                    "chance": chance(change.chance),
                },
            )
        )
        told += [
            Message(
                "in that time, on {date}: {what}",
                {"date": text(noted.date), "what": text(say(noted.what, reader))},
            )
            for noted in change.noted
        ]
    if one.chance_at_limit is not None:
        told.append(
            Message(
                "chance that the facing is at its limit within the next {ahead}: {chance}",
                {"ahead": quantity(one.ahead, one.history.dimension), "chance": chance(one.chance_at_limit)},
            )
        )
    return say_all(told, reader)


def grip_line(grip: GripCost, lost_m: float | None, reader: Reader) -> tuple[str, str]:
    """Give an engine speed, and what a grip from rest costs at it, as short texts."""
    values = {
        "heat": number(grip.energy_j / KJ),
        "peak": quantity(grip.peak_rise_k, "temperature_difference"),
        "mean": quantity(grip.mean_rise_k, "temperature_difference"),
    }
    at = Message("one grip at {speed}", {"speed": quantity(grip.engine_rpm * RPM, "rotation")})
    if lost_m is None:
        cost = Message("{heat} kJ, steel face up {peak} by the grip and {mean} by the pace", values)
    else:
        cost = Message(
            "{heat} kJ, steel face up {peak} by the grip and {mean} by the pace, {lost} nm of facing",
            {**values, "lost": number(lost_m / NM)},
        )
    return say(at, reader), say(cost, reader)
