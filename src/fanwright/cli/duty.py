"""Read recorded bus traffic: when, why and how hard the fan drive was used."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fanwright.cli._fleet_duty import fleet_options, run_fleet

if TYPE_CHECKING:
    from fanwright.desk.duty import ReadDuty
    from fanwright.report.say import Reader

LONG_BYTES = 50_000_000


@click.command(name="duty")
@click.argument("files", nargs=-1)
@click.option("--json", "as_json", is_flag=True, help="Write JSON instead of text.")
@click.option("--truck", default="", help="A preset or a visit file that says what the truck is.")
@click.option(
    "--pulley-ratio", default="", help="Instead of a truck: turns of the pulley for one of the engine."
)
@click.option("--fan-inertia", default="", help="Moment of inertia of the fan, as 0.5 kg m2.")
@click.option("--clutch-torque", default="", help="Torque of the drive while it slips, as 120 N m.")
@click.option("--fan-power", default="", help="Power the fan takes at one speed, as 18 kW.")
@click.option("--at", default="", help="That speed of the fan, as 2100 rpm.")
@click.option("--dbc", type=click.Path(path_type=Path), help="The shop's own layout of signals.")
@click.option("--unit", default="", help="The one truck that is read where a table holds several.")
@click.option("--columns", default="", help="What a table calls its columns: coolant=ECT[C],told_on=CMD.")
@click.option("--runs", type=click.Path(path_type=Path), help="Table of runs to write, .csv or .parquet.")
@click.option("--plot", type=click.Path(path_type=Path), help="Picture to write, .svg or .png.")
@click.option("--shop", type=click.Path(path_type=Path), help="The shop's own units and presets.")
@fleet_options
def command(
    files: tuple[str, ...],
    as_json: bool,
    truck: str,
    pulley_ratio: str,
    fan_inertia: str,
    clutch_torque: str,
    fan_power: str,
    at: str,
    dbc: Path | None,
    unit: str,
    columns: str,
    runs: Path | None,
    plot: Path | None,
    shop: Path | None,
    **fleet: Any,
) -> None:
    """Read FILES of one truck: recorded bus traffic, or telemetry of about a row a second.

    Bus traffic: candump, ASC, BLF, MF4, TRC, CSV, SQLite, Parquet. Telemetry: CSV, Parquet. Text may be gz.
    The recording shows what the controller asked for, not whether the drive gripped.
    """
    from fanwright.cli._show import write_json
    from fanwright.desk.duty import read_duty
    from fanwright.desk.duty_data import duty_data
    from fanwright.report.say import Reader

    figures = {
        "pulley_ratio": pulley_ratio,
        "fan_inertia": fan_inertia,
        "clutch_torque": clutch_torque,
        "fan_power": fan_power,
        "at": at,
    }
    drive = {"truck": truck, "figures": figures, "dbc": dbc, "plot": plot, "shop": shop, "columns": columns}
    if run_fleet(files, fleet, drive, as_json=as_json):
        return
    done = read_duty(
        [Path(name) for name in files],
        truck=truck,
        figures=figures,
        dbc=dbc,
        runs=runs,
        plot=plot,
        shop_file=shop,
        unit=unit,
        columns=columns,
        progress=_progress(),
    )
    reader = Reader(done.shop.units, done.shop.catalogue)
    if as_json:
        write_json(duty_data(done, reader))
    else:
        show(done, reader)
    for path in (runs, plot):
        if path is not None:
            click.echo(f"written: {path}", err=True)


def _progress() -> Callable[[int, int], None] | None:
    """Show how far a long file is, on a terminal only."""
    if not sys.stderr.isatty():
        return None
    shown = -1

    def report(done: int, size: int) -> None:
        nonlocal shown
        percent = 100 * done // max(size, 1)
        if size > LONG_BYTES and percent != shown:
            shown = percent
            click.echo(f"\r{percent:3d} %", err=True, nl=percent == 100)

    return report


def show(done: ReadDuty, reader: Reader) -> None:
    """Show what recordings say, for a foreman: hours, grips, reasons, what to look at."""
    from fanwright.cli._show import heading, table
    from fanwright.report.say import say_all

    result = done.result
    heading("The fan, as the controller asked for it")
    for name, value in _summary(done, reader):
        click.echo(f"  {name:<34}{value}")
    if result.told and result.runs:
        heading("By reason")
        rows = [_reason_row(done, reason) for reason in result.by_reason()]
        table(("told on for", "runs", "time", "share of told on", "median run"), rows)
    if done.judged:
        heading("What to look at")
        _look_at(done, reader)
    if result.evidence.readings:
        heading("Readings")
        table(("test", "reading", "give or take"), _readings(done, reader))
    for title, said in (("Noticed", result.evidence.notes), ("Cannot be told", result.evidence.cannot_tell)):
        if said:
            heading(title)
            for line in say_all(said, reader):
                click.echo(f"  {line}")


def _look_at(done: ReadDuty, reader: Reader) -> None:
    from fanwright.report.say import VERDICT_WORDS, say

    for one in done.look_at:
        label = reader.catalogue.tests[one.test].label
        click.echo(f"  {VERDICT_WORDS[one.verdict].upper()}: {label}: {say(one.why, reader)}")
        if one.todo is not None:
            click.echo(f"    {say(one.todo, reader)}")
    refused = dict.fromkeys(say(one.why, reader) for one in done.judged if one.verdict == "not_judged")
    for why in refused:
        click.echo(f"  not judged: {why}")
    if not done.look_at and not refused:
        click.echo("  nothing in it is beyond a limit; it shows what was asked for, not the drive itself")


def _summary(done: ReadDuty, reader: Reader) -> list[tuple[str, str]]:
    result = done.result
    rows = [("recorded", _hours(result.span_s))]
    if result.overlap_s > 0.0:
        rows.append(("in more than one recording", f"{_hours(result.overlap_s)}, counted once"))
    if result.engine_on_s is not None:
        rows.append(("engine on", _hours(result.engine_on_s)))
    if result.told and result.fan_share is not None and result.grips_per_hour is not None:
        rows += [
            ("told on", f"{_hours(result.fan_on_s)}, {result.fan_share:.1%} of the known time"),
            ("grips", f"{len(result.runs)}, {result.grips_per_hour:.1f} an hour"),
            ("A/C runs under 60 s", str(len(result.short_runs))),
        ]
    if result.slip_energy_j is not None and result.fan_energy_j is not None and result.fuel_m3 is not None:
        rows += [
            ("heat of the grips", reader.write(result.slip_energy_j, "energy")),
            ("work of the fan", reader.write(result.fan_energy_j, "energy")),
            ("fuel for both", _fuel(result.fuel_m3)),
        ]
    if result.air_low_on_s is not None:
        rows.append(("air under 90 psi while told on", _hours(result.air_low_on_s)))
    if result.air_low_off_s is not None:
        rows.append(("air under 90 psi while told off", _hours(result.air_low_off_s)))
    return rows


def _fuel(volume_m3: float) -> str:
    """Write fuel in litres and gallons, the small amounts of a short recording to two places."""
    shown = []
    for size_m3, name in ((1e-3, "L"), (3.785411784e-3, "gal")):
        amount = volume_m3 / size_m3
        shown.append(f"{amount:,.{1 if amount >= 1.0 else 2}f} {name}")
    return f"{shown[0]} ({shown[1]})"


def _reason_row(done: ReadDuty, reason: str) -> tuple[str, ...]:
    from fanwright.evidence.recording.result import median

    result = done.result
    one = result.by_reason()[reason]
    length = median(result.lengths_s(reason))
    share = one.fan_on_s / result.fan_on_s if result.fan_on_s else 0.0
    middle = "" if length is None else f"{length:.0f} s"
    return reason.replace("_", " "), str(one.runs), _hours(one.fan_on_s), f"{share:.0%}", middle


def _readings(done: ReadDuty, reader: Reader) -> list[tuple[str, ...]]:
    from fanwright.report.say import say
    from fanwright.words import Message, outcome

    rows: list[tuple[str, ...]] = []
    for reading in done.result.evidence.readings:
        test = reader.catalogue.tests[reading.test]
        if reading.measured is None:
            word = say(Message("{word}", {"word": outcome(reading.test, reading.outcome)}), reader)
            rows.append((test.label, word, ""))
        else:
            value = reader.write(reading.measured.si, test.dimension)
            rows.append((test.label, value, reader.write(reading.measured.sd_si, test.dimension)))
    return rows


def _hours(seconds: float) -> str:
    if seconds < 120.0:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60.0)
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60} min"
