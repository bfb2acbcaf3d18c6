"""The cautions that stand at the steps still to be done."""

from __future__ import annotations

from fanwright.report.paper import Material, Section, halves, lines
from fanwright.words import text

ORDER = 100
COMMON = "common practice, no source"


def build(material: Material) -> Section | None:
    """Build the cautions: of every reading not good, of what was not done, and of the cause's cure."""
    seen = material.assessment
    catalogue = material.reader.catalogue
    truck = seen.visit.truck
    wanted = [
        caution for each in seen.verdicts if each.verdict not in {"good", "none"} for caution in each.cautions
    ]
    judged = {each.test for each in seen.verdicts}
    open_tests = [each.test for each in seen.not_judged if each.test not in judged]
    for test_id in (*open_tests, *seen.not_done, *seen.missing):
        test = catalogue.tests.get(test_id)
        if test is not None:
            wanted += test.cautions_for(truck.grips_by, truck.valve)
    told = []
    for caution_id in dict.fromkeys(wanted):
        caution = catalogue.cautions.get(caution_id)
        if caution is not None and caution_id != "no_hazard":
            told.append(caution.text if caution.source == COMMON else f"{caution.text} ({caution.source})")
    fault = catalogue.faults.get(seen.visit.work.cause)
    if fault is not None and fault.safety:
        told.append(f"{fault.label}: {fault.safety}")
    if not told:
        return None
    note = material.say("Where no source stands: {source}.", source=text(COMMON))
    return Section(
        material.say("Cautions for what is still to be done"), (halves(told), lines([note], "quiet"))
    )
