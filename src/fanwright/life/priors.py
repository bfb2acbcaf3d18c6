"""What is taken for granted of a fleet before its own readings speak."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

from fanwright.quantities import read

MM = 1e-3
THOUSAND_KM = 1e6


@dataclass(frozen=True)
class Priors:
    """Assumptions, in millimetres and thousands of kilometres, as the arithmetic works.

    Args:
        median_log_rate: Natural logarithm of the median rate by duty [ln(mm/1000 km)].
        fleet_spread: How far a fleet's median lies from it [ln].
        group_spread: How far a route's median lies from its fleet's [ln].
        truck_spread: How far trucks of one route differ [ln].
        uneven_mm: Variance of the wear over its mean [mm].
        change_hazard: Lasting changes of the rate in 1000 km [-].
        change_spread: Spread of the logarithm of a change [ln].
        speed_m_s: Distance in engine time, for histories kept in engine hours [m/s].
        sources: Where each number comes from.
    """

    median_log_rate: Mapping[str, float]
    fleet_spread: float
    group_spread: float
    truck_spread: float
    uneven_mm: float
    change_hazard: float
    change_spread: float
    speed_m_s: float
    sources: Mapping[str, str]

    def log_rate(self, names: tuple[str, ...]) -> float:
        """Give the median logarithmic rate of the first duty that one of the names speaks of."""
        for name in names:
            for duty, rate in self.median_log_rate.items():
                if duty in name.casefold():
                    return rate
        return self.median_log_rate["other"]


@cache
def load() -> Priors:
    """Read the assumptions.

    Example:
        >>> round(math.exp(load().log_rate(("line-haul spring-on",))), 4)
        0.0033
    """
    found = tomllib.loads(resources.files(__package__).joinpath("priors.toml").read_text("utf-8"))
    usable_mm = read(found["facing"]["usable"]["value"], "length").si / MM
    spread, duty = found["spread"], found["duty"]
    rates = {
        name: math.log(usable_mm / (read(entry["value"], "distance").si / THOUSAND_KM))
        for name, entry in found["life"].items()
    }
    return Priors(
        median_log_rate=MappingProxyType(rates),
        fleet_spread=spread["fleet"]["value"],
        group_spread=spread["group"]["value"],
        truck_spread=spread["truck"]["value"],
        uneven_mm=read(duty["uneven"]["value"], "length").si / MM,
        change_hazard=THOUSAND_KM / read(duty["change_every"]["value"], "distance").si,
        change_spread=duty["change_spread"]["value"],
        speed_m_s=read(duty["speed"]["value"], "distance").si / 3600.0,
        sources=MappingProxyType(
            {
                f"{table}.{name}": entry["source"]
                for table, rows in found.items()
                for name, entry in rows.items()
            }
        ),
    )
