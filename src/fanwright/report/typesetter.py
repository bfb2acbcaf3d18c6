"""The one place that calls typst: only our own font, no clock, no network."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from fanwright.report.font import folder

if TYPE_CHECKING:
    import typst


def _compiler(source: bytes, inputs: dict[str, str], root: Path | None = None) -> typst.Compiler:
    import typst

    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(folder())])
    return typst.Compiler(source, root=root, font_paths=fonts, sys_inputs=inputs)


def set_pdf(source: bytes, inputs: dict[str, str], root: Path, date: dt.date) -> bytes:
    """Set a PDF/A-2a.

    Args:
        source: The template.
        inputs: What it reads from ``sys.inputs``.
        root: The only folder it may read from.
        date: The date written into it.

    Returns:
        The PDF.
    """
    noon = dt.datetime.combine(date, dt.time(12), dt.UTC)
    return _whole(_compiler(source, inputs, root).compile(format="pdf", pdf_standards="a-2a", timestamp=noon))


def set_png(source: bytes, inputs: dict[str, str]) -> bytes:
    """Set a PNG with two pixels a point.

    Args:
        source: The template.
        inputs: What it reads from ``sys.inputs``.

    Returns:
        The PNG.
    """
    return _whole(_compiler(source, inputs).compile(format="png", ppi=144.0))


def _whole(made: bytes | list[bytes] | None) -> bytes:
    assert isinstance(made, bytes), "one page, or one document"
    return made
