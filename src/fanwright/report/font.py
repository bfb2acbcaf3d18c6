"""The one font of the paper: which characters it has, and how wide they are.

Reads two tables of the font file (OpenType: ``cmap`` formats 4 and 12, ``hmtx``), so that a character it
lacks is refused before anything is set, and labels can be kept inside a picture.
"""

from __future__ import annotations

import struct
import unicodedata
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path

FAMILY = "Noto Sans"
BOLD_WIDER = 1.09  # whole words set in this font measure 1.01 to 1.08 times as wide in bold
_UPRIGHT = "NotoSans[wdth,wght].ttf"


@dataclass(frozen=True)
class Font:
    """What must be known of a font.

    Args:
        glyph_of: Glyph number by character code.
        advances: Advance width by glyph number, the last one holding for all that follow [units].
        units_per_em: Font units in the letter height [units].
    """

    glyph_of: dict[int, int]
    advances: tuple[int, ...]
    units_per_em: int

    def width(self, text: str, size: float, bold: bool = False) -> float:
        """Estimate how wide a line of text is.

        Args:
            text: The line.
            size: Letter height [any unit].
            bold: Whether it is set bold.

        Returns:
            Its width [the unit of ``size``].
        """
        last = len(self.advances) - 1
        units = sum(self.advances[min(self.glyph_of.get(ord(each), 0), last)] for each in text)
        return units * size / self.units_per_em * (BOLD_WIDER if bold else 1.0)

    def missing(self, text: str) -> tuple[str, ...]:
        """Give the characters of a text that cannot be printed, each once, in order.

        Those are the characters the font lacks, and those that are not to be seen (controls, marks that turn
        the direction of writing), which could make a record read as what it is not.
        """
        return tuple(dict.fromkeys(each for each in text if ord(each) not in self.glyph_of or _hidden(each)))


def _hidden(character: str) -> bool:
    return unicodedata.category(character) in {"Cc", "Cf", "Co", "Cs"}


def folder() -> Path:
    """Give the folder with the font files."""
    return Path(str(resources.files("fontpkg_noto_sans").joinpath("files")))


@cache
def font() -> Font:
    r"""Read the upright font.

    Example:
        >>> font().missing("117 psi \u6f22")
        ('漢',)
    """
    data = (folder() / _UPRIGHT).read_bytes()
    tables = {
        data[at : at + 4]: struct.unpack_from(">II", data, at + 8)
        for at in range(12, 12 + 16 * struct.unpack_from(">H", data, 4)[0], 16)
    }
    long_metrics = struct.unpack_from(">H", data, tables[b"hhea"][0] + 34)[0]
    pairs = struct.unpack_from(f">{2 * long_metrics}H", data, tables[b"hmtx"][0])
    return Font(
        _characters(data, tables[b"cmap"][0]),
        pairs[::2],
        struct.unpack_from(">H", data, tables[b"head"][0] + 18)[0],
    )


def _characters(data: bytes, start: int) -> dict[int, int]:
    """Read every Unicode subtable of a ``cmap`` (platform 0, or 3 with encoding 1 or 10)."""
    found: dict[int, int] = {}
    for index in range(struct.unpack_from(">H", data, start + 2)[0]):
        platform, encoding, offset = struct.unpack_from(">HHI", data, start + 4 + 8 * index)
        if platform != 0 and (platform, encoding) not in {(3, 1), (3, 10)}:
            continue
        at = start + offset
        kind = struct.unpack_from(">H", data, at)[0]
        if kind == 12:
            found |= _format_12(data, at)
        elif kind == 4:
            found |= _format_4(data, at)
    return found


def _format_12(data: bytes, at: int) -> dict[int, int]:
    groups = struct.unpack_from(">I", data, at + 12)[0]
    found: dict[int, int] = {}
    for first, last, glyph in struct.iter_unpack(">III", data[at + 16 : at + 16 + 12 * groups]):
        found |= {code: glyph + code - first for code in range(first, last + 1)}
    return found


def _format_4(data: bytes, at: int) -> dict[int, int]:
    segments = struct.unpack_from(">H", data, at + 6)[0] // 2
    layout = f">{segments}H"
    ends = struct.unpack_from(layout, data, at + 14)
    starts = struct.unpack_from(layout, data, at + 16 + 2 * segments)
    deltas = struct.unpack_from(layout, data, at + 16 + 4 * segments)
    offsets_at = at + 16 + 6 * segments
    offsets = struct.unpack_from(layout, data, offsets_at)
    found: dict[int, int] = {}
    for index, (first, last) in enumerate(zip(starts, ends, strict=True)):
        for code in range(first, last + 1):
            glyph = code
            if offsets[index]:
                place = offsets_at + 2 * index + offsets[index] + 2 * (code - first)
                glyph = struct.unpack_from(">H", data, place)[0]
                if not glyph:
                    continue
            if glyph := (glyph + deltas[index]) & 0xFFFF:
                found[code] = glyph
    return found
