"""What was found: every verdict that is not good, why, and what to do; then what does not fit together."""

from __future__ import annotations

from fanwright.report.figures import reading_words
from fanwright.report.paper import Cell, Material, Section, Table, lines, strong, verdict_cell

ORDER = 20


def build(material: Material) -> Section:
    """Build the findings."""
    seen = material.assessment
    rows: list[tuple[Cell, ...]] = []
    for each in seen.verdicts:
        if each.verdict in {"watch", "act_now", "stand_down"}:
            todo = "" if each.todo is None else material.told(each.todo)
            label = f"{material.test_label(each.test)}: {reading_words(each.reading, material.reader)}"
            rows.append((verdict_cell(each.verdict), strong(label), material.told(each.why), todo))
    blocks = []
    if rows:
        head = (material.say("Verdict"), material.say("Found"), material.say("Why"), material.say("Do"))
        blocks.append(Table(head, (0, 2.2, 2, 2.2), tuple(rows)).block())
    else:
        blocks.append(lines([material.say("No reading calls for watching or work.")]))
    if seen.findings:
        blocks.append(lines([material.say("What does not fit together:")], "strong"))
        blocks.append(lines([material.told(one.message) for one in seen.findings], "list"))
    return Section(material.say("Finding"), tuple(blocks))
