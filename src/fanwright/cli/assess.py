"""Assess a visit file: verdicts with their chances and reasons."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fanwright.cli._records import by_option, db_option

if TYPE_CHECKING:
    from fanwright.desk.assess import Assessed
    from fanwright.records.keeping import Kept


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
@click.option("--keep", is_flag=True, help="Keep the visit and its files in the records.")
@db_option
@by_option
@click.option("--why", help="Why it corrects a visit that was kept earlier.")
def command(
    visit: Path,
    as_json: bool,
    shop: Path | None,
    language: str,
    keep: bool,
    db: str | None,
    by: str | None,
    why: str | None,
) -> None:
    """Assess VISIT, a visit file, and every file it names.

    Shows each verdict with its value, limit, chance and reason, what was not judged and not done, and what
    does not fit together. Findings never change the exit code. With records named, the truck's past in them
    counts too.
    """
    from fanwright.report.say import Reader

    assessed, kept = _assess(visit, shop, language, keep=keep, db=db, by=by, why=why)
    reader = Reader(assessed.shop.units, assessed.shop.catalogue)
    if as_json:
        from fanwright.cli._show import write_json
        from fanwright.report.as_data import assessment_data

        data = assessment_data(assessed.assessment, reader)
        if kept is not None:
            data["kept"] = {
                "visit": kept.visit,
                "new": kept.new,
                "corrects": kept.corrects,
                "head_sha256": kept.head,
            }
        write_json(data)
    else:
        from fanwright.cli._show import show_assessment

        show_assessment(assessed.assessment, reader)
    if kept is not None:
        _tell(kept)


def _assess(
    visit: Path,
    shop: Path | None,
    language: str,
    *,
    keep: bool,
    db: str | None,
    by: str | None,
    why: str | None,
) -> tuple[Assessed, Kept | None]:
    """Assess with no records, with what they know, or keep the visit in them."""
    from fanwright.desk.keep import assess_with_past, keep_visit

    if keep:
        done = keep_visit(visit, db, shop, language=language, by=by, why=why)
        return done.assessed, done.kept
    return assess_with_past(visit, db, shop, language=language), None


def _tell(kept: Kept) -> None:
    """Say on standard error what was kept: it is no finding."""
    said = (
        f"kept as visit {kept.visit}" if kept.new else f"known already as visit {kept.visit}; nothing changed"
    )
    if kept.corrects is not None:
        said += f", in place of visit {kept.corrects}"
    click.echo(f"{said}; last entry {kept.head}", err=True)
    if kept.clock_behind:
        click.echo("the clock of this machine stands before the entry written last: set it right", err=True)
