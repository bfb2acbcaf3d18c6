"""What a temper colour of the steel face tells of its temperature, and whether the duty can make it."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

from fanwright.life.grips import GripCost
from fanwright.words import Message, quantity, text

ZERO_C_K = 273.15
LEAST_MARGIN_K = 20.0


@dataclass(frozen=True)
class Colour:
    """A temper colour.

    Args:
        id: Its id.
        label: Its name.
        low_k: Lowest temperature it stands for, all tables together [K].
        high_k: Highest temperature it stands for, all tables together [K].
        tables: What each table prints, lowest and highest [K].
    """

    id: str
    label: str
    low_k: float
    high_k: float
    tables: Mapping[str, tuple[float, float]]

    @property
    def message(self) -> Message:
        """The range, with what it must not be taken for."""
        return Message(
            "{colour} stands for {low} to {high}; a long time at less heat makes the same colour, and "
            "alloy steel shows it hotter",
            {
                "colour": text(self.label),
                "low": quantity(self.low_k, "temperature"),
                "high": quantity(self.high_k, "temperature"),
            },
        )


@cache
def colours() -> Mapping[str, Colour]:
    """Give the colours, the coolest first.

    Example:
        >>> round(colours()["blue"].low_k - 273.15)
        288
    """
    found = tomllib.loads(resources.files(__package__).joinpath("colours.toml").read_text("utf-8"))
    return MappingProxyType(
        {
            name: Colour(
                name,
                entry["label"],
                entry["low_c"] + ZERO_C_K,
                entry["high_c"] + ZERO_C_K,
                MappingProxyType(
                    {
                        table: (low + ZERO_C_K, high + ZERO_C_K)
                        for table, (low, high) in entry["tables"].items()
                    }
                ),
            )
            for name, entry in found.items()
        }
    )


def explained(colour: Colour, duty: GripCost, ambient_k: float) -> Message:
    """Compare a colour with what the duty makes, and say what else could.

    Args:
        colour: What was seen.
        duty: What the grips of this truck's duty heat the face to.
        ambient_k: Air around it, absolute [K].

    Returns:
        Whether the duty explains it.
    """
    hottest_k = ambient_k + duty.mean_rise_k + duty.peak_rise_k
    values = {
        "colour": text(colour.label),
        "hottest": quantity(hottest_k, "temperature"),
        "low": quantity(colour.low_k, "temperature"),
    }
    if hottest_k >= colour.low_k - LEAST_MARGIN_K:
        return Message(
            "{colour}: this duty heats the face to about {hottest}, it takes {low} or more", values
        )
    return Message(
        "{colour}: this duty heats the face only to about {hottest}, the colour needs {low}: look for slip "
        "under load, drag with the fan told off, air left in the drive, a slow vent or fill, an oily facing",
        values,
    )
