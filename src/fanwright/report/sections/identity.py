"""Who and when: vehicle identification, nature and due date, dated record (49 CFR 396.3(b)(1) to (3))."""

from __future__ import annotations

from fanwright.report.figures import reading_words
from fanwright.report.paper import Material, Section, Table, lines, pairs
from fanwright.report.pictures.circuit import AIR_WORDS, GRIP_WORDS
from fanwright.report.sections.heading import KINDS
from fanwright.words import text

ORDER = 40
VEHICLE = (
    ("make", "Make"),
    ("serial", "Serial number"),
    ("vin", "Vehicle number"),
    ("model_year", "Year"),
    ("tire_size", "Tire size"),
)
DEMANDED = {"make", "serial", "model_year", "tire_size"}
OTHER_LABELS = {
    "owner": "Furnished by",
    "in_service": "In service since",
    "note": "Note",
    "drive_part": "Drive part",
    "drive_serial": "Drive serial",
    "drive_fitted": "Drive fitted",
    "drive_fitted_odometer": "Drive fitted at",
    "drive_note": "Drive note",
    "technician": "Technician",
    "time": "Time",
    "zone": "Time zone",
    "place": "Place",
    "lock_out": "Lock-out",
    "ambient": "Surroundings",
    "complaint": "Driver's words",
    "second_person": "Second person",
    "instruments": "Instruments",
}


def build(material: Material) -> Section:
    """Build the identification."""
    visit = material.assessment.visit
    truck = visit.truck
    missing = material.say("not given")
    serial = visit.identity.get("serial") or visit.identity.get("vin")
    entries = [(material.say("Company number"), visit.unit)]
    for key, label in VEHICLE:
        given = visit.identity.get(key, "")
        if key == "serial":
            given = serial or ""
        if given or key in DEMANDED:
            entries.append((material.say(label), given or missing))
    entries += [
        (
            material.say("Nature"),
            material.say("fan drive, {kind}", kind=text(KINDS.get(visit.kind, visit.kind))),
        ),
        (material.say("Date"), visit.date.isoformat()),
        (material.say("Next due"), visit.circumstances.get("next_due") or missing),
        (material.say("Odometer"), _far(material, visit.odometer_m) or missing),
        (material.say("Engine hours"), _hours(material, visit.engine_time_s) or missing),
        (material.say("Drive"), material.say(GRIP_WORDS[truck.grips_by])),
        (material.say("Valve"), f"{material.say(AIR_WORDS[truck.valve])}, {truck.volts:.0f}\u00a0V"),
        (material.say("Taken as"), truck.preset),
    ]
    for table in (visit.identity, visit.circumstances):
        entries += [
            (material.say(OTHER_LABELS.get(key, key.replace("_", " "))), value)
            for key, value in table.items()
            if value and key not in {*dict(VEHICLE), "next_due"}
        ]
    blocks = [pairs(entries, 3)]
    if visit.history:
        blocks.append(_history(material))
    return Section(material.say("Vehicle and record"), tuple(blocks))


def _far(material: Material, odometer_m: float | None) -> str:
    return "" if odometer_m is None else material.reader.write(odometer_m, "distance", 1609.344)


def _hours(material: Material, engine_time_s: float | None) -> str:
    return "" if engine_time_s is None else material.reader.write(engine_time_s, "engine_time", 3600.0)


def _history(material: Material) -> dict[str, object]:
    rows = tuple(
        (
            past.date.isoformat(),
            _far(material, past.odometer_m),
            "; ".join(
                f"{material.test_label(one.test)}: {reading_words(one, material.reader)}"
                for one in past.readings
            ),
        )
        for past in material.assessment.visit.history
    )
    head = (material.say("Earlier visit"), material.say("Odometer"), material.say("Readings"))
    return Table(head, (0, 0, 1), rows).block() if rows else lines([])
