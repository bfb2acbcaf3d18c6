"""Which records the law no longer asks for. Shown, never acted on.

49 CFR 396.3(c): kept where the vehicle is housed or maintained for one year, and for six months after it
leaves the motor carrier's control. What a shop keeps longer is its own choice; forecasts of facing life need
the past.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from sqlalchemy import case, func, select

from fanwright.records.store import Store
from fanwright.records.tables import trucks, visits

MONTHS_HOUSED = 12


@dataclass(frozen=True)
class Beyond:
    """How much of a truck's record is older than the rule asks for.

    Args:
        unit: The truck.
        visits: How many visits and lines of history are older.
        oldest: The oldest day.
        newest: The newest day of the truck's record.
    """

    unit: str
    visits: int
    oldest: str
    newest: str


def months_before(day: dt.date, months: int) -> dt.date:
    """Give the day some months earlier, or the last of that month where there is no such day.

    Example:
        >>> months_before(dt.date(2024, 3, 31), 1)
        datetime.date(2024, 2, 29)
    """
    year, month = divmod(day.year * 12 + day.month - 1 - months, 12)
    first_of_next = dt.date(year + (month + 1) // 12, (month + 1) % 12 + 1, 1)
    return dt.date(year, month + 1, min(day.day, (first_of_next - dt.timedelta(days=1)).day))


def beyond_rule(store: Store, today: dt.date) -> tuple[Beyond, ...]:
    """List what is older than the rule asks for while the truck is in the fleet.

    Args:
        store: The records.
        today: The day counted back from.

    Returns:
        A line for each truck that has such records.
    """
    limit = months_before(today, MONTHS_HOUSED).isoformat()
    older = func.sum(case((visits.c.date < limit, 1), else_=0))
    query = (
        select(trucks.c.unit, older, func.min(visits.c.date), func.max(visits.c.date))
        .join(visits, visits.c.truck == trucks.c.id)
        .group_by(trucks.c.unit)
        .having(func.min(visits.c.date) < limit)
        .order_by(trucks.c.unit)
    )
    with store.reading() as connection:
        return tuple(Beyond(unit, int(n), old, new) for unit, n, old, new in connection.execute(query))
