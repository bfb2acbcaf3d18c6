"""The loops that read recordings at the speed of the disk, compiled with numba on first use.

Compiled code is kept in the user's cache folder under the hash of every source it can contain and the
versions of Python and numba: a changed source never meets an old kernel.
"""

from __future__ import annotations

import hashlib
import importlib
import os
import platform
import tempfile
from functools import cache
from importlib import metadata
from pathlib import Path
from types import SimpleNamespace
from typing import Any

PACKAGE = Path(__file__).resolve().parents[2]
LOOPS = ("frames", "candump", "blf", "transport")
INLINED = frozenset(
    {
        "plain_line",
        "follows",
        "clock",
        "take",
        "stream_of",
        "needed",
        "engine_mark",
        "scaled",
        "one_object",
        "one_body",
    }
    | {"one", "two", "four", "count_frame", "channel_of"}
)
"""What is called for every line or object: a call costs more than its work."""

ENTRIES = ("candump", "blf", "sift", "reassemble", "trouble_codes")


@cache
def compiled() -> Any:
    """Compile the kernels, or load them from the user's cache.

    Returns:
        An object with the compiled ``candump``, ``blf``, ``sift``, ``reassemble`` and ``trouble_codes``.
    """
    numba = importlib.import_module("numba")
    numba.config.CACHE_DIR = str(cache_folder())
    modules = [importlib.import_module("fanwright.evidence.recording.loops." + name) for name in LOOPS]
    built: dict[str, Any] = {"load64": _load64()}
    for module in modules:
        for name, thing in vars(module).items():
            if callable(thing) and getattr(thing, "__module__", "") == module.__name__ and name not in built:
                built[name] = numba.njit(
                    cache=name in ENTRIES,
                    forceinline=name in INLINED,
                    nogil=True,
                    error_model="numpy",
                )(thing)
    for module in modules:
        vars(module).update({name: kernel for name, kernel in built.items() if name in vars(module)})
    return SimpleNamespace(**{name: built[name] for name in ENTRIES})


def _load64() -> Any:
    """Make the instruction that loads eight bytes from any place."""
    numba = importlib.import_module("numba")
    importlib.import_module("numba.extending")
    ir = importlib.import_module("llvmlite.ir")

    def load(typing: Any, buffer: Any, at: Any) -> Any:
        def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
            array = context.make_array(signature.args[0])(context, builder, arguments[0])
            place = builder.gep(array.data, [arguments[1]])
            loaded = builder.load(builder.bitcast(place, ir.IntType(64).as_pointer()))
            loaded.align = 1
            return loaded

        return numba.types.uint64(buffer, numba.types.intp), generate

    return numba.extending.intrinsic(load)


def cache_folder() -> Path:
    """Find a folder of the user's own for compiled kernels."""
    base = os.environ.get("NUMBA_CACHE_DIR") or os.environ.get("XDG_CACHE_HOME")
    home = Path(base) if base else Path.home() / ".cache"
    spare = Path(tempfile.gettempdir()) / "-".join(("fanwright", str(os.getuid())))
    for root in (home / "fanwright", spare):
        folder = root / "-".join(("recording", fingerprint()))
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        except OSError:
            continue
        if os.access(folder, os.W_OK) and folder.stat().st_uid == os.getuid():
            return folder
    return Path(tempfile.mkdtemp(prefix="fanwright-"))


@cache
def fingerprint() -> str:
    """Give the key of the cache.

    Example:
        >>> len(fingerprint())
        20
    """
    digest = hashlib.sha256()
    loops = (Path(__file__).parent / "loops").glob("*.py")
    for source in sorted({*PACKAGE.glob("laws/*.py"), *PACKAGE.rglob("kernels.py"), *loops}):
        digest.update(source.relative_to(PACKAGE).as_posix().encode() + b"\0" + source.read_bytes() + b"\0")
    digest.update(platform.python_version().encode() + metadata.version("numba").encode())
    return digest.hexdigest()[:20]
