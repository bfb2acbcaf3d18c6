"""Take a visit one step on: in work, waiting for a part, to sign, re-test."""

from __future__ import annotations

import click

from fanwright.cli._records import by_option, db_option, json_option


@click.command(name="move")
@click.argument("visit", type=int)
@click.argument("state")
@db_option
@by_option
@click.option("--why", default="", help="The reason, such as the part that is waited for.")
@json_option
def command(visit: int, state: str, db: str | None, by: str | None, why: str, as_json: bool) -> None:
    """Move VISIT to STATE: in_work, waiting_for_part, to_sign or re_test; signing is «fanwright close»."""
    from fanwright.cli._show import write_json
    from fanwright.desk.close_visit import move_visit

    reached = move_visit(db, visit, state, by=by, why=why)
    if as_json:
        write_json({"visit": visit, "state": reached})
    else:
        click.echo(f"visit {visit} is {reached.replace('_', ' ')}")
