"""Before and after the repair, side by side."""

from __future__ import annotations

from fanwright.evidence.trace.exhibit import TraceExhibit
from fanwright.judging.verdict import Judgement
from fanwright.report.figures import reading_words
from fanwright.report.paper import (
    Block,
    Cell,
    Material,
    Section,
    Table,
    beside,
    file_name,
    lines,
    picture,
    verdict_cell,
)
from fanwright.report.pictures import trace
from fanwright.words import text

ORDER = 70


def build(material: Material) -> Section | None:
    """Build the comparison."""
    seen = material.assessment
    if not seen.verdicts_after:
        return None
    before = {each.test: each for each in seen.verdicts}
    rows: list[tuple[Cell, ...]] = []
    unchanged: list[str] = []
    for each in seen.verdicts_after:
        found = before.get(each.test)
        if found is not None and found.verdict == each.verdict == "good":
            unchanged.append(_both(material, found, each))
            continue
        first: tuple[Cell, Cell] = (material.say("not taken"), "")
        if found is not None:
            first = (reading_words(found.reading, material.reader), verdict_cell(found.verdict))
        rows.append(
            (
                material.test_label(each.test),
                *first,
                {"text": reading_words(each.reading, material.reader), "strong": True},
                verdict_cell(each.verdict),
            )
        )
    head = tuple(material.say(words) for words in ("Test", "Before", "", "After", ""))
    blocks: list[Block] = []
    if rows:
        blocks.append(Table(head, (2.4, 1.2, 1, 1.2, 1), tuple(rows)).block())
    if unchanged:
        told = material.say("Good before and after: {all}.", all=text("; ".join(unchanged)))
        blocks.append(lines([told], "quiet"))
    traces = compared(material)
    if traces:
        captions = [
            material.say(
                "{name}: {place}, the cycle with the slowest vent",
                name=text(name),
                place=text(file_name(one.place)),
            )
            for name, one in traces
        ]
        pictures = [
            picture(trace.draw(trace.slowest(one), "print", material.reader.units, 430.0, 240.0), caption)
            for (_, one), caption in zip(traces, captions, strict=True)
        ]
        blocks.append(beside(pictures, captions))
    return Section(material.say("Before and after"), tuple(blocks))


def _both(material: Material, found: Judgement, repeated: Judgement) -> str:
    label = material.test_label(found.test)
    values = (reading_words(each.reading, material.reader) for each in (found, repeated))
    return f"{label}: {', '.join(values)}"


def compared(material: Material) -> tuple[tuple[str, TraceExhibit], ...]:
    """Give the last trace before and the last after the repair, if there are both."""
    found: dict[bool, TraceExhibit] = {}
    for exhibit, evidence in material.exhibits():
        if isinstance(exhibit, TraceExhibit):
            found[any(reading.after for reading in evidence.readings)] = exhibit
    if len(found) < 2 or not material.assessment.verdicts_after:
        return ()
    return ((material.say("before"), found[False]), (material.say("after"), found[True]))
