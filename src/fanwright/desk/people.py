"""Who may come in: people with their roles, passwords and PINs. What they do here is noted in the chain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fanwright.desk.passwords import hashed, password_mistakes, pin_mistakes
from fanwright.desk.records import author
from fanwright.desk.sessions import (
    PIN_TRIES,
    SignedIn,
    SignedInAs,
    author_token,
    check_password,
    forget,
    list_devices,
    list_sessions,
    require_user,
    sign_in,
    sign_in_by_pin,
    sign_out,
    text_utc,
    utc_now,
    vouches,
    who_is,
    withdraw,
    withdraw_all,
    withdraw_device,
)
from fanwright.errors import InputError
from fanwright.words import Message, count, text

if TYPE_CHECKING:
    from fanwright.records.access import UserRow
    from fanwright.records.store import Store

__all__ = [
    "ROLES",
    "Person",
    "SignedIn",
    "SignedInAs",
    "add_person",
    "any_people",
    "author_token",
    "check_password",
    "disable",
    "enable",
    "list_devices",
    "list_people",
    "list_sessions",
    "set_password",
    "set_pin",
    "set_role",
    "sign_in",
    "sign_in_by_pin",
    "sign_out",
    "vouches",
    "who_is",
    "withdraw",
    "withdraw_all",
    "withdraw_device",
]

ROLES = ("reader", "technician", "foreman", "manager")
LONGEST_NAME = 60


@dataclass(frozen=True)
class Person:
    """One person who may come in.

    Args:
        name: Their name.
        role: What they may do, one of ``ROLES``.
        has_pin: Whether they can change in by PIN.
        pin_sleeps: Whether the PIN waits for a full sign-in after too many wrong ones.
        disabled: Whether they are shut out.
        created_utc: Since when.
    """

    name: str
    role: str
    has_pin: bool
    pin_sleeps: bool
    disabled: bool
    created_utc: str


def any_people(store: Store) -> bool:
    """Say whether anybody may come in at all."""
    from fanwright.records import access

    return any(not one.disabled for one in access.list_users(store))


def list_people(store: Store) -> tuple[Person, ...]:
    """List everybody, by name."""
    from fanwright.records import access

    return tuple(
        Person(
            one.name,
            one.role,
            bool(one.pin_hash),
            one.pin_tries >= PIN_TRIES,
            one.disabled,
            one.created_utc,
        )
        for one in access.list_users(store)
    )


def add_person(store: Store, name: str, role: str, password: str, *, by: str | None = None) -> None:
    """Let somebody in.

    Args:
        store: The records.
        name: Their name, as it will stand under their work.
        role: One of ``ROLES``.
        password: Their password.
        by: Who lets them in, or None for the environment's, else themselves.

    Raises:
        InputError: Every mistake in what was given.
    """
    from fanwright.records import access

    clean = " ".join(name.split())
    mistakes = [*_name_mistakes(clean, name), *_role_mistakes(role), *password_mistakes(password, clean)]
    if not mistakes and access.find_user(store, clean) is not None:
        mistakes.append(Message("{name} is there already", {"name": text(clean)}))
    if mistakes:
        raise InputError(mistakes)
    row = {
        "name": clean,
        "role": role,
        "password_hash": hashed(password),
        "pin_hash": "",
        "created_utc": text_utc(utc_now()),
        "pin_tries": 0,
        "disabled": 0,
    }
    access.add_user(store, dict(row), author(by, otherwise=clean))


def _name_mistakes(clean: str, given: str) -> list[Message]:
    if not clean or len(clean) > LONGEST_NAME or any(not one.isprintable() for one in given):
        return [
            Message(
                "{given} cannot be a name: write 1 to {most} letters, without control characters",
                {"given": text(f"«{clean[:LONGEST_NAME]}»"), "most": count(LONGEST_NAME)},
            )
        ]
    return []


def _role_mistakes(role: str) -> list[Message]:
    if role in ROLES:
        return []
    return [
        Message(
            "{given} is not a role; there are {roles}",
            {"given": text(f"«{role[:40]}»"), "roles": text(", ".join(ROLES))},
        )
    ]


def set_password(store: Store, name: str, password: str, *, by: str | None = None) -> None:
    """Give somebody a new password; every session of theirs ends.

    Raises:
        InputError: There is nobody of that name, or the password will not do.
    """
    user = require_user(store, name)
    mistakes = password_mistakes(password, name)
    if mistakes:
        raise InputError(mistakes)
    _change(store, name, by, "password changed", password_hash=hashed(password), pin_tries=0)
    withdraw_all(store, user.name)


def set_pin(store: Store, name: str, pin: str | None, *, by: str | None = None) -> None:
    """Give somebody a PIN, or take it away.

    Args:
        store: The records.
        name: The person.
        pin: The digits; None takes the PIN away.
        by: Who does it, or None for the environment's, else the person.

    Raises:
        InputError: There is nobody of that name, or the PIN will not do.
    """
    require_user(store, name)
    mistakes = [] if pin is None else pin_mistakes(pin)
    if mistakes:
        raise InputError(mistakes)
    act = "PIN taken away" if pin is None else "PIN changed"
    _change(store, name, by, act, pin_hash="" if pin is None else hashed(pin), pin_tries=0)


def set_role(store: Store, name: str, role: str, *, by: str | None = None) -> None:
    """Give somebody another role; it counts at once.

    Raises:
        InputError: There is nobody of that name, there is no such role, or no manager would be left.
    """
    user = require_user(store, name)
    mistakes = _role_mistakes(role) or ([] if role == "manager" else _last_manager(store, user))
    if mistakes:
        raise InputError(mistakes)
    _change(store, name, by, "role changed", role=role)


def disable(store: Store, name: str, *, by: str | None = None) -> None:
    """Shut somebody out; every session of theirs ends.

    Raises:
        InputError: There is nobody of that name, or no manager would be left.
    """
    user = require_user(store, name)
    mistakes = _last_manager(store, user)
    if mistakes:
        raise InputError(mistakes)
    _change(store, name, by, "user shut out", disabled=1)
    withdraw_all(store, name)


def enable(store: Store, name: str, *, by: str | None = None) -> None:
    """Let somebody in again.

    Raises:
        InputError: There is nobody of that name.
    """
    require_user(store, name)
    _change(store, name, by, "user let in again", disabled=0, pin_tries=0)


def _last_manager(store: Store, user: UserRow) -> list[Message]:
    from fanwright.records import access

    others = (one for one in access.list_users(store) if one.name != user.name)
    if user.role != "manager" or any(one.role == "manager" and not one.disabled for one in others):
        return []
    return [Message("{name} is the only manager; name another one first", {"name": text(user.name)})]


def _change(store: Store, name: str, by: str | None, act: str, **columns: object) -> None:
    from fanwright.records import access

    access.change_user(store, name, author(by, otherwise=name), act, **columns)
    forget()
