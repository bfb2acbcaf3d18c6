"""Bay visits in the records: started once, entries added once each, never changed.

Whether a key is there already is asked and answered inside one write, and one writer writes at a time in both
databases, so the same key sent twice at once is kept once.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, Table, and_, exists, func, or_, select

from fanwright.errors import InputError
from fanwright.records.bay_model import Added, BayEntry, BayFile, BayVisit
from fanwright.records.model import Author
from fanwright.records.register import add_person
from fanwright.records.store import Entry, Store, Transaction
from fanwright.records.tables import bay_ends, bay_entries, bay_files, bay_visits, entries, files
from fanwright.words import Message, count, text

KEPT, SIGNED = "kept", "signed"
ACTS = {KEPT: "bay visit kept", SIGNED: "bay visit signed"}


class OtherBody(InputError):
    """A key was sent before, with something else under it."""


class Closed(InputError):
    """A bay visit takes nothing more."""


class NotThere(InputError):
    """There is no such bay visit."""


def plain(body: Mapping[str, Any]) -> str:
    """Write a body so that the same content is always the same text.

    Example:
        >>> plain({"b": 1, "a": [2]})
        '{"a":[2],"b":1}'
    """
    return json.dumps(body, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


def start(
    store: Store,
    key: str,
    unit: str,
    base: Mapping[str, Any],
    author: Author,
    *,
    language: str = "en",
    base_visit: int | None = None,
) -> Added:
    """Start a bay visit; the same key again, or a kept visit that is gone on with already, changes nothing.

    Args:
        store: The records.
        key: Its key (UUID).
        unit: The truck.
        base: The mapping it starts from.
        author: Who starts it.
        language: Language of the numbers.
        base_visit: The kept visit it continues, or None.

    Returns:
        Its number.

    Raises:
        OtherBody: The key is taken by a visit of another truck.
    """
    with store.writing() as transaction:
        connection = transaction.connection
        there = connection.execute(select(bay_visits).where(bay_visits.c.key == key)).first()
        if there is not None:
            if (there.unit, there.base_visit) != (unit, base_visit):
                raise OtherBody(_other(key))
            return Added(there.id, _version(connection, there.id), False)
        going_on = None if base_visit is None else open_bay_of(connection, base_visit)
        if going_on is not None:
            return Added(going_on, _version(connection, going_on), False)
        with transaction.entry("bay visit started", author, unit) as entry:
            number = transaction.add(
                entry,
                bay_visits,
                key=key,
                unit=unit,
                base=plain(base),
                language=language,
                base_visit=base_visit,
            )
            add_person(transaction, entry, author.name)
    return Added(number, 1, True)


def open_bay_of(connection: Connection, visit: int) -> int | None:
    """Give the bay visit that continues a kept visit and is not signed, or None."""
    ended = exists().where(bay_ends.c.bay == bay_visits.c.id, bay_ends.c.act == SIGNED)
    kept_as = exists().where(
        bay_ends.c.bay == bay_visits.c.id, bay_ends.c.act == KEPT, bay_ends.c.visit == visit
    )
    query = select(func.max(bay_visits.c.id)).where(~ended, or_(bay_visits.c.base_visit == visit, kept_as))
    return connection.execute(query).scalar()


def _other(key: str) -> Message:
    return Message(
        "something else was kept under the key {key}; nothing was changed: enter it anew", {"key": text(key)}
    )


def add_entry(store: Store, number: int, entry: BayEntry, author: Author) -> Added:
    """Add an entry; the same key with the same body again changes nothing.

    Args:
        store: The records.
        number: The bay visit.
        entry: What was entered.
        author: Who sent it.

    Returns:
        The version it led to.

    Raises:
        OtherBody: The key was used for something else.
        Closed: The visit is signed.
        NotThere: There is no such visit.
    """
    body = plain(entry.body)
    with store.writing() as transaction:
        connection = transaction.connection
        found = connection.execute(select(bay_entries).where(bay_entries.c.key == entry.key)).first()
        if found is not None:
            if (found.bay, found.body) != (number, body):
                raise OtherBody(_other(entry.key))
            return Added(number, _version(connection, number), False)
        unit = _require_open(connection, number)
        with transaction.entry("entered in the bay", author, unit) as chained:
            transaction.add(
                chained,
                bay_entries,
                bay=number,
                key=entry.key,
                body=body,
                author=entry.author,
                sent_by=entry.sent_by,
                proved=int(entry.proved),
            )
        transaction.flush()
        return Added(number, _version(connection, number), True)


def add_file(store: Store, number: int, file: BayFile, author: Author) -> Added:
    """Note a file that came in and was checked; the same key again changes nothing.

    Args:
        store: The records.
        number: The bay visit.
        file: The file; its bytes stand in the folder of files already.
        author: Who sent it.

    Returns:
        The version it led to.

    Raises:
        Closed: The visit is signed.
        NotThere: There is no such visit.
    """
    with store.writing() as transaction:
        connection = transaction.connection
        if connection.execute(select(bay_files.c.id).where(bay_files.c.key == file.key)).first() is not None:
            return Added(number, _version(connection, number), False)
        unit = _require_open(connection, number)
        with transaction.entry("file came into the bay", author, unit) as chained:
            transaction.add(
                chained,
                bay_files,
                bay=number,
                key=file.key,
                what=file.what,
                name=file.name,
                file=_file(transaction, chained, file) if file.sha256 else None,
                found=plain(file.found) if file.found else "",
                refused=plain({"messages": list(file.refused)}) if file.refused else "",
            )
        transaction.flush()
        return Added(number, _version(connection, number), True)


def _file(transaction: Transaction, entry: Entry, file: BayFile) -> int:
    known = transaction.connection.execute(select(files.c.id).where(files.c.sha256 == file.sha256)).scalar()
    return known or transaction.add(entry, files, sha256=file.sha256, size=file.size)


def end(store: Store, number: int, act: str, visit: int, author: Author, items: int = 0) -> Added:
    """Note that a bay visit was kept or signed; the same again changes nothing.

    Args:
        store: The records.
        number: The bay visit.
        act: ``kept`` or ``signed``.
        visit: The number under which it is kept.
        author: Who did it.
        items: How many entries and files it had when it was read for that; more may have come meanwhile.

    Returns:
        The version it led to.
    """
    with store.writing() as transaction:
        connection = transaction.connection
        of = and_(
            bay_ends.c.bay == number,
            bay_ends.c.act == act,
            bay_ends.c.visit == visit,
            bay_ends.c.item_count == items,
        )
        if connection.execute(select(bay_ends.c.id).where(of)).first() is not None:
            return Added(number, _version(connection, number), False)
        unit = _require_open(connection, number)
        with transaction.entry(ACTS[act], author, unit) as chained:
            transaction.add(chained, bay_ends, bay=number, act=act, visit=visit, item_count=items)
        transaction.flush()
        return Added(number, _version(connection, number), True)


def _require_open(connection: Connection, number: int) -> str:
    unit = connection.execute(select(bay_visits.c.unit).where(bay_visits.c.id == number)).scalar()
    if unit is None:
        raise NotThere(_not_there(number))
    signed = select(bay_ends.c.id).where(bay_ends.c.bay == number, bay_ends.c.act == SIGNED)
    if connection.execute(signed).first() is not None:
        raise Closed(
            Message(
                "bay visit {number} of truck {unit} is signed and takes nothing more: start a re-test",
                {"number": count(number), "unit": text(unit)},
            )
        )
    return str(unit)


def _not_there(number: int) -> Message:
    return Message("there is no bay visit {number}", {"number": count(number)})


def count_of(table: Table, of: Any) -> Any:
    """Count the rows of a bay visit in a table, inside a question."""
    return select(func.count()).select_from(table).where(table.c.bay == of).scalar_subquery()


def version_of(of: Any) -> Any:
    """Work out the version of a bay visit, inside a question."""
    return 1 + count_of(bay_entries, of) + count_of(bay_files, of) + count_of(bay_ends, of)


def _version(connection: Connection, number: int) -> int:
    return int(connection.execute(select(version_of(number))).scalar_one())


def version(store: Store, number: int) -> int:
    """Give the version of a bay visit.

    Raises:
        NotThere: There is no such visit.
    """
    with store.reading() as connection:
        if connection.execute(select(bay_visits.c.id).where(bay_visits.c.id == number)).first() is None:
            raise NotThere(_not_there(number))
        return _version(connection, number)


def require_open(store: Store, number: int) -> None:
    """Refuse a bay visit that takes nothing more.

    Raises:
        Closed: It is signed.
        NotThere: There is no such visit.
    """
    with store.reading() as connection:
        _require_open(connection, number)


def came(store: Store, key: str) -> BayFile | None:
    """Give a file that was checked, by the key of its upload, or None."""
    query = (
        select(bay_files, files.c.sha256, files.c.size)
        .outerjoin(files, files.c.id == bay_files.c.file)
        .where(bay_files.c.key == key)
    )
    with store.reading() as connection:
        row = connection.execute(query).first()
    return None if row is None else _came(row)


def kept_under(store: Store, key: str) -> tuple[int, str] | None:
    """Give the bay visit and the body that was kept under an entry's key, or None."""
    with store.reading() as connection:
        row = connection.execute(select(bay_entries).where(bay_entries.c.key == key)).first()
    return None if row is None else (row.bay, row.body)


def load(store: Store, number: int) -> BayVisit:
    """Give a bay visit with everything that was entered.

    Args:
        store: The records.
        number: Its number.

    Returns:
        The visit.

    Raises:
        NotThere: There is no such visit.
    """
    with store.reading() as connection:
        row = connection.execute(
            select(bay_visits, entries.c.made_by, entries.c.at_utc)
            .join(entries, entries.c.number == bay_visits.c.entry)
            .where(bay_visits.c.id == number)
        ).first()
        if row is None:
            raise NotThere(_not_there(number))
        of_bay = select(bay_entries).where(bay_entries.c.bay == number).order_by(bay_entries.c.id)
        entered = connection.execute(of_bay).all()
        came = connection.execute(
            select(bay_files, files.c.sha256, files.c.size)
            .outerjoin(files, files.c.id == bay_files.c.file)
            .where(bay_files.c.bay == number)
            .order_by(bay_files.c.id)
        ).all()
        ends = connection.execute(
            select(bay_ends).where(bay_ends.c.bay == number).order_by(bay_ends.c.id)
        ).all()
    kept = [one for one in ends if one.act == KEPT]
    items = len(entered) + len(came)
    return BayVisit(
        number=row.id,
        key=row.key,
        unit=row.unit,
        base=json.loads(row.base),
        language=row.language,
        base_visit=row.base_visit,
        opened_by=row.made_by,
        opened_at_utc=row.at_utc,
        entries=tuple(_entry(one, at) for at, one in enumerate(entered, 1)),
        files=tuple(_came(one) for one in came),
        kept_visit=kept[-1].visit if kept else None,
        changed_since=bool(kept) and items > kept[-1].item_count,
        ends=len(ends),
        signed=any(one.act == SIGNED for one in ends),
    )


def _entry(row: Any, at: int) -> BayEntry:
    return BayEntry(row.key, json.loads(row.body), row.author, bool(row.proved), row.sent_by, at)


def _came(row: Any) -> BayFile:
    refused = tuple(json.loads(row.refused)["messages"]) if row.refused else ()
    found = json.loads(row.found) if row.found else {}
    return BayFile(row.key, row.what, row.name, row.sha256 or "", row.size or 0, found, refused)
