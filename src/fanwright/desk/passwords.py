"""Passwords and PINs: what will do, how they are kept (argon2id), and two checks at a time."""

from __future__ import annotations

import itertools
import secrets
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

from fanwright.errors import FileError
from fanwright.words import Message, count

SHORTEST_PASSWORD, LONGEST_PASSWORD = (
    10,
    200,
)  # at least 8 and at most no fewer than 64: NIST SP 800-63B 5.1.1
SHORTEST_PIN, LONGEST_PIN = 4, 8
AT_ONCE = 2  # each check takes 64 MiB
WAIT_S = 10.0

_TURNS = threading.BoundedSemaphore(AT_ONCE)


@cache
def _hasher() -> Any:
    from argon2 import PasswordHasher

    return PasswordHasher()  # argon2id with the parameters of RFC 9106, second choice (64 MiB)


@contextmanager
def _turn() -> Iterator[None]:
    """Let two checks work at once; the next wait a while, so that a flood cannot eat the memory."""
    if not _TURNS.acquire(timeout=WAIT_S):
        raise FileError(Message("too many people sign in at once; try again in a moment"))
    try:
        yield
    finally:
        _TURNS.release()


def hashed(secret: str) -> str:
    """Give what is kept of a password or PIN."""
    with _turn():
        return str(_hasher().hash(secret))


@cache
def _nobodys_hash() -> str:
    return hashed(secrets.token_hex(16))


def matches(kept: str, secret: str) -> bool:
    """Check a secret; a person who does not exist takes as long as one who does."""
    from argon2.exceptions import InvalidHashError, VerificationError

    right = bool(kept)
    kept = kept or _nobodys_hash()
    with _turn():
        try:
            return bool(_hasher().verify(kept, secret[: LONGEST_PASSWORD + 1])) and right
        except (VerificationError, InvalidHashError):
            return False


def password_mistakes(password: str, name: str) -> list[Message]:
    """Say why a password will not do; nothing when it will."""
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        return [
            Message(
                "the password has {given} characters; it needs {least} to {most}",
                {
                    "given": count(len(password)),
                    "least": count(SHORTEST_PASSWORD),
                    "most": count(LONGEST_PASSWORD),
                },
            )
        ]
    few = len(set(password)) < 4
    if few or (name and password.strip().lower() == name.lower()):
        return [Message("the password is too easy to guess: take several words that do not belong together")]
    return []


def pin_mistakes(pin: str) -> list[Message]:
    """Say why a PIN will not do; nothing when it will."""
    sizes = {"least": count(SHORTEST_PIN), "most": count(LONGEST_PIN)}
    if not (pin.isascii() and pin.isdigit() and SHORTEST_PIN <= len(pin) <= LONGEST_PIN):
        return [Message("a PIN is {least} to {most} digits", sizes)]
    steps = {(int(after) - int(before)) % 10 for before, after in itertools.pairwise(pin)}
    if len(steps) == 1 and steps <= {0, 1, 9}:
        return [Message("that PIN is too easy to guess: no row of equal or following digits")]
    return []
