"""Score the forecasts kept in the records by the readings that came after them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fanwright.cli._records import db_option, json_option

if TYPE_CHECKING:
    from fanwright.desk.forecasts import Score, Scored, Scores
    from fanwright.report.say import Reader

NAMES = {"told": "what was said", "line": "one straight line", "weibull": "life of the fleet"}
MM = 1000.0


@click.command(name="forecasts")
@db_option
@click.option("--unit", default="", help="Only this truck.")
@click.option("--shop", type=click.Path(path_type=Path), help="The shop's own units and presets.")
@json_option
def command(db: str | None, unit: str, shop: Path | None, as_json: bool) -> None:
    """Score forecasts of the facing that were kept with visits, beside a straight line and the fleet's life.

    A forecast is scored by the next reading of the same facing. Within the 80 % range lie so many readings;
    the band says how many an honest range may hold.
    """
    from fanwright.cli._show import write_json
    from fanwright.desk.forecasts import score_forecasts
    from fanwright.report.say import Reader

    done = score_forecasts(db, unit, shop_file=shop)
    if as_json:
        write_json(
            {
                "scores": [_score_data(one) for one in done.scores],
                "scored": [_scored_data(one) for one in done.scored],
                "waiting": done.waiting,
            }
        )
    else:
        _show(done, Reader(done.shop.units, done.shop.catalogue))


def _score_data(one: Score) -> dict[str, Any]:
    return {
        "method": one.method,
        "forecasts": one.cases,
        "within_80_share": round(one.inside / one.cases, 6),
        "within_80": one.inside,
        "band_low": one.band[0],
        "band_high": one.band[1],
        "crps_mm": round(one.crps_m * MM, 6),
        "pinball_mm": round(one.pinball_m * MM, 6),
    }


def _scored_data(one: Scored) -> dict[str, Any]:
    lengths = {"p10": one.low_m, "p50": one.middle_m, "p90": one.high_m}
    return {
        "unit": one.unit,
        "made": one.made.isoformat(),
        "read": one.read.isoformat(),
        "method": one.method,
        "forecast_mm": {name: round(value * MM, 6) for name, value in lengths.items()},
        "read_mm": round(one.read_m * MM, 6),
        "within_80": one.inside,
        "crps_mm": round(one.crps_m * MM, 6),
        "pinball_mm": round(one.pinball_m * MM, 6),
    }


def _show(done: Scores, reader: Reader) -> None:
    from fanwright.cli._show import heading, table

    heading("forecasts of the facing, scored by the next reading")
    if done.scores:
        table(
            ("forecast", "scored", "within 80 %", "an honest range holds", "CRPS", "pinball"),
            [
                (
                    NAMES[one.method],
                    str(one.cases),
                    str(one.inside),
                    f"{one.band[0]} to {one.band[1]}" + ("" if one.honest else ": off"),
                    f"{one.crps_m * MM:.3f} mm",
                    f"{one.pinball_m * MM:.3f} mm",
                )
                for one in done.scores
            ],
        )
    click.echo(f"{done.waiting} forecasts wait for their next reading")
    if done.scored:
        heading("each of them")
        table(
            ("unit", "made", "read", "forecast", "10 %", "middle", "90 %", "read as"),
            [_row(one, reader) for one in done.scored],
        )


def _row(one: Scored, reader: Reader) -> tuple[str, ...]:
    lengths = (one.low_m, one.middle_m, one.high_m, one.read_m)
    shown = (reader.write(value, "length") for value in lengths)
    return (one.unit, one.made.isoformat(), one.read.isoformat(), NAMES[one.method], *shown)
