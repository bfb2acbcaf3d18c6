"""Passwords and PINs are tried here: so often by account and by address, and few at a time."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from fastapi import HTTPException

from fanwright.web.rates import Queue, Rates

if TYPE_CHECKING:
    from fastapi import Request

T = TypeVar("T")
AGAIN_S = 30


class Tries:
    """Counts wrong passwords and PINs; right ones cost nothing.

    How often is an assumption: five at once for an account and one more each half minute; four times that for
    an address, because a shop's tablets may share one behind a router.
    """

    def __init__(self) -> None:
        self._accounts = Rates(burst=5, back_s=AGAIN_S)
        self._addresses = Rates(burst=20, back_s=AGAIN_S / 4)
        self._queue = Queue(6)

    def run(self, request: Request, name: str, check: Callable[[], T]) -> T:
        """Try a password or a PIN.

        Args:
            request: What the browser sent.
            name: Whose account.
            check: Tries it; what is falsy, or raises, was a wrong one.

        Returns:
            What ``check`` gave.

        Raises:
            HTTPException: Tried too often (429), or too many wait (503).
        """
        address = "" if request.client is None else request.client.host
        account = " ".join(name.split()).lower()[:80]
        for rates, who in ((self._addresses, address), (self._accounts, account)):
            if not rates.take(who):
                again = {"Retry-After": str(AGAIN_S)}
                raise HTTPException(429, "tried too often: wait half a minute, then try once more", again)
        with self._queue.place() as place:
            if not place:
                self._forgive(address, account)
                raise HTTPException(
                    503, "many sign in just now: try again in a few seconds", {"Retry-After": "3"}
                )
            found = check()
        if found:
            self._forgive(address, account)
        return found

    def _forgive(self, address: str, account: str) -> None:
        self._addresses.give_back(address)
        self._accounts.give_back(account)
