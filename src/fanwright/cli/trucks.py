"""List the trucks in the records, each with its latest visit."""

from __future__ import annotations

import click

from fanwright.cli._records import db_option, json_option


@click.command(name="trucks")
@click.argument("search", required=False, default="")
@db_option
@click.option("--most", type=click.IntRange(1), default=200, help="How many at most.")
@json_option
def command(search: str, db: str | None, most: int, as_json: bool) -> None:
    """List trucks, or those whose number, VIN, serial or make holds SEARCH."""
    from fanwright.cli._records import show_trucks, truck_data
    from fanwright.cli._show import write_json
    from fanwright.desk.trucks import list_trucks

    rows = list_trucks(db, search, most)
    if as_json:
        write_json({"trucks": [truck_data(row) for row in rows]})
    else:
        show_trucks(rows)
