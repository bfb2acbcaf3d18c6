"""The cause named, and what was done about it."""

from __future__ import annotations

from fanwright.report.paper import Block, Material, Section, lines, pairs, picture
from fanwright.report.pictures import chain
from fanwright.words import fault, quantity, text

ORDER = 30


def build(material: Material) -> Section:
    """Build the cause."""
    work = material.assessment.visit.work
    known = material.reader.catalogue.faults.get(work.cause)
    if not (work.cause or work.parts or work.note or work.labour_s):
        return Section(
            material.say("Cause"),
            (
                lines([material.say("No cause was named and no work was written down.")]),
                *_reasoning(material),
            ),
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
    return Section(material.say("Cause"), (*blocks, *_reasoning(material)))


def _reasoning(material: Material) -> tuple[Block, ...]:
    """From the readings to what they show, as a small drawing; nothing where there was nothing to go by."""
    found = material.assessment.diagnosis
    if found is None or not any(one.speaks_for or one.speaks_against for one in found.causes):
        return ()
    svg = chain.draw_assessment(material.assessment, "print", material.reader, short=True)
    title = material.say("Most likely causes, from the readings as found")
    return (picture(svg, title, 0.8),)


def _labour(material: Material) -> str:
    labour_s = material.assessment.visit.work.labour_s
    if labour_s is None:
        return material.say("not written down")
    return material.say("{time}", time=quantity(labour_s, "working_time"))
