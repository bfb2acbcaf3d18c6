"""Read a backup back into an empty place, and verify it."""

from __future__ import annotations

from pathlib import Path

import click

from fanwright.cli._records import db_option, json_option


@click.command(name="restore")
@click.argument("backup", type=click.Path(path_type=Path))
@db_option
@json_option
def command(backup: Path, db: str | None, as_json: bool) -> None:
    """Restore BACKUP into records that are not there yet; it counts only when every entry verifies."""
    from fanwright.cli._show import write_json
    from fanwright.desk.backup import restore_backup

    made = restore_backup(backup, db)
    if as_json:
        write_json(
            {"entries": made.entries, "rows": made.rows, "files": made.files, "head_sha256": made.head}
        )
    else:
        click.echo(f"restored and verified {made.entries} entries, {made.rows} rows, {made.files} files")
