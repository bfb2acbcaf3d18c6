"""The one place that calls typst: only our own font, no clock, no network."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import TYPE_CHECKING

from fanwright.report.font import folder

if TYPE_CHECKING:
    import typst


def _fonts() -> typst.Fonts:
    import typst

    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(folder())])


def set_pdf(source: Path, inputs: dict[str, str], root: Path, date: dt.date) -> tuple[bytes, int]:
    """Set a PDF/A-2a and count its pages.

    Args:
        source: The template, in ``root``; it notes its number of pages as ``<pages>``.
        inputs: What it reads from ``sys.inputs``.
        root: The only folder it may read from.
        date: The date written into it.

    Returns:
        The PDF, and how many pages it has.
    """
    import typst

    noon = dt.datetime.combine(date, dt.time(12), dt.UTC)
    compiler = typst.Compiler(source, root=root, font_paths=_fonts(), sys_inputs=inputs)
    made = _whole(compiler.compile(format="pdf", pdf_standards="a-2a", timestamp=noon))
    return made, int(json.loads(compiler.query("<pages>", field="value", one=True)))


def set_png(source: bytes, inputs: dict[str, str]) -> bytes:
    """Set a PNG with two pixels a point.

    Args:
        source: The template.
        inputs: What it reads from ``sys.inputs``.

    Returns:
        The PNG.
    """
    import typst

    compiler = typst.Compiler(source, font_paths=_fonts(), sys_inputs=inputs)
    return _whole(compiler.compile(format="png", ppi=144.0))


def _whole(made: bytes | list[bytes] | None) -> bytes:
    assert isinstance(made, bytes), "one page, or one document"
    return made
