"""What pages show of the records: lists of trucks, one truck's past, and a kept visit as it can be drawn."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fanwright.desk.bay import parsed
from fanwright.desk.keep import past_from
from fanwright.desk.shop import Shop
from fanwright.desk.trucks import TruckPast
from fanwright.errors import FanwrightError
from fanwright.evidence.reading import Evidence
from fanwright.visit import Assessment, assess, visit_from

if TYPE_CHECKING:
    from fanwright.records.model import KeptVisit, TruckRow
    from fanwright.records.store import Store
    from fanwright.visit.life import Life

MOST_HELD = 64
_GUARD = threading.Lock()
_HELD: OrderedDict[tuple[str, str, int, str], KeptPage] = OrderedDict()


@dataclass(frozen=True)
class KeptPage:
    """A kept visit, and what can be drawn of it.

    Args:
        kept: What the records hold, with the verdicts of its day.
        assessment: The same readings as they are read today; None where no visit file was kept.
        life: What is ahead of the facing as of that day, or None.
    """

    kept: KeptVisit
    assessment: Assessment | None
    life: Life | None


def truck_rows(store: Store, search: str = "", most: int = 50) -> tuple[tuple[TruckRow, ...], bool]:
    """List trucks by their number.

    Args:
        store: The records.
        search: A piece of number, VIN, serial or make; empty for all.
        most: How many at most.

    Returns:
        The trucks, and whether there are more.
    """
    from fanwright.records.searching import list_trucks

    rows = list_trucks(store, search, most + 1)
    return rows[:most], len(rows) > most


def truck_past(store: Store, unit: str) -> TruckPast:
    """Give one truck's visits and the readings of its past.

    Args:
        store: The records.
        unit: The truck.

    Returns:
        Its record.

    Raises:
        InputError: It is not in the records.
    """
    from fanwright.records import searching
    from fanwright.records.past import history

    searching.require_truck(store, unit)
    row = next(one for one in searching.list_trucks(store, unit) if one.unit == unit)
    return TruckPast(row, searching.list_visits(store, unit=unit, corrected=True), history(store, unit))


def kept_page(store: Store, number: int, shop: Shop) -> KeptPage:
    """Give a kept visit with what is drawn of it; held as long as nothing is added to the records.

    Args:
        store: The records.
        number: The visit.
        shop: The shop's own data.

    Returns:
        The visit.

    Raises:
        InputError: It is not there.
    """
    from fanwright.records.bay_sources import head
    from fanwright.records.searching import show_visit

    key = (store.place.url, head(store), number, shop.sha256)
    with _GUARD:
        held = _HELD.get(key)
    if held is not None:
        return held
    made = _made(store, show_visit(store, number), shop)
    with _GUARD:
        _HELD[key] = made
        while len(_HELD) > MOST_HELD:
            _HELD.popitem(last=False)
    return made


def _made(store: Store, kept: KeptVisit, shop: Shop) -> KeptPage:
    from fanwright.records.bay_sources import read_out_of, written_visit
    from fanwright.visit.living import life_of

    source = written_visit(store, kept.row.number)
    if source is None or source.form not in ("toml", "json"):
        return KeptPage(kept, None, None)
    try:
        raw = parsed(source.form, source.written)
        visit = visit_from(raw, shop.catalogue, shop.presets, source.language)
        visit = replace(visit, history=past_from(store)(visit))
        evidence = (Evidence(read_out_of(store, kept.row.number)),)
        seen = assess(visit, shop.catalogue, shop.limits, evidence, verdicts_only=True)
        found = [one.reading for one in seen.verdicts]
        after = [one.reading for one in seen.verdicts_after]
        return KeptPage(kept, seen, life_of(seen.visit, found, after, shop.catalogue, None))
    except FanwrightError:  # the shop's own data may have changed since so that it cannot be read any more
        return KeptPage(kept, None, None)
