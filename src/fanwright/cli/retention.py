"""Show what is older than the law asks for; nothing is ever removed."""

from __future__ import annotations

import datetime as dt

import click

from fanwright.cli._records import db_option, json_option


@click.command(name="retention")
@db_option
@json_option
def command(db: str | None, as_json: bool) -> None:
    """Show trucks with records older than 49 CFR 396.3(c) asks for while they are in the fleet."""
    from fanwright.cli._show import table, write_json
    from fanwright.desk.backup import show_retention

    rows = show_retention(db, dt.datetime.now().astimezone().date())
    if as_json:
        write_json(
            {
                "rule": "49 CFR 396.3(c)",
                "trucks": [
                    {"unit": one.unit, "older": one.visits, "oldest": one.oldest, "newest": one.newest}
                    for one in rows
                ],
            }
        )
        return
    click.echo("49 CFR 396.3(c): one year while the truck is in the fleet, six months after it has left.")
    click.echo("Nothing is removed; the life of a facing is forecast from its past.")
    table(
        ("truck", "older than a year", "oldest", "newest"),
        [(one.unit, str(one.visits), one.oldest, one.newest) for one in rows],
    )
