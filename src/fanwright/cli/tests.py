"""List the tests a technician can do, or explain one."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(name="tests")
@click.argument("test", required=False)
@click.option("--json", "as_json", is_flag=True, help="Write JSON instead of text.")
@click.option("--shop", type=click.Path(path_type=Path), help="The shop's own limits, presets and prices.")
def command(test: str | None, as_json: bool, shop: Path | None) -> None:
    """List all tests with their minutes, or explain TEST: how, outcomes, limits, cautions, source."""
    from fanwright.cli._show import show_tests, write_json
    from fanwright.desk.lists import explain_tests
    from fanwright.report.say import Reader

    opened, chosen = explain_tests(test, shop)
    reader = Reader(opened.units, opened.catalogue)
    if as_json:
        from fanwright.report.lists import tests_data

        write_json(tests_data(chosen, opened.limits, reader))
    else:
        show_tests(chosen, opened.limits, reader, alone=test is not None)
