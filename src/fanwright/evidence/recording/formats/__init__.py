"""The formats of recordings, one file each, found by looking into this folder.

A format says ``NAME``, ``refuse(head)`` (why a file that begins so is not of this format, or None) and
``read(source, intake)`` (hand its frames on; give what kind of clock it has).
"""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache
from typing import Protocol, cast

from fanwright.errors import FileError
from fanwright.evidence.recording.intake import Intake
from fanwright.evidence.recording.source import Source
from fanwright.words import Message, text

ABSOLUTE, LOCAL, RELATIVE = "absolute", "local", "relative"
"""Kinds of a clock: since 1970 UTC; date and time of an unknown zone; the file's own zero."""


class Format(Protocol):
    """What a file of this folder offers."""

    NAME: str

    def refuse(self, head: bytes) -> Message | None:
        """Say why a file that begins so is not of this format; None when it may be."""

    def read(self, source: Source, intake: Intake) -> str:
        """Hand the frames of a file on and give the kind of its clock."""


@cache
def formats() -> tuple[Format, ...]:
    """Find all formats, in the order of their names."""
    names = sorted(
        module.name for module in pkgutil.iter_modules(__path__) if not module.name.startswith("_")
    )
    return tuple(cast("Format", importlib.import_module("." + name, __package__)) for name in names)


def format_of(source: Source) -> Format:
    """Find the format of a file by its content.

    Raises:
        FileError: No format fits; one message says why each does not.
    """
    head = source.head()
    why: list[Message] = []
    for one in formats():
        refusal = one.refuse(head)
        if refusal is None:
            return one
        why.append(refusal)
    values = {"file": text(source.path)}
    parts = []
    for number, (one, refusal) in enumerate(zip(formats(), why, strict=True)):
        place = "_".join(("name", str(number)))
        values[place] = text(one.NAME)
        parts.append("{" + place + "}: " + refusal.template)
        values.update(refusal.values)
    raise FileError(Message("{file} is no recording that can be read here. " + "; ".join(parts), values))
