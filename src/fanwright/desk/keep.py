"""Assess a visit with the truck's kept past, and keep it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from fanwright.catalogue import Catalogue
from fanwright.desk.assess import Assessed, assess_visit
from fanwright.desk.files import read_bytes
from fanwright.desk.records import author, named_records, open_records
from fanwright.errors import InputError
from fanwright.visit import Past, Visit
from fanwright.words import Message, text

if TYPE_CHECKING:
    from fanwright.records.keeping import Kept
    from fanwright.records.store import Store


@dataclass(frozen=True)
class KeptVisit:
    """A visit that was assessed and kept.

    Args:
        assessed: The assessment and the shop.
        kept: What the records say of it.
    """

    assessed: Assessed
    kept: Kept


def assess_with_past(
    path: Path, db: str | None, shop_file: Path | None = None, *, language: str = "en"
) -> Assessed:
    """Assess a visit file, with what the records know of the truck's past where any are named.

    Args:
        path: The visit file.
        db: The records, or None for those the environment names, if any.
        shop_file: The shop's own data, or None.
        language: Language of the numbers in the file.

    Returns:
        The assessment and the shop.

    Raises:
        InputError: Every mistake of the file, or the records cannot be read.
    """
    if named_records(db) is None:
        return assess_visit(path, shop_file, language=language)
    store = open_records(db)
    try:
        return assess_visit(
            path, shop_file, language=language, past_of=past_from(store), learned=taught_by(store)
        )
    finally:
        store.close()


def past_from(store: Store) -> Callable[[Visit], tuple[Past, ...]]:
    """Give what adds the kept days before a visit to those its file tells of."""
    from fanwright.records.past import history

    def joined(visit: Visit) -> tuple[Past, ...]:
        told = {past.date for past in visit.history}
        kept = (past for past in history(store, visit.unit, before=visit.date) if past.date not in told)
        return tuple(sorted((*visit.history, *kept), key=lambda past: past.date))

    return joined


def taught_by(store: Store) -> Callable[[Catalogue], Catalogue]:
    """Give what lays the causes confirmed in closed visits over the judged weights of the faults."""
    from fanwright.records.lessons import confirmed_counts, learned_shares, lessons

    counted = confirmed_counts(lessons(store))

    def learned(catalogue: Catalogue) -> Catalogue:
        if not any(counted.values()):
            return catalogue
        planned = {fault.id: fault.weight_planned for fault in catalogue.faults.values()}
        complaint = {fault.id: fault.weight_complaint for fault in catalogue.faults.values()}
        new_planned = learned_shares(planned, counted["planned"])
        new_complaint = learned_shares(complaint, counted["complaint"])
        faults = {
            fault.id: replace(
                fault,
                weight_planned=new_planned[fault.id] * sum(planned.values()),
                weight_complaint=new_complaint[fault.id] * sum(complaint.values()),
            )
            for fault in catalogue.faults.values()
        }
        return replace(catalogue, faults=faults)

    return learned


def keep_visit(
    path: Path,
    db: str | None,
    shop_file: Path | None = None,
    *,
    language: str = "en",
    by: str | None = None,
    why: str | None = None,
) -> KeptVisit:
    """Assess a visit file and keep it with its files.

    Args:
        path: The visit file.
        db: The records; started where there are none.
        shop_file: The shop's own data, or None.
        language: Language of the numbers in the file.
        by: Who keeps it; the technician of the visit when nobody is named.
        why: Why it corrects a visit kept earlier, or None.

    Returns:
        The assessment, and what was kept. Keeping the very same visit again changes nothing.

    Raises:
        InputError: Every mistake of the file; nothing was kept.
        FileError: The records cannot be used; nothing was kept.
    """
    looked_at = assess_visit(path, shop_file, language=language)  # mistakes show before records are started
    store = open_records(db, create=True)
    try:
        return keep_in(store, path, shop_file, language=language, by=by, why=why, looked_at=looked_at)
    finally:
        store.close()


def keep_in(
    store: Store,
    path: Path,
    shop_file: Path | None = None,
    *,
    language: str = "en",
    by: str | None = None,
    why: str | None = None,
    looked_at: Assessed | None = None,
) -> KeptVisit:
    """Keep a visit in records that are open; see :func:`keep_visit`."""
    from fanwright.records.keeping import ToKeep, keep

    past_of = past_from(store)
    assessed = looked_at
    if assessed is None or past_of(assessed.assessment.visit) != assessed.assessment.visit.history:
        assessed = assess_visit(path, shop_file, language=language, past_of=past_of)
    visit = assessed.assessment.visit
    written = _as_text(path)
    as_json = path.suffix.lower() == ".json" or written.lstrip().startswith("{")
    ready = ToKeep(
        assessed.assessment,
        written,
        "json" if as_json else "toml",
        language,
        _files(visit, path.parent) + _shop(assessed),
        frozenset(assessed.shop.catalogue.instruments),
    )
    who = author(by, why, visit.circumstances.get("technician", ""))
    return KeptVisit(assessed, keep(store, ready, who))


def _as_text(path: Path) -> str:
    return read_bytes(path).decode("utf-8")


def _shop(assessed: Assessed) -> tuple[tuple[str, str, Path], ...]:
    """The shop's own limits in force that day are kept with the visit."""
    return () if assessed.shop.path is None else (("shop", assessed.shop.path.name, assessed.shop.path),)


def lies_outside(name: str) -> bool:
    """Say whether a file's name leads out of the folder of its visit.

    Example:
        >>> lies_outside("photos/tag.jpg"), lies_outside("../tag.jpg")
        (False, True)
    """
    plain = PurePosixPath(name)
    return plain.is_absolute() or ".." in plain.parts or "\\" in name or ":" in name


def _files(visit: Visit, folder: Path) -> tuple[tuple[str, str, Path], ...]:
    mistakes, found = [], []
    for what, names in visit.files.items():
        for name in names:
            values = {"what": text(what), "name": text(f"«{name}»")}
            if lies_outside(name):
                mistakes.append(
                    Message(
                        "files.{what}: {name} lies outside the folder of the visit, so it cannot be kept with"
                        " it; put it beside the visit file",
                        values,
                    )
                )
            elif not (folder / name).is_file():
                mistakes.append(Message("files.{what}: {name} is not there, so it cannot be kept", values))
            else:
                found.append((what, name, folder / name))
    if mistakes:
        raise InputError(mistakes)
    return tuple(found)
