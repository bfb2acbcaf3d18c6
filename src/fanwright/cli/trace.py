"""Read a pressure trace: fill and vent times, pressures, what leaks while shut off."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from fanwright.evidence.trace import TraceResult
    from fanwright.evidence.trace.exhibit import Stroke
    from fanwright.report.say import Reader


@click.command(name="trace")
@click.argument("csv", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Write JSON instead of text.")
@click.option("--columns", default="", help="What the file calls its columns: drive=P2[psi],time=t[ms].")
@click.option("--truck", default="", help="A preset or a visit file that says what the drive is.")
@click.option(
    "--dead-volume", default="", help="Instead of a truck: air space of line and chamber, as 0.2 dm3."
)
@click.option("--piston-area", default="", help="Area the air pushes on, as 60 cm2.")
@click.option("--stroke", default="", help="Way of the piston, as 4 mm.")
@click.option("--plot", type=click.Path(path_type=Path), help="Picture to write, .svg or .png.")
@click.option("--shop", type=click.Path(path_type=Path), help="The shop's own units, presets and prices.")
def command(
    csv: Path,
    as_json: bool,
    columns: str,
    truck: str,
    dead_volume: str,
    piston_area: str,
    stroke: str,
    plot: Path | None,
    shop: Path | None,
) -> None:
    """Read CSV, the pressure trace of a gauge logger.

    Its columns are time [s], supply [psi], drive [psi] (bar and kPa too), and where there are such, command
    (1 = air sent) and shut (1 = drive shut off).
    """
    from fanwright.cli._show import write_json
    from fanwright.desk.trace import read_trace, trace_data
    from fanwright.report.say import Reader

    sizes = {"dead_volume": dead_volume, "piston_area": piston_area, "stroke": stroke}
    done = read_trace(csv, columns, truck=truck, sizes=sizes, plot=plot, shop_file=shop)
    reader = Reader(done.shop.units, done.shop.catalogue)
    if as_json:
        write_json(trace_data(done.result, reader))
        return
    show(done.result, reader)
    if done.sizes is not None:
        click.echo("  The sizes given were checked; nothing above uses them.")
    if plot is not None:
        click.echo(f"drawn: {plot}", err=True)


def show(result: TraceResult, reader: Reader) -> None:
    """Show what a trace says: times, pressures, what was not timed, what is not known."""
    from fanwright.cli._show import heading, table
    from fanwright.report.say import say_all

    heading("Fills and vents")
    table(("", "began", "took", "inlet", ""), [_row(stroke, reader) for stroke in result.exhibit.strokes])
    heading("Readings")
    table(("test", "reading", "give or take", ""), list(_readings(result, reader)))
    for title, said in (("Noticed", result.evidence.notes), ("Cannot be told", result.evidence.cannot_tell)):
        if said:
            heading(title)
            for line in say_all(said, reader):
                click.echo(f"  {line}")


def _row(stroke: Stroke, reader: Reader) -> tuple[str, ...]:
    from fanwright.report.say import say

    took = "did not arrive" if stroke.never else "not timed"
    if stroke.duration_s is not None and stroke.sd_s is not None:
        places = 2 if stroke.sd_s >= 0.0095 else 3
        took = f"{stroke.duration_s:.{places}f} ± {stroke.sd_s:.{places}f} s"
    inlet = ""
    if stroke.inlet_gauge_pa is not None:
        inlet = reader.write(stroke.inlet_gauge_pa, "pressure")
    why = "" if stroke.not_timed is None else say(stroke.not_timed, reader)
    return stroke.kind, f"{stroke.start_s:.2f} s", took, inlet, why


def _readings(result: TraceResult, reader: Reader) -> list[tuple[str, ...]]:
    from fanwright.report.say import say
    from fanwright.words import Message, outcome

    rows: list[tuple[str, ...]] = []
    for reading in result.evidence.readings:
        test = reader.catalogue.tests[reading.test]
        spread = ""
        if reading.measured is not None:
            value = reader.write(reading.measured.si, test.dimension)
            spread = reader.write(reading.measured.sd_si, test.dimension, reading.measured.sd_si / 2.0)
        else:
            word = outcome(reading.test, reading.outcome)
            value = say(Message("{outcome}", {"outcome": word}), reader)
        why = "" if reading.cannot_judge is None else say(reading.cannot_judge, reader)
        rows.append((test.label, value, spread, why))
    return rows
