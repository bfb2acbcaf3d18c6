"""The paper: sections found in their folder, set into a PDF/A-2a of the same bytes for the same visit."""

from __future__ import annotations

import datetime as dt
import importlib
import json
import pkgutil
import re
import tempfile
from collections.abc import Iterator
from html import unescape
from importlib import resources
from pathlib import Path
from typing import Any, Literal, Protocol, cast

import fanwright
from fanwright.errors import InputError
from fanwright.report import sections
from fanwright.report.font import font
from fanwright.report.paper import Material, Section
from fanwright.report.photos import Photo
from fanwright.report.say import Reader
from fanwright.report.typesetter import set_pdf
from fanwright.visit.model import Assessment
from fanwright.words import Message, text

Paper = Literal["us-letter", "a4"]
_SVG_TEXT = re.compile(r"<text[^>]*>([^<]*)</text>")
_BLANKS = re.compile(r"[ \t\r\n\f\v]+")
MOST_PAGES = 3
SCALES = (
    1.0,
    0.93,
    0.86,
    0.8,
)  # type no smaller than about 6.5 points, even where a fourth page is the price
_UNSEEN = {"alt", "kind", "style"}  # keys whose text is not set in type


class Builder(Protocol):
    """What a file in ``sections`` must hold."""

    ORDER: int
    """Its place on the paper."""

    def build(self, material: Material) -> Section | None:
        """Make the section, or None where there is nothing to say."""


def builders() -> tuple[Builder, ...]:
    """Find the sections, in the order of the paper."""
    found = [
        cast("Builder", importlib.import_module(f"{sections.__name__}.{module.name}"))
        for module in pkgutil.iter_modules(sections.__path__)
    ]
    return tuple(sorted(found, key=lambda each: each.ORDER))


def make_pdf(
    assessment: Assessment,
    reader: Reader | None = None,
    photos: tuple[Photo, ...] = (),
    paper: Paper = "us-letter",
) -> bytes:
    """Set the paper of a visit.

    Args:
        assessment: What is reported.
        reader: Who reads; default units and English when None.
        photos: Photos that go with it.
        paper: Size of the sheet.

    Returns:
        A PDF; the same bytes for the same arguments.

    Raises:
        InputError: The font lacks characters that would have to be printed; each is named with its place.
    """
    program = f"Fanwright {fanwright.__version__}"
    material = Material(assessment, reader or Reader(), photos, program)
    made = [section for builder in builders() if (section := builder.build(material)) is not None]
    date = assessment.visit.date
    content = _tidy(
        {
            "title": material.say("Fan drive check, unit {unit}", unit=text(assessment.visit.unit)),
            "foot": f"{assessment.visit.unit} · {date.isoformat()} · {program}",
            "date": [date.year, date.month, date.day],
            "paper": paper,
            "sections": [section.data() for section in made],
        }
    )
    _refuse_missing(content)
    return _compile(content, photos, date)


def _tidy(data: Any) -> Any:
    """Make every run of blanks and line ends one blank; leave pictures alone."""
    if isinstance(data, str):
        return data if data.startswith("<svg") else _BLANKS.sub(" ", data).strip()
    if isinstance(data, dict):
        return {key: _tidy(value) for key, value in data.items()}
    return [_tidy(value) for value in data] if isinstance(data, list) else data


def _refuse_missing(content: dict[str, Any]) -> None:
    mistakes: dict[tuple[str, str], Message] = {}
    places = [("title", content["title"]), ("foot", content["foot"])]
    places += [(section["title"] or "heading", section) for section in content["sections"]]
    for where, part in places:
        for words in _printed(part):
            for character in font().missing(words):
                mistakes.setdefault(
                    (character, where),
                    Message(
                        "the paper cannot print the character {character} ({code}); it stands in «{words}» "
                        "under {where}; write it in Latin, Greek or Cyrillic letters",
                        {
                            "character": text(character if character.isprintable() else "«not to be seen»"),
                            "code": text(f"U+{ord(character):04X}"),
                            "words": text(words if len(words) <= 60 else words[:60] + "…"),
                            "where": text(where),
                        },
                    ),
                )
    if mistakes:
        first_of: dict[str, Message] = {}
        for (character, _), message in mistakes.items():
            first_of.setdefault(character, message)
        raise InputError(first_of.values())


def _printed(data: Any) -> Iterator[str]:
    """Give every text that will be set in type, also those inside pictures."""
    if isinstance(data, str):
        if data.startswith("<svg"):
            yield from (unescape(found) for found in _SVG_TEXT.findall(data))
        else:
            yield data
    elif isinstance(data, dict):
        for key, value in data.items():
            if key not in _UNSEEN:
                yield from _printed(value)
    elif isinstance(data, list):
        for value in data:
            yield from _printed(value)


def _compile(content: dict[str, Any], photos: tuple[Photo, ...], date: dt.date) -> bytes:
    with tempfile.TemporaryDirectory(prefix="fanwright-") as root:
        template = Path(root, "sheet.typ")
        template.write_bytes(resources.files("fanwright.report").joinpath("sheet.typ").read_bytes())
        for index, photo in enumerate(photos):
            Path(root, f"photo-{index}.jpg").write_bytes(photo.jpeg)
        for scale in SCALES:
            data = json.dumps(content | {"scale": scale}, ensure_ascii=False)
            made, pages = set_pdf(template, {"data": data}, Path(root), date)
            if pages <= MOST_PAGES:
                break
        return made
