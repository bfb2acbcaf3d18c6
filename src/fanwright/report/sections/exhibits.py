"""Traces and recordings behind the readings."""

from __future__ import annotations

from fanwright.evidence.recording.exhibit import RecordingExhibit
from fanwright.evidence.trace.exhibit import TraceExhibit
from fanwright.report.paper import Block, Material, Section, file_name, lines, picture
from fanwright.report.pictures import duty, trace
from fanwright.report.sections.after import compared

ORDER = 80


def build(material: Material) -> Section | None:
    """Build the pictures of what was recorded."""
    units = material.reader.units
    shown_beside = [one for _, one in compared(material)]
    blocks: list[Block] = []
    for exhibit, evidence in material.exhibits():
        if isinstance(exhibit, TraceExhibit):
            if any(exhibit is one for one in shown_beside):
                continue
            svg = trace.draw(exhibit, "print", units, 760.0, 230.0)
        elif isinstance(exhibit, RecordingExhibit):
            svg = duty.draw(exhibit, "print", units)
        else:
            continue
        blocks.append(picture(svg, file_name(exhibit.place), 0.68, file_name(exhibit.place)))
        if evidence.notes:
            blocks.append(lines([material.told(note) for note in evidence.notes], "list"))
    return Section(material.say("Traces and recordings"), tuple(blocks)) if blocks else None
