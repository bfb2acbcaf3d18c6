"""Photos for the paper: checked, turned upright, made small, and freed of everything but the picture."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from fanwright.errors import FileError, InputError
from fanwright.words import Message, count, text

MOST_BYTES = 30_000_000
MOST_PIXELS = 80_000_000
LONGEST_SIDE = 1100  # pixels; 90 mm on paper at 300 dots an inch
KINDS = ("JPEG", "PNG", "WEBP", "TIFF", "BMP", "GIF")


@dataclass(frozen=True)
class Photo:
    """A photo ready for print.

    Args:
        name: The file's name as given.
        sha256: Hash of the file as it came, so that a later change shows.
        jpeg: The picture without metadata.
    """

    name: str
    sha256: str
    jpeg: bytes


def read_photos(paths: Iterable[tuple[str, Path]]) -> tuple[Photo, ...]:
    """Read photos by the name given and the place.

    Args:
        paths: Name as given, and file.

    Returns:
        The photos, in order.

    Raises:
        InputError: A line for each that is missing, too large or no picture.
    """
    found: list[Photo] = []
    mistakes: list[Message] = []
    for name, path in paths:
        try:
            found.append(read_photo(name, path))
        except InputError as error:
            mistakes += error.messages
    if mistakes:
        raise InputError(mistakes)
    return tuple(found)


def read_photo(name: str, path: Path) -> Photo:
    """Read one photo.

    Args:
        name: Its name as given.
        path: Its file.

    Returns:
        The photo.

    Raises:
        FileError: The file is missing, too large or no picture.
    """
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise _refused("photo {name} has {size} bytes; at most {most} are taken", name, size=size)
        raw = path.read_bytes()
    except (OSError, ValueError) as error:
        raise _refused("photo {name} cannot be read; check the name under files.photos", name) from error
    return Photo(name, hashlib.sha256(raw).hexdigest(), _as_jpeg(name, raw))


def _as_jpeg(name: str, raw: bytes) -> bytes:
    """Decode whole, then encode the pixels alone."""
    import warnings

    from PIL import Image, ImageOps

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with Image.open(io.BytesIO(raw), formats=KINDS) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    raise _refused("photo {name} has too many pixels; at most 80 million are taken", name)
                opened.draft("RGB", (2 * LONGEST_SIDE, 2 * LONGEST_SIDE))
                upright = ImageOps.exif_transpose(opened).convert("RGB")
    except FileError:
        raise
    except Exception as error:  # a decoder fed with damaged bytes may raise anything
        raise _refused(
            "photo {name} is no picture that can be read; give a JPEG or PNG file", name
        ) from error
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    clean = Image.new("RGB", upright.size)
    clean.paste(upright)
    made = io.BytesIO()
    clean.save(made, "JPEG", quality=82, optimize=True)
    return made.getvalue()


def _refused(template: str, name: str, size: int | None = None) -> FileError:
    values = {"name": text(f"«{name}»")}
    if size is not None:
        values |= {"size": count(size), "most": count(MOST_BYTES)}
    return FileError(Message(template, values))
