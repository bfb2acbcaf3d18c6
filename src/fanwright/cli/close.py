"""Sign a visit as done and re-tested, which closes it."""

from __future__ import annotations

import click

from fanwright.cli._records import by_option, db_option, json_option


@click.command(name="close")
@click.argument("visit", type=int)
@db_option
@by_option
@click.option("--second", default="", help="The second person who looked at it.")
@click.option("--driver-told", default="", help="Who told the driver.")
@click.option("--cause", "causes", multiple=True, help="A cause beside the one in the visit file.")
@click.option("--part", "parts", multiple=True, help="A part fitted: 'NAME, OLD SERIAL, NEW SERIAL'.")
@click.option("--anyway", default="", help="Why it is closed although something is missing; this is kept.")
@json_option
def command(
    visit: int,
    db: str | None,
    by: str | None,
    second: str,
    driver_told: str,
    causes: tuple[str, ...],
    parts: tuple[str, ...],
    anyway: str,
    as_json: bool,
) -> None:
    """Sign VISIT. What an inspector would miss is refused: a cause, readings after, a second person."""
    from fanwright.cli._show import write_json
    from fanwright.desk.close_visit import close_visit
    from fanwright.report.say import say_all

    done = close_visit(
        db,
        visit,
        by=by,
        second=second,
        driver_told=driver_told,
        named_causes=causes,
        fitted=parts,
        anyway=anyway,
    )
    missing = say_all(done.overridden)
    if as_json:
        write_json(
            {
                "visit": done.visit,
                "unit": done.unit,
                "state": "signed",
                "signed_by": done.signed_by,
                "missing": missing,
                "because": done.because or None,
                "head_sha256": done.head,
            }
        )
        return
    click.echo(f"visit {done.visit} of truck {done.unit} is signed by {', '.join(done.signed_by.values())}")
    for line in missing:
        click.echo(f"- closed anyway: {line}")
