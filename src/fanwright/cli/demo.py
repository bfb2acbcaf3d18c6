"""Load the demo fleet: 24 invented trucks with their history."""

from __future__ import annotations

from pathlib import Path

import click

from fanwright.cli._records import db_option, json_option


@click.command(name="demo")
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@db_option
@json_option
def command(folder: Path | None, db: str | None, as_json: bool) -> None:
    """Load the visit files of FOLDER (else examples/demo of the source) and sign those that may be closed."""
    from fanwright.cli._show import write_json
    from fanwright.desk.demo import load_demo

    done = load_demo(db, folder)
    if as_json:
        write_json({"trucks": done.trucks, "new_visits": done.new, "signed": done.signed})
    else:
        click.echo(f"{done.trucks} trucks: {done.new} visits kept now, {done.signed} of them signed")
