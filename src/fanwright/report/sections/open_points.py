"""What was not judged, not done, not taken or cannot be told, and why."""

from __future__ import annotations

from fanwright.report.figures import reading_words
from fanwright.report.paper import Block, Cell, Material, Section, Table, lines, verdict_cell
from fanwright.report.say import say_all
from fanwright.words import text

ORDER = 90


def build(material: Material) -> Section | None:
    """Build the open points."""
    seen = material.assessment
    rows: list[tuple[Cell, ...]] = []
    for each in seen.not_judged:
        read = "" if each.reading is None else reading_words(each.reading, material.reader)
        rows.append(
            (verdict_cell("not_judged"), material.test_label(each.test), read, material.told(each.why))
        )
    for test, why in seen.not_done.items():
        rows.append((material.say("not done"), material.test_label(test), "", why))
    blocks: list[Block] = []
    if rows:
        head = tuple(material.say(words) for words in ("", "Test", "Reading", "Why"))
        blocks.append(Table(head, (0, 2, 0.8, 2.6), tuple(rows)).block())
    missing = [material.test_label(test) for test in seen.missing if test not in seen.not_done]
    if missing:
        told = material.say(
            "Belongs to the core of this kind of visit and has no verdict: {tests}.",
            tests=text("; ".join(missing)),
        )
        blocks.append(lines([told]))
    untold = say_all([one for evidence in seen.evidence for one in evidence.cannot_tell], material.reader)
    if untold:
        blocks += [lines([material.say("What the files cannot tell:")], "strong"), lines(untold, "list")]
    return Section(material.say("Not judged, not done"), tuple(blocks)) if blocks else None
