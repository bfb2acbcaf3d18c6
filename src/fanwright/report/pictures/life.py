"""The wear line of one facing with its band and limit, and the sheet of a fleet."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fanwright.life import Forecast, Range
from fanwright.quantities import Units
from fanwright.report.figures import plain
from fanwright.report.pictures.axis import round_step
from fanwright.report.pictures.svg import LINE, THICK, THIN, Drawing, Theme

_LEFT, _RIGHT, _TOP, _BOTTOM = 74.0, 20.0, 26.0, 46.0
_ROW = 22.0
_MOST_AHEAD = 4.0
Place = Callable[[float], float]


def draw(
    forecast: Forecast,
    theme: Theme = "screen",
    units: Units | None = None,
    width: float = 640.0,
    height: float = 320.0,
) -> str:
    """Draw thickness against usage: readings with error bars, the band ahead, the limit, the next service.

    Args:
        forecast: A forecast with at least one reading.
        theme: ``screen`` or ``print``.
        units: The reader's units; miles and inches without.
        width: Width of the view box [units].
        height: Height of the view box [units].

    Returns:
        An SVG document.
    """
    units = units or Units()
    drawing = Drawing(width, height, "Wear of the facing", _desc(forecast, units), theme)
    history, left = forecast.history, forecast.remaining
    if left is None or not history.readings:
        drawing.text(width / 2, height / 2, "no reading of the facing can be used", 13.0, "middle")
        return drawing.svg()
    first, now = history.readings[0].usage, history.readings[-1].usage
    reach = max(min(left.p90, _MOST_AHEAD * max(left.p50, forecast.ahead)), 1.2 * forecast.ahead)
    lowest, highest = (
        0.96 * history.limit_m,
        1.02 * max(history.new_m, *(one.thickness_m for one in history.readings)),
    )

    def x(usage: float) -> float:
        return _LEFT + (usage - first) / (now + reach - first) * (width - _LEFT - _RIGHT)

    def y(thickness_m: float) -> float:
        return _TOP + (highest - thickness_m) / (highest - lowest) * (height - _TOP - _BOTTOM)

    _axes(drawing, history.dimension, (first, now + reach), (lowest, highest), x, y, units)
    _band(drawing, forecast, now + reach, x, y)
    drawing.line([(x(first), y(history.limit_m)), (x(now + reach), y(history.limit_m))], "rust", 2.2)
    limit = "limit " + plain(history.limit_m, "length", units)
    drawing.text(x(first) + 4, y(history.limit_m) - 5, limit, 11.0, ink="rust", bold=True)
    service = now + forecast.ahead
    drawing.line([(x(service), _TOP), (x(service), height - _BOTTOM)], "ink", THIN, "5 3")
    drawing.text(x(service) + 3, _TOP - 6, "next service", 11.0)
    _readings(drawing, forecast, x, y)
    return drawing.svg()


def _band(drawing: Drawing, forecast: Forecast, end: float, x: Place, y: Place) -> None:
    """Draw the line to each of the three points at the limit, and hatch between the outer two."""
    left, thickness = forecast.remaining, forecast.thickness_m
    assert left is not None
    assert thickness is not None
    now, limit = forecast.history.readings[-1].usage, forecast.history.limit_m
    drawing.pattern("life-band", "quiet", 45.0, 7.0, 0.9)
    start = {"p10": thickness.p10, "p50": thickness.p50, "p90": thickness.p90}
    ends = {share: _end(now, getattr(left, share), level, limit, end) for share, level in start.items()}
    outline = [(now, start["p10"]), ends["p10"], (ends["p90"][0], limit), ends["p90"], (now, start["p90"])]
    drawing.shape([(x(a), y(b)) for a, b in outline], None, "life-band")
    for share, dash in (("p10", "4 3"), ("p50", ""), ("p90", "4 3")):
        points = [(now, start[share]), ends[share]]
        drawing.line([(x(a), y(b)) for a, b in points], "ink", THICK if share == "p50" else THIN, dash)


def _end(now: float, left: float, level: float, limit: float, end: float) -> tuple[float, float]:
    if left <= 0.0:
        return now, min(level, limit)
    share = min(1.0, (end - now) / left)
    return now + share * left, level + share * (limit - level)


def _readings(drawing: Drawing, forecast: Forecast, x: Place, y: Place) -> None:
    for one in forecast.history.readings:
        at = x(one.usage)
        drawing.line(
            [(at, y(one.thickness_m - 2 * one.sd_m)), (at, y(one.thickness_m + 2 * one.sd_m))], "ink", LINE
        )
        drawing.circle(at, y(one.thickness_m), 4.0, "ink", "paper" if one.new_facing else "ink")
    change = forecast.change
    if change is not None:
        top = _TOP + 6
        drawing.line([(x(change.after), top), (x(change.before), top)], "rust", THICK)
        drawing.text(
            x(change.before) + 4, top + 4, f"rate {change.ratio:.1f} times", 11.0, ink="rust", bold=True
        )


def _axes(
    drawing: Drawing,
    kind: str,
    across: tuple[float, float],
    up: tuple[float, float],
    x: Place,
    y: Place,
    units: Units,
) -> None:
    base = drawing.height - _BOTTOM
    drawing.line([(_LEFT, _TOP), (_LEFT, base), (drawing.width - _RIGHT, base)], "ink", LINE)
    for dimension, (low, high), most in ((kind, across, 6), ("length", up, 6)):
        unit = units.unit(dimension)
        step = round_step((high - low) / unit.factor, most)
        number = -(-low / unit.factor // step)
        while number * step * unit.factor <= high:
            value = number * step
            if dimension == "length":
                drawing.line(
                    [(_LEFT - 4, y(value * unit.factor)), (_LEFT, y(value * unit.factor))], "ink", THIN
                )
                drawing.text(_LEFT - 8, y(value * unit.factor) + 4, f"{value:.4g}", 11.0, "end", "quiet")
            else:
                drawing.line(
                    [(x(value * unit.factor), base), (x(value * unit.factor), base + 4)], "ink", THIN
                )
                drawing.text(x(value * unit.factor), base + 17, f"{value:,.0f}", 11.0, "middle", "quiet")
            number += 1.0
    drawing.text(8, 14, "facing, " + units.unit("length").printed, 11.0)
    drawing.text(drawing.width - _RIGHT, drawing.height - 8, units.unit(kind).printed, 11.0, "end")


def fleet(
    forecasts: Sequence[Forecast], theme: Theme = "screen", units: Units | None = None, width: float = 640.0
) -> str:
    """Draw what is left of each facing of a fleet, the soonest first.

    Args:
        forecasts: Forecasts with at least one reading each.
        theme: ``screen`` or ``print``.
        units: The reader's units; miles without.
        width: Width of the view box [units].

    Returns:
        An SVG document.
    """
    units = units or Units()
    known = sorted(
        ((one, one.remaining) for one in forecasts if one.remaining is not None), key=lambda pair: pair[1].p50
    )
    height = _TOP + _BOTTOM + _ROW * len(known)
    drawing = Drawing(
        width, height, "What is left of each facing", f"{len(known)} trucks, the soonest first.", theme
    )
    if not known:
        return drawing.svg()
    kind = known[0][0].history.dimension
    unit = units.unit(kind)
    longest = min(
        max(left.p90 for _, left in known), 5.0 * max(left.p50 for _, left in known), 40.0 * known[0][0].ahead
    )

    def x(usage: float) -> float:
        return _LEFT + min(usage, longest) / longest * (width - _LEFT - _RIGHT)

    for number, (one, left) in enumerate(known):
        _bar(drawing, one, left, _TOP + _ROW * (number + 0.5), x)
    step, base = round_step(longest / unit.factor, 6), height - _BOTTOM + 6
    for tick in range(int(longest / unit.factor / step) + 1):
        drawing.text(x(tick * step * unit.factor), base + 14, f"{tick * step:,.0f}", 11.0, "middle", "quiet")
    ahead = x(known[0][0].ahead)
    drawing.line([(ahead, _TOP - 4), (ahead, base)], "rust", LINE, "5 3")
    drawing.text(ahead + 4, _TOP - 8, "next service", 11.0, ink="rust")
    drawing.text(width - _RIGHT, height - 8, unit.printed + " left", 11.0, "end")
    return drawing.svg()


def _bar(drawing: Drawing, one: Forecast, left: Range, y: float, x: Place) -> None:
    drawing.text(_LEFT - 8, y + 4, one.unit, 12.0, "end", bold=True)
    drawing.line([(x(left.p10), y), (x(left.p90), y)], "ink", LINE)
    for end in (left.p10, left.p90):
        drawing.line([(x(end), y - 4), (x(end), y + 4)], "ink", LINE)
    drawing.circle(x(left.p50), y, 4.0, "ink", "ink")


def _desc(forecast: Forecast, units: Units) -> str:
    left = forecast.remaining
    if left is None:
        return "No reading of the facing can be used."
    parts = [units.write(value, forecast.history.dimension) for value in (left.p10, left.p50, left.p90)]
    return f"The limit is reached after {parts[1]}, between {parts[0]} and {parts[2]} with a chance of 80 %."
