"""Show one truck's record, or everything kept about one visit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from fanwright.cli._records import db_option, json_option

if TYPE_CHECKING:
    from fanwright.desk.trucks import TruckPast
    from fanwright.report.say import Reader


@click.command(name="show")
@click.argument("unit", required=False)
@click.option("--visit", type=int, help="This visit in full, by its number.")
@db_option
@json_option
def command(unit: str | None, visit: int | None, db: str | None, as_json: bool) -> None:
    """Show the record of truck UNIT, or one visit in full with the limits in force on its day."""
    from fanwright.cli._records import kept_data, show_kept
    from fanwright.cli._show import write_json
    from fanwright.desk.trucks import show_truck, show_visit
    from fanwright.report.say import Reader

    reader = Reader()
    if (unit is None) == (visit is None):
        raise click.UsageError("name a truck, or a visit with --visit NUMBER")
    if visit is not None:
        kept = show_visit(db, visit)
        if as_json:
            write_json(kept_data(kept, reader))
        else:
            show_kept(kept, reader)
        return
    past = show_truck(db, unit or "")
    if as_json:
        write_json(_truck_data(past, reader))
    else:
        _show_truck(past, reader)


def _truck_data(past: TruckPast, reader: Reader) -> dict[str, Any]:
    from fanwright.cli._records import KM, truck_data, visit_data
    from fanwright.report.as_data import reading_data

    return {
        **truck_data(past.row),
        "visit_list": [visit_data(row) for row in past.visits],
        "history": [
            {
                "date": day.date.isoformat(),
                "odometer_km": None if day.odometer_m is None else round(day.odometer_m / KM, 6),
                "readings": [reading_data(reading, reader) for reading in day.readings],
            }
            for day in past.past
        ],
    }


def _show_truck(past: TruckPast, reader: Reader) -> None:
    from fanwright.cli._records import show_trucks, show_visits
    from fanwright.cli._show import heading, reading_text, table

    show_trucks((past.row,))
    heading("visits")
    show_visits(past.visits, reader)
    facing = [
        (day.date.isoformat(), reading_text(reading, reader), "after the repair" if reading.after else "")
        for day in past.past
        for reading in day.readings
        if reading.test == "facing_thickness"
    ]
    if facing:
        heading("facing")
        table(("date", "thickness", ""), facing)
