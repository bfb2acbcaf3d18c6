"""Check that the records are as they were written: every entry, row and file."""

from __future__ import annotations

import click

from fanwright.cli._records import db_option, json_option


@click.command(name="verify")
@db_option
@click.option("--expect", default="", help="SHA-256 of an entry noted earlier that must be in the chain.")
@click.option("--no-files", is_flag=True, help="Walk the chain only, without reading every file again.")
@json_option
def command(db: str | None, expect: str, no_files: bool, as_json: bool) -> None:
    """Walk the chain of entries and name the first row or file that was altered, is missing or was added."""
    from fanwright.cli._show import write_json
    from fanwright.desk.backup import verify_records
    from fanwright.report.say import say_all

    found = verify_records(db, expect, with_files=not no_files)
    if as_json:
        write_json(
            {
                "sound": found.sound,
                "entries": found.entries,
                "rows": found.rows,
                "files": found.files,
                "head_sha256": found.head,
                "wrong": say_all(found.wrong),
                "notes": say_all(found.notes),
            }
        )
        return
    click.echo("SOUND" if found.sound else "NOT AS WRITTEN")
    for line in say_all((*found.wrong, *found.notes)):
        click.echo(f"- {line}")
    read = "no files read" if no_files else f"{found.files} files"
    click.echo(f"{found.entries} entries, {found.rows} rows, {read}; last entry {found.head}")
