"""What waiting costs, and which way of renewing costs least for distance. All prices are the catalogue's."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from fanwright.catalogue import Catalogue
from fanwright.life import Forecast
from fanwright.words import Message, Value, chance, number, quantity, text

ROAD_SHARE = 0.3
"""Share of facings that reach their limit between services and then fail on the road; assumption."""

DRIVE_LIFE_M = 800_000 * 1609.344
"""Distance a whole drive lasts before seals or bearings end it; assumption: twice 400,000 mi."""

REBUILD_HOURS = 1.0
"""Bench time for seals and bearings on top of renewing the facing; assumption."""

INSIDE = ("drive_seal_leaks", "hub_bearing_worn", "clamp_spring_weak", "disc_overheated", "drive_sticks")
REBUILT = ("drive_seal_leaks", "hub_bearing_worn")
"""Faults inside the drive that a new facing leaves in it, and those of them that a rebuild cures."""


@dataclass(frozen=True)
class Waiting:
    """Renewing now beside waiting until the next service.

    Args:
        chance_at_limit: Chance that the limit is reached before [-].
        chance_on_road: Chance of a failure on the road before [-].
        now_usd: Cost of renewing now [USD].
        wait_usd: Expected cost of waiting [USD].
        ahead: Distance to the next service [m].
    """

    chance_at_limit: float
    chance_on_road: float
    now_usd: float
    wait_usd: float
    ahead: float

    @property
    def message(self) -> Message:
        """Both beside each other, as a sentence."""
        return Message(
            "waiting {ahead} to the next service: chance of the limit {limit}, of failing on the way {road}; "
            "expected {wait} more than renewing then, against {now} to renew now (prices of the catalogue, "
            "{share} of facings at the limit fail on the road: assumption)",
            {
                "ahead": quantity(self.ahead, "distance"),
                "limit": chance(self.chance_at_limit),
                "road": chance(self.chance_on_road),
                "wait": quantity(self.wait_usd, "money"),
                "now": quantity(self.now_usd, "money"),
                "share": chance(ROAD_SHARE),
            },
        )


@dataclass(frozen=True)
class Choice:
    """One way of renewing.

    Args:
        id: ``facing``, ``rebuild`` or ``exchange``.
        cost_usd: What it costs now [USD].
        distance_m: How far it lasts, in the middle [m].
        chance_left: Chance that a fault inside the drive stays or remains uncured [-].
        usd_per_km: Expected cost for distance, the faults left in it counted [USD/km].
        wins: Whether it is the cheapest.
    """

    id: str
    cost_usd: float
    distance_m: float
    chance_left: float
    usd_per_km: float
    wins: bool = False

    @property
    def message(self) -> Message:
        """The choice as a sentence."""
        values: dict[str, Value] = {
            "what": text(NAMES[self.id]),
            "cost": quantity(self.cost_usd, "money"),
            "far": quantity(self.distance_m, "distance"),
            "left": chance(self.chance_left),
            "rate": number(1000.0 * self.usd_per_km),
        }
        if self.wins:
            return Message(
                "{what}: the least for distance, {rate} USD for 1000 km; {cost} now, lasts about {far}, "
                "chance that a fault stays in the drive {left}",
                values,
            )
        return Message(
            "{what}: {rate} USD for 1000 km; {cost} now, lasts about {far}, "
            "chance that a fault stays in the drive {left}",
            values,
        )


NAMES = {"facing": "new facing", "rebuild": "facing, seals and bearings", "exchange": "exchange drive"}


def _middle(catalogue: Catalogue, price: str) -> float:
    found = catalogue.prices[price]
    return (found.low + found.high) / 2.0


def _hours(catalogue: Catalogue, fault: str) -> float:
    return sum(catalogue.faults[fault].labour_minutes) / 2.0 / 60.0


def _renewing_usd(catalogue: Catalogue) -> float:
    hourly = _middle(catalogue, "labour") + _middle(catalogue, "downtime")
    return _middle(catalogue, "facing_kit") + _hours(catalogue, "facing_worn") * hourly


def _road_usd(catalogue: Catalogue) -> float:
    return sum(_middle(catalogue, price) for price in ("road_call", "tow", "lost_load"))


def waiting(chance_at_limit: float, ahead: float, catalogue: Catalogue) -> Waiting:
    """Put waiting beside renewing now.

    Args:
        chance_at_limit: Chance that the limit is reached before the next service [-].
        ahead: Distance to it [m].
        catalogue: What it costs.

    Returns:
        Both costs.
    """
    on_road = chance_at_limit * ROAD_SHARE
    return Waiting(chance_at_limit, on_road, _renewing_usd(catalogue), on_road * _road_usd(catalogue), ahead)


def choices(forecast: Forecast, probable: Mapping[str, float], catalogue: Catalogue) -> tuple[Choice, ...]:
    """Compare a new facing, a rebuild and an exchange by expected cost for distance.

    Args:
        forecast: How fast this truck wears its facing.
        probable: How probable faults are that this drive may have.
        catalogue: What things cost.

    Returns:
        The three, the cheapest first; none without a rate or for a history in hours.
    """
    if forecast.rate is None or forecast.history.in_hours:
        return ()
    history = forecast.history
    lasts_m = min((history.new_m - history.limit_m) / max(forecast.rate.p50, 1e-15), DRIVE_LIFE_M)
    inside = 1.0 - math.prod(1.0 - probable.get(fault, 0.0) for fault in INSIDE)
    uncured = 1.0 - math.prod(1.0 - probable.get(fault, 0.0) for fault in INSIDE if fault not in REBUILT)
    hourly = _middle(catalogue, "labour") + _middle(catalogue, "downtime")
    facing = _renewing_usd(catalogue)
    rebuild = facing + _middle(catalogue, "seal_kit") + REBUILD_HOURS * hourly
    exchange = _middle(catalogue, "exchange_drive") + _hours(catalogue, "hub_bearing_worn") * hourly
    again = exchange + ROAD_SHARE * _road_usd(catalogue)
    rows = [
        Choice(name, cost, lasts_m, left, (cost + left * again) / lasts_m * 1000.0)
        for name, cost, left in (
            ("facing", facing, inside), ("rebuild", rebuild, uncured), ("exchange", exchange, 0.0)
        )
    ]  # fmt: skip
    rows.sort(key=lambda one: one.usd_per_km)
    best = rows[0]
    return (
        Choice(best.id, best.cost_usd, best.distance_m, best.chance_left, best.usd_per_km, True),
        *rows[1:],
    )
