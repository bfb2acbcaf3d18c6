"""List the parts fitted to a truck and removed from it, or note one."""

from __future__ import annotations

import datetime as dt

import click

from fanwright.cli._records import KM, by_option, db_option, json_option


@click.command(name="parts")
@click.argument("unit")
@click.argument("part", required=False)
@db_option
@click.option("--removed", is_flag=True, help="It was removed, not fitted.")
@click.option("--date", "day", type=click.DateTime(["%Y-%m-%d"]), help="The day; today when not given.")
@click.option("--serial", default="", help="Its serial.")
@click.option("--number", default="", help="Its part number.")
@click.option("--odometer", help="Distance run then, such as '377,204 mi'.")
@click.option("--note", default="", help="What else is to be said.")
@by_option
@json_option
def command(
    unit: str,
    part: str | None,
    db: str | None,
    removed: bool,
    day: dt.datetime | None,
    serial: str,
    number: str,
    odometer: str | None,
    note: str,
    by: str | None,
    as_json: bool,
) -> None:
    """List the parts of truck UNIT; with PART (drive, facing, valve, ...) note that one was fitted."""
    from fanwright.cli._show import table, write_json
    from fanwright.desk.tools import fit, list_fittings
    from fanwright.report.say import Reader

    if part is None:
        rows = list_fittings(db, unit)
    else:
        when = (day or dt.datetime.now().astimezone()).date()
        event = "removed" if removed else "fitted"
        rows = fit(
            db, unit, part, event, when, serial=serial, number=number, odometer=odometer, note=note, by=by
        )
    if as_json:
        write_json(
            {
                "unit": unit,
                "parts": [
                    {"part": one.part, "event": one.event, "date": one.date, "serial": one.serial or None}
                    | {"part_number": one.part_number or None, "note": one.note or None}
                    | {"odometer_km": None if one.odometer_m is None else round(one.odometer_m / KM, 6)}
                    for one in rows
                ],
            }
        )
        return
    reader = Reader()
    table(
        ("date", "part", "", "serial", "part number", "odometer", "note"),
        [
            (
                one.date,
                one.part,
                one.event,
                one.serial,
                one.part_number,
                "" if one.odometer_m is None else reader.write(one.odometer_m, "distance"),
                one.note,
            )
            for one in rows
        ],
    )
