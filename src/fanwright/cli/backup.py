"""Write a backup of records and files while others go on writing."""

from __future__ import annotations

from pathlib import Path

import click

from fanwright.cli._records import db_option, json_option


@click.command(name="backup")
@click.argument("out", type=click.Path(path_type=Path))
@db_option
@json_option
def command(out: Path, db: str | None, as_json: bool) -> None:
    """Write OUT, a zip file with every row and file of one moment; no passwords or keys are in it."""
    from fanwright.cli._show import write_json
    from fanwright.desk.backup import make_backup

    made = make_backup(db, out)
    if as_json:
        write_json(
            {
                "file": str(made.path),
                "entries": made.entries,
                "rows": made.rows,
                "files": made.files,
                "head_sha256": made.head,
            }
        )
    else:
        click.echo(f"wrote {made.path}: {made.entries} entries, {made.rows} rows, {made.files} files")
        click.echo(f"last entry {made.head}; note it where nobody can change it")
