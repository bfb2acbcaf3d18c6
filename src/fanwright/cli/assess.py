"""Assess a visit file: verdicts with their chances and reasons."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(name="assess")
@click.argument("visit", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Write JSON instead of text.")
@click.option("--shop", type=click.Path(path_type=Path), help="The shop's own limits, presets and prices.")
@click.option(
    "--language",
    type=click.Choice(["en", "es", "fr"]),
    default="en",
    help="Language of the numbers in the file (a decimal comma counts only in es and fr).",
)
def command(visit: Path, as_json: bool, shop: Path | None, language: str) -> None:
    """Assess VISIT, a visit file, and every file it names.

    Shows each verdict with its value, limit, chance and reason, what was not judged and not done, and what
    does not fit together. Findings never change the exit code.
    """
    from fanwright.desk.assess import assess_visit
    from fanwright.report.say import Reader

    assessed = assess_visit(visit, shop, language=language)
    reader = Reader(assessed.shop.units, assessed.shop.catalogue)
    if as_json:
        from fanwright.cli.show import write_json
        from fanwright.report.as_data import assessment_data

        write_json(assessment_data(assessed.assessment, reader))
    else:
        from fanwright.cli.show import show_assessment

        show_assessment(assessed.assessment, reader)
