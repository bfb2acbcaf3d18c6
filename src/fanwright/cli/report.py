"""Write the paper of a visit as PDF, one to three pages to sign."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fanwright.cli._records import db_option

if TYPE_CHECKING:
    from fanwright.report.pdf import Paper


@click.command(name="report")
@click.argument("visit", type=click.Path(path_type=Path))
@click.option("-o", "--output", required=True, type=click.Path(path_type=Path), help="The PDF to write.")
@click.option("--shop", type=click.Path(path_type=Path), help="The shop's own limits, presets and prices.")
@click.option(
    "--paper", type=click.Choice(["us-letter", "a4"]), default="us-letter", help="Size of the sheet."
)
@click.option(
    "--language",
    type=click.Choice(["en", "es", "fr"]),
    default="en",
    help="Language of the numbers in the file (a decimal comma counts only in es and fr).",
)
@click.option("--json", "as_json", is_flag=True, help="Write JSON about what was made instead of nothing.")
@db_option
def command(
    visit: Path,
    output: Path,
    shop: Path | None,
    paper: Paper,
    language: str,
    as_json: bool,
    db: str | None,
) -> None:
    """Write the paper of VISIT: finding first, then cause, then proof, with lines to sign.

    The file appears whole or not at all; the same visit gives the same bytes.
    """
    from fanwright.desk.report import make_report

    made = make_report(visit, output, shop, language=language, paper=paper, db=db)
    if as_json:
        from fanwright.cli._show import write_json

        write_json(
            {"unit": made.unit, "overall": made.overall, "file": str(made.path), "sha256": made.sha256}
        )
