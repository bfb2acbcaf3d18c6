"""How a reader wants to see things: language, units, theme; one cookie, read with an allow-list."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Literal
from urllib.parse import parse_qsl

from starlette.requests import Request

from fanwright.report.say import Reader

Theme = Literal["auto", "light", "dark", "sun"]
COOKIE = "fanwright-look"
LANGUAGES = ("en", "es", "fr")
THEMES: tuple[Theme, ...] = ("auto", "light", "dark", "sun")
WITH_COMMA = ("es", "fr")
UNITS: dict[str, dict[str, str]] = {
    "pressure": {"psi": "psi", "kPa": "kPa", "bar": "bar"},
    "length": {"in": "in", "mm": "mm"},
    "distance": {"mi": "mi", "km": "km"},
    "temperature": {"F": "degF", "C": "degC"},
}
"""Dimension, then what the cookie says, then the name in the table of units."""
_LONGEST = 300  # of a cookie that is read at all [characters]


@dataclass(frozen=True)
class Look:
    """How one reader sees the pages.

    Args:
        reader: Units and names, for everything that writes sentences.
        theme: ``auto``, ``light``, ``dark`` or ``sun``.
        language: ``en``, ``es`` or ``fr``.
    """

    reader: Reader = field(default_factory=Reader)
    theme: Theme = "auto"
    language: str = "en"


def look_of(request: Request) -> Look:
    """Read how this reader wants to see things.

    Args:
        request: What the browser sent.

    Returns:
        The look: what the cookie says where it is allowed, else what the shop says, else our own.
    """
    settings = getattr(request.app.state, "settings", None)
    return look_from(request.cookies.get(COOKIE, ""), getattr(settings, "shop", None))


def look_from(cookie: str, shop: Path | None = None) -> Look:
    """Read a look from the text of the cookie; whatever is not allowed in it counts as not said.

    Args:
        cookie: Its value, such as ``language=es&pressure=bar&theme=sun``.
        shop: The shop's own data, or None.

    Returns:
        The look.

    Example:
        >>> look_from("pressure=bar&theme=sun&language=../x").theme
        'sun'
    """
    said = dict(parse_qsl(cookie[:_LONGEST]))
    language = said.get("language", "")
    language = language if language in LANGUAGES else "en"
    chosen = {key: named[said[key]] for key, named in UNITS.items() if said.get(key) in named}
    base = _shop_reader(shop)
    units = replace(base.units, chosen={**base.units.chosen, **chosen}, comma=language in WITH_COMMA)
    theme: Theme = next((one for one in THEMES if one == said.get("theme")), "auto")
    return Look(replace(base, units=units), theme, language)


@lru_cache(maxsize=4)
def _shop_reader(shop: Path | None) -> Reader:
    from fanwright.desk.shop import open_shop

    opened = open_shop(shop)
    return Reader(opened.units, opened.catalogue)
