"""Forecast how long each facing lasts, from a spreadsheet of thickness readings or from the records."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fanwright.cli._records import db_option, json_option

if TYPE_CHECKING:
    from fanwright.life import Forecast
    from fanwright.report.say import Reader
    from fanwright.visit.life import Life


@click.command(name="life")
@click.argument("sheet", type=click.Path(path_type=Path), required=False)
@db_option
@click.option("--unit", default="", help="Only this truck of the records, still helped by all others.")
@json_option
@click.option(
    "--ahead", default="25,000 mi", show_default=True, help="Way to the next service; hours are taken too."
)
@click.option("--plot", type=click.Path(path_type=Path), help="Picture to write, .svg or .png.")
@click.option(
    "--shop", type=click.Path(path_type=Path), help="The shop's own units, presets and instruments."
)
@click.option(
    "--language",
    type=click.Choice(["en", "es", "fr"]),
    default="en",
    help="Language of the numbers in the file (a decimal comma counts only in es and fr).",
)
def command(
    sheet: Path | None,
    db: str | None,
    unit: str,
    as_json: bool,
    ahead: str,
    plot: Path | None,
    shop: Path | None,
    language: str,
) -> None:
    """Forecast the facings of SHEET, a CSV or XLSX file of thickness readings, or of the records.

    Its columns are unit, date, odometer (or hours) and facing; where there are such, reading_sd, new_facing
    (1 where a new facing was fitted), route and preset. Units stand in the cells or in the headings, as
    «odometer [mi]». Without SHEET the facings of the records are forecast.
    """
    from fanwright.cli._show import write_json
    from fanwright.desk.facings import life_of_records
    from fanwright.desk.life import read_life
    from fanwright.errors import InputError
    from fanwright.report.life_data import forecast_data
    from fanwright.report.say import Reader, say
    from fanwright.words import Message

    if sheet is not None and (db or unit):
        raise InputError(Message("give a sheet, or the records with --db and --unit, not both"))
    if sheet is None:
        done = life_of_records(db, unit, ahead, shop_file=shop, language=language, plot=plot)
    else:
        done = read_life(sheet, ahead, shop_file=shop, language=language, plot=plot)
    reader = Reader(done.shop.units, done.shop.catalogue)
    if as_json:
        beside = {name: {"by_heat": say(one, reader)} for name, one in done.by_heat.items()}
        write_json([forecast_data(one, reader) | beside.get(one.unit, {}) for one in done.forecasts])
    else:
        show(done.forecasts, reader)
        for name, said in done.by_heat.items():
            click.echo(f"- {name}: {say(said, reader)}")
    if plot is not None:
        click.echo(f"drawn: {plot}", err=True)


def show(forecasts: tuple[Forecast, ...], reader: Reader) -> None:
    """Show forecasts: what is left first, then why, then what was not used."""
    from fanwright.cli._show import heading, table
    from fanwright.report.life_text import forecast_lines
    from fanwright.report.say import say

    heading("facings: what is left (10 %, middle, 90 %)")
    ordered = sorted(forecasts, key=lambda one: -(one.chance_at_limit or 0.0))
    table(
        ("unit", "facing", "left", "limit by the next service", "due"), [_row(one, reader) for one in ordered]
    )
    heading("what it rests on")
    for one in ordered:
        for line in forecast_lines(one, reader):
            click.echo(f"- {one.unit}: {line}")
    aside = [(one.unit, each) for one in ordered for each in one.history.set_aside]
    if aside:
        heading("readings not used")
        for unit, each in aside:
            click.echo(f"- {unit}: {say(each.why, reader)}")


def show_life(life: Life, reader: Reader) -> None:
    """Show the life of an assessed truck's facing."""
    from fanwright.cli._show import heading
    from fanwright.report.life_text import forecast_cells, forecast_lines, grip_line
    from fanwright.report.say import say, say_all

    thickness, left, _, due = forecast_cells(life.forecast, reader)
    heading("life of the facing")
    if left:
        click.echo(f"facing {thickness}; left {left} (10 %, middle, 90 %)" + (f"; due {due}" if due else ""))
    said = forecast_lines(life.forecast, reader) + say_all(life.sentences(), reader)
    for one in life.grips:
        click.echo("- " + ": ".join(grip_line(one, life.lost_to(one), reader)))
    for line in [*said, *(say(each.why, reader) for each in life.forecast.history.set_aside)]:
        click.echo(f"- {line}")


def _row(one: Forecast, reader: Reader) -> tuple[str, ...]:
    from fanwright.report.life_text import forecast_cells

    return (one.unit, *forecast_cells(one, reader))
