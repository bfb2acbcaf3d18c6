"""The facing to scale."""

from __future__ import annotations

from fanwright.judging.verdict import Judgement
from fanwright.report.paper import Block, Material, Section, beside, picture
from fanwright.report.pictures import facing

ORDER = 75
TEST = "facing_thickness"


def build(material: Material) -> Section | None:
    """Build the facing gauge, one for before and one for after where it was renewed."""
    seen = material.assessment
    found = _measured(material, seen.verdicts, "now")
    after = _measured(material, seen.verdicts_after, "after the repair")
    shown = [one for one in (found, after) if one is not None]
    if not shown:
        return None
    title = material.say("Facing, thinnest place")
    if len(shown) == 1:
        return Section(title, (picture(shown[0]["svg"], shown[0]["alt"], 0.46),), together=True)
    return Section(title, (beside(shown, [one["alt"] for one in shown]),), together=True)


def _measured(material: Material, verdicts: tuple[Judgement, ...], name: str) -> Block | None:
    judged = next((each for each in verdicts if each.test == TEST and each.reading.measured), None)
    if judged is None or judged.reading.measured is None:
        return None
    part = material.assessment.visit.truck.facing
    value = judged.reading.measured
    svg = facing.draw(
        part.new_m,
        part.watch_m if judged.watch_limit_si is None else judged.watch_limit_si,
        part.limit_m if judged.limit_si is None else judged.limit_si,
        facing.Now(
            value.si, value.sd_si, 2.0 * value.half_width_si, judged.reading.each_si, material.say(name)
        ),
        "print",
        material.reader.units,
    )
    return picture(svg, material.say("Facing " + name))
