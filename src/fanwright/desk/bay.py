"""The visit on a tablet: start it, enter into it, see what it says now."""

from __future__ import annotations

import datetime as dt
import json
import threading
import tomllib
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from fanwright.catalogue import Catalogue
from fanwright.desk.bay_data import visit_data
from fanwright.desk.bay_rules import is_key, mistakes_of
from fanwright.desk.bay_written import written
from fanwright.desk.keep import past_from, taught_by
from fanwright.desk.records import author
from fanwright.desk.sessions import vouches
from fanwright.desk.shop import Shop
from fanwright.errors import InputError
from fanwright.evidence.from_json import evidence_from_data
from fanwright.evidence.reading import Evidence
from fanwright.report.say import Reader
from fanwright.visit import Assessment, Visit, assess, visit_from
from fanwright.words import Message, count, text

if TYPE_CHECKING:
    from fanwright.records.bay_model import Added, BayEntry, BayVisit
    from fanwright.records.store import Store

KINDS = ("planned", "complaint", "retest")
LONGEST_UNIT = 40
MOST_HELD = 128
LARGEST_BODY = 32_000
PICTURES = {
    "": ("svg", "svg_small", "svg_after", "svg_after_small"),
    "wide": ("svg",),
    "small": ("svg_small",),
    "wide-after": ("svg", "svg_after"),
    "small-after": ("svg_small", "svg_after_small"),
}
"""Which drawings each screen is sent."""


def start(store: Store, asked: Mapping[str, Any], by: str, shop: Shop) -> Added:
    """Start a bay visit, or give the one that stands under this key or continues the same kept visit.

    Args:
        store: The records.
        asked: ``key`` and ``unit`` with ``kind`` and, where known, ``preset``, ``grips_by``, ``valve`` and
            ``volts``; or ``key`` with ``from_visit``, the number of a kept visit to go on with.
        by: Who starts it.
        shop: The shop's own data.

    Returns:
        Its number, and whether it is new.

    Raises:
        InputError: Every mistake in what was asked.
    """
    from fanwright.records import bay as rows

    key = asked.get("key")
    if not is_key(key):
        raise InputError(Message("key: a UUID is needed"))
    from_visit = asked.get("from_visit")
    if from_visit is not None:
        return _go_on(store, str(key), from_visit, by, shop)
    base = _new_base(store, asked, by, shop)
    visit_from(base, shop.catalogue, shop.presets)
    return rows.start(store, str(key), str(base["truck"]["unit"]), base, author(by))


def _new_base(store: Store, asked: Mapping[str, Any], by: str, shop: Shop) -> dict[str, Any]:
    from fanwright.records.bay_sources import machine_of
    from fanwright.records.times import zone_of

    unit = " ".join(str(asked.get("unit") or "").split())
    mistakes = []
    if not unit or len(unit) > LONGEST_UNIT or not unit.isprintable():
        mistakes.append(
            Message(
                "unit: the truck's own number is needed, {most} letters at most",
                {"most": count(LONGEST_UNIT)},
            )
        )
    if asked.get("kind") not in KINDS:
        mistakes.append(
            Message(
                "kind: {given} is not a kind of visit; write one of {allowed}",
                {"given": text(f"«{str(asked.get('kind'))[:40]}»"), "allowed": text(", ".join(KINDS))},
            )
        )
    given = {name: asked[name] for name in ("preset", "grips_by", "valve", "volts") if asked.get(name)}
    if any(not isinstance(value, str | int | float) for value in given.values()):
        mistakes.append(Message("preset, grips_by, valve and volts are texts or numbers"))
    if mistakes:
        raise InputError(mistakes)
    machine = given if given else machine_of(store, unit)
    zone = author(by).zone
    now = dt.datetime.now(zone_of(zone))
    truck = {"unit": unit} | (
        {"preset": machine["preset"]} if machine.get("preset") in _presets(shop) else {}
    )
    return {
        "truck": truck,
        "drive": {name: value for name, value in machine.items() if name != "preset"},
        "visit": {
            "date": now.date().isoformat(),
            "time": now.time().isoformat("seconds"),
            "zone": zone,
            "kind": asked["kind"],
            "technician": by,
        },
    }


def _presets(shop: Shop) -> Mapping[str, Any]:
    from fanwright.truck.loader import presets

    return presets(shop.presets)


def _go_on(store: Store, key: str, from_visit: object, by: str, shop: Shop) -> Added:
    from fanwright.records import bay as rows
    from fanwright.records.bay_model import Added
    from fanwright.records.bay_sources import going_on, written_visit
    from fanwright.records.life import require_open
    from fanwright.records.searching import show_visit

    if not isinstance(from_visit, int) or isinstance(from_visit, bool):
        raise InputError(Message("from_visit: the number of a kept visit is needed"))
    there = going_on(store, from_visit)
    if there is not None:
        return Added(there, rows.version(store, there), False)
    kept = show_visit(store, from_visit)
    require_open(kept, "signed")
    source = written_visit(store, from_visit)
    assert source is not None
    base = parsed(source.form, source.written)
    visit_from(base, shop.catalogue, shop.presets, source.language)
    return rows.start(
        store, key, kept.row.unit, base, author(by), language=source.language, base_visit=from_visit
    )


def parsed(form: str, written_text: str) -> dict[str, Any]:
    """Read a visit file that is kept as text; days and times become texts, as JSON has them."""
    raw = json.loads(written_text) if form == "json" else tomllib.loads(written_text)
    found: dict[str, Any] = json.loads(json.dumps(raw, default=lambda one: one.isoformat()))
    return found


def enter(store: Store, number: int, sent: Mapping[str, Any], by: str, shop: Shop) -> Added:
    """Take one entry; the same one again changes nothing and is answered alike.

    Args:
        store: The records.
        number: The bay visit.
        sent: The entry as the tablet sent it.
        by: Who is signed in.
        shop: The shop's own data.

    Returns:
        The version it led to.

    Raises:
        OtherBody: Its key was used for something else.
        Closed: The visit is signed.
        NotThere: There is no such visit.
        InputError: Every mistake of the entry; it was not taken.
    """
    from fanwright.records import bay as rows
    from fanwright.records.bay_model import BayEntry

    body = {name: value for name, value in sent.items() if name != "author_token"}
    _require_small(body)
    name = str(body.get("author") or by)
    key = str(body.get("key"))
    there = rows.kept_under(store, key)
    entry = BayEntry(key, body, name, False, by)
    if there is None:
        visit = rows.load(store, number)
        if not visit.signed:
            _require_sound(entry, visit, shop)
        token, device, at = (str(sent.get(one) or "") for one in ("author_token", "device", "at"))
        entry = replace(entry, proved=bool(token) and vouches(store, token, name, device, at))
    return rows.add_entry(store, number, entry, author(by))


def _require_small(body: Mapping[str, Any]) -> None:
    try:
        size = len(json.dumps(body, allow_nan=False))
    except (ValueError, RecursionError) as error:
        raise InputError(Message("the entry holds a number that is none")) from error
    if size > LARGEST_BODY:
        raise InputError(Message("the entry is too large: {size} characters", {"size": count(size)}))


def _require_sound(entry: BayEntry, visit: BayVisit, shop: Shop) -> None:
    """Refuse an entry that is wrong by itself, or that would make the whole visit unreadable."""
    mistakes = mistakes_of(entry, visit, shop.catalogue)
    if not mistakes:
        before = set(_unreadable(visit, shop))
        after = _unreadable(replace(visit, entries=(*visit.entries, entry)), shop)
        mistakes = [one for one in after if one not in before]
    if mistakes:
        raise InputError(mistakes)


def _unreadable(visit: BayVisit, shop: Shop) -> tuple[Message, ...]:
    try:
        visit_from(written(visit), shop.catalogue, shop.presets, visit.language)
    except InputError as error:
        return error.messages
    return ()


def evidence_of(store: Store, bay: BayVisit) -> tuple[Evidence, ...]:
    """Give what was read out of the files of a bay visit, and of the kept visit it continues.

    Args:
        store: The records.
        bay: The visit.

    Returns:
        Readings and notes, without the series behind them.
    """
    from fanwright.records.bay_sources import read_out_of

    named = {str(one.body.get("file")) for one in bay.entries if one.kind == "file"}
    found = [evidence_from_data(one.found) for one in bay.files if one.found and one.key in named]
    told = () if bay.base_visit is None else read_out_of(store, bay.base_visit)
    return (*((Evidence(told),) if told else ()), *found)


def assessed(store: Store, bay: BayVisit, shop: Shop, *, verdicts_only: bool = False) -> Assessment:
    """Assess a bay visit as it stands, with the truck's kept past and what closed visits taught.

    Args:
        store: The records.
        bay: The visit.
        shop: The shop's own data.
        verdicts_only: Leave out causes and life, which take most of the time.

    Returns:
        The assessment.

    Raises:
        InputError: The visit cannot be read.
    """
    visit: Visit = visit_from(written(bay), shop.catalogue, shop.presets, bay.language)
    visit = replace(visit, history=past_from(store)(visit))
    return assess(
        visit,
        shop.catalogue if verdicts_only else learned(store, shop),
        shop.limits,
        evidence_of(store, bay),
        shop_file="" if shop.path is None else str(shop.path),
        shop_sha256=shop.sha256,
        verdicts_only=verdicts_only,
    )


_GUARD, _MAKING = threading.Lock(), threading.Lock()
_LEARNED: dict[tuple[str, str], tuple[tuple[int, int, int], Catalogue]] = {}
_HELD: OrderedDict[tuple[object, ...], Held] = OrderedDict()


@dataclass(frozen=True)
class Held:
    """A bay visit as it is sent to the page.

    Args:
        version: Its version.
        mark: What changes with everything shown: for the ETag.
        body: The JSON.
    """

    version: int
    mark: str
    body: bytes


def learned(store: Store, shop: Shop) -> Catalogue:
    """Give the catalogue with what closed visits taught; counted anew only when another visit was closed.

    Args:
        store: The records.
        shop: The shop's own data.

    Returns:
        The catalogue.
    """
    from fanwright.records.bay_sources import lessons_mark

    mark, key = lessons_mark(store), (store.place.url, shop.sha256)
    with _GUARD:
        held = _LEARNED.get(key)
    if held is not None and held[0] == mark:
        return held[1]
    catalogue = taught_by(store)(shop.catalogue)
    with _GUARD:
        _LEARNED[key] = (mark, catalogue)
    return catalogue


def page_data(store: Store, number: int, shop: Shop, reader: Reader, look: str, screen: str = "") -> Held:
    """Give a bay visit as the page needs it; what was made for one version and look is held.

    Args:
        store: The records.
        number: The bay visit.
        shop: The shop's own data.
        reader: Who reads.
        look: The reader's language and units as a text.
        screen: A key of ``PICTURES``: which drawings are sent; empty for all of them.

    Returns:
        The JSON with its version.

    Raises:
        NotThere: There is no such visit.
    """
    from fanwright.records import bay as rows

    key = (store.place.url, number, rows.version(store, number), shop.sha256, look)
    held = _held(key)
    if held is not None:
        return held
    with _MAKING:  # several at once would only share one processor; the second to ask finds it made
        held = _held(key)
        if held is not None:
            return held
        bay = rows.load(store, number)
        data = visit_data(bay, assessed(store, bay, shop), reader)
        body = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()
        made = Held(bay.version, f"{number}-{bay.version}", body)
        _hold((*key[:2], bay.version, *key[3:]), made)
    return made


def _held(key: tuple[object, ...]) -> Held | None:
    with _GUARD:
        held = _HELD.get(key)
        if held is not None:
            _HELD.move_to_end(key)
        return held


def _hold(key: tuple[object, ...], made: Held) -> None:
    with _GUARD:
        _HELD[key] = made
        while len(_HELD) > MOST_HELD:
            _HELD.popitem(last=False)
