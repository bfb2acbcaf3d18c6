"""What an entry of the bay page may be: every mistake of it at once."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from fanwright.catalogue import Catalogue
from fanwright.desk.bay_written import long_form
from fanwright.errors import InputError
from fanwright.evidence.typed import read_entry
from fanwright.words import Message, Value, count, text

if TYPE_CHECKING:
    from fanwright.records.bay_model import BayEntry, BayVisit

COMMON = ("key", "kind", "test", "after", "replaces", "at", "author", "device", "language")
KEYS: Mapping[str, tuple[str, ...]] = {
    "reading": ("value", "instrument", "beside", "span", "inlet", "note"),
    "not_done": ("why",),
    "take_back": ("of",),
    "lock_out": ("confirmed",),
    "set": ("table", "name", "value"),
    "file": ("file", "what", "name"),
    "note": ("value",),
}
SETTABLE: Mapping[str, tuple[str, ...]] = {
    "truck": (
        "odometer", "engine_hours", "preset", "vin", "make", "model_year", "serial", "tire_size", "owner",
        "in_service", "note",
    ),
    "drive": ("grips_by", "valve", "volts", "part", "serial", "fitted", "fitted_odometer", "note"),
    "visit": ("kind", "technician", "place", "ambient", "complaint", "next_due", "second_person", "note"),
    "work": ("cause", "parts", "labour", "note"),
    "proof": ("unplugged_drive_gauge", "unplugged_fan"),
}  # fmt: skip
FILE_KINDS = (
    "photos", "air_trace", "air_trace_after", "recording", "recording_after", "voice", "sound", "sheet"
)  # fmt: skip
LONGEST, LONGEST_NAME, LONGEST_AUTHOR, MOST_ITEMS = 2_000, 120, 60, 50


def is_key(value: object) -> bool:
    """Say whether something is a key: a UUID in its usual writing, in small letters.

    Example:
        >>> is_key("00000000-0000-4000-8000-000000000001"), is_key("../x"), is_key(None)
        (True, False, False)
    """
    try:
        return isinstance(value, str) and str(uuid.UUID(value)) == value
    except ValueError:
        return False


def is_name(value: object) -> bool:
    r"""Say whether something can be a file's own name: printable, no folder in it, not hidden.

    Example:
        >>> is_name("photo-1.jpg"), is_name("../x.jpg"), is_name("a\r\nb"), is_name(".ssh"), is_name("C:x")
        (True, False, False, False, False)
    """
    return (
        isinstance(value, str)
        and 0 < len(value) <= LONGEST_NAME
        and value.isprintable()
        and value == value.strip()
        and not value.startswith(".")
        and not any(one in value for one in '/\\:*?"<>|')
    )


def mistakes_of(entry: BayEntry, bay: BayVisit, catalogue: Catalogue) -> list[Message]:
    """Say what is wrong with an entry by itself.

    Args:
        entry: The entry, with its body as sent.
        bay: The visit it is for.
        catalogue: What can be observed.

    Returns:
        A sentence a mistake; none when it may be taken.
    """
    body = entry.body
    kind = body.get("kind")
    if not isinstance(kind, str) or kind not in KEYS:
        return [_wrong("kind", kind, ", ".join(KEYS))]
    found = [_unknown(key, kind) for key in body if key not in (*COMMON, *KEYS[kind])]
    found += _common(entry, kind, catalogue)
    return found or _CHECKS[kind](entry, bay, catalogue)


def _wrong(where: str, given: object, allowed: str) -> Message:
    shown = "nothing" if given is None else f"«{str(given)[:60]}»"
    return Message(
        "{where}: {given} cannot be used; allowed is {allowed}",
        {"where": text(where), "given": text(shown), "allowed": text(allowed)},
    )


def _unknown(key: str, kind: str) -> Message:
    values: dict[str, Value] = {"key": text(key[:60]), "kind": text(kind)}
    return Message("«{key}» is not known in an entry of the kind {kind}", values)


def _common(entry: BayEntry, kind: str, catalogue: Catalogue) -> list[Message]:
    body, found = entry.body, []
    if not is_key(body.get("key")):
        found.append(_wrong("key", body.get("key"), "a UUID"))
    replaces = body.get("replaces", [])
    if not isinstance(replaces, list) or len(replaces) > MOST_ITEMS or not all(map(is_key, replaces)):
        found.append(_wrong("replaces", replaces, "a list of keys"))
    if not _is_moment(body.get("at")):
        found.append(
            _wrong("at", body.get("at"), "a time with its offset, such as 2026-04-14T07:21:04-06:00")
        )
    if not isinstance(body.get("after", False), bool):
        found.append(_wrong("after", body.get("after"), "true or false"))
    if body.get("language", "en") not in ("en", "es", "fr"):
        found.append(_wrong("language", body.get("language"), "en, es, fr"))
    for name in ("author", "device", "instrument", "why", "note"):
        if not _is_text(body.get(name, "")):
            found.append(_wrong(name, body.get(name), "a text"))
    author = body.get("author", "")
    if isinstance(author, str) and (len(author) > LONGEST_AUTHOR or not author.isprintable()):
        found.append(_wrong("author", author, "a name"))
    if kind in ("reading", "not_done") and body.get("test") not in catalogue.tests:
        found.append(_wrong("test", body.get("test"), "the name of a test"))
    return found


def _is_moment(value: object) -> bool:
    try:
        return isinstance(value, str) and dt.datetime.fromisoformat(value).tzinfo is not None
    except ValueError:
        return False


def _is_text(value: object) -> bool:
    return (
        isinstance(value, str)
        and len(value) <= LONGEST
        and all(one.isprintable() or one in "\n\t" for one in value)
    )


def _reading(entry: BayEntry, bay: BayVisit, catalogue: Catalogue) -> list[Message]:
    value = entry.body.get("value")
    items = value if isinstance(value, list) else [value]
    if not items or len(items) > MOST_ITEMS or not all(_is_text(one) for one in items):
        return [_wrong("value", value, "a text with its unit, an outcome word, or a list of them")]
    try:
        read_entry(entry.test, long_form(entry), catalogue, after=entry.after, language=bay.language)
    except InputError as error:
        return list(error.messages)
    return []


def _not_done(entry: BayEntry, _bay: BayVisit, _catalogue: Catalogue) -> list[Message]:
    if str(entry.body.get("why", "")).strip():
        return []
    return [Message("say why the test cannot be done")]


def _take_back(entry: BayEntry, bay: BayVisit, _catalogue: Catalogue) -> list[Message]:
    of = entry.body.get("of")
    if any(one.key == of and one.kind != "take_back" for one in bay.entries):
        return []
    return [_wrong("of", of, "the key of an entry of this visit")]


def _lock_out(entry: BayEntry, _bay: BayVisit, _catalogue: Catalogue) -> list[Message]:
    given = entry.body.get("confirmed")
    return [] if isinstance(given, bool) else [_wrong("confirmed", given, "true or false")]


def _set(entry: BayEntry, _bay: BayVisit, _catalogue: Catalogue) -> list[Message]:
    table, name, value = (entry.body.get(key) for key in ("table", "name", "value"))
    if not isinstance(table, str) or table not in SETTABLE:
        return [_wrong("table", table, ", ".join(SETTABLE))]
    if name not in SETTABLE[table]:
        return [_wrong("name", name, ", ".join(SETTABLE[table]))]
    items = value if isinstance(value, list) and name == "parts" else [value]
    if len(items) > MOST_ITEMS or not all(_is_text(one) for one in items):
        return [_wrong("value", value, "a text")]
    return []


def _file(entry: BayEntry, _bay: BayVisit, _catalogue: Catalogue) -> list[Message]:
    body, found = entry.body, []
    if not is_key(body.get("file")):
        found.append(_wrong("file", body.get("file"), "the key of an upload"))
    if body.get("what") not in FILE_KINDS:
        found.append(_wrong("what", body.get("what"), ", ".join(FILE_KINDS)))
    if not is_name(body.get("name")):
        found.append(name_mistake(body.get("name")))
    return found


def name_mistake(given: object) -> Message:
    """Say that a file's name will not do."""
    values: dict[str, Value] = {"given": text(f"«{str(given)[:60]}»"), "most": count(LONGEST_NAME)}
    return Message(
        "{given} cannot be the name of a file: up to {most} characters, without folders, colons or control"
        " characters",
        values,
    )


def _note(entry: BayEntry, _bay: BayVisit, _catalogue: Catalogue) -> list[Message]:
    value = entry.body.get("value")
    return [] if _is_text(value) and str(value).strip() else [_wrong("value", value, "a text")]


_CHECKS: Mapping[str, Callable[[BayEntry, BayVisit, Catalogue], list[Message]]] = {
    "reading": _reading,
    "not_done": _not_done,
    "take_back": _take_back,
    "lock_out": _lock_out,
    "set": _set,
    "file": _file,
    "note": _note,
}
