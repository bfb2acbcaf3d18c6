"""Load the demo fleet: 24 invented trucks with their history, some visits signed, some still open."""

from __future__ import annotations

import importlib.util
import shutil
import tempfile
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from fanwright.desk.close_visit import close_in
from fanwright.desk.keep import keep_in
from fanwright.desk.records import author, open_records
from fanwright.errors import FileError, InputError
from fanwright.words import Message, text

BESIDE_THE_CHECKOUT = Path(__file__).parents[3] / "examples" / "demo"
FOREMAN = "Rae"


@dataclass(frozen=True)
class Loaded:
    """What was loaded.

    Args:
        trucks: How many trucks.
        new: How many visits were not there before.
        signed: How many of them could be signed.
    """

    trucks: int
    new: int
    signed: int


def load_demo(db: str | None, folder: Path | None = None) -> Loaded:
    """Keep every visit file of the demo folder, and sign those that may be closed.

    Args:
        db: The records; started where there are none.
        folder: Visit files, beside them what they name; None for the folder of the checkout.

    Returns:
        What was loaded; loading again adds nothing.

    Raises:
        FileError: The folder holds no visit files.
        InputError: A visit file has mistakes.
    """
    chosen = folder or BESIDE_THE_CHECKOUT
    found = sorted(chosen.glob("*.toml")) if chosen.is_dir() else []
    if not found:
        raise FileError(
            Message(
                "{folder} holds no visit files: name the folder «examples/demo» of the source",
                {"folder": text(chosen)},
            )
        )
    from fanwright.records.demo_mark import begin_demo

    store = open_records(db, create=True)
    new = signed = 0
    try:
        begin_demo(store, author(None, otherwise=FOREMAN))
        with _with_files(found) as visits:
            for path in visits:
                done = keep_in(store, path)
                if not done.kept.new:
                    continue
                new += 1
                technician = done.assessed.assessment.visit.circumstances.get("technician", FOREMAN)
                try:
                    close_in(store, done.kept.visit, by=technician, second=FOREMAN, driver_told=technician)
                    signed += 1
                except InputError:  # it stays open, as it would in a shop
                    continue
    finally:
        store.close()
    return Loaded(len(found), new, signed)


@contextmanager
def _with_files(found: list[Path]) -> Iterator[list[Path]]:
    """Give visits with the traces and recordings they name; missing ones are made in a folder for a while."""
    if all((path.parent / name).is_file() for path in found for name in _named(path)):
        yield found
        return
    maker = found[0].parents[1] / "make_demo.py"
    if not maker.is_file():
        raise FileError(
            Message(
                "{folder} lacks the traces and recordings its visits name, and {maker} that makes them",
                {"folder": text(found[0].parent), "maker": text(maker)},
            )
        )
    with tempfile.TemporaryDirectory(prefix="fanwright-demo-") as made:
        copies = [Path(shutil.copy(path, made)) for path in found]
        _make(maker, Path(made))
        yield copies


def _named(path: Path) -> list[str]:
    named = tomllib.loads(path.read_text("utf-8")).get("files", {})
    return [name for names in named.values() for name in (names if isinstance(names, list) else [names])]


def _make(maker: Path, folder: Path) -> None:
    spec = importlib.util.spec_from_file_location("fanwright_make_demo", maker)
    if spec is None or spec.loader is None:
        raise FileError(Message("{file} cannot be used", {"file": text(maker)}))
    import sys

    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # its dataclasses look themselves up there
    try:
        spec.loader.exec_module(module)
        module.make(folder)
    finally:
        del sys.modules[spec.name]
