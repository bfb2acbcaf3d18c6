"""Devices and sessions: who is signed in where, and whose work an entry is.

A session is a random token of 256 bits in the browser and its SHA-256 here, so it can be withdrawn. A device
is enrolled by a full sign-in; only there a PIN changes who is signed in.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import hmac
import secrets
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fanwright.desk.passwords import matches
from fanwright.errors import InputError
from fanwright.words import Message, count, text

if TYPE_CHECKING:
    from fanwright.records.access import DeviceRow, SessionRow, UserRow
    from fanwright.records.store import Store

PIN_TRIES = 5
SESSION_H, IDLE_H = 14, 4  # a long shift; a tablet left lying since before lunch: assumptions
SEEN_EVERY_S = 60.0
REMEMBERED_S = 2.0  # so long may a session that another process withdrew still be let in
MOST_REMEMBERED = 1_000

_KNOWN: dict[tuple[int, str], tuple[float, SignedInAs | None]] = {}


def forget() -> None:
    """Look every session up anew, because something about people has changed."""
    _KNOWN.clear()


@dataclass(frozen=True)
class SignedInAs:
    """A session that holds.

    Args:
        name: Who it is.
        role: What they may do.
        token_id: The session's number, no secret.
        device: The device's public name.
        how: ``password`` or ``pin``.
    """

    name: str
    role: str
    token_id: str
    device: str
    how: str


@dataclass(frozen=True)
class SignedIn:
    """What a sign-in hands to the browser.

    Args:
        token: The session's token, for its cookie; shown once.
        device_token: The device's token, where it was enrolled just now, else None.
        author_token: Vouches for entries made in this session, also when they are sent later by another.
        who: The session.
    """

    token: str
    device_token: str | None
    author_token: str
    who: SignedInAs


def _sha256(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def utc_now() -> dt.datetime:
    """Give the time now, in UTC."""
    return dt.datetime.now(dt.UTC)


def text_utc(moment: dt.datetime) -> str:
    """Write a moment as it stands in the records."""
    from fanwright.records.store import utc_text

    return utc_text(moment)


def require_user(store: Store, name: str) -> UserRow:
    """Find a person.

    Raises:
        InputError: There is nobody of that name.
    """
    from fanwright.records import access

    found = access.find_user(store, name)
    if found is None:
        raise InputError(Message("there is nobody of the name {name}", {"name": text(f"«{name[:60]}»")}))
    return found


def check_password(store: Store, name: str, password: str) -> bool:
    """Say whether a password is somebody's; False also where there is nobody of that name.

    Args:
        store: The records.
        name: The person.
        password: What was typed.

    Returns:
        Whether it is right; a wrong name takes as long as a wrong password.
    """
    from fanwright.records import access

    user = access.find_user(store, name)
    usable = user is not None and not user.disabled
    return matches(user.password_hash if user is not None and usable else "", password)


def sign_in(
    store: Store, name: str, password: str, device_token: str | None = None, device_label: str = ""
) -> SignedIn:
    """Sign somebody in by password; a device that is not known yet is enrolled.

    Args:
        store: The records.
        name: The person.
        password: What was typed.
        device_token: The token this browser has as a device, or None.
        device_label: What the browser calls itself, for the list of devices.

    Returns:
        The session.

    Raises:
        InputError: Name or password is wrong; it is not said which.
    """
    from fanwright.records import access

    if not check_password(store, name, password):
        raise InputError(Message("name or password is wrong"))
    user = require_user(store, name)
    if user.pin_tries:
        access.forgive_pin_tries(store, user.id)
    device = _device(store, device_token)
    fresh = None
    if device is None:
        fresh = secrets.token_urlsafe(32)
        label = "".join(one for one in device_label if one.isprintable())[:120]
        access.enrol_device(store, _sha256(fresh), secrets.token_hex(6), label, user.id, text_utc(utc_now()))
        device = _device(store, fresh)
        assert device is not None
    return _begin(store, user, device, "password", fresh)


def sign_in_by_pin(store: Store, name: str, pin: str, device_token: str | None) -> SignedIn:
    """Change who is signed in, by PIN, on a device that a full sign-in enrolled.

    Args:
        store: The records.
        name: The person.
        pin: What was typed.
        device_token: The token this browser has as a device.

    Returns:
        The session.

    Raises:
        InputError: The device is not enrolled, or name or PIN is wrong, or the PIN sleeps.
    """
    from fanwright.records import access

    device = _device(store, device_token)
    if device is None:
        raise InputError(Message("a PIN counts only on a device where somebody signed in by password once"))
    wrong = InputError(
        Message(
            "name or PIN is wrong, or the PIN sleeps after {tries} wrong ones: sign in by password",
            {"tries": count(PIN_TRIES)},
        )
    )
    user = access.find_user(store, name)
    if user is None or user.disabled or not user.pin_hash:
        matches("", pin)
        raise wrong
    if not access.count_pin_try(store, user.id, PIN_TRIES):
        raise wrong
    if not matches(user.pin_hash, pin):
        raise wrong
    access.forgive_pin_tries(store, user.id)
    return _begin(store, user, device, "pin", None)


def _device(store: Store, token: str | None) -> DeviceRow | None:
    from fanwright.records import access

    found = access.find_device(store, _sha256(token)) if token else None
    return None if found is None or found.withdrawn_utc else found


def _begin(store: Store, user: UserRow, device: DeviceRow, how: str, fresh: str | None) -> SignedIn:
    from fanwright.records import access

    token = secrets.token_urlsafe(32)
    now = utc_now()
    number = access.begin_session(
        store,
        token_sha256=_sha256(token),
        user=user.id,
        device=device.id,
        how=how,
        author_token_sha256=_sha256(_vouching(token)),
        started_utc=text_utc(now),
        seen_utc=text_utc(now),
        ends_utc=text_utc(now + dt.timedelta(hours=SESSION_H)),
    )
    who = SignedInAs(user.name, user.role, str(number), device.name, how)
    return SignedIn(token, fresh, author_token(token, who), who)


def author_token(token: str, who: SignedInAs) -> str:
    """Give the token that vouches for entries made in a session; it opens nothing by itself.

    Args:
        token: The session's token.
        who: The session.

    Returns:
        The session's number and a mark that only the holder of its token can make.

    Example:
        >>> author_token("x", SignedInAs("Ana", "technician", "7", "d", "pin"))[:6]
        '7.cccd'
    """
    return f"{who.token_id}.{_vouching(token)}"


def _vouching(token: str) -> str:
    return hmac.new(token.encode(), b"author of an entry", "sha256").hexdigest()


def who_is(store: Store, token: str) -> SignedInAs | None:
    """Say whose session a token is.

    Args:
        store: The records.
        token: The token from the cookie.

    Returns:
        Who it is, or None when it is no session, has ended, idled too long or was withdrawn.
    """
    if not token or len(token) > 100:
        return None
    key = (id(store), _sha256(token))
    now = time.monotonic()
    held = _KNOWN.get(key)
    if held is not None and now < held[0]:
        return held[1]
    found = _look_up(store, key[1])
    if len(_KNOWN) >= MOST_REMEMBERED:
        forget()
    _KNOWN[key] = (now + REMEMBERED_S, found)
    return found


def _look_up(store: Store, token_sha256: str) -> SignedInAs | None:
    from fanwright.records import access

    row = access.find_session(store, token_sha256=token_sha256)
    if row is None or not _holds(row):
        return None
    if (utc_now() - dt.datetime.fromisoformat(row.seen_utc)).total_seconds() > SEEN_EVERY_S:
        access.see_session(store, row.id, text_utc(utc_now()))
    return SignedInAs(row.user.name, row.user.role, str(row.id), row.device, row.how)


def _holds(row: SessionRow) -> bool:
    now = utc_now()
    idle = now - dt.datetime.fromisoformat(row.seen_utc)
    return (
        not row.withdrawn_utc
        and not row.device_withdrawn_utc
        and not row.user.disabled
        and text_utc(now) < row.ends_utc
        and idle < dt.timedelta(hours=IDLE_H)
    )


def list_sessions(store: Store, name: str = "") -> tuple[SessionRow, ...]:
    """List the sessions that hold, of one person or of all, newest first."""
    from fanwright.records import access

    return tuple(row for row in access.list_sessions(store, name) if _holds(row))


def list_devices(store: Store) -> tuple[DeviceRow, ...]:
    """List the devices, newest first, those shut out among them."""
    from fanwright.records import access

    return access.list_devices(store)


def sign_out(store: Store, token: str) -> None:
    """End the session of a token; one that has ended already is no mistake."""
    from fanwright.records import access

    row = access.find_session(store, token_sha256=_sha256(token)) if token else None
    if row is not None:
        withdraw(store, str(row.id))


def withdraw(store: Store, token_id: str) -> bool:
    """End one session by its number; say whether it was still going on."""
    from fanwright.records import access

    ended = token_id.isdecimal() and access.end_session(store, int(token_id), text_utc(utc_now()))
    forget()
    return bool(ended)


def withdraw_all(store: Store, name: str) -> int:
    """End every session of a person, on every device.

    Returns:
        How many were ended.

    Raises:
        InputError: There is nobody of that name.
    """
    from fanwright.records import access

    ended = access.end_sessions_of(store, require_user(store, name).id, text_utc(utc_now()))
    forget()
    return ended


def withdraw_device(store: Store, number: int) -> bool:
    """Shut a device out, with every session on it; say whether it was still enrolled."""
    from fanwright.records import access

    ended = access.withdraw_device(store, number, text_utc(utc_now()))
    forget()
    return ended


def vouches(store: Store, author_token: str, name: str, device: str = "", made_at: str = "") -> bool:
    """Say whether an author's token proves that an entry is somebody's work, whoever sends it.

    Args:
        store: The records.
        author_token: The token the entry carries.
        name: Whose work the entry says it is.
        device: The device it says it was made on.
        made_at: When it says it was made, ISO 8601 with offset.

    Returns:
        Whether the token belongs to a session of that person on that device, and that session was not
        withdrawn before the entry says it was made.
    """
    from fanwright.records import access

    number, _, secret = author_token.partition(".")
    if not (number.isascii() and number.isdecimal() and secret) or len(author_token) > 100:
        return False
    row = access.find_session(store, number=int(number[:15]))
    if row is None or not hmac.compare_digest(row.author_token_sha256, _sha256(secret)):
        return False
    if row.user.name != name or (device and device != row.device):
        return False
    return not row.withdrawn_utc or _before(made_at, row.withdrawn_utc)


def _before(made_at: str, withdrawn_utc: str) -> bool:
    try:
        made = dt.datetime.fromisoformat(made_at)
    except ValueError:
        return False
    return made.tzinfo is not None and made <= dt.datetime.fromisoformat(withdrawn_utc)
