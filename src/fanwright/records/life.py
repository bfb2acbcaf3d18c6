"""The life of a visit: each step is an added row, and a signature stands beside the step it allowed."""

from __future__ import annotations

from collections.abc import Mapping

from fanwright.errors import InputError
from fanwright.records.model import NEXT_STATES, STATES, Author, KeptVisit, State
from fanwright.records.register import add_person
from fanwright.records.searching import visit_in
from fanwright.records.store import Store
from fanwright.records.tables import causes, parts, sign_offs, states
from fanwright.words import Message, count, listing, text


def require_open(kept: KeptVisit, wanted: str) -> State:
    """Refuse a step that a visit cannot take.

    Args:
        kept: The visit.
        wanted: The state it shall come to.

    Returns:
        That state.

    Raises:
        InputError: It is a line of history, was corrected, or that state does not follow on its own.
    """
    number = {"visit": count(kept.row.number)}
    if kept.row.corrected_by is not None:
        raise InputError(
            Message(
                "visit {visit} was corrected: visit {by} stands in its place",
                number | {"by": count(kept.row.corrected_by)},
            )
        )
    if not kept.row.state:
        raise InputError(Message("visit {visit} is a line of history, without a life of its own", number))
    now = next(state for state in STATES if state == kept.row.state)
    follows = (*NEXT_STATES[now], *(("signed",) if now != "signed" else ()))
    for state in STATES:
        if state == wanted and state in follows:
            return state
    raise InputError(
        Message(
            "visit {visit} is in the state {now}; {wanted} cannot follow, only {allowed}",
            number
            | {
                "now": text(now),
                "wanted": text(f"«{wanted}»"),
                "allowed": listing(tuple(text(state) for state in NEXT_STATES[now])),
            },
        )
    )


def move(store: Store, number: int, wanted: str, author: Author) -> State:
    """Take a visit one step on.

    Args:
        store: The records.
        number: The visit.
        wanted: The state it shall come to; not ``signed``, which only signing brings.
        author: Who says so.

    Returns:
        The state.

    Raises:
        InputError: That state cannot follow.
    """
    with store.writing() as transaction:
        kept = visit_in(transaction.connection, number)
        if wanted == "signed":
            raise InputError(
                Message(
                    "only signing closes visit {visit}: «fanwright close {visit} --by NAME»",
                    {"visit": count(number)},
                )
            )
        state = require_open(kept, wanted)
        with transaction.entry("visit moved", author, kept.row.unit) as entry:
            transaction.add(entry, states, visit=number, state=state, because=author.why)
    return state


def sign(
    store: Store,
    number: int,
    author: Author,
    signed_by: Mapping[str, str],
    *,
    seen_states: int,
    named_causes: tuple[str, ...] = (),
    fitted: tuple[tuple[str, str, str], ...] = (),
    because: str = "",
) -> str:
    """Sign a visit, which closes it; whether it may be closed was asked before.

    Args:
        store: The records.
        number: The visit.
        author: Who signs.
        signed_by: Names by role.
        seen_states: How many states the visit had when that was asked; another one since then refuses.
        named_causes: All causes that are confirmed by this signature.
        fitted: Parts: name, old serial, new serial.
        because: Why it is closed although something is missing; empty otherwise.

    Returns:
        SHA-256 of the entry.

    Raises:
        InputError: Somebody else was quicker.
    """
    with store.writing() as transaction:
        kept = visit_in(transaction.connection, number)
        require_open(kept, "signed")
        if len(kept.states) != seen_states:
            raise InputError(
                Message("visit {visit} was changed meanwhile; look at it again", {"visit": count(number)})
            )
        with transaction.entry("visit signed", author, kept.row.unit) as entry:
            for fault in named_causes:
                transaction.add(entry, causes, visit=number, fault=fault, confirmed=1)
            for name, old, new in fitted:
                transaction.add(entry, parts, visit=number, name=name, old_serial=old, new_serial=new)
            for role, person in signed_by.items():
                transaction.add(entry, sign_offs, visit=number, role=role, person=person)
                add_person(transaction, entry, person)
            transaction.add(entry, states, visit=number, state="signed", because=because)
        return transaction.head
