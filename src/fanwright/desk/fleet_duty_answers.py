"""What a fleet's result says: by truck, route and month, as data, as rows, as a picture."""

from __future__ import annotations

import datetime as dt
import io
from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fanwright.desk.fleet_duty_addresses import shown
from fanwright.desk.fleet_duty_result import manifest_of
from fanwright.desk.spreadsheet import Cell, read_sheet, write_csv, write_xlsx
from fanwright.errors import FileError, InputError
from fanwright.fleet.manifest import Entry, Manifest, unit_at
from fanwright.report.writing import replace_file
from fanwright.words import Message, count, text

if TYPE_CHECKING:
    from fanwright.fleet.answers import FleetAnswers, Line, RouteOf
    from fanwright.fleet.intervals import Interval
    from fanwright.fleet.model import Days, FileDuty

EPOCH = dt.date(1970, 1, 1)


@dataclass(frozen=True)
class FleetAnswered:
    """A fleet's answers, with what they rest on.

    Args:
        folder: The result.
        answers: The answers.
        recordings: How many recordings are counted.
        failures: Files that cannot be read, with their reasons.
        undated: Recordings whose clock tells no date; they are in no month and not counted.
        untold: Recordings that cannot tell when the fan was told on.
        zoneless: Recordings whose clock tells a date of an unknown zone, where others tell UTC.
    """

    folder: Path
    answers: FleetAnswers
    recordings: int
    failures: tuple[tuple[str, str], ...]
    undated: int
    untold: int
    zoneless: int = 0


def answer_fleet(
    folder: Path,
    *,
    routes: Path | None = None,
    csv: Path | None = None,
    xlsx: Path | None = None,
    plot: Path | None = None,
) -> FleetAnswered:
    """Answer for a fleet from its result; write tables and a picture if asked to.

    Args:
        folder: The result.
        routes: A table ``unit,route`` with an optional ``from`` (a date), or None.
        csv: Table to write as CSV, or None.
        xlsx: Table to write as XLSX, or None.
        plot: Picture to write, ``.svg`` or ``.png``, or None.

    Raises:
        InputError: Every mistake of what was given.
    """
    from fanwright.fleet.answers import answer

    mistakes = _wrong_endings(csv, xlsx, plot)
    manifest = route_of = None
    try:
        manifest = manifest_of(folder)
    except FileError as error:
        mistakes += error.messages
    try:
        route_of = routes_from(routes)
    except FileError as error:
        mistakes += error.messages
    if mistakes or manifest is None or route_of is None:
        raise InputError(mistakes)
    counted = [one for one in manifest.counted if one.tells and one.clock != "relative"]
    answers = answer(_trucks(folder, counted), route_of, bool(manifest.header.get("figures")))
    done = _answered(folder, answers, manifest, len(counted))
    if csv is not None:
        out = io.StringIO(newline="")
        write_csv(out, *_table(answers))
        replace_file(csv, out.getvalue().encode("utf-8"))
    if xlsx is not None:
        book = io.BytesIO()
        write_xlsx(book, *_table(answers))
        replace_file(xlsx, book.getvalue())
    if plot is not None:
        _draw(answers, plot)
    return done


def _wrong_endings(csv: Path | None, xlsx: Path | None, plot: Path | None) -> list[Message]:
    return [
        Message(
            "{file}: the name must end in {kinds}", {"file": text(path), "kinds": text(" or ".join(kinds))}
        )
        for path, kinds in ((csv, (".csv",)), (xlsx, (".xlsx",)), (plot, (".svg", ".png")))
        if path is not None and path.suffix.lower() not in kinds
    ]


def _answered(folder: Path, answers: FleetAnswers, manifest: Manifest, counted: int) -> FleetAnswered:
    return FleetAnswered(
        folder,
        answers,
        counted,
        tuple(sorted((shown(one.address), one.failed) for one in manifest.failures)),
        sum(one.clock == "relative" and one.tells for one in manifest.counted),
        sum(not one.tells for one in manifest.counted),
        local if 0 < (local := sum(one.clock == "local" for one in manifest.counted)) < counted else 0,
    )


# --- From the result ---------------------------------------------------------------------------------------


def _trucks(folder: Path, entries: Iterable[Entry]) -> dict[str, Days]:
    """Join the recordings of each truck, one truck at a time."""
    from fanwright.fleet.joining import joined

    places: dict[str, list[Entry]] = {}
    for entry in entries:
        for unit in entry.units:
            places.setdefault(unit, []).append(entry)
    return {unit: joined(_duties(folder, unit, several)) for unit, several in places.items()}


def _duties(folder: Path, unit: str, entries: list[Entry]) -> list[FileDuty]:
    from fanwright.fleet.tables import duty_from

    tables = {kind: _tables(folder, unit, entries, kind) for kind in ("runs", "stretches")}
    return [
        duty_from(
            tables["runs"].get(one.sha256[:32], []),
            tables["stretches"].get(one.sha256[:32], []),
            one.clock,
            one.sha256,
        )
        for one in entries
    ]


def _tables(folder: Path, unit: str, entries: list[Entry], kind: str) -> dict[str, list[Any]]:
    """Read all tables of one kind of one truck at once; give them by the beginning of the recording's hash.

    Raises:
        FileError: One is missing or damaged.
    """
    import polars

    paths = [folder / one for entry in entries for one in entry.parts.get(kind, []) if unit_at(one) == unit]
    if not paths:
        return {}
    try:
        table = polars.read_parquet(paths, include_file_paths="file", hive_partitioning=False, glob=False)
    except (polars.exceptions.PolarsError, OSError) as error:
        raise FileError(
            Message(
                "{folder} is damaged: {reason}; read the recordings again into a new folder",
                {"folder": text(folder), "reason": text(str(error).splitlines()[0])},
            )
        ) from error
    found: dict[str, list[Any]] = {}
    for (file,), part in table.partition_by("file", as_dict=True, include_key=False).items():
        found.setdefault(Path(str(file)).stem, []).append(part)
    return found


def routes_from(path: Path | None) -> RouteOf:
    """Read which truck is on which route, since when.

    Raises:
        FileError: Every mistake of the table.
    """
    table: dict[str, list[tuple[int, str]]] = {}
    if path is not None:
        table = _routes(path)

    def route_of(unit: str, day: int) -> str:
        since = table.get(unit, [])
        place = bisect_right(since, day, key=lambda one: one[0])
        return since[place - 1][1] if place else ""

    return route_of


def _routes(path: Path) -> dict[str, list[tuple[int, str]]]:
    sheet = read_sheet(path)
    names = [name.casefold() for name in sheet.header]
    if not {"unit", "route"} <= set(names):
        raise FileError(
            Message(
                "{file} needs the columns «unit» and «route»; it has {found}",
                {"file": text(path), "found": text(", ".join(sheet.header))},
            )
        )
    table: dict[str, list[tuple[int, str]]] = {}
    mistakes = []
    for number, row in sheet.rows:
        cells = dict(zip(names, (cell.strip() for cell in row), strict=True))
        try:
            since = dt.date.fromisoformat(cells["from"]) if cells.get("from") else dt.date.min
        except ValueError:
            mistakes.append(
                Message(
                    "{file}, line {line}: «{day}» is not a date such as 2026-04-14",
                    {"file": text(path), "line": count(number), "day": text(cells["from"])},
                )
            )
            continue
        table.setdefault(cells["unit"], []).append(((since - EPOCH).days, cells["route"]))
    if mistakes:
        raise FileError(mistakes)
    return {unit: sorted(since) for unit, since in table.items()}


# --- To data and rows --------------------------------------------------------------------------------------


def fleet_data(done: FleetAnswered) -> dict[str, Any]:
    """Give a fleet's answers as plain data; keys end in their unit, low and high are the 80 % interval."""
    return {
        "recordings": done.recordings,
        "failures": [{"file": file, "reason": reason} for file, reason in done.failures],
        "lines": [_line_data(line) for line in done.answers.lines],
        "changes": [
            {
                "unit": one.unit,
                "measure": one.measure,
                "first_day": date_text(one.change.first_day),
                "last_day": date_text(one.change.last_day),
                "before": round(one.change.before, 6),
                "after": round(one.change.after, 6),
                "chance_without_change": round(one.change.chance, 6),
                "against_others": one.against_others,
            }
            for one in done.answers.changes
        ],
        "overlap_s": {unit: round(value, 6) for unit, value in done.answers.overlap_s.items()},
        "cannot_tell": list(cannot_tell(done)),
    }


def cannot_tell(done: FleetAnswered) -> Iterable[str]:
    """Say what is left out and why."""
    if done.undated:
        yield f"{done.undated} recordings have a clock without a date; they are in no month and not counted"
    if done.untold:
        yield f"{done.untold} recordings hold no engine speed or no fan drive; they tell no runs"
    if done.zoneless:
        yield (
            f"{done.zoneless} recordings have a clock of an unknown zone, the others UTC; where they overlap"
            " cannot be told"
        )
    if not done.answers.energies:
        yield "heat, work and fuel: the drive's figures were not given when the recordings were read"
    alone = sum(not line.compared for line in done.answers.lines)
    if alone:
        yield (
            f"{alone} lines are not compared: fewer than 4 other trucks on that route in that month"
            " (name the routes with --routes)"
        )


def date_text(day: int) -> str:
    """Write a day counted from 1970-01-01.

    Example:
        >>> date_text(20_557)
        '2026-04-14'
    """
    return (EPOCH + dt.timedelta(days=day)).isoformat()


def _line_data(line: Line) -> dict[str, Any]:
    return {
        "unit": line.unit,
        "route": line.route or None,
        "month": line.month,
        "days": line.days,
        "engine_on_s": round(line.engine_on_s, 6),
        "fan_known_s": round(line.fan_known_s, 6),
        "fan_on_s": round(line.fan_on_s, 6),
        "grips": line.grips,
        "fan_share": _interval(line.fan_share),
        "grips_per_hour": _interval(line.grips_per_hour),
        "by_reason": {
            reason: {"runs": line.reason_grips.get(reason, 0), "share_of_told_on": _interval(share)}
            for reason, share in line.reason_shares.items()
        },
        "slip_energy_mj": _interval(line.slip_energy_j, 1e-6),
        "fan_energy_mj": _interval(line.fan_energy_j, 1e-6),
        "fuel_l": _interval(line.fuel_m3, 1e3),
        "least_ac_run_s": _interval(line.least_ac_run_s),
        "compared": line.compared,
        "outliers": [
            {
                "measure": one.measure,
                "more": one.more,
                "value": round(one.value, 6),
                "others": _interval(one.peers),
                "apart": round(one.apart, 2),
                "of": one.of,
            }
            for one in line.outliers
        ],
    }


def _interval(one: Interval | None, factor: float = 1.0) -> dict[str, float | None] | None:
    if one is None:
        return None
    ends = {"value": one.value, "low": one.low, "high": one.high}
    return {name: None if end is None else round(factor * end, 6) for name, end in ends.items()}


INTERVALS = ("fan_share", "grips_per_hour", "slip_energy_mj", "fan_energy_mj", "fuel_l", "least_ac_run_s")


def _table(answers: FleetAnswers) -> tuple[list[str], list[list[Cell]]]:
    """Give the lines as rows of a spreadsheet."""
    reasons = sorted({reason for line in answers.lines for reason in line.reason_shares})
    plain = ("unit", "route", "month", "days", "engine_on_s", "fan_known_s", "fan_on_s", "grips")
    header = [*plain]
    for name in INTERVALS:
        header += [name, f"{name}_low", f"{name}_high"]
    header += [f"share_{reason}" for reason in reasons] + ["stands_apart"]
    return header, [_row(line, plain, reasons) for line in answers.lines]


def _row(line: Line, plain: Iterable[str], reasons: Iterable[str]) -> list[Cell]:
    data: Mapping[str, Any] = _line_data(line)
    row: list[Cell] = [data[name] for name in plain]
    for name in INTERVALS:
        ends = data[name] or {}
        row += [ends.get(end) for end in ("value", "low", "high")]
    by_reason = data["by_reason"]
    row += [by_reason[name]["share_of_told_on"]["value"] if name in by_reason else None for name in reasons]
    return [*row, "; ".join(f"{'more' if one.more else 'less'} {one.measure}" for one in line.outliers)]


def _draw(answers: FleetAnswers, plot: Path) -> None:
    from fanwright.report.pictures import fleet_duty as picture
    from fanwright.report.png import from_svg

    svg = picture.draw(answers, "print")
    if plot.suffix.lower() == ".png":
        from_svg(svg, plot)
    else:
        replace_file(plot, svg.encode("utf-8"))
