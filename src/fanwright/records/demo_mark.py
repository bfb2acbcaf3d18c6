"""Whether records were begun as the demo: said by their very first entry, which nothing can add later."""

from __future__ import annotations

from sqlalchemy import select

from fanwright.records.chain import START
from fanwright.records.model import Author
from fanwright.records.store import Store
from fanwright.records.tables import entries

BEGUN = "demo begun"


def begin_demo(store: Store, author: Author) -> bool:
    """Mark empty records as the demo.

    Args:
        store: The records.
        author: Who begins it.

    Returns:
        Whether they are the demo now; records that hold something already stay what they are.
    """
    with store.writing() as transaction:
        if transaction.head == START:
            with transaction.entry(BEGUN, author):
                pass
    return is_demo(store)


def is_demo(store: Store) -> bool:
    """Say whether records were begun as the demo."""
    with store.reading() as connection:
        act = connection.execute(select(entries.c.act).where(entries.c.number == 1)).scalar()
    return act == BEGUN
