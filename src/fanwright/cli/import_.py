"""Bring past readings (CSV, XLSX) or visit files into the records."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fanwright.cli._records import by_option, db_option, json_option

if TYPE_CHECKING:
    from fanwright.desk.import_records import Brought

SHOWN = 10


@click.command(name="import")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@db_option
@click.option(
    "--map", "mapped", multiple=True, help="TARGET=HEADING or 'TARGET [unit]=HEADING'; kept for next time."
)
@click.option("--preview", is_flag=True, help="Show what would be kept; keep nothing.")
@click.option(
    "--dates", type=click.Choice(["ymd", "mdy", "dmy"]), default="ymd", help="How days are written."
)
@click.option("--language", type=click.Choice(["en", "es", "fr"]), default="en", help="Language of numbers.")
@click.option("--shop", type=click.Path(path_type=Path), help="The shop's own limits, presets and prices.")
@by_option
@click.option("--why", help="The reason, where there is one to give.")
@json_option
def command(
    files: tuple[Path, ...],
    db: str | None,
    mapped: tuple[str, ...],
    preview: bool,
    dates: str,
    language: str,
    shop: Path | None,
    by: str | None,
    why: str | None,
    as_json: bool,
) -> None:
    """Import FILES: visit files, or spreadsheets of past readings. Each file all or nothing."""
    from fanwright.cli._show import write_json
    from fanwright.desk.import_records import VISITS, import_sheet
    from fanwright.desk.keep import keep_visit

    named = dict(_pair(one) for one in mapped)
    told: list[dict[str, object]] = []
    for path in files:
        if path.suffix.lower() in VISITS:
            if preview:
                raise click.UsageError(
                    "--preview is for spreadsheets; «fanwright assess» looks at a visit file"
                )
            kept = keep_visit(path, db, shop, language=language, by=by, why=why).kept
            told.append({"file": str(path), "visit": kept.visit, "unit": kept.unit, "new": kept.new})
            continue
        brought = import_sheet(
            path, db, named, keep=not preview, order=dates, language=language, shop_file=shop, by=by, why=why
        )
        told.append(_told(path, brought))
        if not as_json:
            _show(path, brought)
    if as_json:
        write_json({"files": told})
        return
    for one in told:
        if "visit" in one:
            click.echo(f"{one['file']}: visit {one['visit']}" + ("" if one["new"] else ", known already"))


def _pair(written: str) -> tuple[str, str]:
    target, sign, heading = written.partition("=")
    if not sign or not target.strip() or not heading.strip():
        raise click.UsageError(f"--map {written}: write TARGET=HEADING, such as odometer=Miles")
    return target.strip(), heading.strip()


def _told(path: Path, brought: Brought) -> dict[str, object]:
    seen, done = brought.preview, brought.imported
    return {
        "file": str(path),
        "mapping": dict(seen.mapping),
        "mapping_remembered": seen.remembered,
        "not_read": list(seen.unread),
        "lines": len(seen.lines),
        "kept": None if done is None else done.added,
        "known_already": None if done is None else done.known,
        "trucks": len({unit for unit, _ in seen.lines}),
    }


def _show(path: Path, brought: Brought) -> None:
    from fanwright.cli._show import reading_text, table
    from fanwright.report.say import Reader

    seen, done, reader = brought.preview, brought.imported, Reader()
    remembered = " (as last time)" if seen.remembered else ""
    click.echo(f"{path}: {', '.join(f'{h} as {t}' for t, h in seen.mapping.items())}{remembered}")
    if seen.unread:
        click.echo(f"not read: {', '.join(seen.unread)}")
    if done is not None:
        click.echo(f"kept {done.added} lines of {done.trucks} trucks; {done.known} were known already")
        return
    tests = list(
        dict.fromkeys(column.target for column in seen.columns if column.target in reader.catalogue.tests)
    )
    table(
        ("truck", "date", "odometer", *tests),
        [
            (
                unit,
                past.date.isoformat(),
                "" if past.odometer_m is None else reader.write(past.odometer_m, "distance"),
                *(
                    next((reading_text(one, reader) for one in past.readings if one.test == test), "")
                    for test in tests
                ),
            )
            for unit, past in seen.lines[:SHOWN]
        ],
    )
    click.echo(f"{len(seen.lines)} lines in all; nothing was kept")
