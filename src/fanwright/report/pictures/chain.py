"""The chain of reasoning as a small drawing: what was seen, what it speaks for, and what led to it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fanwright.diagnosis.reasoning import Held, Reasoning, reasoning_of
from fanwright.evidence.reading import Reading
from fanwright.report.figures import reading_words
from fanwright.report.font import font
from fanwright.report.pictures.svg import DASHES, LINE, THIN, Drawing, Theme, arrow
from fanwright.report.say import Reader, write_chance
from fanwright.visit.model import Assessment

WIDTH = 800.0
SEEN_X, RIGHT_X = 8.0, 786.0
OPEN_HIGH, FOOT = 22.0, 24.0
BAR_HIGH = 9.0
INSET = 8.0
SIZE, SMALL = 12.0, 11.0
WIDER = 1.1
"""How much wider than our own font one may be that stands in for it on a screen."""
FEW = 2


@dataclass(frozen=True)
class Form:
    """Sizes of the boxes [units]: two lines in each, or one where room is scarce."""

    seen_wide: float
    seen_high: float
    held_x: float
    held_wide: float
    held_high: float
    bar_wide: float
    gap: float
    top: float

    @property
    def one_line(self) -> bool:
        """Whether a box holds a single line."""
        return self.seen_high < 2.0 * SIZE


ROOMY = Form(330.0, 36.0, 470.0, 300.0, 46.0, 56.0, 10.0, 26.0)
SHORT = Form(350.0, 19.0, 430.0, 342.0, 21.0, 30.0, 5.0, 4.0)


def draw(
    chain: Reasoning,
    theme: Theme = "screen",
    reader: Reader | None = None,
    readings: Sequence[Reading] = (),
    form: Form = ROOMY,
) -> str:
    """Draw the chain of reasoning.

    Args:
        chain: What to draw.
        theme: ``screen`` or ``print``.
        reader: Who reads; psi and English when None.
        readings: The readings, so that a measured value stands beside its test; words alone without them.
        form: Sizes of the boxes.

    Returns:
        An SVG document.
    """
    who = reader or Reader()
    values = {one.test: reading_words(one, who) for one in readings if one.measured is not None}
    seen_y, held_y, height = _places(chain, form)
    drawing = Drawing(WIDTH, height, "From what was seen to its cause", _desc(chain, who), theme)
    if not form.one_line:
        drawing.text(SEEN_X, 16, "seen", SMALL, "start", "quiet")
        drawing.text(form.held_x, 16, "how probable it is that it is there", SMALL, "start", "quiet")
    _links(drawing, chain, form, seen_y, held_y)
    for sign in chain.evidence:
        said = values.get(sign.test) or _outcome(who, sign.test, sign.outcome)
        _seen(drawing, form, seen_y[sign.test], _label(who, sign.test), said)
    for held in chain.held:
        _held(drawing, form, held_y[held.fault], held, who)
    for number, (cause, result) in enumerate(chain.leads):
        _lead(drawing, form, held_y[cause], held_y[result], number)
    _legend(drawing, chain, height - 7.0)
    return drawing.svg()


def draw_assessment(
    assessment: Assessment, theme: Theme = "screen", reader: Reader | None = None, *, short: bool = False
) -> str:
    """Draw the chain of reasoning of an assessment, with its readings.

    Args:
        assessment: The assessment.
        theme: ``screen`` or ``print``.
        reader: Who reads; psi and English when None.
        short: Two faults with two facts for each at most, a line each, where room is scarce.

    Returns:
        An SVG document; empty where the search for causes failed.
    """
    if assessment.diagnosis is None:
        return ""
    judged = [one.reading for one in assessment.verdicts]
    kept = [one.reading for one in assessment.not_judged if one.reading is not None]
    if short:
        chain, form = reasoning_of(assessment.diagnosis, faults=FEW, speaking_for=FEW), SHORT
    else:
        chain, form = reasoning_of(assessment.diagnosis), ROOMY
    return draw(chain, theme, reader, (*judged, *kept), form)


def _places(chain: Reasoning, form: Form) -> tuple[dict[str, float], dict[str, float], float]:
    """Stand both columns, each in the middle of the height, and give the height of all."""
    left = len(chain.evidence) * (form.seen_high + form.gap)
    right = sum(_high(held, form) + form.gap for held in chain.held)
    room = max(left, right, form.held_high)
    seen_y, y = {}, form.top + (room - left) / 2
    for sign in chain.evidence:
        seen_y[sign.test] = y
        y += form.seen_high + form.gap
    spread = (room - right) / (len(chain.held) + 1)
    held_y, y = {}, form.top + spread
    for held in chain.held:
        held_y[held.fault] = y
        y += _high(held, form) + form.gap + spread
    return seen_y, held_y, form.top + room + FOOT


def _high(held: Held, form: Form) -> float:
    return form.held_high + (OPEN_HIGH if held.open_tests else 0.0)


def _links(
    drawing: Drawing,
    chain: Reasoning,
    form: Form,
    seen_y: Mapping[str, float],
    held_y: Mapping[str, float],
) -> None:
    """Draw an arrow from each fact to each fault it speaks of, the arrow heads of a fault side by side."""
    for held in chain.held:
        own = [link for link in chain.links if link.fault == held.fault]
        for number, link in enumerate(own, start=1):
            start = (SEEN_X + form.seen_wide, seen_y[link.test] + form.seen_high / 2)
            end = (form.held_x, held_y[held.fault] + form.held_high * number / (len(own) + 1))
            (arrow if link.speaks == "for" else _barred)(drawing, start, end)


def _barred(drawing: Drawing, start: tuple[float, float], end: tuple[float, float]) -> None:
    """Draw a dashed line with a bar across its end: this speaks against it."""
    stop = (end[0] - 3.0, end[1])
    drawing.line([start, stop], "ink", THIN, DASHES)
    drawing.line([(stop[0], stop[1] - 5.0), (stop[0], stop[1] + 5.0)], "ink", LINE)


def _seen(drawing: Drawing, form: Form, y: float, label: str, said: str) -> None:
    """Draw a fact: the test, and what it showed."""
    drawing.box(SEEN_X, y, form.seen_wide, form.seen_high, "ink", "paper", THIN)
    x, room = SEEN_X + INSET, form.seen_wide - 2 * INSET
    if form.one_line:
        shown = fitted(said, 0.6 * room, SIZE, bold=True)
        wide = drawing.text(x + room, y + 14, shown, SIZE, "end", bold=True)
        drawing.text(x, y + 14, fitted(label, room - wide - INSET, SMALL), SMALL, "start", "quiet")
    else:
        drawing.text(x, y + 14, fitted(label, room, SMALL), SMALL, "start", "quiet")
        drawing.text(x, y + 29, fitted(said, room, SIZE, bold=True), SIZE, bold=True)


def _held(drawing: Drawing, form: Form, y: float, held: Held, reader: Reader) -> None:
    """Draw a fault: its name, how probable it is, and what to ask for where it is a result by itself."""
    fault = reader.catalogue.faults[held.fault]
    drawing.box(form.held_x, y, form.held_wide, form.held_high, "ink", "paper", 2.2, corner=6)
    x, room = form.held_x + INSET, form.held_wide - 2 * INSET
    told = write_chance(held.probability)
    if fault.role == "result" and not form.one_line:
        told = f"{told}, a result"
    if form.one_line:
        bar_y = y + 6
        wide = drawing.text(x + form.bar_wide + INSET, y + 15, told, SMALL)
        left = x + form.bar_wide + wide + 2 * INSET
        name = fitted(fault.label, form.held_x + form.held_wide - INSET - left, SIZE, bold=True)
        drawing.text(left, y + 15, name, SIZE, bold=True)
    else:
        bar_y = y + 28
        drawing.text(x, y + 18, fitted(fault.label, room, SIZE, bold=True), SIZE, bold=True)
        drawing.text(x + form.bar_wide + INSET, y + 37, told, SMALL)
    drawing.box(x, bar_y, form.bar_wide, BAR_HIGH, "ink", None, THIN)
    drawing.box(x, bar_y, form.bar_wide * min(1.0, held.probability), BAR_HIGH, None, "ink")
    if held.open_tests:
        _ask_what_led(drawing, form, y + form.held_high, held.open_tests, reader)


def _ask_what_led(drawing: Drawing, form: Form, y: float, tests: Sequence[str], reader: Reader) -> None:
    asked = ", ".join(_label(reader, test) for test in tests)
    drawing.line([(form.held_x + 20, y), (form.held_x + 20, y + 10), (form.held_x + 30, y + 10)])
    drawing.text(
        form.held_x + 34, y + 14, fitted(f"what led to it? {asked}", form.held_wide - 34, SMALL), SMALL
    )


def _lead(drawing: Drawing, form: Form, cause_y: float, result_y: float, number: int) -> None:
    """Draw the arrow from a cause to its result, beside the boxes."""
    x, edge = RIGHT_X - 6.0 * (number % 2), form.held_x + form.held_wide
    start, end = cause_y + 0.7 * form.held_high, result_y + 0.3 * form.held_high
    drawing.line([(edge, start), (x, start), (x, end)], "ink", LINE)
    arrow(drawing, (x, end), (edge, end))


def _legend(drawing: Drawing, chain: Reasoning, y: float) -> None:
    speaks = {link.speaks for link in chain.links}
    x = SEEN_X
    if "for" in speaks:
        arrow(drawing, (x, y - 4), (x + 36, y - 4))
        x += 64 + drawing.text(x + 42, y, "speaks for it", SMALL, "start", "quiet")
    if "against" in speaks:
        _barred(drawing, (x, y - 4), (x + 36, y - 4))
        drawing.text(x + 42, y, "speaks against it", SMALL, "start", "quiet")
    if chain.leads:
        drawing.text(RIGHT_X, y, "arrow at the right: leads to", SMALL, "end", "quiet")


def fitted(words: str, room: float, size: float, *, bold: bool = False) -> str:
    """Cut a line of text with dots where it is wider than its room, or would be in a wider font.

    Args:
        words: The line.
        room: Its room [units].
        size: Letter height [units].
        bold: Whether it is set bold.

    Returns:
        The line, whole or cut.

    Example:
        >>> fitted("short", 100.0, 12.0)
        'short'
    """
    if font().width(words, size, bold) * WIDER <= room:
        return words
    while words and font().width(words + "…", size, bold) * WIDER > room:
        words = words[:-1]
    return words.rstrip() + "…"


def _label(reader: Reader, test: str) -> str:
    return reader.catalogue.tests[test].label


def _outcome(reader: Reader, test: str, word: str) -> str:
    outcomes = reader.catalogue.tests[test].outcomes
    return next((one.label for one in outcomes if one.word == word), word)


def _desc(chain: Reasoning, reader: Reader) -> str:
    """Say in sentences what the drawing shows."""
    faults = reader.catalogue.faults
    told = []
    for held in chain.held:
        told.append(f"{faults[held.fault].label}: {write_chance(held.probability)}.")
        for speaks in ("for", "against"):
            tests = [_label(reader, one.test) for one in chain.links
                     if one.fault == held.fault and one.speaks == speaks]  # fmt: skip
            if tests:
                told.append(f"Speaks {speaks} it: {', '.join(tests)}.")
    told += [f"{faults[cause].label} leads to {faults[result].label}." for cause, result in chain.leads]
    return " ".join(told)
