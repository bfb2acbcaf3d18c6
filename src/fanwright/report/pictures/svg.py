"""A small writer of SVG: ink on paper, two themes, text that stays inside.

Theme ``screen`` names the inks as CSS classes beside literal light colours, so that a page's style sheet can
change them and a file on its own still shows; theme ``print`` has literal colours only.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import Literal
from xml.sax.saxutils import escape

from fanwright.report.font import FAMILY, font

Theme = Literal["screen", "print"]
Anchor = Literal["start", "middle", "end"]
Ink = Literal["ink", "quiet", "blue", "rust", "violet", "paper", "pale"]

# Searched for largest distance in normal and colour-deficient sight, at least 4.5:1 on the paper.
LITERAL: dict[str, str] = {
    "ink": "#00000f",
    "quiet": "#595959",
    "blue": "#0a2179",
    "rust": "#d03b06",
    "violet": "#7964cf",
    "paper": "#ffffff",
    "pale": "#e4e2dc",
}
THIN, LINE, THICK = 1.0, 1.5, 3.0
WIRE, DOTS, DASHES, CENTRE = "6 3", "1.5 3.5", "9 4", "14 3 3 3"
MARGIN = 6.0
_BLANK = re.compile("[\t\n\r]")
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def spell(value: float) -> str:
    """Write a coordinate with no more than two decimals."""
    short = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if short == "-0" else short


def safe(text: str) -> str:
    """Escape text for XML; characters that XML forbids become the replacement character.

    Example:
        >>> safe("a < b & c")
        'a &lt; b &amp; c'
    """
    return escape(_NOT_XML.sub("\ufffd", text), {'"': "&quot;"})


class Drawing:
    """One picture in the making.

    Args:
        width: Width of the view box [units].
        height: Height of the view box [units].
        title: Its name, read out by a screen reader.
        desc: What it shows, in a sentence or two.
        theme: ``screen`` or ``print``.
    """

    def __init__(self, width: float, height: float, title: str, desc: str, theme: Theme) -> None:
        self.width = width
        self.height = height
        self.theme = theme
        self._head = f"<title>{safe(title)}</title><desc>{safe(desc)}</desc>"
        self._patterns: dict[str, str] = {}
        self._parts: list[str] = []

    def _paint(self, stroke: Ink | None, fill: str | None, width: float, dash: str) -> str:
        filled = "none" if fill is None else LITERAL.get(fill, f"url(#{fill})")
        parts = [f'fill="{filled}"']
        classes = [f"fill-{fill}"] if fill in LITERAL else []
        if stroke is not None:
            parts.append(f'stroke="{LITERAL[stroke]}" stroke-width="{spell(width)}"')
            classes.append(f"line-{stroke}")
            if dash:
                parts.append(f'stroke-dasharray="{dash}"')
        if classes and self.theme == "screen":
            parts.insert(0, f'class="{" ".join(classes)}"')
        return " ".join(parts)

    def line(
        self,
        points: Iterable[tuple[float, float]],
        ink: Ink = "ink",
        width: float = LINE,
        dash: str = "",
    ) -> None:
        """Draw a line through points."""
        path = "M" + "L".join(f"{spell(x)} {spell(y)}" for x, y in points)
        self._parts.append(
            f'<path d="{path}" {self._paint(ink, None, width, dash)} stroke-linejoin="round"/>'
        )

    def shape(
        self,
        points: Iterable[tuple[float, float]],
        ink: Ink | None = "ink",
        fill: str | None = None,
        width: float = LINE,
    ) -> None:
        """Draw a closed outline through points."""
        path = "M" + "L".join(f"{spell(x)} {spell(y)}" for x, y in points) + "Z"
        self._parts.append(f'<path d="{path}" {self._paint(ink, fill, width, "")}/>')

    def curve(
        self, path: str, ink: Ink | None = "ink", fill: Ink | None = None, width: float = LINE, dash: str = ""
    ) -> None:
        """Draw a path given in the path language of SVG."""
        self._parts.append(f'<path d="{path}" {self._paint(ink, fill, width, dash)}/>')

    def box(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        ink: Ink | None = "ink",
        fill: str | None = None,
        line: float = LINE,
        corner: float = 0.0,
        dash: str = "",
    ) -> None:
        """Draw an upright rectangle."""
        rounded = f' rx="{spell(corner)}"' if corner else ""
        self._parts.append(
            f'<rect x="{spell(x)}" y="{spell(y)}" width="{spell(width)}" height="{spell(height)}"{rounded} '
            f"{self._paint(ink, fill, line, dash)}/>"
        )

    def circle(
        self,
        x: float,
        y: float,
        radius: float,
        ink: Ink | None = "ink",
        fill: Ink | None = None,
        width: float = LINE,
    ) -> None:
        """Draw a circle."""
        place = f'cx="{spell(x)}" cy="{spell(y)}" r="{spell(radius)}"'
        self._parts.append(f"<circle {place} {self._paint(ink, fill, width, '')}/>")

    def pattern(self, name: str, ink: Ink, angle: float, gap: float = 6.0, width: float = 1.2) -> str:
        """Declare a hatching and give the name it can be filled with.

        Args:
            name: Its name.
            ink: The ink of its lines.
            angle: Slope of its lines from upright [degrees].
            gap: Distance of its lines [units].
            width: Width of its lines [units].
        """
        marked = f' class="line-{ink}"' if self.theme == "screen" else ""
        self._patterns[name] = (
            f'<pattern id="{name}" width="{spell(gap)}" height="{spell(gap)}" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate({spell(angle)})"><path d="M{spell(gap / 2)} 0V{spell(gap)}"{marked} '
            f'stroke="{LITERAL[ink]}" stroke-width="{spell(width)}"/></pattern>'
        )
        return name

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float = 12.0,
        anchor: Anchor = "start",
        ink: Ink = "ink",
        bold: bool = False,
    ) -> float:
        """Write a line of text, moved or cut with dots where it would leave the picture.

        Args:
            x: Where it is anchored [units].
            y: Its foot line [units].
            words: The text.
            size: Letter height [units].
            anchor: Which end stands at ``x``.
            ink: Its ink.
            bold: Whether it is set bold.

        Returns:
            Its estimated width [units].
        """
        words = self._cut(_NOT_XML.sub("\ufffd", _BLANK.sub(" ", words)), size, bold)
        width = font().width(words, size, bold)
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
        left = min(max(x - share * width, MARGIN), self.width - MARGIN - width)
        x = left + share * width
        end = "" if anchor == "start" else f' text-anchor="{anchor}"'
        weight = ' font-weight="700"' if bold else ""
        marked = f' class="fill-{ink}"' if self.theme == "screen" else ""
        self._parts.append(
            f'<text x="{spell(x)}" y="{spell(y)}" font-size="{spell(size)}"{end}{weight}{marked} '
            f'fill="{LITERAL[ink]}">{safe(words)}</text>'
        )
        return width

    def _cut(self, words: str, size: float, bold: bool) -> str:
        room = self.width - 2 * MARGIN
        if font().width(words, size, bold) <= room:
            return words
        while words and font().width(words + "…", size, bold) > room:
            words = words[:-1]
        return words + "…"

    def svg(self) -> str:
        """Give the picture as a whole SVG document."""
        named = f"<defs>{''.join(self._patterns.values())}</defs>" if self._patterns else ""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {spell(self.width)} {spell(self.height)}" '
            f'role="img" font-family="{FAMILY}, sans-serif">{self._head}{named}{"".join(self._parts)}</svg>'
        )


def spring(
    drawing: Drawing, left: float, right: float, y: float, half: float = 8.0, turns: int = 4, ink: Ink = "ink"
) -> None:
    """Draw a lying coil spring as a zigzag between two places."""
    step = (right - left) / (2 * turns)
    points = [(left, y)]
    points += [(left + step * (i + 0.5), y + (half if i % 2 else -half)) for i in range(2 * turns)]
    drawing.line([*points, (right, y)], ink, LINE)


def arrow(
    drawing: Drawing,
    start: tuple[float, float],
    end: tuple[float, float],
    ink: Ink = "ink",
    head: float = 7.0,
) -> None:
    """Draw an arrow with a filled head."""
    angle = math.atan2(end[1] - start[1], end[0] - start[0])
    back = (end[0] - head * math.cos(angle), end[1] - head * math.sin(angle))
    side = (0.4 * head * math.sin(angle), -0.4 * head * math.cos(angle))
    drawing.line([start, back], ink, LINE)
    drawing.shape(
        [end, (back[0] + side[0], back[1] + side[1]), (back[0] - side[0], back[1] - side[1])], None, ink
    )
