"""What waiting costs, and which way of renewing costs least for distance. All prices are the catalogue's."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from fanwright.catalogue import Catalogue
from fanwright.life import Forecast
from fanwright.life.renewing import Costs
from fanwright.words import Message, Value, chance, number, quantity, text

KM = 1000.0
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
        road_share: Share of facings at the limit that fail on the road: assumption of the catalogue [-].
    """

    chance_at_limit: float
    chance_on_road: float
    now_usd: float
    wait_usd: float
    ahead: float
    road_share: float

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
                "share": chance(self.road_share),
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
    """The middle of a price, in its own unit."""
    found = catalogue.prices[price]
    return (found.low + found.high) / 2.0


def _hours(catalogue: Catalogue, fault: str) -> float:
    return sum(catalogue.faults[fault].labour_minutes) / 2.0 / 60.0


def renewing_usd(catalogue: Catalogue) -> float:
    """Give the cost of renewing a facing at a planned stop [USD]."""
    hourly = _middle(catalogue, "labour") + _middle(catalogue, "downtime")
    return _middle(catalogue, "facing_kit") + _hours(catalogue, "facing_worn") * hourly


def road_usd(catalogue: Catalogue) -> float:
    """Give what a failure on the road costs on top [USD]."""
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
    share = _middle(catalogue, "road_share")
    on_road = chance_at_limit * share
    wait_usd = on_road * road_usd(catalogue)
    return Waiting(chance_at_limit, on_road, renewing_usd(catalogue), wait_usd, ahead, share)


def renewing_costs(catalogue: Catalogue, speed_m_s: float | None = None) -> Costs:
    """Give what renewing by age and looking are reckoned with.

    Args:
        catalogue: What things cost.
        speed_m_s: Distance in engine time, for lives in engine hours [m/s]; None for lives in distance.

    Returns:
        The costs.
    """
    planned, on_road = renewing_usd(catalogue), _middle(catalogue, "road_share") * road_usd(catalogue)
    look = _middle(catalogue, "inspection_time") * (
        _middle(catalogue, "labour") + _middle(catalogue, "downtime")
    )
    unseen = on_road / (_middle(catalogue, "road_delay") * KM)
    return Costs(planned, planned + on_road, look, unseen * (speed_m_s or 1.0))


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
    history, drive_life_m = forecast.history, _middle(catalogue, "drive_life") * KM
    lasts_m = min((history.new_m - history.limit_m) / max(forecast.rate.p50, 1e-15), drive_life_m)
    inside = 1.0 - math.prod(1.0 - probable.get(fault, 0.0) for fault in INSIDE)
    uncured = 1.0 - math.prod(1.0 - probable.get(fault, 0.0) for fault in INSIDE if fault not in REBUILT)
    hourly = _middle(catalogue, "labour") + _middle(catalogue, "downtime")
    facing = renewing_usd(catalogue)
    rebuild = facing + _middle(catalogue, "seal_kit") + _middle(catalogue, "rebuild_time") * hourly
    exchange = _middle(catalogue, "exchange_drive") + _hours(catalogue, "hub_bearing_worn") * hourly
    again = exchange + _middle(catalogue, "road_share") * road_usd(catalogue)
    rows = [
        Choice(name, cost, lasts_m, left, (cost + left * again) / lasts_m * KM)
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
