"""What must be equal on every computer that reads recordings of one fleet."""

from __future__ import annotations

import hashlib
import platform
from functools import cache
from importlib import metadata
from pathlib import Path

PACKAGE = Path(__file__).resolve().parents[1]
READING = ("desk/fleet_duty*.py", "evidence/**/*.py", "fleet/*.py", "laws/*.py", "quantities/*", "*.py")
"""The sources that make what is read what it is."""


@cache
def versions() -> dict[str, str]:
    """Give the versions that must agree: of this program with its sources, of Python, of what hands tasks on.

    Example:
        >>> sorted(versions())
        ['dask', 'distributed', 'fanwright', 'python']
    """
    return {
        "fanwright": "+".join((metadata.version("fanwright"), _sources())),
        "python": platform.python_version(),
        **{name: _version(name) for name in ("dask", "distributed")},
    }


def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return ""


def _sources() -> str:
    digest = hashlib.sha256()
    for path in sorted({path for pattern in READING for path in PACKAGE.glob(pattern) if path.is_file()}):
        digest.update(path.relative_to(PACKAGE).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()[:12]
