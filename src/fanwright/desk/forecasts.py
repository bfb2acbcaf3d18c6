"""How good the forecasts kept in the records were, once the next reading came."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fanwright.desk.facings import histories_of, later_reading
from fanwright.desk.records import open_records
from fanwright.desk.shop import Shop, open_shop
from fanwright.errors import InputError
from fanwright.words import Message

if TYPE_CHECKING:
    from fanwright.life.history import History, Thickness
    from fanwright.life.outlook import Outlook
    from fanwright.records.forecasts import KeptForecast

TOLD, LINE, WEIBULL = "told", "line", "weibull"
LEVEL = 0.8


@dataclass(frozen=True)
class Scored:
    """One forecast beside the reading that came after it.

    Args:
        unit: The truck.
        made: The day it was made.
        read: The day of the reading it is scored by.
        method: ``told`` (what the assessment said), ``line`` (one straight line) or ``weibull`` (the life of
            the fleet as it was known that day).
        ahead: Distance [m] or engine time [s] from one to the other.
        low_m: 10 % point of what the reading would be [m].
        middle_m: Its middle [m].
        high_m: Its 90 % point [m].
        read_m: What was read [m].
        crps_m: Continuous ranked probability score, 0 is perfect [m].
        pinball_m: Mean loss of the three points [m].
    """

    unit: str
    made: dt.date
    read: dt.date
    method: str
    ahead: float
    low_m: float
    middle_m: float
    high_m: float
    read_m: float
    crps_m: float
    pinball_m: float

    @property
    def inside(self) -> bool:
        """Whether the reading lay within the 80 % range."""
        return self.low_m <= self.read_m <= self.high_m


@dataclass(frozen=True)
class Score:
    """How one way of forecasting did.

    Args:
        method: The way.
        cases: How many forecasts could be scored.
        inside: How many readings lay within the 80 % range.
        band: How many an honest range may hold, fewest and most, by the binomial law at 95 %.
        crps_m: Mean score [m].
        pinball_m: Mean loss [m].
    """

    method: str
    cases: int
    inside: int
    band: tuple[int, int]
    crps_m: float
    pinball_m: float

    @property
    def honest(self) -> bool:
        """Whether the count lies within the band."""
        return self.band[0] <= self.inside <= self.band[1]


@dataclass(frozen=True)
class Scores:
    """All that can be scored, and what waits.

    Args:
        scores: By way of forecasting, ours first.
        scored: Each forecast.
        waiting: Forecasts whose next reading has not come, or lies beyond what was foretold.
        shop: In whose units they are shown.
    """

    scores: tuple[Score, ...]
    scored: tuple[Scored, ...]
    waiting: int
    shop: Shop


def score_forecasts(db: str | None, unit: str = "", *, shop_file: Path | None = None) -> Scores:
    """Score the forecasts in the records by the readings that came after them.

    Args:
        db: The records, or None.
        unit: Only this truck; empty for all.
        shop_file: The shop's own data, or None.

    Returns:
        The scores.

    Raises:
        InputError: No forecast of that truck was kept.
        FileError: The records cannot be read.
    """
    from fanwright.life.history import cleaned
    from fanwright.records.forecasts import facing_days, kept_forecasts

    shop = open_shop(shop_file)
    store = open_records(db)
    try:
        kept = kept_forecasts(store, unit)
        histories = {one.unit: cleaned(one) for one in histories_of(store, shop)}
        kept_in = {(day.unit, day.date): day.entry for day in reversed(facing_days(store, unit))}
    finally:
        store.close()
    if not kept:
        raise InputError(
            Message(
                "no forecast was kept; one is with each visit that measures the facing: "
                "«fanwright assess VISIT --keep»"
            )
        )
    scored: list[Scored] = []
    waiting = 0
    for forecast in kept:
        outcome = later_reading(histories[forecast.unit], forecast) if forecast.unit in histories else None
        if (
            outcome is not None
            and kept_in.get((forecast.unit, outcome.date or forecast.date), 0) <= forecast.entry
        ):
            continue  # the reading was in the records before the forecast: nothing was foretold
        beside = [] if outcome is None else _scored(forecast, outcome, histories)
        waiting += not beside and forecast.method == TOLD
        scored += beside
    return Scores(_summed(scored), tuple(scored), waiting, shop)


def _scored(forecast: KeptForecast, outcome: Thickness, histories: Mapping[str, History]) -> list[Scored]:
    """Score one forecast; beside ours the life of the fleet as it was known that day."""
    found = [_one(forecast, forecast.method, forecast.outlook, outcome)]
    if forecast.method == TOLD:
        fleet = _fleet_outlook(forecast, histories)
        if fleet is not None:
            found.append(_one(forecast, WEIBULL, fleet, outcome))
    return [one for one in found if one is not None]


def _one(forecast: KeptForecast, method: str, outlook: Outlook, outcome: Thickness) -> Scored | None:
    from fanwright.life.outlook import as_read
    from fanwright.life.scoring import crps_draws, pinball

    ahead = outcome.usage - forecast.usage
    points = outlook.at(ahead)
    if points is None or outcome.date is None:
        return None
    read = as_read(points, outcome.sd_m)
    ends = {share: _quantile(read, share) for share in (0.1, 0.5, 0.9)}
    loss = sum(pinball(outcome.thickness_m, point, share) for share, point in ends.items()) / len(ends)
    return Scored(
        forecast.unit, forecast.date, outcome.date, method, ahead, ends[0.1], ends[0.5], ends[0.9],
        outcome.thickness_m, crps_draws(outcome.thickness_m, read), loss,
    )  # fmt: skip


def _quantile(ordered: Sequence[float], share: float) -> float:
    place = share * len(ordered) - 0.5
    lower = min(max(int(place), 0), len(ordered) - 2)
    return ordered[lower] + (place - lower) * (ordered[lower + 1] - ordered[lower])


def _fleet_outlook(forecast: KeptForecast, histories: Mapping[str, History]) -> Outlook | None:
    """What the lives known on the forecast's day foretell; None before two facings have ended."""
    from fanwright.life.history import NEW_WITHIN_M
    from fanwright.life.lives import lives_of
    from fanwright.life.outlook import weibull_outlook
    from fanwright.life.weibull import fit

    known = [_until(one, forecast.date) for one in histories.values() if one.in_hours == forecast.in_hours]
    mine = _until(histories[forecast.unit], forecast.date)
    starts = [at for at, one in enumerate(mine.readings) if one.new_facing or not at]
    if not starts:
        return None
    first = mine.readings[starts[-1]]
    if first.thickness_m < mine.new_m - NEW_WITHIN_M:
        return None  # first seen worn: its age is not known
    try:
        life = fit(lives_of(known).lives)
    except InputError:
        return None
    age = forecast.usage - first.usage
    return weibull_outlook(
        life.scale, life.shape, age, forecast.thickness_m, forecast.limit_m, forecast.ahead
    )


def _until(history: History, day: dt.date) -> History:
    from dataclasses import replace

    rows = tuple(one for one in history.readings if one.date is not None and one.date <= day)
    return replace(history, readings=rows)


def _summed(scored: Iterable[Scored]) -> tuple[Score, ...]:
    from fanwright.life.scoring import coverage_band

    by_method: dict[str, list[Scored]] = {TOLD: [], LINE: [], WEIBULL: []}
    for one in scored:
        by_method.setdefault(one.method, []).append(one)
    return tuple(
        Score(
            method,
            len(mine),
            sum(one.inside for one in mine),
            coverage_band(len(mine), LEVEL),
            sum(one.crps_m for one in mine) / len(mine),
            sum(one.pinball_m for one in mine) / len(mine),
        )
        for method, mine in by_method.items()
        if mine
    )
