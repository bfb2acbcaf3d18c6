"""Start a commented visit file for a truck."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import click


@click.command(name="new")
@click.argument("visit", type=click.Path(path_type=Path))
@click.option("--unit", required=True, help="The fleet's own number of the truck.")
@click.option("--kind", type=click.Choice(["planned", "complaint", "retest"]), default="planned")
@click.option("--preset", help="What kind of drive it has; without it the arrangement is left to fill in.")
@click.option("--shop", type=click.Path(path_type=Path), help="The shop's own limits, presets and prices.")
@click.option("--json", "as_json", is_flag=True, help="Write JSON instead of text.")
def command(visit: Path, unit: str, kind: str, preset: str | None, shop: Path | None, as_json: bool) -> None:
    """Write VISIT, a visit file with every test of this kind of visit as a comment to fill in."""
    from fanwright.cli._show import write_json
    from fanwright.desk.new_visit import new_visit

    written = new_visit(visit, unit, kind, preset, dt.datetime.now().astimezone().date(), shop)
    if as_json:
        write_json({"visit": str(written), "unit": unit, "kind": kind})
    else:
        click.echo(f"wrote {written}; fill it in, then: fanwright assess {written}")
