"""Trucks as a list for the page, made once for each state of the records."""

from __future__ import annotations

import gzip
import json
import threading
from collections import OrderedDict
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fanwright.records.store import Store

MOST, MOST_HELD = 200, 64
_GUARD = threading.Lock()
_HELD: OrderedDict[tuple[str, str, int], Listed] = OrderedDict()


@dataclass(frozen=True)
class Listed:
    """A list of trucks ready to be sent.

    Args:
        head: SHA-256 of the last entry of the chain it was made from.
        body: The JSON.
        packed: The same, gzipped.
    """

    head: str
    body: bytes
    packed: bytes


def trucks_json(store: Store, search: str = "", limit: int = 50) -> Listed:
    """List trucks by their number.

    Args:
        store: The records.
        search: A piece of number, VIN, serial or make; empty for all.
        limit: How many at most, 200 at the very most.

    Returns:
        The list; the same bytes as long as nothing is added to the records.
    """
    from fanwright.records.bay_sources import head
    from fanwright.records.searching import list_trucks

    most = min(max(limit, 1), MOST)
    now, key = head(store), (store.place.url, search, most)
    with _GUARD:
        held = _HELD.get(key)
        if held is not None and held.head == now:
            _HELD.move_to_end(key)
            return held
    rows = list_trucks(store, search, most + 1)
    data = {"trucks": [vars(row) for row in rows[:most]], "more": len(rows) > most}
    body = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()
    made = Listed(now, body, gzip.compress(body, 6, mtime=0))
    with _GUARD:
        _HELD[key] = made
        while len(_HELD) > MOST_HELD:
            _HELD.popitem(last=False)
    return made
