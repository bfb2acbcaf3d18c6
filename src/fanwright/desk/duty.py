"""Read recordings of a truck's bus traffic: the files, what is known of the drive, the table of runs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
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
    from fanwright.judging import Judgement
    from fanwright.report.say import Reader
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
PLACES = 6
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
    which = _tried(mistakes, lambda: _which_truck(truck, shop)) if truck else None
    given = _tried(mistakes, lambda: _figures(truck, figures or {}))
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


def _which_truck(name: str, shop: Shop) -> tuple[Truck, str]:
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
    values = {name: _tried(mistakes, lambda name=name: _figure(name, given[name])) for name in given}  # type: ignore[misc]
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


def duty_data(done: ReadDuty, reader: Reader) -> dict[str, Any]:
    """Give what recordings say as plain data; keys end in their unit.

    Args:
        done: What was read.
        reader: Who reads the sentences in it.

    Returns:
        Tables, lists, texts and finite numbers only.
    """
    from fanwright.evidence.recording import air_low_needed_s
    from fanwright.report.as_data import judgement_data, reading_data
    from fanwright.report.say import say_all

    result = done.result
    told = result.told
    return {
        **_counts(result),
        "span_s": _rounded(result.span_s),
        "engine_on_s": _rounded(result.engine_on_s),
        "fan_known_s": _rounded(result.fan_known_s),
        "runs": len(result.runs) if told else None,
        "fan_on_s": _rounded(result.fan_on_s) if told else None,
        "fan_share": _rounded(result.fan_share),
        "by_reason": {
            reason: {"runs": one.runs, "fan_on_s": _rounded(one.fan_on_s)}
            for reason, one in result.by_reason().items()
        },
        "short_runs": len(result.short_runs) if told else None,
        "grips_per_hour": _rounded(result.grips_per_hour),
        "slip_energy_mj": _scaled(result.slip_energy_j, 1e6),
        "fan_energy_mj": _scaled(result.fan_energy_j, 1e6),
        "fuel_l": _scaled(result.fuel_m3, 1e-3),
        "air_low_while_on_s": _rounded(result.air_low_on_s),
        "air_low_while_needed_s": _rounded(air_low_needed_s(result, done.grips_by)),
        "fault_codes": _codes(result, active=True),
        "earlier_fault_codes": _codes(result, active=False),
        "sessions": result.sessions,
        "vehicle_number_matches": result.vehicle_number_matches,
        "thresholds": _thresholds(result),
        "figures": _figures_data(done),
        "files": [
            {"file": one.place, "format": one.format, "clock": one.clock, "sha256": one.sha256}
            for one in result.files
        ],
        "notes": say_all(result.evidence.notes, reader),
        "cannot_tell": say_all(result.evidence.cannot_tell, reader),
        "readings": [reading_data(reading, reader) for reading in result.evidence.readings],
        "look_at": [judgement_data(one, reader) for one in done.look_at],
    }


def _counts(result: RecordingResult) -> dict[str, int]:
    tallies = [one.tally for one in result.files]
    return {
        name: sum(getattr(tally, name) for tally in tallies)
        for name in ("frames", "frames_used", "error_frames", "lines_unread")
    }


def _codes(result: RecordingResult, active: bool) -> list[dict[str, Any]]:
    from fanwright.evidence.recording.codes import MODES, NAMES

    return [
        {
            "source_address": code.sender,
            "spn": code.number,
            "fmi": code.mode,
            "count": code.messages,
            "name": NAMES.get(code.number, ""),
            "means": MODES[code.mode],
        }
        for code in result.codes
        if code.active is active
    ]


def _thresholds(result: RecordingResult) -> dict[str, Any]:
    """Give the temperatures at which the fan was really told on and off, from whole runs for that reason."""
    from fanwright.evidence.recording.result import median

    found: dict[str, Any] = {}
    for reason in ("coolant", "charge_air"):
        runs = [run for run in result.runs if run.reason == reason and run.whole]
        on = median(getattr(run, reason + "_on_k") for run in runs)
        off = median(getattr(run, reason + "_off_k") for run in runs)
        if on is not None and off is not None:
            found[reason] = {
                "on_c": _rounded(on - 273.15),
                "off_c": _rounded(off - 273.15),
                "runs": len(runs),
            }
    return found


def _figures_data(done: ReadDuty) -> dict[str, Any] | None:
    from fanwright.laws import fan

    if done.figures is None:
        return None
    return {
        "pulley_ratio": done.figures.pulley_ratio,
        "fan_inertia_kg_m2": done.figures.inertia_kg_m2,
        "clutch_torque_n_m": done.figures.torque_n_m,
        "fan_power_kw": done.figures.power_w / 1e3,
        "at_rpm": _rounded(done.figures.speed_rad_s / 0.10471975511965977),
        "fuel_g_per_kwh": _rounded(fan.SPECIFIC_CONSUMPTION_KG_PER_J * 3.6e9),
        "fuel_density_kg_per_m3": fan.DIESEL_KG_PER_M3,
    }


def _scaled(value: float | None, step: float) -> float | None:
    return None if value is None else _rounded(value / step)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(float(value), PLACES)
