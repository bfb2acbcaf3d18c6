"""One recording of a fleet read: the task that is handed to other processes and other computers by its name.

A task is a small text of addresses and settings, its answer a small text of counts; the recording is read and
its tables are written where the task runs. Tables are named by the hash of the recording, so a task that runs
twice writes the same files twice.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fanwright.desk.fleet_duty_addresses import is_address, opened_system, shown
from fanwright.desk.fleet_duty_units import masked
from fanwright.errors import FanwrightError, FileError
from fanwright.fleet.manifest import place_of
from fanwright.words import Message, count, text

if TYPE_CHECKING:
    import polars

    from fanwright.fleet.model import FileDuty

    Tables = dict[tuple[str, str], polars.DataFrame]

UNITS_FILE = "units.json"


@dataclass(frozen=True)
class Job:
    """What a task is told.

    Args:
        address: The recording.
        into: Folder of the result, the same on every computer.
        key: Version of the program; empty where task and caller are the same installation.
        only_hash: Whether only its hash is wanted.
        unit: Its truck; empty where the recording must tell it.
        salt: Salt of the masks of vehicle numbers.
        figures: The drive's figures, or nothing.
        dbc: The shop's own layout of signals; empty for none.
        names: What the shop's tables of telemetry call things, as in its file.
    """

    address: str
    into: str
    key: str = ""
    only_hash: bool = False
    unit: str = ""
    salt: str = ""
    figures: tuple[float, ...] = ()
    dbc: str = ""
    names: Mapping[str, Any] = field(default_factory=dict)

    def text(self) -> str:
        """Give it as the text that travels."""
        return json.dumps({name: value for name, value in vars(self).items() if value})


def perform(told: str) -> str:
    """Read one recording and write its tables.

    Args:
        told: A :class:`Job` as text.

    Returns:
        What the list of recordings needs to know, as JSON: ``sha256`` and either ``failed``, a line for
        people, or the recording's unit, parts and sums. ``stopped`` where nothing more can be written at all.
    """
    given = json.loads(told)
    job = Job(**{**given, "figures": tuple(given.get("figures", ()))})
    if job.key:
        from fanwright.desk.fleet_duty_version import versions

        if versions()["fanwright"] != job.key:
            return json.dumps({"stopped": f"a worker has another version: {versions()['fanwright']}"})
    try:
        found, trucks = _read(job)
    except FanwrightError as error:
        return json.dumps({"sha256": _hash_or_nothing(job.address), "failed": _line(error)})
    except Exception as error:  # one recording must not stop a fleet; our own fault is told as such
        fault = f"a fault of this program ({type(error).__name__}: {error})"
        return json.dumps({"sha256": _hash_or_nothing(job.address), "failed": _first_line(fault)})
    try:
        found["parts"] = _write(trucks, Path(job.into), found["sha256"])
    except (FanwrightError, OSError) as error:
        reason = _line(error) if isinstance(error, FanwrightError) else str(error)
        return json.dumps({"stopped": _first_line(reason)})
    return json.dumps(found)


def _line(error: FanwrightError) -> str:
    from fanwright.report.say import say_all

    return _first_line("; ".join(say_all(error.messages)))


def _first_line(words: str) -> str:
    return " ".join(shown(words).split())


def _hash_or_nothing(address: str) -> str:
    """Hash a recording that cannot be read; nothing where not even that can be done."""
    try:
        with local_file(address) as path:
            return sha256_of(path)
    except (FanwrightError, OSError):
        return ""


def sha256_of(path: Path) -> str:
    """Hash a file."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _read(job: Job) -> tuple[dict[str, Any], list[tuple[str, Tables]]]:
    with local_file(job.address) as path:
        try:
            sha256 = sha256_of(path)
        except OSError as error:
            raise FileError(_unreadable(job.address, error)) from error
        if job.only_hash:
            return {"sha256": sha256}, []
        trucks = [(unit, *_duty(path, job, several)) for unit, several in _trucks(path, job)]
    from fanwright.fleet.joining import joined
    from fanwright.fleet.tables import sums_of, tables_of

    energies = bool(job.figures)
    found = {
        "sha256": sha256,
        "format": trucks[0][2],
        "clock": trucks[0][1].clock,
        "tells": any(len(duty.known) for _, duty, _ in trucks),
        "sums": {unit: dict(sums_of(joined([duty]), energies)) for unit, duty, _ in trucks},
    }
    return found, [(unit, dict(tables_of(duty, energies))) for unit, duty, _ in trucks]


def _trucks(path: Path, job: Job) -> list[tuple[str, str]]:
    """Give the trucks of a recording, each with its name inside it where it holds several.

    Raises:
        FileError: No truck is known, or the name of the file gives one and the file holds several.
    """
    from fanwright.fleet.reading import is_rows, names_in

    if job.unit and not is_rows(path, job.names):
        return [(job.unit, "")]
    units, numbers = names_in(path, job.names)
    if len(units) > 1 and job.unit:
        raise FileError(
            Message(
                "its name says truck {unit}, but it holds {many} trucks",
                {"unit": text(job.unit), "many": count(len(units))},
            )
        )
    if len(units) > 1:
        return [(unit, unit) for unit in units]
    if job.unit or units:
        return [(job.unit or units[0], "")]
    if len(numbers) != 1:
        raise FileError(
            Message(
                "its truck is not known: the recording gives {many} vehicle numbers; say with a pattern or a "
                "list which truck it is of",
                {"many": text(len(numbers) or "no")},
            )
        )
    mask = masked(numbers[0], job.salt)
    return [(_listed_units(job.into).get(mask, mask), "")]


def _duty(path: Path, job: Job, unit: str) -> tuple[FileDuty, str]:
    """Give what a recording says of one truck, and its format; columns at a time where that is enough."""
    from fanwright.evidence.recording import DriveFigures, read_recording
    from fanwright.evidence.recording.signals import STANDARD
    from fanwright.evidence.recording.telemetry.roles import naming_from
    from fanwright.fleet.reading import duty_of, duty_of_rows, is_rows, rows_in

    if not job.figures and is_rows(path, job.names):
        return duty_of_rows(rows_in(path, job.names, unit)), "telemetry"
    result = read_recording(
        [path],
        figures=DriveFigures(*job.figures) if job.figures else None,
        layout=_own_layout(job.dbc) if job.dbc else STANDARD,
        naming=naming_from(job.names, unit),
        fingerprint=False,
    )
    return duty_of(result), result.files[0].format


@cache
def _own_layout(dbc: str) -> Any:
    from fanwright.evidence.recording.own import layout_with

    return layout_with(Path(dbc))


@cache
def _listed_units(into: str) -> dict[str, str]:
    path = Path(into, UNITS_FILE)
    found: dict[str, str] = json.loads(path.read_text("utf-8")) if path.exists() else {}
    return found


@contextmanager
def local_file(address: str) -> Iterator[Path]:
    """Give a recording as a local file; one from elsewhere is fetched and thrown away afterwards."""
    if not is_address(address):
        if shown(address) == address:
            yield Path(address)
            return
        with tempfile.TemporaryDirectory(prefix="fanwright-") as folder:
            plain = Path(folder, "recording")  # a name that is no text; not every reader takes it
            plain.symlink_to(address)
            yield plain
        return
    system, path = opened_system(address)
    with tempfile.TemporaryDirectory(prefix="fanwright-") as folder:
        target = Path(folder, "recording" + "".join(Path(path).suffixes[-2:]))
        try:
            with system.open(path, "rb") as source, target.open("wb") as file:
                shutil.copyfileobj(source, file, 1 << 20)
        except Exception as error:  # each store has its own errors: one line for all of them
            raise FileError(_unreadable(address, error)) from error
        yield target


def _unreadable(address: str, error: BaseException) -> Message:
    reason = getattr(error, "strerror", None) or str(error) or type(error).__name__
    return Message(
        "{file} cannot be read: {reason}", {"file": text(shown(address)), "reason": text(_first_line(reason))}
    )


def _write(trucks: Iterable[tuple[str, Tables]], into: Path, sha256: str) -> dict[str, list[str]]:
    """Write the tables to their places; a part of the result is whole or not there."""
    from fanwright.fleet.tables import as_parquet
    from fanwright.report.writing import replace_file

    parts: dict[str, list[str]] = {}
    for unit, tables in trucks:
        for (kind, month), table in tables.items():
            place = place_of(kind, unit, month, sha256)
            (into / place).parent.mkdir(parents=True, exist_ok=True)
            replace_file(into / place, as_parquet(table))
            parts.setdefault(kind, []).append(place)
    return parts
