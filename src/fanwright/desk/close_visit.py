"""Close a visit: refuse what an inspector would not believe, or keep why it was closed anyway."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fanwright.catalogue import Catalogue, Fault
from fanwright.desk.records import author, open_records
from fanwright.desk.shop import open_shop
from fanwright.errors import InputError
from fanwright.report.say import Reader, say
from fanwright.words import Message, Value, count, fault, listing, test_name, text

if TYPE_CHECKING:
    from fanwright.records.model import KeptVisit
    from fanwright.records.store import Store

BAD = ("act_now", "stand_down")
READ = ("good", "watch", "none")
MOST_SEVERE = 5
WITH_A_SECOND_PERSON = ("fan",)
NO_FAULT = "no_fault"
BEARINGS = ("hub_bearing_worn", "pulley_bearing_worn")


@dataclass(frozen=True)
class Closed:
    """A visit that was signed.

    Args:
        visit: Its number.
        unit: The truck.
        signed_by: Names by role.
        overridden: What was missing although it was closed.
        because: Why it was closed anyway; empty when nothing was missing.
        head: SHA-256 of the chain's last entry.
    """

    visit: int
    unit: str
    signed_by: dict[str, str]
    overridden: tuple[Message, ...]
    because: str
    head: str


def close_visit(
    db: str | None,
    number: int,
    *,
    by: str | None = None,
    second: str = "",
    driver_told: str = "",
    named_causes: tuple[str, ...] = (),
    fitted: tuple[str, ...] = (),
    anyway: str = "",
) -> Closed:
    """Sign a visit as done and re-tested.

    Args:
        db: The records.
        number: The visit.
        by: The technician who signs, or None for the environment's.
        second: A second person who looked at it, or empty.
        driver_told: Who told the driver, or empty.
        named_causes: Causes beside the one the visit file names.
        fitted: Parts as ``name, old serial, new serial``.
        anyway: Why it is closed although something is missing, or empty.

    Returns:
        What was signed.

    Raises:
        InputError: Everything that is missing, all together, unless ``anyway`` says why that may be.
    """
    store = open_records(db)
    try:
        return close_in(
            store,
            number,
            by=by,
            second=second,
            driver_told=driver_told,
            named_causes=named_causes,
            fitted=fitted,
            anyway=anyway,
        )
    finally:
        store.close()


def close_in(
    store: Store,
    number: int,
    *,
    by: str | None = None,
    second: str = "",
    driver_told: str = "",
    named_causes: tuple[str, ...] = (),
    fitted: tuple[str, ...] = (),
    anyway: str = "",
) -> Closed:
    """Sign a visit in records that are open; see :func:`close_visit`."""
    from fanwright.records.life import require_open, sign
    from fanwright.records.searching import show_visit

    catalogue = open_shop(None).catalogue
    _require_known(named_causes, catalogue)
    kept = show_visit(store, number)
    require_open(kept, "signed")
    who = author(by, anyway)
    causes = tuple(dict.fromkeys((*kept.causes, *named_causes)))
    if not causes and kept.row.overall == "good":
        causes = (
            NO_FAULT,
        )  # a sound truck teaches too: without it faults would seem more frequent than they are
    missing = what_is_missing(kept, causes, who.name, second, catalogue)
    if missing and not anyway.strip():
        raise InputError(
            (
                *missing,
                Message(
                    "visit {visit} stays open; mend this, or close it anyway and say why, with --anyway",
                    {"visit": count(number)},
                ),
            )
        )
    roles = {"technician": who.name, "second_person": second, "driver_told": driver_told}
    signed_by = {role: name for role, name in roles.items() if name}
    head = sign(
        store,
        number,
        who,
        signed_by,
        seen_states=len(kept.states),
        named_causes=causes,
        fitted=tuple(_part(one) for one in fitted),
        because=_because(anyway, missing, catalogue),
    )
    return Closed(number, kept.row.unit, signed_by, missing, anyway if missing else "", head)


def _because(anyway: str, missing: Iterable[Message], catalogue: Catalogue) -> str:
    """The reason given, with what it overrode, as it will be read years later."""
    said = [say(one, Reader(catalogue=catalogue)) for one in missing]
    return "; ".join((f"closed anyway, because: {anyway.strip()}", *said)) if said else ""


def _part(written: str) -> tuple[str, str, str]:
    name, old, new = ([one.strip() for one in written.split(",")] + ["", ""])[:3]
    if not name:
        raise InputError(
            Message(
                "{given} is not a part; write it like «facing, OLD SERIAL, NEW SERIAL»",
                {"given": text(written)},
            )
        )
    return name, old, new


def _require_known(named: tuple[str, ...], catalogue: Catalogue) -> None:
    unknown = [one for one in named if one not in catalogue.faults]
    if unknown:
        raise InputError(
            Message(
                "{given} is not a cause; known are {known}",
                {"given": text(one), "known": listing(tuple(text(known) for known in catalogue.faults))},
            )
            for one in unknown
        )


def what_is_missing(
    kept: KeptVisit, causes: tuple[str, ...], technician: str, second: str, catalogue: Catalogue
) -> tuple[Message, ...]:
    """Say what keeps a visit from being closed.

    Args:
        kept: The visit.
        causes: The causes named.
        technician: Who signs.
        second: The second person, or empty.
        catalogue: Faults with their roles and severity.

    Returns:
        A sentence for each thing; none when it may be closed.
    """
    faults = [catalogue.faults[one] for one in causes if one in catalogue.faults]
    return (
        *_without_cause(kept, faults),
        *_results_without_cause(faults, catalogue),
        *_not_read_again(kept),
        *_without_second(faults, technician, second),
    )


def _bad_before(kept: KeptVisit) -> list[str]:
    return [one.test for one in kept.verdicts if not one.after and one.verdict in BAD]


def _without_cause(kept: KeptVisit, faults: list[Fault]) -> tuple[Message, ...]:
    bad = _bad_before(kept)
    if not bad or faults:
        return ()
    return (
        Message(
            "{tests} called for action, but no cause is named: name it with --cause",
            {"tests": listing(tuple(test_name(test) for test in bad))},
        ),
    )


def _results_without_cause(faults: list[Fault], catalogue: Catalogue) -> tuple[Message, ...]:
    missing = []
    for one in faults:
        led_here = any(one.id in _leads_to(other, catalogue) for other in faults if other != one)
        if one.role != "result" or led_here:
            continue
        able = tuple(text(each.id) for each in catalogue.faults.values() if one.id in each.leads_to)
        values: dict[str, Value] = {"fault": fault(one.id), "able": listing(able)}
        missing.append(
            Message(
                "{fault} is a result: name what led to it with --cause, such as {able}; or close it anyway"
                " when ordinary use did",
                values,
            )
        )
    return tuple(missing)


def _leads_to(start: Fault, catalogue: Catalogue) -> set[str]:
    """Everything a fault leads to in time, over any number of steps."""
    seen: set[str] = set()
    waiting = list(start.leads_to)
    while waiting:
        name = waiting.pop()
        if name not in seen and name in catalogue.faults:
            seen.add(name)
            waiting += catalogue.faults[name].leads_to
    return seen


def _not_read_again(kept: KeptVisit) -> tuple[Message, ...]:
    after = {one.test: one.verdict for one in kept.verdicts if one.after}
    missing = []
    for test in _bad_before(kept):
        if after.get(test) in BAD:
            missing.append(
                Message("{test} still calls for action after the repair", {"test": test_name(test)})
            )
        elif after.get(test) not in READ:
            missing.append(
                Message(
                    "{test} called for action and was not read again after the repair",
                    {"test": test_name(test)},
                )
            )
    return tuple(missing)


def _without_second(faults: list[Fault], technician: str, second: str) -> tuple[Message, ...]:
    grave = [
        one
        for one in faults
        if one.severity >= MOST_SEVERE or one.where in WITH_A_SECOND_PERSON or one.id in BEARINGS
    ]
    if not grave or (second.strip() and second.strip() != technician.strip()):
        return ()
    return (
        Message(
            "{faults}: people or the engine are in danger when this is done wrong, so a second person must"
            " look at it and sign, with --second",
            {"faults": listing(tuple(fault(one.id) for one in grave))},
        ),
    )


def move_visit(db: str | None, number: int, state: str, *, by: str | None = None, why: str = "") -> str:
    """Take a visit one step on in its life.

    Args:
        db: The records.
        number: The visit.
        state: The state it shall come to.
        by: Who says so, or None for the environment's.
        why: The reason, or empty.

    Returns:
        The state.

    Raises:
        InputError: That state cannot follow.
    """
    from fanwright.records.life import move

    store = open_records(db)
    try:
        return move(store, number, state.replace("-", "_"), author(by, why))
    finally:
        store.close()
