"""People who may come in, their devices and sessions, as rows; what the rows mean is said at the desk."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, insert, select, update

from fanwright.records.access_tables import devices, sessions, users
from fanwright.records.engine import one_writer
from fanwright.records.model import Author
from fanwright.records.register import add_person
from fanwright.records.store import Store
from fanwright.records.trouble import told_plainly


@dataclass(frozen=True)
class UserRow:
    """One person who may come in.

    Args:
        id: Their number.
        name: Their name.
        role: What they may do.
        password_hash: Hash of the password.
        pin_hash: Hash of the PIN, or empty.
        created_utc: Since when.
        pin_tries: Wrong PINs since the last right one.
        disabled: Whether they are shut out.
    """

    id: int
    name: str
    role: str
    password_hash: str
    pin_hash: str
    created_utc: str
    pin_tries: int
    disabled: bool


@dataclass(frozen=True)
class SessionRow:
    """One session with its person and device.

    Args:
        id: Its number.
        user: The person.
        device: The device's name.
        how: ``password`` or ``pin``.
        started_utc: When it began.
        seen_utc: When it was last used, to the minute or so.
        ends_utc: When it ends at the latest.
        withdrawn_utc: When it was ended, or empty.
        device_withdrawn_utc: When its device was shut out, or empty.
        author_token_sha256: Hash of the token that vouches for entries made in it.
    """

    id: int
    user: UserRow
    device: str
    how: str
    started_utc: str
    seen_utc: str
    ends_utc: str
    withdrawn_utc: str
    device_withdrawn_utc: str
    author_token_sha256: str


@dataclass(frozen=True)
class DeviceRow:
    """One device that a full sign-in enrolled.

    Args:
        id: Its number.
        name: Its public name (no secret).
        label: What its browser called itself.
        enrolled_utc: When.
        withdrawn_utc: When it was shut out, or empty.
    """

    id: int
    name: str
    label: str
    enrolled_utc: str
    withdrawn_utc: str


@contextmanager
def changing(store: Store) -> Iterator[Connection]:
    """Change rows of access, all or nothing."""
    engine = store.engine.execution_options(writes=True)
    with told_plainly(store.place.name), one_writer(store.place), engine.begin() as connection:
        yield connection


def _user(row: Any) -> UserRow:
    values = {name: row[name] for name in UserRow.__dataclass_fields__}
    return UserRow(**{**values, "disabled": bool(row["disabled"])})


def find_user(store: Store, name: str) -> UserRow | None:
    """Find a person by their name."""
    with store.reading() as connection:
        row = connection.execute(select(users).where(users.c.name == name)).mappings().first()
    return None if row is None else _user(row)


def list_users(store: Store) -> tuple[UserRow, ...]:
    """List everybody, by name."""
    with store.reading() as connection:
        found = connection.execute(select(users).order_by(users.c.name)).mappings()
        return tuple(_user(row) for row in found)


def add_user(store: Store, row: dict[str, object], author: Author) -> None:
    """Add a person; the chain notes that, without anything secret."""
    name = str(row["name"])
    with store.writing() as transaction, transaction.entry("user added", author, name) as entry:
        transaction.connection.execute(insert(users).values(**row))
        add_person(transaction, entry, name, str(row["role"]))


def change_user(store: Store, name: str, author: Author, act: str, **columns: object) -> None:
    """Change a person; the chain notes what was done."""
    with store.writing() as transaction, transaction.entry(act, author, name):
        transaction.connection.execute(update(users).where(users.c.name == name).values(**columns))


def count_pin_try(store: Store, user: int, most: int) -> bool:
    """Take one of the tries a PIN has, before it is looked at.

    Returns:
        Whether there was one left.
    """
    one_less = (
        update(users)
        .where(users.c.id == user, users.c.pin_tries < most)
        .values(pin_tries=users.c.pin_tries + 1)
    )
    with changing(store) as connection:
        return connection.execute(one_less).rowcount == 1


def forgive_pin_tries(store: Store, user: int) -> None:
    """Give a PIN all its tries back."""
    with changing(store) as connection:
        connection.execute(update(users).where(users.c.id == user).values(pin_tries=0))


def enrol_device(store: Store, token_sha256: str, name: str, label: str, user: int, now_utc: str) -> None:
    """Note a device."""
    with changing(store) as connection:
        connection.execute(
            insert(devices).values(
                token_sha256=token_sha256, name=name, label=label, enrolled_by=user, enrolled_utc=now_utc
            )
        )


def find_device(store: Store, token_sha256: str) -> DeviceRow | None:
    """Find a device by the hash of its token."""
    with store.reading() as connection:
        row = connection.execute(select(devices).where(devices.c.token_sha256 == token_sha256)).first()
    return (
        None if row is None else DeviceRow(row.id, row.name, row.label, row.enrolled_utc, row.withdrawn_utc)
    )


def list_devices(store: Store) -> tuple[DeviceRow, ...]:
    """List all devices, newest first."""
    with store.reading() as connection:
        found = connection.execute(select(devices).order_by(devices.c.id.desc()))
        return tuple(
            DeviceRow(row.id, row.name, row.label, row.enrolled_utc, row.withdrawn_utc) for row in found
        )


def withdraw_device(store: Store, device: int, now_utc: str) -> bool:
    """Shut a device out with every session on it; say whether there was one."""
    with changing(store) as connection:
        ended = connection.execute(
            update(devices)
            .where(devices.c.id == device, devices.c.withdrawn_utc == "")
            .values(withdrawn_utc=now_utc)
        )
        _end(connection, sessions.c.device == device, now_utc)
        return ended.rowcount == 1


def begin_session(store: Store, **columns: object) -> int:
    """Note a session and give its number."""
    with changing(store) as connection:
        made = connection.execute(insert(sessions).values(**columns))
        key: Any = made.inserted_primary_key
        return int(key[0])


def _with_user() -> Any:
    names = [getattr(users.c, name).label(f"user_{name}") for name in UserRow.__dataclass_fields__]
    return (
        select(sessions, devices.c.name.label("device_name"), devices.c.withdrawn_utc.label("shut"), *names)
        .join(users, users.c.id == sessions.c.user)
        .join(devices, devices.c.id == sessions.c.device)
    )


def _session(row: Any) -> SessionRow:
    user = _user({name: row[f"user_{name}"] for name in UserRow.__dataclass_fields__})
    return SessionRow(
        row["id"],
        user,
        row["device_name"],
        row["how"],
        row["started_utc"],
        row["seen_utc"],
        row["ends_utc"],
        row["withdrawn_utc"],
        row["shut"],
        row["author_token_sha256"],
    )


def find_session(store: Store, *, token_sha256: str = "", number: int = 0) -> SessionRow | None:
    """Find a session by the hash of its token, or by its number."""
    wanted = sessions.c.token_sha256 == token_sha256 if token_sha256 else sessions.c.id == number
    with store.reading() as connection:
        row = connection.execute(_with_user().where(wanted)).mappings().first()
    return None if row is None else _session(row)


def list_sessions(store: Store, name: str = "") -> tuple[SessionRow, ...]:
    """List sessions that were not ended, of one person or of all, newest first."""
    query = _with_user().where(sessions.c.withdrawn_utc == "").order_by(sessions.c.id.desc())
    if name:
        query = query.where(users.c.name == name)
    with store.reading() as connection:
        return tuple(_session(row) for row in connection.execute(query).mappings())


def see_session(store: Store, number: int, now_utc: str) -> None:
    """Note that a session is in use."""
    with changing(store) as connection:
        connection.execute(update(sessions).where(sessions.c.id == number).values(seen_utc=now_utc))


def end_session(store: Store, number: int, now_utc: str) -> bool:
    """End one session; say whether it was still going on."""
    with changing(store) as connection:
        return _end(connection, sessions.c.id == number, now_utc) == 1


def end_sessions_of(store: Store, user: int, now_utc: str) -> int:
    """End every session of a person; give how many."""
    with changing(store) as connection:
        return _end(connection, sessions.c.user == user, now_utc)


def _end(connection: Connection, which: Any, now_utc: str) -> int:
    ended = connection.execute(
        update(sessions).where(which, sessions.c.withdrawn_utc == "").values(withdrawn_utc=now_utc)
    )
    return int(ended.rowcount)
