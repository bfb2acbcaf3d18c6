"""Takes a shop's own past readings in, all or nothing, and remembers how its columns are to be read."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import func, select

from fanwright.records.model import Author
from fanwright.records.past import add_past, all_past
from fanwright.records.register import truck_of
from fanwright.records.store import Store
from fanwright.records.tables import files, mappings, visits
from fanwright.visit import Past


@dataclass(frozen=True)
class Imported:
    """What an import brought.

    Args:
        added: Lines that were not known before.
        known: Lines that were known already.
        trucks: How many trucks they are about.
        head: SHA-256 of the chain's last entry.
    """

    added: int
    known: int
    trucks: int
    head: str


def import_past(
    store: Store,
    lines: Sequence[tuple[str, Past]],
    author: Author,
    *,
    source: Path,
    header_sha256: str = "",
    columns: Mapping[str, str] | None = None,
) -> Imported:
    """Keep lines of history as one entry, with the file they came from.

    Args:
        store: The records.
        lines: Trucks and their days.
        author: Who brings them.
        source: The file, which is kept too.
        header_sha256: Hash of its header, under which the mapping is found next time.
        columns: How its columns are read, to be remembered; None leaves what is remembered.

    Returns:
        What was added.

    Raises:
        FileError: The records cannot be used; nothing was kept.
    """
    stored = store.folder.put(source)
    by_truck: dict[str, list[Past]] = {}
    for unit, past in lines:
        by_truck.setdefault(unit, []).append(past)
    added = 0
    with (
        store.writing() as transaction,
        transaction.entry("readings imported", author, source.name) as entry,
    ):
        known_file = select(files.c.id).where(files.c.sha256 == stored.sha256)
        if transaction.connection.execute(known_file).first() is None:
            transaction.add(entry, files, sha256=stored.sha256, size=stored.size)
        for unit, days in by_truck.items():
            truck = truck_of(transaction, entry, unit)
            whole = select(visits.c.date).where(visits.c.truck == truck, visits.c.kind != "past")
            taken = set(transaction.connection.execute(whole).scalars())
            told = [past for past in days if past.date.isoformat() not in taken]
            known = all_past(transaction.connection, truck)
            added += add_past(transaction, entry, truck, told, known, author.zone)
        if columns is not None:
            transaction.add(entry, mappings, header_sha256=header_sha256, columns=json.dumps(dict(columns)))
    return Imported(added, len(lines) - added, len(by_truck), transaction.head)


def remembered_columns(store: Store, header_sha256: str) -> Mapping[str, str] | None:
    """Give the mapping that was used last for a header, or None.

    Args:
        store: The records.
        header_sha256: Hash of the header.

    Returns:
        Column by what it holds, or None.
    """
    newest = select(func.max(mappings.c.id)).where(mappings.c.header_sha256 == header_sha256)
    query = select(mappings.c.columns).where(mappings.c.id == newest.scalar_subquery())
    with store.reading() as connection:
        found = connection.execute(query).scalar()
    return None if found is None else {str(key): str(value) for key, value in json.loads(found).items()}
