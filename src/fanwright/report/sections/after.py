"""Before and after the repair, side by side."""

from __future__ import annotations

from fanwright.evidence.trace.exhibit import TraceExhibit
from fanwright.report.figures import reading_words
from fanwright.report.paper import Cell, Material, Section, Table, beside, picture, verdict_cell
from fanwright.report.pictures import trace

ORDER = 70


def build(material: Material) -> Section | None:
    """Build the comparison."""
    seen = material.assessment
    if not seen.verdicts_after:
        return None
    before = {each.test: each for each in seen.verdicts}
    rows: list[tuple[Cell, ...]] = []
    for each in seen.verdicts_after:
        found = before.get(each.test)
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
    blocks = [Table(head, (2.4, 1.2, 1, 1.2, 1), tuple(rows)).block()]
    traces = compared(material)
    if traces:
        pictures = [
            picture(trace.draw(one, "print", material.reader.units, 430.0, 260.0), f"{name}: {one.place}")
            for name, one in traces
        ]
        blocks.append(beside(pictures, [f"{name}: {one.place}" for name, one in traces]))
    return Section(material.say("Before and after"), tuple(blocks))


def compared(material: Material) -> tuple[tuple[str, TraceExhibit], ...]:
    """Give the last trace before and the last after the repair, if there are both."""
    found: dict[bool, TraceExhibit] = {}
    for exhibit, evidence in material.exhibits():
        if isinstance(exhibit, TraceExhibit):
            found[any(reading.after for reading in evidence.readings)] = exhibit
    if len(found) < 2 or not material.assessment.verdicts_after:
        return ()
    return ((material.say("before"), found[False]), (material.say("after"), found[True]))
