"""From SVG to PNG, for pictures outside a page or paper."""

from __future__ import annotations

from pathlib import Path

from fanwright.report.typesetter import set_png
from fanwright.report.writing import replace_file

_PAGE = """#set page(width: auto, height: auto, margin: 0pt, fill: white)
#image(bytes(sys.inputs.svg), format: "svg", width: float(sys.inputs.width) * 1pt)"""


def from_svg(svg: str, path: Path, width_pixels: int = 1520) -> None:
    """Write a picture as PNG; the file appears whole or not at all.

    Args:
        svg: The picture.
        path: Where to write it.
        width_pixels: Its width [pixels].

    Raises:
        FileError: The file cannot be written.
    """
    replace_file(path, to_png(svg, width_pixels))


def to_png(svg: str, width_pixels: int = 1520) -> bytes:
    """Turn a picture into the bytes of a PNG.

    Args:
        svg: The picture.
        width_pixels: Its width [pixels].

    Returns:
        The bytes.
    """
    return set_png(_PAGE.encode(), {"svg": svg, "width": str(width_pixels / 2.0)})
