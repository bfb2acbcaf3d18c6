"""From a day and a time on the shop's clock to UTC."""

from __future__ import annotations

import datetime as dt
import re
import zoneinfo

from fanwright.errors import InputError
from fanwright.words import Message, text

OFFSET = re.compile(r"([+-])(\d{2}):?(\d{2})")


def zone_of(name: str) -> dt.tzinfo:
    """Find a time zone.

    Args:
        name: A name such as ``America/Denver``, ``UTC``, or an offset such as ``-07:00``.

    Returns:
        The zone.

    Raises:
        InputError: There is none of that name.

    Example:
        >>> zone_of("-07:00").utcoffset(None) == dt.timedelta(hours=-7)
        True
    """
    offset = OFFSET.fullmatch(name.strip())
    if offset is not None and int(offset[2]) < 24 and int(offset[3]) < 60:
        away = dt.timedelta(hours=int(offset[2]), minutes=int(offset[3]))
        return dt.timezone(-away if offset[1] == "-" else away)
    if name.strip().upper() in ("UTC", "Z"):
        return dt.UTC
    try:
        return zoneinfo.ZoneInfo(name.strip())
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise InputError(
            Message(
                "{zone} is not a time zone; write one like America/Denver or -07:00",
                {"zone": text(f"«{name}»")},
            )
        ) from error


def moment_utc(day: dt.date, clock: str, zone: str) -> str:
    """Say when something took place, in UTC.

    Args:
        day: The day in the shop.
        clock: The time on the shop's clock, or empty.
        zone: The shop's zone.

    Returns:
        Such as ``2026-04-14T14:10:00Z``; empty without a time.

    Raises:
        InputError: The time or the zone cannot be read.

    Example:
        >>> moment_utc(dt.date(2026, 4, 14), "07:10:00", "-07:00")
        '2026-04-14T14:10:00Z'
    """
    found = zone_of(zone)
    if not clock:
        return ""
    try:
        time = dt.time.fromisoformat(clock)
    except ValueError as error:
        raise InputError(
            Message("{clock} is not a time; write it like 07:10", {"clock": text(f"«{clock}»")})
        ) from error
    at = dt.datetime.combine(day, time)
    try:
        return (at if at.tzinfo else at.replace(tzinfo=found)).astimezone(dt.UTC).isoformat()[:19] + "Z"
    except OverflowError as error:
        raise InputError(
            Message("{day} is not a day that can be kept", {"day": text(day.isoformat())})
        ) from error
