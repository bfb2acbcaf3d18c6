"""The truck's own circuit with the readings where they were taken."""

from __future__ import annotations

from fanwright.report.paper import Material, Section, picture
from fanwright.report.pictures import circuit

ORDER = 50


def build(material: Material) -> Section:
    """Build the drawing."""
    seen = material.assessment
    svg = circuit.draw(seen.visit.truck, seen.verdicts, seen.not_judged, "print", material.reader)
    title = material.say("Where the readings were taken, as found")
    return Section(title, (picture(svg, title, 0.78),), floating=True)
