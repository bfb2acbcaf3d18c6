"""Whole lives of facings, as their readings tell them: ended, still running, or ended between two looks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fanwright.life.history import NEW_WITHIN_M, History, Thickness
from fanwright.life.weibull import Life

NEAR_LIMIT_M = 0.0004
"""A facing renewed within 1/64 in of its limit has come to its end; one renewed thicker was still running."""


@dataclass(frozen=True)
class Lives:
    """The lives that a fleet's readings tell.

    Args:
        lives: Those whose beginning is known, in usage since the facing was new [m or s].
        unknown: Facings first seen worn: their age is not known, so they are not counted.
    """

    lives: tuple[Life, ...]
    unknown: int


def lives_of(histories: Sequence[History]) -> Lives:
    """Read whole lives out of thickness readings.

    Args:
        histories: What is known of each truck, cleaned.

    Returns:
        The lives, in the unit of usage of the histories.

    Example:
        >>> worn = [Thickness(None, 1e8 * n, 0.0087 - 0.0009 * n, 1e-4) for n in range(4)]
        >>> lives_of([History("7", tuple(worn))]).lives
        (Life(low=200000000.0, high=300000000.0, entry=0.0),)
    """
    lives: list[Life] = []
    unknown = 0
    for history in histories:
        for number, facing in enumerate(_facings(history)):
            if not number and facing[0].thickness_m < history.new_m - NEW_WITHIN_M:
                unknown += 1
                continue
            life = _life(history, facing, _renewed_at(history, number))
            if life is not None:
                lives.append(life)
    return Lives(tuple(lives), unknown)


def _facings(history: History) -> list[list[Thickness]]:
    """Part a truck's readings by facing."""
    parted: list[list[Thickness]] = []
    for one in history.readings:
        if one.new_facing or not parted:
            parted.append([])
        parted[-1].append(one)
    return parted


def _renewed_at(history: History, number: int) -> float | None:
    """Usage at which the facing of this number was found renewed, or None where it still runs."""
    starts = [one.usage for one in history.readings if one.new_facing]
    first_is_new = bool(history.readings) and history.readings[0].new_facing
    after = starts[1:] if first_is_new else starts
    return after[number] if number < len(after) else None


def _life(history: History, facing: list[Thickness], renewed: float | None) -> Life | None:
    start = facing[0].usage
    good = start
    for one in facing:
        if one.thickness_m <= history.limit_m:
            return _between(good - start, one.usage - start)
        good = one.usage
    near = facing[-1].thickness_m <= history.limit_m + NEAR_LIMIT_M
    if renewed is not None and near:
        return _between(good - start, renewed - start)
    seen = good - start
    return Life.running(seen) if seen > 0.0 else None


def _between(low: float, high: float) -> Life | None:
    return Life(low, high) if high > 0.0 else None
