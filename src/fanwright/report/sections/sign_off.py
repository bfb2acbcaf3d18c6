"""The lines to sign."""

from __future__ import annotations

from fanwright.report.paper import Material, Section, lines

ORDER = 120
TURNING = ("fan", "bearing", "hub", "mount")  # work on these needs a second person
GRAVEST = 5


def build(material: Material) -> Section:
    """Build the sign-off."""
    visit = material.assessment.visit
    named = visit.circumstances
    entries = [{"what": material.say("Done and re-tested: technician"), "name": named.get("technician", "")}]
    if second_person(material):
        entries.append(
            {"what": material.say("Checked: second person"), "name": named.get("second_person", "")}
        )
    entries.append({"what": material.say("Driver told"), "name": ""})
    blocks = [
        {
            "kind": "sign",
            "entries": entries,
            "name": material.say("name and signature"),
            "date": material.say("date and time"),
        }
    ]
    if visit.work.cause and material.assessment.overall_after is None:
        blocks.insert(
            0,
            lines(
                [material.say("No reading was repeated after the work: nothing is shown to be cured.")],
                "quiet",
            ),
        )
    return Section(material.say("Sign-off"), tuple(blocks), together=True)


def second_person(material: Material) -> bool:
    """Say whether a second person must sign: do not run, gravest cause, or work on what turns."""
    seen = material.assessment
    work = seen.visit.work
    fault = material.reader.catalogue.faults.get(work.cause)
    if seen.overall == "stand_down" or (fault is not None and fault.severity >= GRAVEST):
        return True
    touched = [work.cause.replace("_", " "), *work.parts]
    return any(part in word.split() for word in (each.lower() for each in touched) for part in TURNING)
