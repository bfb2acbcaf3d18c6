"""List the limits in force, each with its source."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(name="limits")
@click.argument("test", required=False)
@click.option("--json", "as_json", is_flag=True, help="Write JSON instead of text.")
@click.option("--shop", type=click.Path(path_type=Path), help="The shop's own limits, presets and prices.")
def command(test: str | None, as_json: bool, shop: Path | None) -> None:
    """List the limits in force, or those of TEST: bands, words, reason, source."""
    from fanwright.cli._show import show_limits, write_json
    from fanwright.desk.lists import explain_tests
    from fanwright.report.say import Reader

    opened, chosen = explain_tests(test, shop)
    reader = Reader(opened.units, opened.catalogue)
    if as_json:
        from fanwright.report.lists import limits_data

        write_json(limits_data(chosen, opened.limits, reader))
    else:
        show_limits(chosen, opened.limits, reader)
