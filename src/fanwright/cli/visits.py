"""List the visits in the records, newest first."""

from __future__ import annotations

import datetime as dt

import click

from fanwright.cli._records import db_option, json_option

DAY = click.DateTime(["%Y-%m-%d"])


@click.command(name="visits")
@click.argument("search", required=False, default="")
@db_option
@click.option("--unit", default="", help="Only of this truck.")
@click.option("--state", default="", help="Only in this state: open, in_work, waiting_for_part, to_sign, ...")
@click.option("--since", type=DAY, help="Only from this day on.")
@click.option("--until", type=DAY, help="Only up to this day.")
@click.option("--corrected", is_flag=True, help="Also those that were corrected.")
@click.option("--most", type=click.IntRange(1), default=200, help="How many at most.")
@json_option
def command(
    search: str,
    db: str | None,
    unit: str,
    state: str,
    since: dt.datetime | None,
    until: dt.datetime | None,
    corrected: bool,
    most: int,
    as_json: bool,
) -> None:
    """List visits, or those whose truck, people, place or cause holds SEARCH."""
    from fanwright.cli._records import show_visits, visit_data
    from fanwright.cli._show import write_json
    from fanwright.desk.trucks import list_visits
    from fanwright.report.say import Reader

    rows = list_visits(
        db,
        unit=unit,
        state=state,
        search=search,
        since="" if since is None else since.date().isoformat(),
        until="" if until is None else until.date().isoformat(),
        corrected=corrected,
        most=most,
    )
    if as_json:
        write_json({"visits": [visit_data(row) for row in rows]})
    else:
        show_visits(rows, Reader())
