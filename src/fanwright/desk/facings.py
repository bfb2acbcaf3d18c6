"""Facings of the records: their histories, and how long each will last."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from fanwright.desk.life import AHEAD, FleetLife, draw_life, read_ahead, refuse_picture
from fanwright.desk.records import open_records
from fanwright.desk.shop import Shop, open_shop
from fanwright.errors import InputError
from fanwright.truck.loader import presets
from fanwright.truck.model import Truck
from fanwright.words import Message, test_name, text

if TYPE_CHECKING:
    from fanwright.life.by_energy import Pace
    from fanwright.life.history import History, Noted, SetAside, Thickness
    from fanwright.records.forecasts import FacingDay, KeptForecast, NotedDay
    from fanwright.records.store import Store


@dataclass
class _OfTruck:
    """What the records hold of one truck's facing."""

    days: list[FacingDay] = field(default_factory=list)
    noted: list[NotedDay] = field(default_factory=list)


def life_of_records(
    db: str | None,
    unit: str = "",
    ahead: str = AHEAD,
    *,
    shop_file: Path | None = None,
    language: str = "en",
    plot: Path | None = None,
) -> FleetLife:
    """Forecast the facings of the trucks in the records.

    Args:
        db: The records, or None.
        unit: Only this truck is shown, still helped by all others; empty for all.
        ahead: How far it is to the next service, as typed.
        shop_file: The shop's own data, or None.
        language: Language of the numbers.
        plot: Picture to write, ``.svg`` or ``.png``, or None.

    Returns:
        A forecast a truck, ordered by unit.

    Raises:
        InputError: Every mistake of what was given, or no facing was ever measured.
        FileError: The records cannot be read.
    """
    from fanwright.life import forecast_fleet

    shop = open_shop(shop_file)
    mistakes: list[Message] = []
    ahead_m = read_ahead(ahead, language, mistakes)
    refuse_picture(plot, mistakes)
    if mistakes:
        raise InputError(mistakes)
    store = open_records(db)
    try:
        histories = histories_of(store, shop)
        paces = paces_of(store)
    finally:
        store.close()
    if unit:
        require_unit(histories, unit)
    found = tuple(one for one in forecast_fleet(histories, ahead_m, outlook=False) if unit in ("", one.unit))
    done = FleetLife(found, shop, _by_heat(found, paces, ahead_m))
    if plot is not None:
        draw_life(done, plot)
    return done


def require_unit(histories: Sequence[History], unit: str) -> None:
    """Refuse a truck whose facing was never measured.

    Raises:
        InputError: There is no reading of its facing.
    """
    known = [history.unit for history in histories]
    if unit not in known:
        shown = ", ".join(known[:20]) or "none"
        raise InputError(
            Message(
                "the records hold no reading of the facing of truck {unit}; they do of {known}",
                {"unit": text(f"«{unit}»"), "known": text(shown)},
            )
        )


def _by_heat(
    found: Iterable[object], paces: Mapping[str, list[Pace]], ahead_m: float
) -> Mapping[str, Message]:
    """Put the forecast by the heat of grips beside the one by distance, for trucks with recordings."""
    from fanwright.life import Forecast, forecast_fleet
    from fanwright.life.by_energy import by_energy, compared

    beside: dict[str, Message] = {}
    for one in found:
        assert isinstance(one, Forecast)
        by_heat = by_energy(one.history, paces.get(one.unit, []))
        said = None if by_heat is None else compared(forecast_fleet([by_heat], ahead_m)[0], one)
        if said is not None:
            beside[one.unit] = said
    return beside


def paces_of(store: Store) -> dict[str, list[Pace]]:
    """Give the heat of grips for distance that the recordings of kept visits told, by truck, oldest first."""
    from fanwright.life.by_energy import Pace
    from fanwright.records.forecasts import kept_forecasts

    found: dict[str, list[Pace]] = {}
    seen: set[int] = set()
    for one in kept_forecasts(store):
        if one.energy_j_per_m is not None and one.visit not in seen:
            seen.add(one.visit)
            found.setdefault(one.unit, []).append(Pace(one.date, one.energy_j_per_m))
    return found


def histories_of(store: Store, shop: Shop, until: dt.date | None = None) -> list[History]:
    """Give the history of each facing in the records.

    Args:
        store: The records.
        shop: Whose presets tell the limits.
        until: Only readings up to this day; None for all.

    Returns:
        A history a truck, ordered by unit.
    """
    from fanwright.records.forecasts import drives_of, facing_days, noted_days

    held: dict[str, _OfTruck] = {}
    for day in facing_days(store):
        if until is None or day.date <= until:
            held.setdefault(day.unit, _OfTruck()).days.append(day)
    for noted in noted_days(store):
        if noted.unit in held:
            held[noted.unit].noted.append(noted)
    trucks, drives = presets(shop.presets), drives_of(store)
    return [_history(unit, held[unit], drives.get(unit, ("", "")), trucks) for unit in sorted(held)]


def _history(unit: str, mine: _OfTruck, drive: tuple[str, str], trucks: Mapping[str, Truck]) -> History:
    from fanwright.life.history import History

    preset, grips_by = drive
    truck = trucks.get(preset) or next(iter(trucks.values()))
    names = (preset, f"{grips_by or truck.grips_by}-on" if preset or grips_by else "")
    in_hours = all(day.odometer_m is None for day in mine.days) and all(
        day.engine_time_s is not None for day in mine.days
    )
    rows, aside = _rows(mine, in_hours=in_hours)
    return History(
        unit,
        rows,
        truck.facing.limit_m,
        truck.facing.new_m,
        tuple(name for name in names if name),
        in_hours,
        aside,
        noted=tuple(_said(one) for one in mine.noted),
    )


def _rows(mine: _OfTruck, *, in_hours: bool) -> tuple[tuple[Thickness, ...], tuple[SetAside, ...]]:
    """Give the readings day by day; one without usage is set aside and said."""
    from fanwright.life.history import SetAside, Thickness, of_day

    fitted = [one.date for one in mine.noted if one.kind == "facing"]
    by_visit: dict[int, dict[bool, Thickness]] = {}
    aside: list[SetAside] = []
    for day in mine.days:
        usage = day.engine_time_s if in_hours else day.odometer_m
        measured = day.reading.measured
        assert measured is not None
        row = Thickness(day.date, usage or 0.0, measured.si, measured.sd_si, row=day.date.isoformat())
        if usage is None:
            why = Message("{row}: the odometer is not known; it is not used", {"row": text(row.row)})
            aside.append(SetAside(row, why))
        else:
            by_visit.setdefault(day.visit, {})[day.reading.after] = row
    rows = [one for held in by_visit.values() for one in of_day(held.get(False), held.get(True))]
    return tuple(_with_fitted(rows, fitted)), tuple(aside)


def _with_fitted(rows: list[Thickness], fitted: Sequence[dt.date]) -> list[Thickness]:
    """Mark the reading after a new facing was fitted: one of the next two that is thicker than before."""
    from dataclasses import replace

    marked = list(rows)
    for date in fitted:
        later = [at for at, one in enumerate(marked) if at and one.date is not None and one.date >= date][:2]
        grown = [at for at in later if marked[at].thickness_m > marked[at - 1].thickness_m]
        if grown:
            marked[grown[0]] = replace(marked[grown[0]], new_facing=True)
    return marked


def _said(noted: NotedDay) -> Noted:
    from fanwright.life.history import Noted

    if noted.kind == "setting":
        what = Message("{test} was changed", {"test": test_name(noted.what)})
    elif noted.kind == "facing":
        what = Message("a new facing was fitted")
    else:
        what = Message("work was done: {what}", {"what": text(noted.what)})
    return Noted(noted.date, what)


def later_reading(history: History, forecast: KeptForecast) -> Thickness | None:
    """Give the first reading that can tell how good a forecast was.

    Args:
        history: The truck's readings, cleaned.
        forecast: A forecast made at one of them.

    Returns:
        The next reading of the same facing; None where there is none yet.
    """
    after = [
        one
        for one in history.readings
        if one.date is not None and one.date > forecast.date and one.usage > forecast.usage
    ]
    return None if not after or after[0].new_facing else after[0]
