"""Read recordings of a truck's bus traffic: the files, what is known of the drive, the table of runs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from fanwright.desk.files import read_table
from fanwright.desk.shop import Shop, open_shop
from fanwright.errors import FanwrightError, InputError
from fanwright.judging import WORST_LAST, Context, judge
from fanwright.quantities import read
from fanwright.report.writing import replace_file
from fanwright.words import Message, text

if TYPE_CHECKING:
    from fanwright.evidence.recording import DriveFigures, RecordingResult
    from fanwright.evidence.recording.telemetry import Naming
    from fanwright.judging import Judgement
    from fanwright.truck.model import Truck

PICTURES = (".svg", ".png")
TABLES = (".csv", ".parquet")
FIGURES = {
    "pulley_ratio": "",
    "fan_inertia": "inertia",
    "clutch_torque": "torque",
    "fan_power": "power",
    "at": "rotation",
}
Given = TypeVar("Given")


@dataclass(frozen=True)
class ReadDuty:
    """Recordings that were read, in the shop they were read in.

    Args:
        result: What they say.
        figures: The drive's figures that were used, or None.
        grips_by: What makes the drive grip, or empty where it is not known.
        shop: The shop.
        judged: Its readings against the limits in force, worst first.
    """

    result: RecordingResult
    figures: DriveFigures | None
    grips_by: str
    shop: Shop
    judged: tuple[Judgement, ...] = ()

    @property
    def look_at(self) -> tuple[Judgement, ...]:
        """What is beyond a limit, worst first."""
        return tuple(one for one in self.judged if one.verdict in WORST_LAST[1:])


def read_duty(
    paths: Sequence[Path],
    *,
    truck: str = "",
    figures: Mapping[str, str] | None = None,
    dbc: Path | None = None,
    runs: Path | None = None,
    plot: Path | None = None,
    shop_file: Path | None = None,
    unit: str = "",
    columns: str = "",
    progress: Callable[[int, int], None] | None = None,
) -> ReadDuty:
    """Read recordings of one truck; write the table of runs and a picture if asked to.

    Args:
        paths: The recordings.
        truck: A preset's name or a visit file that says what the truck is; empty without.
        figures: Instead of a truck: ``pulley_ratio``, ``fan_inertia``, ``clutch_torque``, ``fan_power`` and
            ``at`` (the fan's speed at that power) as typed.
        dbc: The shop's own layout of signals, or None.
        runs: Table of runs to write, ``.csv`` or ``.parquet``, or None.
        plot: Picture to write, ``.svg`` or ``.png``, or None.
        shop_file: The shop's own data, or None.
        unit: The one truck that is read where a table of telemetry holds several; empty for all.
        columns: What such a table calls its columns, as ``coolant=ECT[C],told_on=CMD``, beside what the shop
            says in ``[telemetry]``.
        progress: Called with bytes read and bytes in all.

    Returns:
        What the recordings say.

    Raises:
        InputError: Every mistake of what was given and of the files.
    """
    from fanwright.evidence import recording
    from fanwright.evidence.recording.signals import STANDARD

    mistakes: list[Message] = []
    shop = open_shop(shop_file, paths[0] if paths else None)
    which = _tried(mistakes, lambda: which_truck(truck, shop)) if truck else None
    given = _tried(mistakes, lambda: _figures(truck, figures or {}))
    naming = _tried(mistakes, lambda: naming_of(shop, unit, columns))
    layout = STANDARD
    if dbc is not None:
        layout = _tried(mistakes, lambda: _own_layout(dbc)) or STANDARD
    _check_kind(runs, TABLES, mistakes)
    _check_kind(plot, PICTURES, mistakes)
    result = _tried(
        mistakes,
        lambda: recording.read_recording(
            paths,
            truck=which[0] if which else None,
            figures=given,
            vehicle_number=which[1] if which else "",
            layout=layout,
            progress=progress,
            naming=naming,
        ),
    )
    if mistakes or result is None:
        raise InputError(mistakes)
    if runs is not None:
        _write_runs(result, runs)
    if plot is not None:
        _draw(result, plot, shop)
    if given is None and which is not None:
        given = recording.DriveFigures.of(which[0])
    judged = _judged(result, which[0] if which else None, shop)
    return ReadDuty(result, given, which[0].grips_by if which else "", shop, judged)


def drive_figures(truck: str, typed: Mapping[str, str], shop: Shop) -> DriveFigures | None:
    """Give the figures of a drive: those of a truck, or as typed.

    Args:
        truck: A preset's name or a visit file; empty without.
        typed: Instead of a truck: the figures of ``FIGURES`` as typed.
        shop: The shop.

    Raises:
        InputError: Every mistake of what was given.
    """
    from fanwright.evidence.recording import DriveFigures

    given = _figures(truck, typed)
    return DriveFigures.of(which_truck(truck, shop)[0]) if given is None and truck else given


def naming_of(shop: Shop, unit: str = "", columns: str = "") -> Naming:
    """Give what a shop's tables of telemetry call things.

    Args:
        shop: The shop, with its table ``[telemetry]``.
        unit: The one truck that is read; empty for all.
        columns: Columns as typed, ``coolant=ECT[C],told_on=CMD``; they count before the shop's.

    Raises:
        InputError: Every role that is not known, and whatever is no ``role=NAME``.
    """
    from fanwright.desk.trace import split_columns
    from fanwright.evidence.recording.telemetry import naming_from

    return naming_from({**shop.data.get("telemetry", {}), **(split_columns(columns) or {})}, unit)


def _judged(result: RecordingResult, truck: Truck | None, shop: Shop) -> tuple[Judgement, ...]:
    """Judge the readings; their limits are the same for every drive, so any truck will do."""
    from fanwright.truck.loader import presets

    known = next(iter(presets(shop.presets).values())) if truck is None else truck
    context = Context(known, shop.catalogue, shop.limits, {})
    order = (*reversed(WORST_LAST), "none", "not_judged")
    found = [judge(reading, context) for reading in result.evidence.readings]
    return tuple(sorted(found, key=lambda one: order.index(one.verdict)))


def _tried(mistakes: list[Message], work: Callable[[], Given]) -> Given | None:
    try:
        return work()
    except FanwrightError as error:
        mistakes += error.messages
        return None


def _check_kind(path: Path | None, kinds: tuple[str, ...], mistakes: list[Message]) -> None:
    if path is not None and path.suffix.lower() not in kinds:
        mistakes.append(
            Message(
                "{file}: the name must end in {kinds}",
                {"file": text(path), "kinds": text(" or ".join(kinds))},
            )
        )


def which_truck(name: str, shop: Shop) -> tuple[Truck, str]:
    """Find a truck by preset or visit file, with its vehicle number where the visit gives one."""
    from fanwright.truck.loader import presets

    known = presets(shop.presets)
    if name in known:
        return known[name], ""
    if Path(name).exists():
        from fanwright.visit import visit_from

        visit = visit_from(read_table(Path(name)), shop.catalogue, shop.presets, "en")
        return visit.truck, visit.identity.get("vin", "")
    raise InputError(
        Message(
            "--truck: {name} is neither a preset nor a visit file; the presets are {known}",
            {"name": text(name), "known": text(", ".join(known))},
        )
    )


def _figures(truck: str, typed: Mapping[str, str]) -> DriveFigures | None:
    from fanwright.evidence.recording import DriveFigures

    given = {name: value for name, value in typed.items() if value}
    if not given:
        return None
    if truck:
        raise InputError(Message("Give either a truck or the figures of its drive, not both"))
    mistakes = [
        Message(
            "{option} is missing: pulley ratio, fan inertia, clutch torque, fan power and the fan's speed at "
            "that power are wanted together",
            {"option": text("--" + name.replace("_", "-"))},
        )
        for name in FIGURES
        if name not in given
    ]
    values = {name: _tried(mistakes, partial(_figure, name, typed)) for name, typed in given.items()}
    if mistakes:
        raise InputError(mistakes)
    return DriveFigures(*(float(values[name] or 0.0) for name in FIGURES))


BOUNDS = {
    "pulley_ratio": (0.3, 3.0),
    "fan_inertia": (0.001, 50.0),
    "clutch_torque": (1.0, 10_000.0),
    "fan_power": (10.0, 500_000.0),
    "at": (10.0, 600.0),
}
"""What a drive of a heavy truck can have, generously (assumption) [SI]."""


def _figure(name: str, typed: str) -> float:
    from fanwright.words import number, quantity

    kind = FIGURES[name]
    option = text("--" + name.replace("_", "-"))
    if kind:
        value = read(typed, kind).si
    else:
        try:
            value = float(typed)
        except ValueError:
            raise InputError(
                Message(
                    "{option}: «{typed}» is not a plain number such as 1.1",
                    {"option": option, "typed": text(typed)},
                )
            ) from None
    low, high = BOUNDS[name]
    if not low <= value <= high:
        shown = (lambda si: quantity(si, kind)) if kind else number
        raise InputError(
            Message(
                "{option}: «{typed}» cannot be right; from {low} to {high} is possible",
                {"option": option, "typed": text(typed), "low": shown(low), "high": shown(high)},
            )
        )
    return value


def _own_layout(path: Path) -> Any:
    from fanwright.evidence.recording.own import layout_with

    return layout_with(path)


def _write_runs(result: RecordingResult, path: Path) -> None:
    from fanwright.evidence.recording.table import as_csv, as_parquet, run_rows

    rows = run_rows(result.exhibit)
    replace_file(path, as_parquet(rows) if path.suffix.lower() == ".parquet" else as_csv(rows))


def _draw(result: RecordingResult, plot: Path, shop: Shop) -> None:
    from fanwright.report.pictures import duty as picture
    from fanwright.report.png import from_svg

    svg = picture.draw(result.exhibit, "print", shop.units)
    if plot.suffix.lower() == ".png":
        from_svg(svg, plot)
    else:
        replace_file(plot, svg.encode("utf-8"))
