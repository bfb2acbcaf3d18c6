"""Compiled forms of the solver, kept in the user's cache folder and keyed by everything they are made of.

The key is a hash of all sources of ``laws`` and ``virtual`` and of every file named ``kernels.py`` in the
package, with the versions of Python and numba: a changed law can never meet a kernel compiled from the old
one.
"""

from __future__ import annotations

import hashlib
import importlib.util
import os
import platform
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib import metadata
from pathlib import Path
from types import ModuleType
from typing import Any

from fanwright.errors import FileError
from fanwright.virtual import equations, solver, steps
from fanwright.words import Message, text

PACKAGE = Path(__file__).resolve().parents[1]
ENTRIES = ("run", "run_many", "derivatives")
LAWS = ("_mass_flow", "_line_loss", "_smooth")
FINITE = {"nnan", "ninf", "nsz", "contract"}
"""What the compiler may take for granted in a law: plain finite numbers. The solver itself must see a NaN."""


@dataclass(frozen=True)
class Kernels:
    """The compiled entries.

    Args:
        run: Compiled :func:`fanwright.virtual.solver.run`.
        run_many: Compiled :func:`fanwright.virtual.solver.run_many`; it lets other threads run.
        derivatives: Compiled :func:`fanwright.virtual.equations.derivatives`.
    """

    run: Callable[..., int]
    run_many: Callable[..., None]
    derivatives: Callable[..., None]


@cache
def fingerprint() -> str:
    """Give the key of the cache: changes with every source the kernels are made of.

    Example:
        >>> len(fingerprint())
        20
    """
    digest = hashlib.sha256()
    sources = {*PACKAGE.glob("laws/*.py"), *PACKAGE.glob("virtual/*.py"), *PACKAGE.rglob("kernels.py")}
    for source in sorted(sources):
        digest.update(source.relative_to(PACKAGE).as_posix().encode() + b"\0")
        digest.update(source.read_bytes() + b"\0")
    digest.update(platform.python_version().encode() + metadata.version("numba").encode())
    return digest.hexdigest()[:20]


def cache_folder() -> Path:
    """Give the folder the compiled kernels are kept in: under ``XDG_CACHE_HOME``, else ``~/.cache``."""
    base = os.environ.get("XDG_CACHE_HOME")
    root = Path(base) if base else Path.home() / ".cache"
    return root / "fanwright" / ("kernels-" + fingerprint())


@cache
def compiled() -> Kernels:
    """Give the compiled solver, from the cache where it is there."""
    import numba

    folder = cache_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as trouble:
        raise FileError(
            Message(
                "the folder {folder} for compiled kernels cannot be made: {why}; set XDG_CACHE_HOME",
                {"folder": text(folder), "why": text(trouble.strerror or trouble)},
            )
        ) from trouble
    vars(numba.config)["CACHE_DIR"] = str(folder)
    copies: list[Any] = [_copy_of(module) for module in (equations, steps, solver)]
    for place, copy in enumerate(copies):
        for name in copy.COMPILED:
            quick = FINITE if name in LAWS else False
            build = numba.njit(cache=name in ENTRIES, nogil=True, error_model="numpy", fastmath=quick)
            kernel = build(getattr(copy, name))
            for user in copies[place:]:
                setattr(user, name, kernel)
    return Kernels(copies[2].run, copies[2].run_many, copies[0].derivatives)


def _copy_of(module: ModuleType) -> ModuleType:
    # A second copy of the module is compiled in place, so that the first stays plain Python.
    spec = importlib.util.spec_from_file_location(module.__name__ + "_compiled", module.__file__)
    if spec is None or spec.loader is None:
        raise ImportError(module.__name__)
    copy = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = copy
    spec.loader.exec_module(copy)
    return copy
