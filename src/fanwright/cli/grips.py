"""Show what a grip costs at several engine speeds side by side, and the torque in hand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fanwright.cli._records import json_option

if TYPE_CHECKING:
    from fanwright.desk.grips import GripRow, GripTable
    from fanwright.report.say import Reader

KJ, UM = 1000.0, 1e-6


@click.command(name="grips")
@click.option("--truck", required=True, help="A preset or a visit file that says what the truck is.")
@click.option(
    "--rpm", "speeds", multiple=True, default=("1300", "2100"), show_default=True, help="Engine speeds."
)
@click.option("--per-hour", type=float, help="Grips an hour, for the temperatures.")
@click.option("--air", default="", help="Air left in a spring-on drive, or missing in an air-on one.")
@click.option("--lost", default="", help="Facing lost in the grips of --over, such as '0.010 in'.")
@click.option("--over", type=click.IntRange(min=1), default=None, help="Grips in which it was lost.")
@click.option("--runs", type=click.Path(path_type=Path), help="Runs as fanwright duty --runs writes them.")
@click.option("--shop", type=click.Path(path_type=Path), help="The shop's own units and presets.")
@json_option
def command(
    truck: str,
    speeds: tuple[str, ...],
    per_hour: float | None,
    air: str,
    lost: str,
    over: int | None,
    runs: Path | None,
    shop: Path | None,
    as_json: bool,
) -> None:
    """Show heat, slip, temperature and facing lost of the same grip at several engine speeds.

    How much facing a heat takes differs from truck to truck: it is shown where --lost and --over, two
    thickness readings and the grips between them, tell it.
    """
    from fanwright.cli._show import write_json
    from fanwright.desk.grips import Asked, grip_table
    from fanwright.report.say import Reader

    done = grip_table(Asked(truck, speeds, per_hour, air, lost, over or 0, runs), shop_file=shop)
    reader = Reader(done.shop.units, done.shop.catalogue)
    if as_json:
        write_json(_data(done, reader))
    else:
        _show(done, reader)


def _data(done: GripTable, reader: Reader) -> dict[str, Any]:
    from fanwright.report.life_data import grip_data
    from fanwright.report.say import say

    held = done.in_hand
    return {
        "preset": done.preset,
        "grips_per_hour": round(done.grips_per_hour, 6),
        "grips": [
            grip_data(row.cost)
            | {
                "hottest_c": round(row.peak_k - 273.15, 6),
                "slip_kw": round(row.slip_w / KJ, 6),
                "facing_lost_mm": None if row.lost_m is None else round(row.lost_m * 1000.0, 12),
                "facing_lost_mm_per_minute_of_slip": None
                if row.lost_m_per_minute is None
                else round(row.lost_m_per_minute * 1000.0, 12),
            }
            for row in done.rows
        ],
        "wear_mm3_per_mj": None if done.wear_m3_per_j is None else round(done.wear_m3_per_j * 1e15, 6),
        "torque_in_hand": {
            "capacity_n_m": round(held.capacity_n_m, 6),
            "needed_n_m": round(held.needed_n_m, 6),
            "pull_n": round(held.pull_n, 6),
            "how": say(held.message, reader),
        },
    }


def _show(done: GripTable, reader: Reader) -> None:
    from fanwright.cli._show import heading, table
    from fanwright.report.say import say

    heading(f"the same grip of {done.preset}, {done.grips_per_hour:.3g} an hour")
    names = (
        "engine speed", "heat", "slips for", "steel face, peak of the grip", "steel face, mean of the pace",
        "steel face, hottest (behind a radiator)", "facing lost to the grip",
        "heat of a minute of slip at its worst", "facing lost to that minute",
    )  # fmt: skip
    columns = [_cells(row, reader) for row in done.rows]
    table(("", *("" for _ in columns)), list(zip(names, *columns, strict=True)))
    if done.wear_m3_per_j is None:
        click.echo("facing lost: give --lost and --over, two thickness readings and the grips between them")
    else:
        click.echo(f"this facing loses {done.wear_m3_per_j * 1e15:.3g} mm3 for a MJ of heat")
    heading("torque in hand")
    click.echo(say(done.in_hand.message, reader))


def _cells(row: GripRow, reader: Reader) -> tuple[str, ...]:
    cost = row.cost
    return (
        f"{cost.engine_rpm:,.0f} rpm",
        f"{cost.energy_j / KJ:.3g} kJ",
        f"{cost.slip_s:.2f} s" + ("" if cost.locks else ", never locks"),
        "+" + reader.write(cost.peak_rise_k, "temperature_difference"),
        "+" + reader.write(cost.mean_rise_k, "temperature_difference"),
        reader.write(row.peak_k, "temperature"),
        "not known" if row.lost_m is None else f"{row.lost_m / UM:.3g} um",
        f"{row.slip_w * 60.0 / KJ:.3g} kJ",
        "not known" if row.lost_m_per_minute is None else f"{row.lost_m_per_minute / UM:.3g} um",
    )
