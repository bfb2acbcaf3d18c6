"""A forecast in words, for the terminal and the paper alike."""

from __future__ import annotations

from fanwright.life import Forecast, Range
from fanwright.report.say import Reader, say_all, write_chance
from fanwright.words import Message, chance, number, quantity, text

FEW = {"distance": 1_609_344.0, "engine_time": 36_000.0}


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
    step = FEW[dimension]
    parts = [reader.write(value, dimension, step) for value in (found.p10, found.p50, found.p90)]
    unit = " " + reader.units.unit(dimension).printed
    return " / ".join(part.removesuffix(unit) for part in parts) + unit


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
    if one.chance_at_limit is not None:
        told.append(
            Message(
                "chance that the facing is at its limit within the next {ahead}: {chance}",
                {"ahead": quantity(one.ahead, one.history.dimension), "chance": chance(one.chance_at_limit)},
            )
        )
    return say_all(told, reader)
