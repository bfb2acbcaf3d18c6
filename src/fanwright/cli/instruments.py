"""List the shop's instruments with their calibrations, or note one."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import click

from fanwright.cli._records import by_option, db_option, json_option

if TYPE_CHECKING:
    from fanwright.records.tools import InstrumentRow
    from fanwright.report.say import Reader

DAY = click.DateTime(["%Y-%m-%d"])


@click.command(name="instruments")
@click.argument("number", required=False)
@db_option
@click.option("--calibrated", type=DAY, help="The day NUMBER was calibrated.")
@click.option("--due", type=DAY, help="The day the next calibration is due.")
@click.option("--offset", help="What it reads too much, such as '-8 psi'.")
@click.option("--label", default="", help="What it is.")
@by_option
@json_option
def command(
    number: str | None,
    db: str | None,
    calibrated: dt.datetime | None,
    due: dt.datetime | None,
    offset: str | None,
    label: str,
    by: str | None,
    as_json: bool,
) -> None:
    """List instruments; with NUMBER and --calibrated note a calibration. Earlier ones stay."""
    from fanwright.cli._show import table, write_json
    from fanwright.desk.tools import calibrate, list_instruments
    from fanwright.report.say import Reader

    if (number is None) != (calibrated is None):
        raise click.UsageError("to note a calibration name the instrument and the day: G-07 --calibrated DAY")
    if number is None or calibrated is None:
        rows = list_instruments(db)
    else:
        next_day = None if due is None else due.date()
        rows = calibrate(db, number, calibrated.date(), next_day, offset, label=label, by=by)
    if as_json:
        write_json({"instruments": [_data(row) for row in rows]})
    else:
        reader, today = Reader(), dt.datetime.now().astimezone().date().isoformat()
        table(
            ("instrument", "what", "calibrated", "due", "reads too much"),
            [(row.number, row.label, row.calibrated, _due(row, today), _offset(row, reader)) for row in rows],
        )


def _due(row: InstrumentRow, today: str) -> str:
    return f"{row.due}, overdue" if row.due and row.due < today else row.due


def _offset(row: InstrumentRow, reader: Reader) -> str:
    return "" if row.offset_si is None else reader.write(row.offset_si, row.dimension)


def _data(row: InstrumentRow) -> dict[str, Any]:
    from fanwright.quantities import dimension

    data: dict[str, Any] = {
        "instrument": row.number,
        "label": row.label or None,
        "calibrated": row.calibrated or None,
        "due": row.due or None,
    }
    if row.offset_si is not None:
        shape = dimension(row.dimension)
        data[f"offset_{shape.json_ending}"] = round(shape.spread_to_json(row.offset_si), 6)
    return data
