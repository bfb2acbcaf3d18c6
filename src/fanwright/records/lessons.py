"""What closed visits teach about how often each fault occurs: counted, laid over the judgement, and undone.

A Dirichlet distribution whose weights are the judged shares times a number of visits that judgement is worth
(assumption: 200), to which each confirmed cause adds one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy import exists, func, select

from fanwright.catalogue import Catalogue
from fanwright.errors import InputError
from fanwright.records.model import Author
from fanwright.records.searching import visit_in
from fanwright.records.store import Store
from fanwright.records.tables import causes, learning_marks, states, trucks, visits
from fanwright.words import Message, count

JUDGEMENT_VISITS = 200.0
KINDS = ("planned", "complaint")


@dataclass(frozen=True)
class Lesson:
    """One closed visit with a confirmed cause.

    Args:
        visit: Its number.
        unit: The truck.
        date: The day.
        kind: ``planned`` or ``complaint``.
        faults: The causes confirmed.
        counted: Whether it counts now.
    """

    visit: int
    unit: str
    date: str
    kind: str
    faults: tuple[str, ...]
    counted: bool


@dataclass(frozen=True)
class Share:
    """How often a fault is expected among visits of one kind.

    Args:
        fault: The fault.
        kind: ``planned`` or ``complaint``.
        confirmed: How often it was confirmed.
        judged: Its share by judgement alone [-].
        learned: Its share with what was counted [-].
    """

    fault: str
    kind: str
    confirmed: int
    judged: float
    learned: float


def lessons(store: Store) -> tuple[Lesson, ...]:
    """List the closed visits whose cause was confirmed, and whether each counts."""
    later = visits.alias()
    query = (
        select(visits.c.id, trucks.c.unit, visits.c.date, visits.c.kind, causes.c.fault, states.c.entry)
        .join(trucks, trucks.c.id == visits.c.truck)
        .join(causes, causes.c.visit == visits.c.id)
        .join(states, states.c.entry == causes.c.entry)
        .where(causes.c.confirmed == 1, states.c.state == "signed", states.c.visit == visits.c.id)
        .where(~exists().where(later.c.corrects == visits.c.id))
        .order_by(visits.c.id, causes.c.id)
    )
    with store.reading() as connection:
        rows = connection.execute(query).all()
        marked = connection.execute(
            select(learning_marks.c.visit, learning_marks.c.act, learning_marks.c.entry).order_by(
                learning_marks.c.id
            )
        ).all()
    out: set[int] = set()
    undone_up_to = 0
    for visit, act, at_entry in marked:
        match act:
            case "take_out":
                out.add(visit)
            case "put_back":
                out.discard(visit)
            case "undo":
                undone_up_to = at_entry
            case "redo":
                undone_up_to = 0
    found: dict[int, Lesson] = {}
    for number, unit, date, kind, fault, at_entry in rows:
        before = found.get(number)
        faults = tuple(dict.fromkeys((*(before.faults if before else ()), fault)))
        found[number] = Lesson(
            number, unit, date, kind, faults, counted=number not in out and at_entry > undone_up_to
        )
    return tuple(found.values())


def shares(store: Store, catalogue: Catalogue) -> tuple[Share, ...]:
    """Lay what was counted over the judgement.

    Args:
        store: The records.
        catalogue: Where the judged weights are.

    Returns:
        For each kind of visit each fault, with its old and its new share; a re-test counts as a complaint.
    """
    counted = confirmed_counts(lessons(store))
    found = []
    for kind in KINDS:
        weights = {
            fault.id: fault.weight_planned if kind == "planned" else fault.weight_complaint
            for fault in catalogue.faults.values()
        }
        learned = learned_shares(weights, counted[kind])
        total = sum(weights.values())
        found += [
            Share(fault, kind, counted[kind].get(fault, 0), weight / total, learned[fault])
            for fault, weight in weights.items()
        ]
    return tuple(found)


def confirmed_counts(given: tuple[Lesson, ...]) -> Mapping[str, Mapping[str, int]]:
    """Count confirmed causes by kind of visit; this is what diagnosis is handed."""
    counted: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    for lesson in given:
        if lesson.counted:
            counted["planned" if lesson.kind == "planned" else "complaint"].update(lesson.faults)
    return counted


def learned_shares(
    weights: Mapping[str, float], counted: Mapping[str, int], worth_visits: float = JUDGEMENT_VISITS
) -> Mapping[str, float]:
    """Give the mean of the Dirichlet distribution after counting.

    Args:
        weights: Judged weights, relative [-].
        counted: How often each was confirmed [-].
        worth_visits: How many visits the judgement is worth [-].

    Returns:
        Shares that add up to one [-].

    Example:
        >>> learned_shares({"a": 3.0, "b": 1.0}, {"b": 4}, worth_visits=4.0)
        {'a': 0.375, 'b': 0.625}
    """
    total = sum(weights.values())
    seen = sum(counted.get(fault, 0) for fault in weights)
    return {
        fault: (worth_visits * weight / total + counted.get(fault, 0)) / (worth_visits + seen)
        for fault, weight in weights.items()
    }


def mark_lesson(store: Store, act: str, author: Author, visit: int | None = None) -> None:
    """Take a visit out of what is counted or put it back; undo everything counted so far, or redo it.

    Args:
        store: The records.
        act: ``take_out``, ``put_back``, ``undo`` or ``redo``.
        author: Who, and why.
        visit: The visit, for the first two.

    Raises:
        InputError: The visit is not there, or no reason is given.
    """
    if not author.why.strip():
        raise InputError(Message("say why, with --why"))
    with store.writing() as transaction:
        subject = "" if visit is None else visit_in(transaction.connection, visit).row.unit
        with transaction.entry("learning changed", author, subject) as entry:
            transaction.add(entry, learning_marks, visit=visit, act=act)


def signed_without_cause(store: Store) -> int:
    """Count the closed visits that taught nothing, because no cause was confirmed."""
    query = select(func.count(func.distinct(states.c.visit))).where(
        states.c.state == "signed",
        ~exists().where(causes.c.visit == states.c.visit, causes.c.confirmed == 1),
    )
    with store.reading() as connection:
        return int(connection.execute(query).scalar_one())


def require_lesson(store: Store, visit: int) -> None:
    """Refuse a visit that teaches nothing.

    Raises:
        InputError: It is not closed with a confirmed cause.
    """
    if all(lesson.visit != visit for lesson in lessons(store)):
        raise InputError(
            Message(
                "visit {visit} is not counted: only closed visits with a confirmed cause are",
                {"visit": count(visit)},
            )
        )
