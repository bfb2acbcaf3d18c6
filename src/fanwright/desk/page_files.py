"""A visit with its files, laid out in a folder as it was written, for papers and pages that need them."""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fanwright.desk.keep import lies_outside
from fanwright.errors import FileError, InputError
from fanwright.words import Message, count, text

if TYPE_CHECKING:
    from fanwright.records.store import Store

TRACES = ("air_trace", "air_trace_after")
RECORDINGS = ("recording", "recording_after")


@dataclass(frozen=True)
class Source:
    """A visit as it was written, with its files.

    Args:
        unit: The truck.
        date: The day.
        written: The visit file.
        form: ``toml`` or ``json``.
        language: Language of the numbers in it.
        files: What each is, its name, and where its bytes stand.
    """

    unit: str
    date: str
    written: str
    form: str
    language: str
    files: tuple[tuple[str, str, Path], ...]

    def of(self, kinds: tuple[str, ...]) -> tuple[tuple[str, str, Path], ...]:
        """Give the files of some kinds, in their order."""
        return tuple(one for one in self.files if one[0] in kinds)


def bay_source(store: Store, number: int) -> Source:
    """Give a bay visit as it stands.

    Args:
        store: The records.
        number: The bay visit.

    Returns:
        The visit.

    Raises:
        InputError: There is no such visit.
    """
    from fanwright.desk.bay_closing import files_of
    from fanwright.desk.bay_written import written
    from fanwright.records.bay import load

    bay = load(store, number)
    raw = written(bay)
    told = json.dumps(raw, ensure_ascii=False, indent=1, allow_nan=False) + "\n"
    date = str(raw.get("visit", {}).get("date", ""))
    return Source(str(raw["truck"]["unit"]), date, told, "json", bay.language, files_of(store, bay))


def kept_source(store: Store, number: int) -> Source:
    """Give a kept visit as it was written.

    Args:
        store: The records.
        number: The visit.

    Returns:
        The visit.

    Raises:
        InputError: There is no such visit, or it is a line of history without a visit file.
    """
    from fanwright.records.bay_sources import written_visit
    from fanwright.records.searching import show_visit

    kept = show_visit(store, number)
    told = written_visit(store, number)
    if told is None or told.form not in ("toml", "json"):
        raise InputError(
            Message(
                "visit {visit} is a line of history: no visit file was kept with it", {"visit": count(number)}
            )
        )
    files = tuple((one.what, one.name, store.folder.path(one.sha256)) for one in kept.files)
    return Source(kept.row.unit, kept.row.date, told.written, told.form, told.language, files)


def lay_out(source: Source, folder: Path) -> Path:
    """Write the visit file and its files into an empty folder.

    Args:
        source: The visit.
        folder: The folder.

    Returns:
        The visit file.

    Raises:
        FileError: A file of it is not there any more.
    """
    visit_file = folder / f"visit.{source.form}"
    visit_file.write_text(source.written, "utf-8")
    for _, name, path in source.files:
        if lies_outside(name) or name == visit_file.name:
            continue
        if not path.is_file():
            raise FileError(Message("{name} is missing from the files of the records", {"name": text(name)}))
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, target)
    return visit_file
