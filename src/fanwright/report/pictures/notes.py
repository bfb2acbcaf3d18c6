"""Readings as they stand in a picture: value, needle, verdict in words, and where it was taken."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fanwright.evidence.reading import Reading
from fanwright.judging.verdict import WORST_LAST, Judgement
from fanwright.report.figures import reading_words
from fanwright.report.font import font
from fanwright.report.pictures.needle import ink_of, mark
from fanwright.report.pictures.svg import LINE, Drawing
from fanwright.report.say import VERDICT_WORDS, Reader
from fanwright.visit.model import NotJudged

FULL_SCALE_PA = 160.0 * 6894.757293168  # the usual shop gauge
CAPTIONS = {
    "supply_gauge_still": "inlet, valve at rest",
    "supply_gauge_cycling": "inlet, lowest",
    "drive_gauge_air_on": "air sent",
    "drive_gauge_air_off": "air cut off",
    "fill_time": "fill, 0 to 90 psi",
    "vent_time": "vent, 90 psi to 0",
    "exhaust_look": "exhaust port",
    "exhaust_puff": "exhaust puff",
    "feed_volts": "feed",
    "coil_ohms": "coil",
    "coil_amps": "coil draws",
    "pull_in_volts": "pull-in",
    "click": "click",
    "jumper_feed": "jumper",
    "wiggle": "shaken",
    "build_air": "system",
    "filter_drain": "filter",
    "belt_tension": "belt",
    "belt_look": "belt",
    "tensioner": "tensioner",
    "pulley_look": "grooves",
    "facing_thickness": "thinnest place",
    "facing_look": "facing",
    "disc_look": "steel face",
    "facing_spread": "facing spread",
    "hold_at_drive": "60 s hold at drive",
    "hold_test": "60 s hold",
    "lift_off_pressure": "lift-off",
    "fan_look": "fan",
    "hub_rock": "hub",
    "mount_tight": "mount",
    "grip": "grip",
    "let_go": "let go",
    "shroud_gap": "shroud gap",
}
_ORDER = ("none", "not_judged", *WORST_LAST)


class Notes:
    """The readings of a picture by test, the worst where there are several.

    Args:
        judgements: Readings with their verdicts.
        not_judged: Readings kept without one.
        reader: Who reads.
    """

    def __init__(
        self, judgements: Sequence[Judgement], not_judged: Sequence[NotJudged], reader: Reader
    ) -> None:
        self.reader = reader
        self._found: dict[str, tuple[Reading, str]] = {}
        kept = [(each.reading, "not_judged") for each in not_judged if each.reading is not None]
        judged = sorted(
            ((each.reading, each.verdict) for each in judgements), key=lambda each: _ORDER.index(each[1])
        )
        for reading, verdict in (*kept, *judged):
            self._found[reading.test] = (reading, verdict)

    def value_si(self, *tests: str) -> float | None:
        """Give the value of the first of some tests that has one [SI]."""
        values = (self._found[test][0].measured for test in tests if test in self._found)
        return next((value.si for value in values if value is not None), None)

    def told(self) -> str:
        """Tell every reading in the picture, for those who hear it."""
        return " ".join(
            f"{CAPTIONS[test]}: {self._words(test)}, {VERDICT_WORDS[self._found[test][1]]}."
            for test in CAPTIONS
            if test in self._found
        )

    def _words(self, test: str) -> str:
        return reading_words(self._found[test][0], self.reader)

    def stand(
        self, drawing: Drawing, place: tuple[float, float, float], tests: Sequence[str], big: int, small: int
    ) -> None:
        """Write readings one under the other.

        Args:
            drawing: The picture.
            place: Left edge, foot line of the first, and the room to the right of the edge [units].
            tests: The tests that belong here, the most telling first.
            big: How many of the first are written large, with the caption below.
            small: How many of the others are written small, the worst first, with their mark in front.
        """
        x, y, room = place
        for test in self._here(tests[:big]):
            self._large(drawing, x, y, room, test)
            y += 34
        for test in sorted(self._here(tests[big:]), key=lambda each: -_ORDER.index(self._found[each][1]))[
            :small
        ]:
            y = self._small(drawing, x, y, room, test)

    def _here(self, tests: Sequence[str]) -> list[str]:
        return [test for test in tests if test in self._found]

    def _large(self, drawing: Drawing, x: float, y: float, room: float, test: str) -> None:
        verdict = self._found[test][1]
        said = "" if verdict == "none" else VERDICT_WORDS[verdict]
        bold = verdict not in {"good", "not_judged"}
        words, size = self._words(test), 15.0
        said_wide = 34 + font().width(said, 11, bold)
        if font().width(words, size, bold=True) + said_wide > room:
            size = 12.0
        wide = drawing.text(x, y, words, size, "start", ink_of(verdict), bold=True)
        aside = drawing.text(x, y + 14, CAPTIONS[test], 11, "start", "quiet")
        if wide + said_wide > room:
            wide, y = aside, y + 14
        if said:
            mark(drawing, x + wide + 5, y - 14, verdict, 0.9)
            drawing.text(x + wide + 34, y, said, 11, "start", ink_of(verdict), bold)

    def _small(self, drawing: Drawing, x: float, y: float, room: float, test: str) -> float:
        verdict = self._found[test][1]
        mark(drawing, x, y - 11.5, verdict, 0.75)
        said = "" if verdict == "none" else ", " + VERDICT_WORDS[verdict].replace(" ", "\u00a0")
        for line in _wrapped(f"{CAPTIONS[test]}: {self._words(test)}{said}", room - 25):
            drawing.text(
                x + 25, y, line, 11, "start", ink_of(verdict), bold=verdict in {"act_now", "stand_down"}
            )
            y += 13
        return y + 4


def _wrapped(words: str, room: float) -> list[str]:
    """Break a text into lines that fit a room."""
    lines = [""]
    for word in words.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if font().width(longer, 11, bold=True) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return [line for line in lines if line]


def gauge(drawing: Drawing, x: float, y: float, gauge_pa: float | None) -> None:
    """Draw a pressure gauge (ISO 1219-1: circle with needle), its needle at the value, a tick at 90 psi."""
    drawing.circle(x, y, 22, "ink", "paper")
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        _ray(drawing, x, y, share, 18, 22, 1.0)
    _ray(drawing, x, y, 90.0 / 160.0, 15, 27, 2.0)
    if gauge_pa is not None:
        _ray(drawing, x, y, min(max(gauge_pa / FULL_SCALE_PA, 0.0), 1.05), 0, 16, 2.6)
        drawing.circle(x, y, 2.6, None, "ink")


def _ray(drawing: Drawing, x: float, y: float, share: float, near: float, far: float, width: float) -> None:
    angle = math.radians(225.0 - 270.0 * share)
    drawing.line(
        [
            (x + near * math.cos(angle), y - near * math.sin(angle)),
            (x + far * math.cos(angle), y - far * math.sin(angle)),
        ],
        "ink",
        width,
    )


def legend(drawing: Drawing, y: float) -> None:
    """Explain marks and lines in one row."""
    x = 20.0
    for verdict, shown in (
        ("good", "good"),
        ("watch", "watch: near the mark"),
        ("act_now", "act now: beyond it"),
        ("stand_down", "do not run: barred"),
        ("not_judged", "not judged: empty"),
    ):
        mark(drawing, x, y - 12, verdict, 0.8)
        x += 27 + drawing.text(x + 27, y, shown, 11, "start", "quiet") + 12
    drawing.line([(x, y - 4), (x + 22, y - 4)], "ink", 3.0)
    x += 28 + drawing.text(x + 28, y, "air", 11, "start", "quiet") + 8
    drawing.line([(x, y - 4), (x + 22, y - 4)], "ink", LINE, "6 3")
    drawing.text(x + 28, y, "wire", 11, "start", "quiet")
