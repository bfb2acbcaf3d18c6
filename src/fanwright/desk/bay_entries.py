"""Entries and files of a bay visit as rows for the page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fanwright.desk.bay_written import alive
from fanwright.evidence.from_json import message_from_data
from fanwright.report.say import Reader, say, say_all
from fanwright.words import Message, Value, listing, outcome, text

if TYPE_CHECKING:
    from fanwright.records.bay_model import BayEntry, BayFile


def entry_rows(entries: Sequence[BayEntry], reader: Reader) -> list[dict[str, Any]]:
    """Give every entry ever made as a row, oldest first.

    Args:
        entries: All entries of a visit.
        reader: Who reads.

    Returns:
        Rows with ``alive`` false where an entry was replaced or taken back.
    """
    living = {entry.key for entry in alive(entries)}
    return [
        {
            "key": entry.key,
            "kind": entry.kind,
            "test": entry.test,
            "after": entry.after,
            "shown": say(_shown(entry), reader),
            "author": entry.author,
            "proved": entry.proved,
            "sent_by": entry.sent_by,
            "at": entry.at,
            "alive": entry.key in living,
        }
        for entry in entries
    ]


def _shown(entry: BayEntry) -> Message:
    body = entry.body
    value = body.get("value", "")
    match entry.kind:
        case "reading":
            items = value if isinstance(value, list) else [value]
            shown = Message("{all}", {"all": listing(tuple(outcome(entry.test, str(one)) for one in items))})
        case "not_done":
            shown = Message("not done: {why}", {"why": text(body.get("why", ""))})
        case "take_back":
            shown = Message("taken back")
        case "lock_out":
            confirmed = body.get("confirmed") is True
            shown = Message("engine off, tag on" if confirmed else "not locked out any more")
        case "set":
            values: dict[str, Value] = {"name": text(body.get("name", "")), "value": text(value)}
            shown = Message("{name}: {value}", values)
        case "file":
            shown = Message("{name}", {"name": text(body.get("name", ""))})
        case _:
            shown = Message("{said}", {"said": text(value)})
    return shown


def file_rows(entries: Sequence[BayEntry], files: Sequence[BayFile], reader: Reader) -> list[dict[str, Any]]:
    """Give the files of a bay visit as rows.

    Args:
        entries: All entries of the visit.
        files: The files that were checked.
        reader: Who reads.

    Returns:
        Rows with ``state`` ``done`` or ``refused``, and ``working`` for one that was not checked yet.
    """
    checked = {file.key for file in files}
    rows = [
        {
            "key": file.key,
            "what": file.what,
            "name": file.name,
            "size": file.size,
            "state": "refused" if file.refused else "done",
            "messages": say_all(map(message_from_data, file.refused), reader),
        }
        for file in files
    ]
    named = [one.body for one in alive(entries) if one.kind == "file" and one.body.get("file") not in checked]
    return rows + [
        {
            "key": str(body["file"]),
            "what": str(body["what"]),
            "name": str(body["name"]),
            "size": 0,
            "state": "working",
            "messages": [],
        }
        for body in named
    ]
