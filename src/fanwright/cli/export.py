"""Take records out: readings as CSV, XLSX or JSON lines, visits as files."""

from __future__ import annotations

from pathlib import Path

import click

from fanwright.cli._records import db_option, json_option


@click.command(name="export")
@click.argument("out", type=click.Path(path_type=Path))
@db_option
@click.option("--unit", default="", help="Only this truck.")
@click.option("--visit", type=int, help="Only this visit, as a visit file with its files.")
@json_option
def command(out: Path, db: str | None, unit: str, visit: int | None, as_json: bool) -> None:
    """Write OUT: readings into a .jsonl, .csv or .xlsx file, or visits with their files into a folder."""
    from fanwright.cli._show import write_json
    from fanwright.desk.export_records import export_records

    made = export_records(db, out, unit=unit, visit=visit)
    if as_json:
        write_json({"out": str(made.path), "visits": made.visits, "readings": made.rows})
    else:
        click.echo(
            f"wrote {made.path}: {made.visits} visits" + (f", {made.rows} readings" if made.rows else "")
        )
