"""The lists a shop can look into: tests and the limits in force."""

from __future__ import annotations

import difflib
from pathlib import Path

from fanwright.catalogue import Test
from fanwright.desk.shop import Shop, open_shop
from fanwright.errors import InputError
from fanwright.words import Message, text


def explain_tests(named: str | None, shop_file: Path | None = None) -> tuple[Shop, tuple[Test, ...]]:
    """Give the tests of the catalogue as this shop has them, or the one named.

    Raises:
        InputError: There is no such test; the nearest name is offered.
    """
    shop = open_shop(shop_file)
    tests = shop.catalogue.tests
    if named is None:
        return shop, tuple(tests.values())
    if named in tests:
        return shop, (tests[named],)
    close = difflib.get_close_matches(named, tests, n=1)
    raise InputError(
        Message(
            "{given} is not a test; did you mean {close}?", {"given": text(named), "close": text(close[0])}
        )
        if close
        else Message("{given} is not a test; «fanwright tests» lists them all", {"given": text(named)})
    )
