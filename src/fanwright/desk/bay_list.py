"""What stands open: bay visits, and kept visits that wait to be gone on with."""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import TYPE_CHECKING, Any

from fanwright.desk.bay import assessed
from fanwright.desk.shop import Shop
from fanwright.errors import FanwrightError

if TYPE_CHECKING:
    from fanwright.records.bay_model import BayRow
    from fanwright.records.model import VisitRow
    from fanwright.records.store import Store

OPEN_STATES = ("open", "in_work", "waiting_for_part", "to_sign", "re_test")
MOST_HELD, MOST_KEPT = 1_000, 100
_GUARD = threading.Lock()
_SAID: OrderedDict[tuple[str, int, int, str], dict[str, Any]] = OrderedDict()


def open_visits(store: Store, shop: Shop) -> list[dict[str, Any]]:
    """List what stands open, bay visits first, each newest first.

    Args:
        store: The records.
        shop: The shop's own data.

    Returns:
        Rows: ``number`` is the bay visit or None, ``visit`` the kept visit or None.
    """
    from fanwright.records.bay_lists import list_bays
    from fanwright.records.searching import list_visits

    bays = list_bays(store)
    taken = {one for row in bays for one in (row.base_visit, row.kept_visit) if one is not None}
    kept = [row for state in OPEN_STATES for row in list_visits(store, state=state, most=MOST_KEPT)]
    kept.sort(key=lambda row: (row.date, row.number), reverse=True)
    rows = [_bay_row(store, shop, row) for row in bays]
    return rows + [_kept_row(row) for row in kept[:MOST_KEPT] if row.number not in taken]


def _bay_row(store: Store, shop: Shop, row: BayRow) -> dict[str, Any]:
    key = (store.place.url, row.number, row.version, shop.sha256)
    with _GUARD:
        held = _SAID.get(key)
    said = _said(store, shop, row) if held is None else held
    with _GUARD:
        _SAID[key] = said
        while len(_SAID) > MOST_HELD:
            _SAID.popitem(last=False)
    return {
        "number": row.number,
        "visit": row.kept_visit or row.base_visit,
        "unit": row.unit,
        **said,
        "waiting": 0,
        "opened_by": row.opened_by,
        "entries": row.entries,
        "version": row.version,
    }


def _said(store: Store, shop: Shop, row: BayRow) -> dict[str, Any]:
    from fanwright.records.bay import load

    bay = load(store, row.number)
    try:
        made = assessed(store, bay, shop, verdicts_only=True)
    except FanwrightError:  # the shop's own limits may have changed so that it cannot be read any more
        visit = bay.base.get("visit", {})
        found = {"kind": visit.get("kind", ""), "date": visit.get("date", ""), "overall": None}
    else:
        overall = made.overall if made.overall_after is None else made.overall_after
        found = {"kind": made.visit.kind, "date": made.visit.date.isoformat(), "overall": overall}
    return {**found, "state": bay.state}


def _kept_row(row: VisitRow) -> dict[str, Any]:
    return {
        "number": None,
        "visit": row.number,
        "unit": row.unit,
        "kind": row.kind,
        "date": row.date,
        "overall": row.overall_after or row.overall,
        "state": row.state,
        "waiting": 0,
        "opened_by": row.technician,
        "entries": 0,
        "version": 0,
    }
