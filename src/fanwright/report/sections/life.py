"""How long the facing will last."""

from __future__ import annotations

from fanwright.report.life_text import forecast_cells, forecast_lines, grip_line
from fanwright.report.paper import Material, Section, lines, pairs, picture
from fanwright.report.pictures import life

ORDER = 77


def build(material: Material) -> Section | None:
    """Build the wear line with what it rests on; nothing where no facing was ever measured."""
    found = material.assessment.life
    if found is None or found.forecast.remaining is None:
        return None
    forecast, reader = found.forecast, material.reader
    thickness, left, chance, due = forecast_cells(forecast, reader)
    shown = [
        (material.say("facing now"), thickness),
        (material.say("left: 10 %, middle, 90 %"), left),
        (material.say("limit by the next service"), chance),
    ]
    if due:
        shown.append((material.say("due: 10 %, middle, 90 %"), due))
    shown += [grip_line(one, found.lost_to(one), reader) for one in found.grips]
    said = forecast_lines(forecast, reader) + [material.told(one) for one in found.sentences()]
    svg = life.draw(forecast, "print", reader.units, height=176.0)
    title = material.say("Life of the facing")
    return Section(title, (pairs(shown), picture(svg, title, 0.6), lines(said, "list")))
