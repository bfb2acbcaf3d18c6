"""The photos."""

from __future__ import annotations

from fanwright.report.paper import Block, Material, Section, lines
from fanwright.words import count, text

ORDER = 85
MOST = 6


def build(material: Material) -> Section | None:
    """Build the photos, six at most; every one is listed with its hash under Sources."""
    if not material.photos:
        return None
    unit = material.assessment.visit.unit
    shown = [
        {
            "index": index,
            "alt": material.say("Photo {name} of unit {unit}", name=text(photo.name), unit=text(unit)),
            "caption": photo.name,
        }
        for index, photo in enumerate(material.photos[:MOST])
    ]
    blocks: list[Block] = [{"kind": "photos", "photos": shown}]
    if len(material.photos) > MOST:
        blocks.append(
            lines(
                [material.say("{n} more are kept with the visit.", n=count(len(material.photos) - MOST))],
                "quiet",
            )
        )
    return Section(material.say("Photos"), tuple(blocks))
