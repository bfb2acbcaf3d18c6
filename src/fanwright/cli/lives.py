"""Say whether a fleet should renew facings by age, and how often to look."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fanwright.cli._records import db_option, json_option

if TYPE_CHECKING:
    from fanwright.desk.lives import FleetRenewing
    from fanwright.life.renewing import Span
    from fanwright.report.say import Reader


@click.command(name="lives")
@click.argument("sheet", type=click.Path(path_type=Path), required=False)
@db_option
@click.option("--planned", help="Cost of renewing at a planned stop, such as '600 USD'.")
@click.option("--failure", help="Cost of an end that nobody foresaw, such as '1,350 USD'.")
@click.option("--look", help="Cost of looking once, such as '40 USD'.")
@click.option("--shop", type=click.Path(path_type=Path), help="The shop's own prices, units and presets.")
@click.option(
    "--language",
    type=click.Choice(["en", "es", "fr"]),
    default="en",
    help="Language of the numbers in the file (a decimal comma counts only in es and fr).",
)
@json_option
def command(
    sheet: Path | None,
    db: str | None,
    planned: str | None,
    failure: str | None,
    look: str | None,
    shop: Path | None,
    language: str,
    as_json: bool,
) -> None:
    """Fit the lives of SHEET, or of the facings in the records, and say when renewing by age pays.

    A sheet of lives has the columns good_at (where it was last good) and ended_by (where it had ended; empty
    while it runs), and where there are such watched_from and number: how many lives are like this one. Equal
    good_at and ended_by are an end that was seen; an empty good_at one that came before the first look. A
    sheet of thickness readings, as fanwright life takes it, will do too.
    """
    from fanwright.cli._show import write_json
    from fanwright.desk.lives import OwnCosts, renew_by_lives
    from fanwright.errors import InputError
    from fanwright.report.life_data import renewing_data
    from fanwright.report.say import Reader
    from fanwright.words import Message

    if sheet is not None and db:
        raise InputError(Message("give a sheet, or the records with --db, not both"))
    done = renew_by_lives(
        sheet, db, costs=OwnCosts(planned, failure, look), shop_file=shop, language=language
    )
    reader = Reader(done.shop.units, done.shop.catalogue)
    if as_json:
        write_json(renewing_data(done.found, done.unknown, reader))
    else:
        _show(done, reader)


def _show(done: FleetRenewing, reader: Reader) -> None:
    from fanwright.cli._show import heading, table
    from fanwright.report.say import say_all

    found = done.found
    heading("lives of the fleet (80 % intervals)")

    def row(name: str, value: Span) -> tuple[str, ...]:
        return (name, *(reader.write(one, found.dimension) for one in (value.value, value.low, value.high)))

    shape = [f"{one:.2f}" for one in (found.shape.value, found.shape.low, found.shape.high)]
    table(
        ("", "fitted", "low", "high"),
        [row("63 % have ended by", found.scale), row("10 % have ended by", found.b10), ("shape", *shape)],
    )
    ages = f"; {done.unknown} facings first seen worn are left out" if done.unknown else ""
    click.echo(f"{found.ended} lives ended, {found.running} still run{ages}")
    heading("what to do")
    for line in say_all(found.advice, reader):
        click.echo(f"- {line}")
    costs = found.costs
    click.echo(
        f"reckoned with {costs.planned_usd:,.0f} USD for renewing in time, {costs.failure_usd:,.0f} USD for "
        f"one unforeseen, {costs.inspection_usd:,.0f} USD a look (the catalogue's assumptions unless given)"
    )
