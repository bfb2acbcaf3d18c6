"""What closed visits taught: shown old beside new, taken out, undone; and handed to diagnosis as counts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fanwright.desk.records import author, open_records
from fanwright.desk.shop import open_shop

if TYPE_CHECKING:
    from fanwright.records.lessons import Lesson, Share


@dataclass(frozen=True)
class Learned:
    """What a shop has taught the program.

    Args:
        lessons: The closed visits with a confirmed cause, and whether each counts.
        shares: Old and new share of each fault by kind of visit.
        silent: How many closed visits taught nothing, for want of a confirmed cause.
    """

    lessons: tuple[Lesson, ...]
    shares: tuple[Share, ...]
    silent: int


def show_learning(db: str | None) -> Learned:
    """Show what was counted and what it changes.

    Args:
        db: The records.

    Returns:
        Lessons and shares.

    Raises:
        FileError: The records cannot be read.
    """
    from fanwright.records.lessons import lessons, shares, signed_without_cause

    store = open_records(db)
    try:
        return Learned(lessons(store), shares(store, open_shop(None).catalogue), signed_without_cause(store))
    finally:
        store.close()


def change_learning(db: str | None, act: str, visit: int | None, by: str | None, why: str | None) -> Learned:
    """Take a visit out or put it back; undo everything counted so far, or redo it.

    Args:
        db: The records.
        act: ``take_out``, ``put_back``, ``undo`` or ``redo``.
        visit: The visit, for the first two.
        by: Who, or None for the environment's.
        why: The reason.

    Returns:
        What is counted now.

    Raises:
        InputError: No such visit is counted, or no reason is given.
    """
    from fanwright.records.lessons import mark_lesson, require_lesson

    store = open_records(db)
    try:
        if visit is not None:
            require_lesson(store, visit)
        mark_lesson(store, act, author(by, why), visit)
    finally:
        store.close()
    return show_learning(db)


def learned_counts(db: str | None) -> Mapping[str, Mapping[str, int]]:
    """Give diagnosis what was counted: confirmed causes by kind of visit, ``planned`` and ``complaint``.

    Args:
        db: The records.

    Returns:
        Counts by kind and fault.

    Raises:
        FileError: The records cannot be read.
    """
    from fanwright.records.lessons import confirmed_counts, lessons

    store = open_records(db)
    try:
        return confirmed_counts(lessons(store))
    finally:
        store.close()
