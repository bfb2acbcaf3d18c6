"""The fleet as small ruled lines: a line a truck, months across, who stands apart, what changed when."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from fanwright.fleet.answers import FleetAnswers, Line
from fanwright.fleet.tables import date_of
from fanwright.report.pictures.axis import round_step
from fanwright.report.pictures.svg import LINE, THIN, Drawing, Theme

_LEFT, _RIGHT, _TOP, _ROW, _HEAD, _FOOT = 96.0, 150.0, 62.0, 30.0, 24.0, 34.0
_TALL = 20.0
"""Height of the largest share of all [units]."""
_TEXT, _SMALL = 12.0, 10.0
_MOST_MONTHS = 24
_MEASURES = {"fan_share": "told on", "grips_per_hour": "grips"}


@dataclass(frozen=True)
class _Page:
    """Where months and shares lie."""

    months: tuple[str, ...]
    cell: float
    most: float

    def x(self, month: str) -> float:
        """Give the left edge of a month [units]."""
        return _LEFT + self.months.index(month) * self.cell

    def tall(self, share: float) -> float:
        """Give the height of a share [units]."""
        return _TALL * min(share / self.most, 1.0)


def draw(answers: FleetAnswers, theme: Theme = "screen", width: float = 760.0) -> str:
    """Draw the fleet.

    Args:
        answers: The fleet's answers.
        theme: ``screen`` or ``print``.
        width: Width of the view box [units].

    Returns:
        An SVG document.
    """
    months = tuple(sorted({line.month for line in answers.lines}))[-_MOST_MONTHS:]
    groups = _groups(answers, months)
    rows = sum(len(trucks) for trucks in groups.values())
    titled = len(groups) > 1 or any(groups)
    height = _TOP + rows * _ROW + len(groups) * _HEAD * titled + _FOOT
    drawing = Drawing(width, height, "The fleet's fans, month by month", _desc(answers), theme)
    shares = [line.fan_share.value for line in answers.lines if line.fan_share and line.month in months]
    cell = (width - _LEFT - _RIGHT) / max(len(months), 1)
    most = max(shares, default=0.0) or 1.0
    page = _Page(months, cell, most)
    _heading(drawing, page)
    foot = _TOP
    for route, trucks in groups.items():
        if titled:
            foot += _HEAD
            drawing.text(6.0, foot - 6, route or "no route given", _TEXT, bold=True)
        for unit, lines in trucks.items():
            foot += _ROW
            _truck(drawing, page, unit, lines, foot)
            _changes(drawing, page, answers, unit, [line.month for line in lines], foot)
    drawing.text(
        _LEFT,
        foot + 22,
        "thick: share of the known time; whisker: its 80 % interval; triangle: more (up) or less (down) than "
        "the others on the route",
        _SMALL,
        ink="quiet",
    )
    return drawing.svg()


def _groups(answers: FleetAnswers, months: Sequence[str]) -> dict[str, dict[str, list[Line]]]:
    """Give the lines by route and truck, in the order of the answers."""
    found: dict[str, dict[str, list[Line]]] = {}
    for line in answers.lines:
        if line.month in months:
            found.setdefault(line.route, {}).setdefault(line.unit, []).append(line)
    return dict(sorted(found.items()))


def _heading(drawing: Drawing, page: _Page) -> None:
    drawing.text(6.0, 20.0, "Fan told on, share of the time with the engine on", 14.0, bold=True)
    shown = round_step(100.0 * page.most, 2) / 100.0
    shown = shown if shown <= page.most else page.most
    drawing.line([(12.0, _TOP - 4), (12.0, _TOP - 4 - page.tall(shown))], "ink", 3.0)
    drawing.text(20.0, _TOP - 6, f"{100.0 * shown:.3g} %", _TEXT)
    every = max(1, round(44.0 / page.cell + 0.499))
    for number, month in enumerate(page.months):
        drawing.line([(page.x(month), _TOP - 12), (page.x(month), _TOP)], "quiet", 0.5)
        if number % every == 0:
            drawing.text(page.x(month) + 4, _TOP - 6, month, _SMALL, ink="quiet")


def _truck(drawing: Drawing, page: _Page, unit: str, lines: Sequence[Line], foot: float) -> None:
    right = drawing.width - _RIGHT
    drawing.line([(_LEFT, foot), (right, foot)], "quiet", 0.5)
    drawing.text(_LEFT - 8, foot - 3, unit, _TEXT, "end")
    for month in page.months:
        drawing.line([(page.x(month), foot - 4), (page.x(month), foot)], "quiet", 0.5)
    for line in lines:
        if line.fan_share is None:
            continue
        at = page.x(line.month) + min(16.0, 0.3 * page.cell)
        drawing.line([(at, foot), (at, foot - page.tall(line.fan_share.value))], "ink", 3.0)
        low, high = line.fan_share.low, line.fan_share.high
        if low is not None and high is not None:
            beside = at + 5.0
            ends = [(beside, foot - page.tall(low)), (beside, foot - page.tall(high))]
            drawing.line(ends, "ink", THIN)
            for _, y in ends:
                drawing.line([(beside - 2, y), (beside + 2, y)], "ink", THIN)
        if line.outliers:
            _mark(drawing, at + 14.0, foot - 4.0, more=line.outliers[0].more)
    _beside(drawing, lines, foot)


def _mark(drawing: Drawing, x: float, y: float, *, more: bool) -> None:
    """Draw a triangle that points up or down."""
    tip = -9.0 if more else 0.0
    drawing.shape([(x - 5, y - 9 - tip), (x + 5, y - 9 - tip), (x, y + tip)], "rust", "rust", LINE)


def _beside(drawing: Drawing, lines: Sequence[Line], foot: float) -> None:
    """Write the last share, and in words how the truck stands apart."""
    at = drawing.width - _RIGHT + 8
    last = lines[-1].fan_share
    words = "" if last is None else f"{100.0 * last.value:.3g} %"
    apart = [one for line in lines for one in line.outliers]
    if not apart:
        drawing.text(at, foot - 3, words, _TEXT)
        return
    said = {f"{_MEASURES[one.measure]}: {'more' if one.more else 'less'}" for one in apart}
    drawing.text(at, foot - 14, words, _TEXT)
    drawing.text(at, foot - 2, ", ".join(sorted(said, reverse=True)), _SMALL, ink="rust", bold=True)


def _changes(
    drawing: Drawing, page: _Page, answers: FleetAnswers, unit: str, months: Sequence[str], foot: float
) -> None:
    """Mark when the truck's share changed: a bar under its line over the days it can have been."""
    for one in answers.changes:
        first, last = date_of(one.change.first_day), date_of(one.change.last_day)
        if one.unit != unit or one.measure != "fan_share" or f"{last:%Y-%m}" not in months:
            continue
        left, right = _at(page, first), _at(page, last)
        y = foot + 4
        drawing.line([(left, y), (max(right, left + 4), y)], "violet", 3.0)
        more = one.change.after > one.change.before
        day = f"{first:%d %b} to {last:%d %b}" if first < last else f"{last:%d %b}"
        words = f"{'more' if more else 'less'} since {day}".replace(" 0", " ")
        drawing.text(max(right, left + 4) + 4, y + 4, words, _SMALL, ink="violet")


def _at(page: _Page, day: dt.date) -> float:
    """Give the place of a day within its month [units]; days before the first month lie at its beginning."""
    month = f"{day:%Y-%m}"
    if month not in page.months:
        return _LEFT
    return page.x(month) + page.cell * (day.day - 1) / 31.0


def _desc(answers: FleetAnswers) -> str:
    units = {line.unit for line in answers.lines}
    apart = sorted({line.unit for line in answers.lines if line.outliers})
    return (
        f"{len(units)} trucks; standing apart from the others on their route: {', '.join(apart) or 'none'}; "
        f"changes found: {len(answers.changes)}."
    )
