"""What the commands on records share: their options, and how rows are shown. Not a command."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from fanwright.records.model import KeptVerdict, KeptVisit, TruckRow, VisitRow
    from fanwright.report.say import Reader

Command = TypeVar("Command", bound=Callable[..., Any])
DB_HELP = (
    "The records: a file, or postgresql+psycopg://user@host/name (else FANWRIGHT_DB, else fanwright.db)."
)
KM = 1000.0


def db_option(command: Command) -> Command:
    """Let a command name its records."""
    return click.option("--db", help=DB_HELP)(command)


def by_option(command: Command) -> Command:
    """Let a command name who writes."""
    return click.option("--by", help="Who writes this down (else FANWRIGHT_BY).")(command)


def json_option(command: Command) -> Command:
    """Let a command write JSON."""
    return click.option("--json", "as_json", is_flag=True, help="Write JSON instead of text.")(command)


def truck_data(row: TruckRow) -> dict[str, Any]:
    """Give a truck of a list as plain data."""
    return {
        "unit": row.unit,
        "vin": row.vin or None,
        "arrangement": row.arrangement or None,
        "visits": row.visits,
        "last_date": row.last_date or None,
        "last_overall": row.last_overall or None,
        "last_state": row.last_state or None,
    }


def visit_data(row: VisitRow) -> dict[str, Any]:
    """Give a visit of a list as plain data."""
    return {
        "visit": row.number,
        "unit": row.unit,
        "date": row.date,
        "kind": row.kind,
        "state": row.state or None,
        "overall": row.overall or None,
        "overall_after": row.overall_after or None,
        "technician": row.technician or None,
        "place": row.place or None,
        "odometer_km": None if row.odometer_m is None else round(row.odometer_m / KM, 6),
        "corrected_by": row.corrected_by,
    }


def show_trucks(rows: tuple[TruckRow, ...]) -> None:
    """Show trucks as a table."""
    from fanwright.cli._show import table

    table(
        ("truck", "VIN", "drive", "visits", "latest", "found", "state"),
        [
            (
                row.unit,
                row.vin,
                row.arrangement,
                str(row.visits),
                row.last_date,
                _verdict(row.last_overall),
                _plain(row.last_state),
            )
            for row in rows
        ],
    )


def show_visits(rows: tuple[VisitRow, ...], reader: Reader) -> None:
    """Show visits as a table."""
    from fanwright.cli._show import table

    table(
        ("visit", "truck", "date", "kind", "state", "found", "after", "by", "odometer"),
        [
            (
                str(row.number),
                row.unit,
                row.date,
                row.kind,
                f"corrected by {row.corrected_by}" if row.corrected_by else _plain(row.state),
                _verdict(row.overall),
                _verdict(row.overall_after),
                row.technician,
                "" if row.odometer_m is None else reader.write(row.odometer_m, "distance"),
            )
            for row in rows
        ],
    )


def _plain(state: str) -> str:
    return state.replace("_", " ")


def _verdict(word: str) -> str:
    from fanwright.report.say import VERDICT_WORDS

    return VERDICT_WORDS.get(word, word)


def kept_data(kept: KeptVisit, reader: Reader) -> dict[str, Any]:
    """Give everything kept about a visit as plain data."""
    return {
        **visit_data(kept.row),
        "corrects": kept.corrects,
        "zone": kept.zone,
        "at_utc": kept.at_utc or None,
        "program": kept.program,
        "shop_sha256": kept.shop_sha256 or None,
        "verdicts": [_verdict_data(one, reader) for one in kept.verdicts],
        "not_done": [{"test": test, "why": why} for test, why in kept.not_done.items()],
        "work": {
            "causes": [{"fault": fault, "confirmed": sure} for fault, sure in kept.causes.items()],
            "parts": list(kept.parts),
            "labour_minutes": None if kept.labour_s is None else round(kept.labour_s / 60.0, 3),
        },
        "files": [
            {"what": one.what, "name": one.name, "sha256": one.sha256, "bytes": one.size}
            for one in kept.files
        ],
        "states": [
            {"state": one.state, "at_utc": one.at_utc, "by": one.by, "because": one.because or None}
            for one in kept.states
        ],
        "signed_by": dict(kept.signed_by),
    }


def _verdict_data(one: KeptVerdict, reader: Reader) -> dict[str, Any]:
    from fanwright.quantities import dimension
    from fanwright.report.say import say

    data: dict[str, Any] = {"test": one.test, "after": one.after, "verdict": one.verdict}
    if one.outcome:
        data["outcome"] = one.outcome
    if one.dimension and one.value_si is not None:
        shape = dimension(one.dimension)
        data[f"value_{shape.json_ending}"] = round(shape.to_json(one.value_si), 6)
        data[f"sd_{shape.json_ending}"] = round(shape.spread_to_json(one.sd_si or 0.0), 6)
        for name, edge in (("limit", one.limit_si), ("watch_limit", one.watch_limit_si)):
            if edge is not None:
                data[f"{name}_{shape.json_ending}"] = round(shape.to_json(edge), 6)
    return data | {
        "chance_beyond_limit": one.chance_beyond_limit,
        "chance_beyond_watch": one.chance_beyond_watch,
        "repeat": one.repeat,
        "why": say(one.why, reader),
        "limit_source": one.limit_source,
    }


def show_kept(kept: KeptVisit, reader: Reader) -> None:
    """Show everything kept about a visit: where it stands, what was said that day, what was done."""
    from fanwright.cli._show import heading

    row = kept.row
    said = [f"visit {row.number}", f"truck {row.unit}", row.date, row.kind, row.technician, row.place]
    click.echo("   ".join(one for one in said if one))
    if row.corrected_by:
        click.echo(f"corrected: visit {row.corrected_by} stands in its place")
    if kept.corrects:
        click.echo(f"takes the place of visit {kept.corrects}")
    after = f", after the repair {_verdict(row.overall_after)}" if row.overall_after else ""
    if row.overall:
        click.echo(f"found {_verdict(row.overall)}{after}; assessed by fanwright {kept.program}")
    _show_verdicts(kept, reader)
    lists = {
        "cause": [f"{name}{', confirmed' if sure else ''}" for name, sure in kept.causes.items()],
        "parts": list(kept.parts),
        "not done": [f"{reader.catalogue.tests[test].label}: {why}" for test, why in kept.not_done.items()],
        "files": [f"{one.what}: {one.name} (sha256 {one.sha256[:12]})" for one in kept.files],
        "signed": [f"{role.replace('_', ' ')}: {name}" for role, name in kept.signed_by.items()],
        "life": [
            f"{_plain(one.state)}, {one.at_utc}, {one.by}{': ' + one.because if one.because else ''}"
            for one in kept.states
        ],
    }
    for title, lines in lists.items():
        if lines:
            heading(title)
            for line in lines:
                click.echo(f"- {line}")


def _show_verdicts(kept: KeptVisit, reader: Reader) -> None:
    from fanwright.cli._show import heading, table

    for after, title in ((False, "as found, with the limits of that day"), (True, "after the repair")):
        chosen = [one for one in kept.verdicts if one.after is after]
        if chosen:
            heading(title)
            table(
                ("verdict", "test", "value", "watch | act", "limit from"),
                [
                    (
                        _verdict(one.verdict),
                        reader.catalogue.tests[one.test].label,
                        _value(one, reader),
                        _limits(one, reader),
                        one.limit_source,
                    )
                    for one in chosen
                ],
            )


def _value(one: KeptVerdict, reader: Reader) -> str:
    if one.dimension and one.value_si is not None:
        return reader.write(one.value_si, one.dimension)
    outcomes = reader.catalogue.tests[one.test].outcomes
    return next((each.label for each in outcomes if each.word == one.outcome), one.outcome)


def _limits(one: KeptVerdict, reader: Reader) -> str:
    edges = [edge for edge in (one.watch_limit_si, one.limit_si) if edge is not None and one.dimension]
    return " | ".join(dict.fromkeys(reader.write(edge, one.dimension) for edge in edges))
