"""The end of a bay visit: kept among the records, then signed."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fanwright.desk.bay import assessed
from fanwright.desk.bay_written import written
from fanwright.desk.close_visit import close_in
from fanwright.desk.records import author
from fanwright.desk.shop import Shop
from fanwright.errors import InputError
from fanwright.words import Message, text

if TYPE_CHECKING:
    from fanwright.records.bay_model import BayVisit
    from fanwright.records.store import Store

CORRECTED = "gone on with on the bay page"


@dataclass(frozen=True)
class Ended:
    """A bay visit that was kept or signed.

    Args:
        visit: The number under which it is kept.
        number: The bay visit.
        version: Its version now.
        signed_by: Names by role; empty where it was only kept.
    """

    visit: int
    number: int
    version: int
    signed_by: Mapping[str, str]


def keep(store: Store, number: int, by: str, shop: Shop, why: str = "") -> Ended:
    """Keep a bay visit among the records; one that was not changed since is not kept twice.

    Args:
        store: The records.
        number: The bay visit.
        by: Who keeps it.
        shop: The shop's own data.
        why: Why it takes the place of a visit kept earlier; a plain reason is given when empty.

    Returns:
        The number under which it is kept.

    Raises:
        NotThere: There is no such visit.
        InputError: It cannot be kept; nothing was.
    """
    from fanwright.records import bay as rows
    from fanwright.records.keeping import ToKeep
    from fanwright.records.keeping import keep as keep_rows

    bay = rows.load(store, number)
    if bay.kept_visit is not None and (bay.signed or not bay.changed_since):
        return Ended(bay.kept_visit, number, bay.version, {})
    made = assessed(store, bay, shop)
    continues = bay.base_visit is not None or bay.kept_visit is not None
    reason = (why.strip() or CORRECTED) if continues else why.strip()
    told = json.dumps(written(bay), ensure_ascii=False, indent=1, allow_nan=False) + "\n"
    ready = ToKeep(
        made,
        told,
        "json",
        bay.language,
        (*files_of(store, bay), *_shop_file(shop)),
        frozenset(shop.catalogue.instruments),
    )
    kept = keep_rows(store, ready, author(by, reason))
    items = len(bay.entries) + len(bay.files)
    ended = rows.end(store, number, rows.KEPT, kept.visit, author(by), items)
    return Ended(kept.visit, number, ended.version, {})


def files_of(store: Store, bay: BayVisit) -> tuple[tuple[str, str, Path], ...]:
    """Give the files that belong to a bay visit: what each is, its name, where it stands.

    Args:
        store: The records.
        bay: The visit.

    Returns:
        Those of the kept visit it continues, then those that came in.
    """
    from fanwright.records.searching import show_visit

    told = written(bay).get("files", {})
    named = {(what, name) for what, names in told.items() for name in _listed(names)}
    base = () if bay.base_visit is None else show_visit(store, bay.base_visit).files
    held = [(one.what, one.name, one.sha256) for one in base if one.what != "shop"]
    held += [(one.what, one.name, one.sha256) for one in bay.files if one.sha256]
    return tuple(
        (what, name, store.folder.path(sha256)) for what, name, sha256 in held if (what, name) in named
    )


def names_of(store: Store, bay: BayVisit) -> frozenset[str]:
    """Give the names of all files of a bay visit, in small letters."""
    from fanwright.records.searching import show_visit

    base = () if bay.base_visit is None else show_visit(store, bay.base_visit).files
    told = bay.base.get("files", {})
    names = [str(name) for listed in told.values() for name in _listed(listed)]
    return frozenset(one.lower() for one in (*names, *(f.name for f in base), *(f.name for f in bay.files)))


def _listed(names: object) -> list[Any]:
    return names if isinstance(names, list) else [names]


def _shop_file(shop: Shop) -> tuple[tuple[str, str, Path], ...]:
    return () if shop.path is None else (("shop", shop.path.name, shop.path),)


def sign(
    store: Store,
    number: int,
    by: str,
    shop: Shop,
    *,
    proved: bool,
    second: str = "",
    driver_told: str = "",
    named_causes: tuple[str, ...] = (),
    fitted: tuple[str, ...] = (),
    anyway: str = "",
) -> Ended:
    """Keep a bay visit and sign it, which closes it.

    Args:
        store: The records.
        number: The bay visit.
        by: Who signs.
        shop: The shop's own data.
        proved: Whether they proved by password who they are; in the demo nobody has one.
        second: A second person who looked at it, or empty.
        driver_told: Who told the driver, or empty.
        named_causes: Causes beside the one that was entered.
        fitted: Parts as ``name, old serial, new serial``.
        anyway: Why it is closed although something is missing, or empty.

    Returns:
        The number under which it is kept, and who signed.

    Raises:
        NotThere: There is no such visit.
        InputError: The password is wrong, or everything that is missing; it stays open.
    """
    from fanwright.records import bay as rows
    from fanwright.records.searching import show_visit

    _require_people(store, by, proved, second)
    ended = keep(store, number, by, shop)
    kept = show_visit(store, ended.visit)
    signed_by = kept.signed_by
    if kept.row.state != "signed":
        signed_by = close_in(
            store,
            ended.visit,
            by=by,
            second=second,
            driver_told=driver_told,
            named_causes=named_causes,
            fitted=fitted,
            anyway=anyway,
        ).signed_by
    done = rows.load(store, number)
    if done.signed:
        return Ended(ended.visit, number, done.version, dict(signed_by))
    version = rows.end(store, number, rows.SIGNED, ended.visit, author(by)).version
    return Ended(ended.visit, number, version, dict(signed_by))


def _require_people(store: Store, by: str, proved: bool, second: str) -> None:
    """The second person must be somebody known here, where anybody is."""
    from fanwright.desk.people import list_people

    if not proved:
        raise InputError(
            Message("the password is wrong: a signature needs the password of {name}", {"name": text(by)})
        )
    known = {one.name for one in list_people(store) if not one.disabled}
    other = second.strip()
    if other and known and other not in known:
        raise InputError(
            Message(
                "{name} is nobody known here: the second person must be somebody who may sign in",
                {"name": text(f"«{other[:60]}»")},
            )
        )
