"""Files that arrive in pieces for a bay visit; each piece is on the disk when it is answered.

They stand in a folder of their own beside the files of the records, one folder an upload, until a child
process has looked at them. What was taken becomes part of the bay visit; then the folder goes.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fanwright.desk.bay_rules import FILE_KINDS, is_key, is_name, name_mistake
from fanwright.errors import FileError, InputError
from fanwright.evidence.from_json import message_from_data
from fanwright.report.writing import replace_file
from fanwright.words import Message, count, text

if TYPE_CHECKING:
    from fanwright.records.store import Store

MB = 1_000_000
LARGEST: Mapping[str, int] = {
    "photos": 30 * MB,
    "air_trace": 40 * MB,
    "air_trace_after": 40 * MB,
    "recording": 400 * MB,
    "recording_after": 400 * MB,
    "voice": 20 * MB,
    "sound": 40 * MB,
    "sheet": 20 * MB,
}
"""Largest file of each kind [bytes]: assumptions, with room over what a phone or a logger writes in a day."""
MOST_PIECE = 1 << 20
WORK = "work"
MOST_WAITING, MOST_WAITING_BYTES = 200, 2_000 * MB
_LOCKS: dict[str, threading.Lock] = {}
_GUARD = threading.Lock()


@dataclass(frozen=True)
class About:
    """What a tablet says of a file before it sends it.

    Args:
        key: Its key (UUID).
        bay: The bay visit it is for.
        what: What it is (``photos``, ``air_trace``).
        name: Its name, without any folder.
        size: How long it is [bytes].
        sha256: Hash of its bytes, or empty where the browser could not work it out.
        by: Who sends it.
    """

    key: str
    bay: int
    what: str
    name: str
    size: int
    sha256: str
    by: str


@dataclass(frozen=True)
class Standing:
    """Where an upload stands.

    Args:
        state: ``waiting`` for pieces, ``working`` (being checked), ``done`` or ``refused``.
        offset: How much has arrived [bytes].
        messages: Why it was refused.
    """

    state: str
    offset: int
    messages: tuple[Message, ...] = ()


class Damaged(InputError):
    """What arrived is not what was said; it has to be sent from its beginning."""


def arriving(store: Store) -> Path:
    """Name the folder in which uploads stand until they were checked."""
    return store.place.files.with_name(f"{store.place.files.name}.arriving")


def begin(store: Store, sent: Mapping[str, Any], by: str) -> Standing:
    """Begin an upload, or say how far it has come.

    Args:
        store: The records.
        sent: ``key``, ``bay``, ``what``, ``name``, ``size`` and ``sha256``.
        by: Who sends it.

    Returns:
        Where it stands.

    Raises:
        OtherBody: The key was used for another file.
        Closed: The bay visit is signed.
        NotThere: There is no such bay visit.
        InputError: Every mistake in what was said.
    """
    from fanwright.records import bay as rows

    about = _about(sent, by)
    taken = _checked(store, about.key)
    if taken is not None:
        return Standing(taken.state, about.size, taken.messages)
    with _alone(about.key):
        folder = arriving(store) / about.key
        there = _told(folder)
        taken = _checked(store, about.key) if there is None else None
        if taken is not None:
            return Standing(taken.state, about.size, taken.messages)
        if there is None:
            rows.require_open(store, about.bay)
            _require_room(arriving(store), about.size)
            folder.mkdir(parents=True, exist_ok=True)
            (folder / "data").touch()
            replace_file(folder / "about.json", json.dumps(asdict(about)).encode())
        elif _without_person(there) != _without_person(about):
            raise rows.OtherBody(
                Message("another file was sent under the key {key}", {"key": text(about.key)})
            )
        return _standing(folder, about) or standing(store, about.key)


def _about(sent: Mapping[str, Any], by: str) -> About:
    key, bay, what, name, size = (sent.get(one) for one in ("key", "bay", "what", "name", "size"))
    sha256 = sent.get("sha256") or ""
    mistakes = []
    if not is_key(key):
        mistakes.append(Message("key: a UUID is needed"))
    if not isinstance(bay, int) or isinstance(bay, bool) or not 0 < bay < 2**53:
        mistakes.append(Message("bay: the number of a bay visit is needed"))
    if what not in FILE_KINDS:
        mistakes.append(Message("what: one of {known} is needed", {"known": text(", ".join(FILE_KINDS))}))
    if not is_name(name):
        mistakes.append(name_mistake(name))
    most = LARGEST.get(str(what), 0)
    if not isinstance(size, int) or isinstance(size, bool) or not 0 < size <= max(most, 1):
        mistakes.append(
            Message(
                "size: {given} bytes cannot be taken; {most} at most for this kind of file",
                {"given": text(str(size)[:20]), "most": count(most)},
            )
        )
    if not isinstance(sha256, str) or not re.fullmatch("(?:[0-9a-f]{64})?", sha256):
        mistakes.append(Message("sha256: 64 hexadecimal digits, or nothing"))
    if mistakes:
        raise InputError(mistakes)
    assert isinstance(bay, int)
    assert isinstance(size, int)
    return About(str(key), bay, str(what), str(name), size, sha256, by)


def _without_person(about: About) -> tuple[object, ...]:
    return about.key, about.bay, about.what, about.name, about.size


def _require_room(root: Path, size: int) -> None:
    waiting = list(root.glob("*/data")) if root.is_dir() else []
    held = sum(_length(path) or 0 for path in waiting)
    free = shutil.disk_usage(_existing(root)).free
    if len(waiting) >= MOST_WAITING or held + size > MOST_WAITING_BYTES or free < 2 * size + 100 * MB:
        raise FileError(Message("there is no room for more files now; they are sent again by themselves"))


def _existing(path: Path) -> Path:
    return next(one for one in (path, *path.parents) if one.is_dir())


@contextmanager
def _alone(key: str) -> Iterator[None]:
    with _GUARD:
        lock = _LOCKS.setdefault(key, threading.Lock())
    with lock:
        yield


def _told(folder: Path) -> About | None:
    try:
        return About(**json.loads((folder / "about.json").read_text("utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def _standing(folder: Path, about: About) -> Standing | None:
    """Where it stands; None when its folder has just gone, because it was checked."""
    offset = _length(folder / "data")
    if offset is None:
        return None
    return Standing("waiting" if offset < about.size else "working", offset)


def _checked(store: Store, key: str) -> Standing | None:
    """Where an upload stands that was checked already."""
    from fanwright.records.bay import came

    file = came(store, key)
    if file is None:
        return None
    messages = tuple(message_from_data(one) for one in file.refused)
    return Standing("refused" if messages else "done", file.size, messages)


def standing(store: Store, key: str) -> Standing:
    """Say where an upload stands.

    Args:
        store: The records.
        key: Its key.

    Returns:
        Where it stands.

    Raises:
        NotThere: There is no such upload.
    """
    from fanwright.records.bay import NotThere

    if is_key(key):
        folder = arriving(store) / key
        about, found = _told(folder), None
        if about is not None:
            found = _standing(folder, about)
        if about is None or found is None or found.state == "working":  # it may have been settled just now
            found = _checked(store, key) or found
        if found is not None:
            return found
    raise NotThere(Message("there is no such upload"))


def add_piece(store: Store, key: str, offset: int, piece: bytes) -> Standing:
    """Add a piece to an upload; one that does not begin where the last ended changes nothing.

    Args:
        store: The records.
        key: The upload.
        offset: Where the piece begins [bytes].
        piece: Its bytes.

    Returns:
        Where the upload stands; go on from its offset.

    Raises:
        NotThere: There is no such upload.
        Damaged: All of it has arrived, but its hash is another one; it begins anew.
        InputError: The piece is longer than it may be.
        FileError: The disk is full.
    """
    found = standing(store, key)
    if found.state != "waiting":
        return found
    folder = arriving(store) / key
    with _alone(key):
        about, at = _told(folder), _length(folder / "data")
        if about is None or at is None or offset != at:
            return standing(store, key)
        if len(piece) > min(MOST_PIECE, about.size - at):
            raise InputError(Message("the piece is longer than what is left of the file"))
        _append(folder / "data", at, piece)
        if at + len(piece) == about.size and about.sha256:
            _require_same(folder / "data", about)
    return standing(store, key)


def _length(path: Path) -> int | None:
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return None


def _append(path: Path, at: int, piece: bytes) -> None:
    try:
        with path.open("r+b") as file:
            file.seek(at)
            file.write(piece)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        os.truncate(path, at)
        raise FileError(
            Message("the piece cannot be kept: {why}", {"why": text(error.strerror or error)})
        ) from error


def _require_same(path: Path, about: About) -> None:
    with path.open("rb") as file:
        found = hashlib.file_digest(file, "sha256").hexdigest()
    if found != about.sha256:
        os.truncate(path, 0)
        raise Damaged(
            Message("{name} arrived damaged and was not kept: send it again", {"name": text(about.name)})
        )


def waiting_to_be_checked(store: Store) -> tuple[About, ...]:
    """List the uploads that have arrived whole and were not checked yet, such as after a restart."""
    return tuple(about for about, found in _all(store) if found.state == "working")


def _all(store: Store) -> Iterator[tuple[About, Standing]]:
    """Every upload that stands in the folder, in a fixed order; one may be settled meanwhile."""
    root = arriving(store)
    for folder in sorted(root.iterdir()) if root.is_dir() else []:
        about = _told(folder)
        found = None if about is None else _standing(folder, about)
        if about is not None and found is not None:
            yield about, found


def lay_out(store: Store, about: About) -> Path:
    """Put an upload under its own name into a folder for a child to work in.

    Args:
        store: The records.
        about: The upload.

    Returns:
        The folder; what an earlier try left there is gone.
    """
    folder = arriving(store) / about.key
    work = folder / WORK
    shutil.rmtree(work, ignore_errors=True)
    work.mkdir()
    os.link(folder / "data", work / about.name)
    return work


def settle(store: Store, about: About, answer: Mapping[str, Any]) -> int:
    """Make what a child found out about an upload part of its bay visit.

    Args:
        store: The records.
        about: The upload.
        answer: ``keep`` (the file to keep, or nothing), ``name``, ``found``, ``refused`` (messages as data).

    Returns:
        The version of the bay visit it led to.
    """
    from fanwright.desk.records import author
    from fanwright.records import bay as rows
    from fanwright.records.bay_model import BayFile

    folder = arriving(store) / about.key
    keep = answer.get("keep")
    stored = store.folder.put(folder / WORK / str(keep)) if keep else None
    file = BayFile(
        about.key,
        about.what,
        _own_name(store, about, str(answer.get("name") or about.name)),
        "" if stored is None else stored.sha256,
        0 if stored is None else stored.size,
        answer.get("found") or {},
        tuple(answer.get("refused") or ()),
    )
    try:
        version = rows.add_file(store, about.bay, file, author(about.by)).version
    except rows.Closed:  # signed meanwhile: the file stays in the folder of files, but belongs to no visit
        version = rows.version(store, about.bay)
    with _alone(about.key):
        shutil.rmtree(folder, ignore_errors=True)
    return version


def _own_name(store: Store, about: About, name: str) -> str:
    """Two files of one visit never go by the same name."""
    from fanwright.desk.bay_closing import names_of
    from fanwright.records.bay import load

    taken = names_of(store, load(store, about.bay))
    stem, dot, ending = name.rpartition(".")
    if not dot:
        stem, ending = name, ""
    number, own = 1, name
    while own.lower() in taken:
        number += 1
        own = f"{stem}-{number}{dot}{ending}"
    return own
