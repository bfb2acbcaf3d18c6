"""Read a pressure trace: fill and vent times, pressures, what leaks while shut off."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from fanwright.evidence.trace import TraceResult
    from fanwright.evidence.trace.exhibit import Stroke
    from fanwright.evidence.trace.identify_result import Identified
    from fanwright.report.say import Reader


@click.command(name="trace")
@click.argument("csv", type=click.Path(path_type=Path), required=False)
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
@click.option(
    "--simulate", is_flag=True, help="Write the trace of a truck with faults instead of reading one."
)
@click.option(
    "--fault", "faults", multiple=True, help="With --simulate: exhaust_blocked:0.7; may be repeated."
)
@click.option("-o", "--out", type=click.Path(path_type=Path), help="With --simulate: the file to write.")
@click.option(
    "--supply", default="120 psi", show_default=True, help="With --simulate: air in the reservoirs."
)
@click.option("--cycles", default=3, show_default=True, help="With --simulate: how often air is sent.")
@click.option("--sent", default="3 s", show_default=True, help="With --simulate: how long each time.")
@click.option("--cut-off", default="4 s", show_default=True, help="With --simulate: how long after each.")
@click.option("--hold", default="", help="With --simulate: how long the drive is shut off, as 60 s.")
@click.option("--rate", default="100 Hz", show_default=True, help="With --simulate: rows in a second.")
@click.option("--noise", default="0.2 psi", show_default=True, help="With --simulate: noise of the gauges.")
@click.option("--division", default="0.1 psi", show_default=True, help="With --simulate: step of the gauges.")
@click.option("--seed", default=0, show_default=True, help="With --simulate: seed of the noise.")
def command(
    csv: Path | None, as_json: bool, columns: str, plot: Path | None, shop: Path | None, **given: Any
) -> None:
    """Read CSV, the pressure trace of a gauge logger; or write one with --simulate.

    Its columns are time [s], supply [psi], drive [psi] (bar and kPa too), and where there are such, command
    (1 = air sent) and shut (1 = drive shut off). With a truck, or the sizes of its drive, the air circuit
    behind the trace is identified as well.
    """
    from fanwright.cli._show import write_json
    from fanwright.desk.trace import read_trace, trace_data
    from fanwright.report.say import Reader

    if given["simulate"]:
        _simulate(csv, as_json, shop, given)
        return
    if csv is None:
        raise click.UsageError("CSV is missing: name the trace to read, or write one with --simulate.")
    sizes = {name: given[name] for name in ("dead_volume", "piston_area", "stroke")}
    done = read_trace(csv, columns, truck=given["truck"], sizes=sizes, plot=plot, shop_file=shop)
    reader = Reader(done.shop.units, done.shop.catalogue)
    if as_json:
        write_json(trace_data(done.result, done.identified, reader))
        return
    show(done.result, done.identified, reader)
    if plot is not None:
        click.echo(f"drawn: {plot}", err=True)


def _simulate(csv: Path | None, as_json: bool, shop: Path | None, given: dict[str, Any]) -> None:
    """Write a simulated trace."""
    from fanwright.cli._show import write_json
    from fanwright.desk.simulate import Wanted, simulate_trace

    if csv is not None:
        raise click.UsageError("--simulate writes a trace: name the file with -o, not as CSV.")
    if given["out"] is None:
        raise click.UsageError("-o is missing: name the file the simulated trace is written to.")
    names = (
        "truck",
        "faults",
        "supply",
        "cycles",
        "sent",
        "cut_off",
        "hold",
        "rate",
        "noise",
        "division",
        "seed",
    )
    done = simulate_trace(Wanted(**{name: given[name] for name in names}), given["out"], shop)
    if as_json:
        write_json({"file": str(done.path), "rows": done.rows})
    else:
        click.echo(f"{done.path}: {done.rows} rows")


def show(result: TraceResult, identified: Identified, reader: Reader) -> None:
    """Show what a trace says: times, pressures, the circuit behind it, what is not known."""
    from fanwright.cli._show import heading, table
    from fanwright.report.say import say_all

    heading("Fills and vents")
    table(("", "began", "took", "inlet", ""), [_row(stroke, reader) for stroke in result.exhibit.strokes])
    heading("Readings")
    table(("test", "reading", "give or take", ""), list(_readings(result, reader)))
    if identified.summary:
        heading("The air circuit")
        click.echo("  " + ". ".join(say_all(identified.summary, reader)) + ".")
    unknown = (*result.evidence.cannot_tell, *identified.cannot_tell)
    for title, said in (("Noticed", result.evidence.notes), ("Cannot be told", unknown)):
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
