"""What a person names as recordings of a fleet: files, folders, globs and addresses, made a list of files."""

from __future__ import annotations

import glob
import importlib
import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fanwright.errors import FileError
from fanwright.words import Message, text

WILD = ("*", "?", "[")


@dataclass(frozen=True)
class Found:
    """A file to read.

    Args:
        address: Its whole path, or its address.
        size: How many bytes it has.
        stamp: What changes when the file does: its time of change, or a bucket's mark.
    """

    address: str
    size: int
    stamp: str


def shown(address: str) -> str:
    """Give an address as it can be printed; bytes that are no text become marks.

    Example:
        >>> shown("a" + chr(0xDCFF) + ".log") == "a" + chr(0xFFFD) + ".log"
        True
    """
    return address.encode("utf-8", "surrogateescape").decode("utf-8", "replace")


def is_address(name: str) -> bool:
    """Say whether a name is an address such as ``s3://bucket/folder`` and no path."""
    return "://" in name


def is_many(name: str) -> bool:
    """Say whether a name stands for more than one file: a folder, a glob or an address."""
    return (
        is_address(name) or Path(name).is_dir() or (any(c in name for c in WILD) and not Path(name).exists())
    )


def listed(names: Sequence[str], leave_out: Path) -> tuple[Found, ...]:
    """List the files that names stand for, in order, each file once.

    Folders are looked through to their ends; hidden files and folders in them are left out, and so is the
    result itself. A folder met again by way of a link is not entered twice.

    Args:
        names: Files, folders, globs and addresses.
        leave_out: The result's own folder.

    Raises:
        FileError: Every name that stands for nothing.
    """
    mistakes: list[Message] = []
    found: dict[str, Found] = {}
    for name in names:
        try:
            several = list(_of_address(name) if is_address(name) else _of_path(name, leave_out))
        except FileError as error:
            mistakes += error.messages
            continue
        if not several:
            mistakes.append(
                Message(
                    "{name} holds no files; name a folder, files or a pattern", {"name": text(shown(name))}
                )
            )
        found |= {one.address: one for one in several}
    if mistakes:
        raise FileError(mistakes)
    return _each_once(sorted(found.values(), key=lambda one: one.address))


def _each_once(several: Iterable[Found]) -> tuple[Found, ...]:
    """Keep one name of each file; links lead to the same file."""
    kept: dict[str, Found] = {}
    for one in several:
        real = one.address if is_address(one.address) else os.path.realpath(one.address)
        kept.setdefault(real, one)
    return tuple(kept.values())


def _of_path(name: str, leave_out: Path) -> Iterator[Found]:
    path = Path(name).absolute()
    if path.is_dir():
        yield from _walk(path, leave_out)
    elif path.exists():
        yield _file(path)
    elif any(wild in name for wild in WILD):
        for match in sorted(glob.glob(name, recursive=True)):  # noqa: PTH207  # patterns may be absolute
            yield from _of_path(match, leave_out)
    else:
        raise FileError(Message("{file} is not there; check the name", {"file": text(shown(name))}))


def _walk(folder: Path, leave_out: Path) -> Iterator[Found]:
    seen: set[tuple[int, int]] = set()
    hidden = os.path.realpath(leave_out)
    for place, folders, files in os.walk(folder, followlinks=True):
        status = Path(place).stat()
        if (status.st_dev, status.st_ino) in seen or os.path.realpath(place) == hidden:
            folders.clear()
            continue
        seen.add((status.st_dev, status.st_ino))
        folders[:] = sorted(one for one in folders if not one.startswith("."))
        for file in sorted(files):
            path = Path(place, file)
            if not file.startswith(".") and path.is_file():
                yield _file(path)


def _file(path: Path) -> Found:
    status = path.stat()
    return Found(str(path), status.st_size, str(status.st_mtime_ns))


# --- Addresses --------------------------------------------------------------------------------------------


def opened_system(address: str) -> tuple[Any, str]:
    """Give the file system of an address and the path in it.

    Raises:
        FileError: The package it needs is not installed, or nobody knows this kind of address.
    """
    kind = address.partition("://")[0]
    try:
        core = importlib.import_module("fsspec.core")  # untyped
        system, path = core.url_to_fs(address)
    except ImportError as error:
        raise FileError(
            Message(
                "{address}: addresses of {kind} need a package that is not installed ({reason}); install it "
                "beside this program, or copy the files to a folder",
                {"address": text(shown(address)), "kind": text(kind), "reason": text(_first(error))},
            )
        ) from error
    except ValueError as error:
        raise FileError(
            Message(
                "{address}: «{kind}» is no kind of address that can be read ({reason})",
                {"address": text(shown(address)), "kind": text(kind), "reason": text(_first(error))},
            )
        ) from error
    return system, path


def _first(error: BaseException) -> str:
    return (str(error).strip().splitlines() or [type(error).__name__])[0]


def _of_address(address: str) -> Iterator[Found]:
    system, path = opened_system(address)
    try:
        if any(wild in path for wild in WILD):
            several = system.glob(path, detail=True)
        elif system.isdir(path):
            several = system.find(path, detail=True)
        else:
            several = {path: system.info(path)}
    except FileNotFoundError:
        raise FileError(
            Message("{file} is not there; check the address", {"file": text(shown(address))})
        ) from None
    except Exception as error:  # each store has its own errors: one line for all of them
        raise FileError(
            Message(
                "{file} cannot be listed: {reason}",
                {"file": text(shown(address)), "reason": text(_first(error))},
            )
        ) from error
    for name, detail in sorted(several.items()):
        if detail.get("type") == "file" and not name.rsplit("/", 1)[-1].startswith("."):
            marks = (detail.get(key) for key in ("ETag", "etag", "mtime", "LastModified", "created"))
            stamp = next((str(mark) for mark in marks if mark), "")
            yield Found(system.unstrip_protocol(name), int(detail.get("size") or 0), stamp)
