"""Compare two visits, traces or recordings, reading by reading."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from fanwright.desk.compare import Change
    from fanwright.desk.compare_circuits import CircuitChange
    from fanwright.report.say import Reader


@click.command(name="compare")
@click.argument("first", type=click.Path(path_type=Path))
@click.argument("second", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Write JSON instead of text.")
@click.option(
    "--truck", default="", help="Of two traces: a preset or a visit file; compares the air circuits too."
)
@click.option("--shop", type=click.Path(path_type=Path), help="The shop's own limits, presets and prices.")
def command(first: Path, second: Path, as_json: bool, truck: str, shop: Path | None) -> None:
    """Show what changed from FIRST to SECOND, and the chance that each change is real."""
    from fanwright.cli._show import show_rows, write_json
    from fanwright.desk.compare import compare
    from fanwright.desk.compare_circuits import compare_circuits
    from fanwright.report.say import Reader

    opened, changes = compare(first, second, shop)
    reader = Reader(opened.units, opened.catalogue)
    circuit = compare_circuits(first, second, truck, shop) if truck else ()
    if as_json:
        data: dict[str, Any] = {"changes": [_data(change, reader) for change in changes]}
        if truck:
            data["circuit"] = [_circuit_data(change) for change in circuit]
        write_json(data)
        return
    show_rows(
        "before and after",
        ("test", "before", "after", "change", "chance it is real", "verdict"),
        [_row(change, reader) for change in changes],
    )
    if circuit:
        show_rows(
            "the air circuit",
            ("", "before", "after", "after by before", "chance it is real"),
            [_circuit_row(change, reader) for change in circuit],
        )


def _circuit_data(change: CircuitChange) -> dict[str, Any]:
    from fanwright.quantities import dimension

    shape = dimension(change.dimension)
    return {
        "name": change.name,
        **{
            f"{name}_{shape.json_ending}": float(f"{shape.spread_to_json(value):.6g}")
            for name, value in (
                ("before", change.before_si),
                ("after", change.after_si),
                ("sd", change.sd_si),
            )
        },
        "chance_real": round(change.chance_real, 6),
    }


def _circuit_row(change: CircuitChange, reader: Reader) -> tuple[str, ...]:
    from fanwright.report.say import write_chance

    written = [
        reader.write(value, change.dimension, 1e-12 if change.dimension == "conductance" else None)
        for value in (change.before_si, change.after_si)
    ]
    ratio = f"{change.after_si / change.before_si:.2f}" if change.before_si > change.sd_si else ""
    return change.name.replace("_", " "), *written, ratio, write_chance(change.chance_real)


def _data(change: Change, reader: Reader) -> dict[str, Any]:
    from fanwright.quantities import dimension
    from fanwright.report.as_data import reading_data

    data: dict[str, Any] = {
        "test": change.test,
        "before": None if change.before is None else reading_data(change.before, reader),
        "after": None if change.after is None else reading_data(change.after, reader),
    }
    if change.difference_si is not None:
        shape = dimension(reader.catalogue.tests[change.test].dimension)
        data[f"change_{shape.json_ending}"] = round(shape.spread_to_json(change.difference_si), 6)
        data[f"sd_{shape.json_ending}"] = round(shape.spread_to_json(change.sd_si or 0.0), 6)
        data["chance_real"] = None if change.chance_real is None else round(change.chance_real, 6)
    if change.verdict_before or change.verdict_after:
        data |= {
            "verdict_before": change.verdict_before or None,
            "verdict_after": change.verdict_after or None,
        }
    return data


def _row(change: Change, reader: Reader) -> tuple[str, ...]:
    from fanwright.cli._show import reading_text
    from fanwright.report.say import VERDICT_WORDS, write_chance

    test = reader.catalogue.tests[change.test]
    shown = "temperature_difference" if test.dimension == "temperature" else test.dimension
    words = [VERDICT_WORDS.get(word, "") for word in (change.verdict_before, change.verdict_after)]
    return (
        test.label,
        reading_text(change.before, reader),
        reading_text(change.after, reader),
        "" if change.difference_si is None else reader.write(change.difference_si, shown),
        "" if change.chance_real is None else write_chance(change.chance_real),
        " → ".join(word or "not read" for word in words) if any(words) else "",
    )
