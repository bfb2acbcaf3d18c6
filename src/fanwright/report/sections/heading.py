"""Unit and overall verdict, first of all."""

from __future__ import annotations

from fanwright.report.paper import Material, Section, lines
from fanwright.report.pictures import needle
from fanwright.report.say import VERDICT_WORDS
from fanwright.words import text, verdict

ORDER = 10
KINDS = {"planned": "planned visit", "complaint": "complaint visit", "retest": "re-test"}


def build(material: Material) -> Section:
    """Build the heading."""
    seen = material.assessment
    visit = seen.visit
    headline = {
        "kind": "headline",
        "unit": visit.unit,
        "verdict": VERDICT_WORDS[seen.overall],
        "svg": needle.draw(seen.overall, "print"),
        "alt": VERDICT_WORDS[seen.overall],
    }
    kind = KINDS.get(visit.kind, visit.kind)
    told = [
        material.say(
            "{kind}, {date}: {why}.",
            kind=text(kind[:1].upper() + kind[1:]),
            date=text(visit.date.isoformat()),
            why=text(material.told(seen.overall_why).rstrip(".")),
        )
    ]
    if seen.overall_after is not None:
        told.append(
            material.say(
                "As found: {before}. After the repair: {after}.",
                before=verdict(seen.overall),
                after=verdict(seen.overall_after),
            )
        )
    return Section("", (headline, lines(told, "strong")))
