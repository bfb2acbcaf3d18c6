"""The fleet's part of `duty`: many recordings into one result, and the answers of a result. Not a command."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from fanwright.desk.fleet_duty import FleetRead
    from fanwright.desk.fleet_duty_answers import FleetAnswered
    from fanwright.fleet.answers import Line
    from fanwright.fleet.intervals import Interval

Made = TypeVar("Made", bound=Callable[..., Any])
EVERY_S = 10.0
MOST_SHOWN = 10
_FILE = click.Path(path_type=Path)
OPTIONS = (
    click.option("--into", type=_FILE, help="A fleet: read FILES into this folder, each truck apart."),
    click.option("--unit-from", default="", help="Truck by name: a pattern such as '/(?P<unit>\\d+)-'."),
    click.option("--units", type=_FILE, help="Truck by list: CSV with unit and file, or unit and vin."),
    click.option("--workers", type=click.IntRange(1, 256), help="Processes; one a processor without."),
    click.option("--cluster", default="", help="Address of a running Dask scheduler, as tls://HOST:8786."),
    click.option("--cluster-ca", type=_FILE, help="Certificate of the authority, for tls://."),
    click.option("--cluster-cert", type=_FILE, help="Our certificate, for tls://."),
    click.option("--cluster-key", type=_FILE, help="The key to it."),
    click.option("--fleet", type=_FILE, help="Answer from a folder that --into filled."),
    click.option("--routes", type=_FILE, help="With --fleet: CSV with unit, route and, if it changed, from."),
    click.option("--csv", type=_FILE, help="With --fleet: table to write."),
    click.option("--xlsx", type=_FILE, help="With --fleet: table to write."),
)


def fleet_options(command: Made) -> Made:
    """Add the options of fleets to a command."""
    for option in reversed(OPTIONS):
        command = option(command)
    return command


def run_fleet(
    files: Sequence[str], given: Mapping[str, Any], drive: Mapping[str, Any], *, as_json: bool
) -> bool:
    """Do what is asked of a fleet, if anything is.

    Args:
        files: What was named.
        given: The options of ``fleet_options``.
        drive: The other options of the command: truck, figures, dbc, plot, shop, columns.
        as_json: Whether JSON is wanted.

    Returns:
        Whether it was a fleet's business.
    """
    _check(files, given)
    if given["fleet"] is not None:
        _answer(given, drive["plot"], as_json=as_json)
        return True
    if given["into"] is None:
        return False
    _read(files, given, drive, as_json=as_json)
    return True


def _check(files: Sequence[str], given: Mapping[str, Any]) -> None:
    """Refuse what does not go together.

    Raises:
        click.UsageError: Everything that does not, a line each.
    """
    from fanwright.desk.fleet_duty_addresses import is_many, shown

    wrong = []
    answering, reading = given["fleet"] is not None, given["into"] is not None
    if answering and (reading or files):
        wrong.append("--fleet answers from a result: give no files and no --into with it")
    if not answering and not files:
        wrong.append("name at least one recording")
    several = [shown(name) for name in files if is_many(name)]
    if several and not reading and not answering:
        wrong.append(
            f"{several[0]} stands for several recordings: say with --into where their result shall go"
        )
    wrong += [
        f"--{name.replace('_', '-')} goes with --into"
        for name in ("unit_from", "units", "workers", "cluster")
        if given[name] and not reading
    ]
    wrong += [
        f"--{name} goes with --fleet" for name in ("routes", "csv", "xlsx") if given[name] and not answering
    ]
    if wrong:
        raise click.UsageError("\n".join(wrong))


# --- Read -------------------------------------------------------------------------------------------------


def _read(files: Sequence[str], given: Mapping[str, Any], drive: Mapping[str, Any], *, as_json: bool) -> None:
    from fanwright.cli._show import write_json
    from fanwright.desk.fleet_duty import Certificates, FleetJob, read_fleet, settings_from

    numbers, telemetry = settings_from(drive["truck"], drive["figures"], drive["columns"], drive["shop"])
    asked = FleetJob(
        files,
        given["into"],
        unit_from=given["unit_from"],
        units=given["units"],
        figures=numbers,
        dbc=drive["dbc"],
        telemetry=telemetry,
        workers=given["workers"] or 0,
        cluster=given["cluster"],
        certificates=Certificates(given["cluster_ca"], given["cluster_cert"], given["cluster_key"]),
    )
    done = read_fleet(asked, _progress())
    if as_json:
        write_json(_read_data(done))
    else:
        _show_read(done)


def _progress() -> Callable[[int, int, int], None]:
    """Say on standard error how far it is: in place on a terminal, else every 10 s."""
    on_terminal = sys.stderr.isatty()
    last = time.monotonic() if not on_terminal else 0.0

    def report(done: int, total: int, bad: int) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last < (0.1 if on_terminal else EVERY_S) and done < total:
            return
        last = now
        more = f", {bad} cannot be read" if bad else ""
        words = f"{done} of {total} recordings{more}"
        click.echo(f"\r{words}" if on_terminal else words, err=True, nl=not on_terminal or done == total)

    return report


def _read_data(done: FleetRead) -> dict[str, Any]:
    return {
        "found": done.found,
        "read": done.read,
        "known": done.known,
        "same": done.same,
        "units": dict(done.units),
        "failures": [{"file": file, "reason": reason} for file, reason in done.failures],
    }


def _show_read(done: FleetRead) -> None:
    from fanwright.desk.fleet_duty import FAILURES

    click.echo(f"{done.found} files found: {done.read} read, {done.known} known from before and unchanged")
    if done.same:
        click.echo(f"{done.same} hold what another file holds; counted once")
    click.echo(f"{len(done.units)} trucks: {_some(list(done.units))}")
    for file, reason in done.failures[:MOST_SHOWN]:
        click.echo(f"cannot be read: {file}: {reason}")
    if done.failures:
        click.echo(f"{len(done.failures)} files cannot be read; all in {done.into / FAILURES}")
    click.echo(f"answers: fanwright duty --fleet {done.into}")


def _some(names: Sequence[str]) -> str:
    shown = ", ".join(names[:MOST_SHOWN])
    return shown + (f" and {len(names) - MOST_SHOWN} more" if len(names) > MOST_SHOWN else "")


# --- Answer -----------------------------------------------------------------------------------------------


def _answer(given: Mapping[str, Any], plot: Path | None, *, as_json: bool) -> None:
    from fanwright.cli._show import write_json
    from fanwright.desk.fleet_duty_answers import answer_fleet, fleet_data

    done = answer_fleet(
        given["fleet"], routes=given["routes"], csv=given["csv"], xlsx=given["xlsx"], plot=plot
    )
    if as_json:
        write_json(fleet_data(done))
    else:
        _show(done)
    for path in (given["csv"], given["xlsx"], plot):
        if path is not None:
            click.echo(f"written: {path}", err=True)


def _show(done: FleetAnswered) -> None:
    """Show a fleet for its foreman: who stands apart and what changed first, then every line."""
    from fanwright.cli._show import heading, table
    from fanwright.desk.fleet_duty_answers import cannot_tell, date_text

    answers = done.answers
    apart = [(line, one) for line in answers.lines for one in line.outliers]
    heading("Trucks that stand apart from the others on their route")
    for line, one in apart:
        where = " ".join(part for part in (line.route, line.month) if part)
        others = f"the middle of {one.of} others {_number(one.measure, one.peers.value)}"
        value = f"{NAMES[one.measure]} {_number(one.measure, one.value)}"
        click.echo(f"  {line.unit}, {where}: {value}, {'more' if one.more else 'less'}: {others}")
    if not apart:
        click.echo("  none")
    heading("Changes")
    for change in answers.changes:
        found = change.change
        levels = (
            f"{_number(change.measure, found.before)} before, {_number(change.measure, found.after)} after"
        )
        days = f"{date_text(found.first_day)} to {date_text(found.last_day)}"
        click.echo(
            f"  {change.unit}: {NAMES[change.measure]} {levels}; first day of the new way {days} (80 %)"
        )
    if not answers.changes:
        click.echo("  none")
    heading("By truck, route and month, with 80 % intervals")
    columns = (
        "unit",
        "route",
        "month",
        "days",
        "told on",
        "grips/h",
        "longest reason",
        "fuel",
        "least A/C run",
    )
    table(columns, [_row(line) for line in answers.lines])
    notes = [
        f"{unit}: {value:.0f} s are told by several recordings; counted once"
        for unit, value in answers.overlap_s.items()
    ]
    notes += [f"{file}: {reason}" for file, reason in done.failures[:MOST_SHOWN]]
    for title, lines in (("Noticed", notes), ("Cannot be told", list(cannot_tell(done)))):
        if lines:
            heading(title)
            for said in lines:
                click.echo(f"  {said}")


NAMES = {"fan_share": "told on", "grips_per_hour": "grips an hour"}


def _number(measure: str, value: float) -> str:
    return f"{100.0 * value:.1f} %" if measure == "fan_share" else f"{value:.2f}"


def _row(line: Line) -> tuple[str, ...]:
    reason = next(iter(line.reason_shares.items()), None)
    return (
        line.unit,
        line.route,
        line.month,
        str(line.days),
        _ends(line.fan_share, 100.0, "{:.1f}", " %"),
        _ends(line.grips_per_hour, 1.0, "{:.2f}", ""),
        "" if reason is None else f"{reason[0].replace('_', ' ')} {100.0 * reason[1].value:.0f} %",
        _ends(line.fuel_m3, 1e3, "{:.1f}", " L"),
        _ends(line.least_ac_run_s, 1.0, "{:.0f}", " s"),
    )


def _ends(one: Interval | None, factor: float, form: str, unit: str) -> str:
    if one is None:
        return ""
    value = form.format(factor * one.value) + unit
    if one.low is None or one.high is None:
        return value
    return f"{value} ({form.format(factor * one.low)} to {form.format(factor * one.high)})"
