"""The tests in a visit's drawing: open as a ring with the minutes, or read with value, mark and verdict.

An area holds the tests of one place. What was read stands in rows, the worst first; what is open stands in
rings; where a row no longer fits, the mark alone stays and the words are told to whoever asks.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from fanwright.report.font import font
from fanwright.report.pictures import needle
from fanwright.report.pictures.bay_captions import CAPTIONS
from fanwright.report.pictures.svg import LINE, THIN, Drawing, Ink, safe, spell
from fanwright.report.say import VERDICT_WORDS

Order = Literal["first", "later", "none"]
RING, CELL, CELL_HIGH = 12.0, 34.0, 36.0
LARGE, SMALL, LINE_HIGH, FLAG, TITLE = 31.0, 16.0, 13.0, 36.0, 15.0
COLUMN = 165.0
VALUE_SIZE, WORD_SIZE, SMALL_SIZE = 13.5, 11.0, 11.0
WIDER = 1.14  # the widest of the usual screen fonts against the font of the paper
_LITERAL = re.compile(r' (?:fill|stroke)="#[0-9a-f]{6}"| stroke-linejoin="round"')
_WORST_LAST = ("none", "not_judged", "good", "watch", "act_now", "stand_down")


@dataclass(frozen=True)
class Spot:
    """One test of the drawing.

    Args:
        test: The test (catalogue id).
        label: Its plain name.
        minutes: How long it takes [min].
        shown: What was read, in the reader's words and units; empty while it is open.
        verdict: The verdict's id; empty while it is open.
        value_si: The value read, where there is one [SI].
        not_done: Why it was not done; empty where it was or still can be.
    """

    test: str
    label: str
    minutes: float
    shown: str = ""
    verdict: str = ""
    value_si: float | None = None
    not_done: str = ""

    @property
    def told(self) -> str:
        """What a screen reader says of it."""
        if self.shown:
            return f"{self.label}: {self.shown}, {VERDICT_WORDS[self.verdict or 'none']}"
        if self.not_done:
            return f"{self.label}: not done, {self.not_done}"
        return f"{self.label}: open, {self.minutes:.0f} min"


@dataclass(frozen=True)
class Area:
    """Where the tests of one place stand.

    Args:
        x: Left edge [units].
        y: Upper edge [units].
        wide: Its width [units].
        high: Its height [units].
        tests: The tests that belong there, in the order they are done.
        title: A word above them, or empty.
    """

    x: float
    y: float
    wide: float
    high: float
    tests: tuple[str, ...]
    title: str = ""


class BayDrawing(Drawing):
    """A drawing whose parts can be chosen: groups with names, and parts without their words."""

    muted = False
    chosen = True
    mark = ""

    def pattern(self, name: str, ink: Ink, angle: float, gap: float = 6.0, width: float = 1.2) -> str:
        """Declare a hatching under a name of this drawing's own: a page may hold several drawings."""
        return super().pattern(name + self.mark, ink, angle, gap, width)

    def open(self, attributes: str) -> None:
        """Begin a group."""
        self._parts.append(f"<g {attributes}>")

    def close(self) -> None:
        """End a group."""
        self._parts.append("</g>")

    def raw(self, part: str) -> None:
        """Add a part as it is written."""
        self._parts.append(part)

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float = 12.0,
        anchor: Literal["start", "middle", "end"] = "start",
        ink: Ink = "ink",
        bold: bool = False,
    ) -> float:
        """Write a line of text, unless words are muted."""
        return 0.0 if self.muted else super().text(x, y, words, size, anchor, ink, bold)

    def group_svg(self) -> str:
        """Give the picture as a document whose parts are told one by one, not as one image.

        On screen the page's style sheet has the inks, so they are not written again at every line; quotes are
        single, so that JSON need not escape them.
        """
        made = self.svg().replace('role="img"', 'role="group" class="bay"', 1)
        if self.theme != "screen":
            return made
        return _LITERAL.sub("", made).replace("'", "&#39;").replace('"', "'")


def wide_of(words: str, size: float, bold: bool = False) -> float:
    """Estimate how wide a text gets in the widest of the usual screen fonts."""
    return font().width(words, size, bold) * WIDER


def fitted(words: str, size: float, room: float, bold: bool = False) -> str:
    """Cut a text with dots where it is wider than its room."""
    if wide_of(words, size, bold) <= room:
        return words
    while words and wide_of(words + "…", size, bold) > room:
        words = words[:-1]
    return words.rstrip(" ,:") + "…"


def stand(drawing: BayDrawing, area: Area, spots: Sequence[Spot], nexts: Sequence[str]) -> None:
    """Stand the tests of one place in their area.

    Args:
        drawing: The picture.
        area: The place.
        spots: Its tests.
        nexts: Tests worth doing next, the best first.
    """
    top = area.y
    if area.title:
        drawing.text(area.x, top + 10, area.title, 11, "start", "quiet")
        top += TITLE
    read = sorted((each for each in spots if each.shown), key=lambda one: -_WORST_LAST.index(one.verdict))
    flag = next((each for each in spots if not each.shown and list(nexts[:1]) == [each.test]), None)
    rings = [each for each in spots if not each.shown and each is not flag]
    room = area.y + area.high - top
    heights = _heights(area.wide, room, read, flag is not None, len(rings))
    top = _rows(drawing, (area.x, top, area.wide), read[: len(heights)], heights)
    if flag is not None:
        _flag(drawing, area.x, top, area.wide, flag)
        top += FLAG
    _rings(drawing, (area.x, top, area.wide), [*read[len(heights) :], *rings], nexts)


def _columns(wide: float) -> int:
    return max(1, int(wide // COLUMN))


def _ring_rows(wide: float, count: int) -> float:
    return CELL_HIGH * math.ceil(count / max(1, int(wide // CELL))) if count else 0.0


def _heights(wide: float, room: float, read: Sequence[Spot], flag: bool, rings: int) -> list[float]:
    """Choose for each reading how high its row is; readings beyond the last get no row but a mark."""
    columns, count = _columns(wide), len(read)
    each_wide = wide / columns - 6
    for rows in range(count, 0, -1):
        left = room - (FLAG if flag else 0.0) - _ring_rows(wide, rings + count - rows)
        low = [_small_high(spot, each_wide) for spot in read[:rows]]
        for large in (rows, columns, 0):
            heights = [LARGE] * min(large, rows) + low[large:]
            if sum(max(heights[at : at + columns]) for at in range(0, rows, columns)) <= left:
                return heights
    return []


def _small_high(spot: Spot, room: float) -> float:
    """Give how high a row is that writes the value small: on two lines where it is long."""
    fits = wide_of(spot.shown, SMALL_SIZE, True) <= room - 22
    return SMALL if fits else SMALL + LINE_HIGH


def _rows(
    drawing: BayDrawing, place: tuple[float, float, float], read: Sequence[Spot], heights: Sequence[float]
) -> float:
    x, top, wide = place
    columns = _columns(wide)
    each_wide = wide / columns
    for index, (spot, high) in enumerate(zip(read, heights, strict=True)):
        left = x + (index % columns) * each_wide
        _begin(drawing, spot, "read", (left, top, each_wide - 4, high))
        (_large if high == LARGE else _small)(drawing, left, top, each_wide - 6, spot)
        drawing.close()
        if index % columns == columns - 1 or index == len(read) - 1:
            top += max(heights[index - index % columns : index + 1])
    return top


def _begin(
    drawing: BayDrawing, spot: Spot, kind: str, hit: tuple[float, float, float, float], told: str = ""
) -> None:
    if not drawing.chosen:
        drawing.open('class="spot"')
        return
    said = safe(spot.told + told)
    verdict = f' data-verdict="{spot.verdict}"' if spot.verdict else ""
    drawing.open(
        f'class="spot {kind}" data-test="{safe(spot.test)}"{verdict} tabindex="0" role="button"'
        f' aria-label="{said}"'
    )
    x, y, wide, high = (spell(each) for each in hit)
    drawing.raw(f'<rect class="hit" x="{x}" y="{y}" width="{wide}" height="{high}" rx="4" fill="none"/>')


def _large(drawing: BayDrawing, x: float, top: float, room: float, spot: Spot) -> None:
    """Write value, mark and verdict, and the caption below; the verdict goes below too where it is long."""
    ink = needle.ink_of(spot.verdict)
    said, bold = _said(spot)
    said_wide = 30 + wide_of(said, WORD_SIZE, bold) if said else 26.0
    size = VALUE_SIZE if wide_of(spot.shown, VALUE_SIZE, True) <= room else SMALL_SIZE
    shown = fitted(spot.shown, size, room, True)
    _slot(drawing, "value", x, top + 14, shown, size, ink, True)
    at, level = x + wide_of(shown, size, True) + 4, top + 14
    caption = x
    if at + said_wide > x + room:
        at, level, caption = x, top + 27, x + said_wide + 4
    needle.mark(drawing, at, level - 13, spot.verdict, 0.8)
    _slot(drawing, "word", at + 25, level, said, WORD_SIZE, ink, bold)
    rest = x + room - caption
    if rest > 24:
        words = fitted(CAPTIONS[spot.test], WORD_SIZE, rest)
        drawing.text(caption, top + 27, words, WORD_SIZE, "start", "quiet")


def _said(spot: Spot) -> tuple[str, bool]:
    """Give the verdict's word, and whether it is set bold."""
    said = "" if spot.verdict == "none" else VERDICT_WORDS[spot.verdict]
    return said, spot.verdict in {"watch", "act_now", "stand_down"}


def _small(drawing: BayDrawing, x: float, top: float, room: float, spot: Spot) -> None:
    """Write mark and value, then the caption and the verdict's word as far as there is room."""
    ink = needle.ink_of(spot.verdict)
    needle.mark(drawing, x, top + 1, spot.verdict, 0.7)
    left = x + 22
    said, bold = _said(spot)
    lines = _broken(spot.shown, SMALL_SIZE, room - 22)
    for index, line in enumerate(lines):
        _slot(drawing, "value", left, top + 12 + LINE_HIGH * index, line, SMALL_SIZE, ink, True)
    foot = top + 12 + LINE_HIGH * (len(lines) - 1)
    left += wide_of(lines[-1], SMALL_SIZE, True) + 5
    rest = x + room - left
    whole = f"{CAPTIONS[spot.test]}, {said}" if said else CAPTIONS[spot.test]
    words = whole if wide_of(whole, 10.5, bold) <= rest else said or CAPTIONS[spot.test]
    if wide_of(words, 10.5, bold) <= rest:
        _slot(drawing, "word", left, foot, words, 10.5, ink if bold else "quiet", bold)


def _broken(words: str, size: float, room: float) -> list[str]:
    """Break a bold text into one or two lines; what does not fit in two ends in dots."""
    if wide_of(words, size, True) <= room:
        return [words]
    parts = words.split(" ")
    for count in range(len(parts) - 1, 0, -1):
        if wide_of(" ".join(parts[:count]), size, True) <= room:
            return [" ".join(parts[:count]), fitted(" ".join(parts[count:]), size, room, True)]
    return [fitted(words, size, room, True)]


def _slot(
    drawing: BayDrawing, name: str, x: float, y: float, words: str, size: float, ink: Ink, bold: bool
) -> None:
    """Write a text that a page may change before the next drawing comes."""
    drawing.open(f'data-slot="{name}"')
    drawing.text(x, y, words, size, "start", ink, bold)
    drawing.close()


def _rings(
    drawing: BayDrawing, place: tuple[float, float, float], spots: Sequence[Spot], nexts: Sequence[str]
) -> None:
    x, top, wide = place
    fit = max(1, int(wide // CELL))
    for index, spot in enumerate(spots):
        left, upper = x + CELL * (index % fit), top + CELL_HIGH * (index // fit)
        middle, level = left + CELL / 2, upper + CELL / 2
        soon = spot.test in nexts
        kind = "read ring" if spot.shown else "not-done" if spot.not_done else "soon" if soon else "open"
        told = f", {nexts.index(spot.test) + 1} of the tests worth doing" if soon else ""
        _begin(drawing, spot, kind, (left, upper, CELL, CELL_HIGH), told)
        if spot.shown:
            needle.mark(drawing, middle - 12, level - 9, spot.verdict, 0.85)
        else:
            ink: Ink = "blue" if soon else "quiet"
            drawing.circle(middle, level, RING, ink, "paper", 2.4 if soon else THIN)
            if spot.not_done:
                drawing.line([(middle - 8, level + 8), (middle + 8, level - 8)], "quiet", LINE)
            else:
                drawing.text(middle, level + 4, f"{spot.minutes:.0f}", 11, "middle", ink, soon)
        drawing.close()


def _flag(drawing: BayDrawing, x: float, top: float, wide: float, spot: Spot) -> None:
    """Point at the one test to do next."""
    words = f"next · {spot.minutes:.0f} min"
    if wide_of(words, 12, True) + 22 > wide:
        words = "next"
    across = wide_of(words, 12, True) + 22
    _begin(drawing, spot, "next", (x, top, max(across, min(wide, 150.0)), FLAG), ", the next test")
    middle = top + 16
    drawing.shape(
        [
            (x + across, middle - 13),
            (x + 12, middle - 13),
            (x, middle),
            (x + 12, middle + 13),
            (x + across, middle + 13),
        ],
        None,
        "blue",
    )
    drawing.text(x + 15, middle + 4.5, words, 12, "start", "paper", True)
    rest = wide - across - 6
    if rest > 40:
        drawing.text(x + across + 6, middle + 4, fitted(CAPTIONS[spot.test], 11, rest), 11, "start", "blue")
    drawing.close()
