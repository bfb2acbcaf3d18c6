"""Looks into one uploaded file: is it what it says, and what can be read out of it. A child process does."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from fanwright.errors import FanwrightError, InputError
from fanwright.evidence.from_json import evidence_data, message_data
from fanwright.evidence.reading import Evidence
from fanwright.words import Message, text

SOUNDS: tuple[tuple[int, bytes], ...] = (
    (0, b"\x1a\x45\xdf\xa3"),
    (4, b"ftyp"),
    (0, b"OggS"),
    (8, b"WAVE"),
    (0, b"ID3"),
    (0, b"\xff\xfb"),
)
"""How recorded sound begins: WebM, MP4, Ogg, WAV, MP3 (from memory)."""
PICTURES: tuple[bytes, ...] = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"RIFF")
LONGEST_SIDE, MOST_PIXELS, QUALITY = 2400, 80_000_000, 85
MADE = "made.jpg"


def check(what: str, name: str, visit: Mapping[str, Any] | None, shop_file: str = "") -> dict[str, Any]:
    """Check one file that stands in the working folder under its own name.

    Args:
        what: What it is said to be (``photos``, ``air_trace``).
        name: Its name; its bytes stand under it in the folder the process works in.
        visit: The bay visit as a mapping, for the truck; None where it cannot be read.
        shop_file: The shop's own data, or empty.

    Returns:
        ``keep`` (the file to keep, ``name`` as it shall go by), ``found`` (readings as data), ``refused``.
    """
    path = Path(name)
    try:
        if what == "photos":
            return _photo(path)
        if what.startswith("air_trace"):
            return _evidence(path, what, _trace(path))
        if what.startswith("recording"):
            return _evidence(path, what, _recording(path, visit, shop_file))
        return _sheet(path) if what == "sheet" else _sound(path)
    except FanwrightError as error:
        kept = path.name if what.startswith(("air_trace", "recording")) else None
        return {"keep": kept, "name": name, "refused": [message_data(one) for one in error.messages]}


def _begins(path: Path, most: int = 16) -> bytes:
    with path.open("rb") as file:
        return file.read(most)


def _photo(path: Path) -> dict[str, Any]:
    """Make the picture anew from its points alone: no place, no thumbnail, nothing behind its end."""
    import warnings

    from PIL import Image, ImageOps

    Image.MAX_IMAGE_PIXELS = MOST_PIXELS
    head = _begins(path)
    if not head.startswith(PICTURES):
        raise InputError(_not_what(path, "JPEG, PNG or WebP"))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(path, formats=("JPEG", "PNG", "WEBP")) as opened:
                opened.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
                upright = ImageOps.exif_transpose(opened).convert("RGB")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise InputError(
            Message("{name} has more points than a photo: take it again smaller", {"name": text(path.name)})
        ) from error
    except (OSError, ValueError, SyntaxError, EOFError) as error:
        raise InputError(_not_what(path, "JPEG, PNG or WebP")) from error
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    bare = Image.frombytes("RGB", upright.size, upright.tobytes())
    bare.save(MADE, "JPEG", quality=QUALITY, optimize=True)
    return {"keep": MADE, "name": f"{path.stem}.jpg", "found": {}}


def _not_what(path: Path, wanted: str) -> Message:
    return Message(
        "{name} is not what it should be by its content: {wanted} is needed",
        {"name": text(path.name), "wanted": text(wanted)},
    )


def _sound(path: Path) -> dict[str, Any]:
    head = _begins(path)
    if not any(head[at : at + len(mark)] == mark for at, mark in SOUNDS):
        raise InputError(_not_what(path, "WebM, MP4, Ogg, WAV or MP3"))
    return {"keep": path.name, "name": path.name, "found": {}}


def _sheet(path: Path) -> dict[str, Any]:
    head = _begins(path)
    if head.startswith(PICTURES):
        return _photo(path)
    if head.startswith(b"%PDF-"):
        named = path.suffix.lower() == ".pdf"
        return {"keep": path.name, "name": path.name if named else f"{path.stem}.pdf", "found": {}}
    if path.suffix.lower() in (".csv", ".txt") and _is_text(path):
        return {"keep": path.name, "name": path.name, "found": {}}
    raise InputError(_not_what(path, "PDF, JPEG, PNG, or CSV"))


def _is_text(path: Path) -> bool:
    try:
        return "\x00" not in path.read_text("utf-8-sig")
    except UnicodeDecodeError:
        return False


def _trace(path: Path) -> Evidence:
    from fanwright.evidence.trace import read_trace

    return read_trace(path).evidence


def _recording(path: Path, visit: Mapping[str, Any] | None, shop_file: str) -> Evidence:
    from fanwright.desk.shop import open_shop
    from fanwright.evidence.recording import read_recording
    from fanwright.visit import visit_from

    truck, number = None, ""
    if visit is not None:
        shop = open_shop(Path(shop_file) if shop_file else None)
        seen = visit_from(visit, shop.catalogue, shop.presets)
        truck, number = seen.truck, seen.identity.get("vin", "")
    return read_recording([path], truck=truck, vehicle_number=number).evidence


def _evidence(path: Path, what: str, evidence: Evidence) -> dict[str, Any]:
    after = what.endswith("_after")
    readings = tuple(
        replace(one, after=after or one.after, place=path.name if one.place else "")
        for one in evidence.readings
    )
    found = evidence_data(replace(evidence, readings=readings))
    return {"keep": path.name, "name": path.name, "found": found}
