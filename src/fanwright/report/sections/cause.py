"""The cause named, and what was done about it."""

from __future__ import annotations

from fanwright.report.paper import Material, Section, lines, pairs
from fanwright.words import fault, quantity, text

ORDER = 30


def build(material: Material) -> Section:
    """Build the cause."""
    work = material.assessment.visit.work
    known = material.reader.catalogue.faults.get(work.cause)
    if not (work.cause or work.parts or work.note or work.labour_s):
        return Section(
            material.say("Cause"),
            (lines([material.say("No cause was named and no work was written down.")]),),
        )
    named = material.say("{cause}", cause=fault(work.cause)) if work.cause else material.say("not named")
    entries = [
        (material.say("Cause"), named),
        (material.say("Labour"), _labour(material)),
        (material.say("Parts"), ", ".join(work.parts) or material.say("none")),
    ]
    if work.note:
        entries.append((material.say("Note"), work.note))
    blocks = [pairs(entries)]
    if known is not None:
        told = [
            material.say(
                "Cure: {fix}. Shown cured by: {check}.",
                fix=text(known.fix.rstrip(".")),
                check=text(known.follow_up.rstrip(".")),
            )
        ]
        if known.consequence:
            told.append(material.say("If left: {result}.", result=text(known.consequence.rstrip("."))))
        blocks.append(lines(told))
    return Section(material.say("Cause"), tuple(blocks))


def _labour(material: Material) -> str:
    labour_s = material.assessment.visit.work.labour_s
    if labour_s is None:
        return material.say("not written down")
    return material.say("{time}", time=quantity(labour_s, "working_time"))
