"""Show what closed visits taught, old shares beside new; take a visit out, or undo."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from fanwright.cli._records import by_option, db_option, json_option

if TYPE_CHECKING:
    from fanwright.desk.learning import Learned


@click.command(name="learning")
@db_option
@click.option("--take-out", type=int, help="Do not count this visit.")
@click.option("--put-back", type=int, help="Count this visit again.")
@click.option("--undo", is_flag=True, help="Count nothing that was signed up to now.")
@click.option("--redo", is_flag=True, help="Count it again.")
@by_option
@click.option("--why", help="The reason for a change.")
@json_option
def command(
    db: str | None,
    take_out: int | None,
    put_back: int | None,
    undo: bool,
    redo: bool,
    by: str | None,
    why: str | None,
    as_json: bool,
) -> None:
    """Show which visits are counted and how that moves the share of each fault."""
    from fanwright.desk.learning import change_learning, show_learning

    wanted = {"take_out": take_out is not None, "put_back": put_back is not None, "undo": undo, "redo": redo}
    acts = [act for act, asked in wanted.items() if asked]
    if len(acts) > 1:
        raise click.UsageError("one change at a time")
    if acts:
        learned = change_learning(db, acts[0], take_out if take_out is not None else put_back, by, why)
    else:
        learned = show_learning(db)
    _show(learned, as_json=as_json)


def _show(learned: Learned, *, as_json: bool) -> None:
    from fanwright.cli._show import heading, table, write_json
    from fanwright.report.say import Reader, write_chance

    moved = [share for share in learned.shares if share.confirmed]
    if as_json:
        write_json(
            {
                "visits": [
                    {"visit": one.visit, "unit": one.unit, "date": one.date, "kind": one.kind}
                    | {"faults": list(one.faults), "counted": one.counted}
                    for one in learned.lessons
                ],
                "without_a_cause": learned.silent,
                "shares": [
                    {"fault": one.fault, "kind": one.kind, "confirmed": one.confirmed}
                    | {"judged_share": round(one.judged, 6), "learned_share": round(one.learned, 6)}
                    for one in learned.shares
                ],
            }
        )
        return
    faults = Reader().catalogue.faults
    table(
        ("visit", "truck", "date", "kind", "cause", "counted"),
        [
            (
                str(one.visit),
                one.unit,
                one.date,
                one.kind,
                ", ".join(one.faults),
                "yes" if one.counted else "no",
            )
            for one in learned.lessons
        ],
    )
    if moved:
        heading("what that changes")
        table(
            ("fault", "kind", "confirmed", "judged", "learned"),
            [
                (
                    faults[one.fault].label,
                    one.kind,
                    str(one.confirmed),
                    write_chance(one.judged, short=True),
                    write_chance(one.learned, short=True),
                )
                for one in moved
            ],
        )
    if learned.silent:
        click.echo(f"\n{learned.silent} closed visits taught nothing: no cause was confirmed")
