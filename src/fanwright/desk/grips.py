"""What a grip costs at several engine speeds side by side, and the torque in hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fanwright.desk.duty import which_truck
from fanwright.desk.shop import Shop, open_shop
from fanwright.desk.spreadsheet import read_sheet
from fanwright.errors import FileError, InputError
from fanwright.quantities import read
from fanwright.words import Message, count, listing, number, text

if TYPE_CHECKING:
    from fanwright.life.grips import GripCost, TorqueInHand
    from fanwright.truck.model import Truck

LEAST_RPM, MOST_RPM = 400.0, 4000.0
MOST_PER_HOUR = 120.0
USUAL_PER_HOUR = 10.0
RUN_COLUMNS = ("start_s", "end_s", "slip_energy_mj")
MJ, HOUR_S, MINUTE_S = 1e6, 3600.0, 60.0
BEHIND_RADIATOR_K = 360.0
"""Air behind a radiator on a hot climb; assumption."""


@dataclass(frozen=True)
class GripRow:
    """A grip at one engine speed.

    Args:
        cost: Its heat, time and temperatures.
        slip_w: Heat of a fan that neither grips nor lets go, at its worst (two thirds of the speed) [W].
        lost_m: Facing lost to one grip, or None where no wear for heat is known [m].
        lost_m_per_minute: Facing lost to a minute of that slip, or None [m/min].
    """

    cost: GripCost
    slip_w: float
    lost_m: float | None
    lost_m_per_minute: float | None

    @property
    def peak_k(self) -> float:
        """Hottest the steel face gets at the pace given, with the air behind a radiator [K]."""
        return BEHIND_RADIATOR_K + self.cost.mean_rise_k + self.cost.peak_rise_k


@dataclass(frozen=True)
class GripTable:
    """Grips side by side.

    Args:
        preset: Which truck.
        rows: A row an engine speed, rising.
        grips_per_hour: The pace the temperatures are for [1/h].
        in_hand: What the drive holds beside what the fan takes at its rated speed.
        wear_m3_per_j: Facing lost for heat, by the loss given; None without [m3/J].
        shop: In whose units it is shown.
    """

    preset: str
    rows: tuple[GripRow, ...]
    grips_per_hour: float
    in_hand: TorqueInHand
    wear_m3_per_j: float | None
    shop: Shop


@dataclass(frozen=True)
class Asked:
    """What is asked, as typed.

    Args:
        truck: A preset's name or a visit file.
        speeds: Engine speeds, such as ``1300 rpm``.
        per_hour: Grips an hour; None takes the run table's, else a usual pace.
        air: Air left in a spring-on drive, or missing in an air-on one, such as ``5 psi``.
        lost: Facing lost, such as ``0.010 in``.
        over: In how many grips.
        runs: A table of runs as ``fanwright duty --runs`` writes it; its mean heat then counts.
    """

    truck: str
    speeds: Sequence[str]
    per_hour: float | None = None
    air: str = ""
    lost: str = ""
    over: int = 0
    runs: Path | None = None


def grip_table(asked: Asked, *, shop_file: Path | None = None, language: str = "en") -> GripTable:
    """Put grips at several engine speeds side by side.

    Args:
        asked: What is asked.
        shop_file: The shop's own data, or None.
        language: Language of the numbers.

    Returns:
        The table.

    Raises:
        InputError: Every mistake of what was given.
    """
    from fanwright.laws.fan import load_constant
    from fanwright.laws.grip import worst_steady_slip_w
    from fanwright.life.grips import RPM, SLOW_RPM, grip_cost, torque_in_hand

    shop = open_shop(shop_file)
    mistakes: list[Message] = []
    truck = _truck(asked.truck, shop, mistakes)
    speeds = sorted(_speed(one, language, mistakes) for one in asked.speeds)
    air = _quantity("--air", asked.air, "pressure", language, mistakes) or 0.0
    lost = _quantity("--lost", asked.lost, "length", language, mistakes)
    heats, pace = _runs(asked.runs, mistakes)
    per_hour = asked.per_hour if asked.per_hour is not None else pace or USUAL_PER_HOUR
    if not 0.0 < per_hour <= MOST_PER_HOUR:
        values = {"given": number(per_hour), "most": number(MOST_PER_HOUR)}
        mistakes.append(Message("--per-hour: {given} is not over 0 and at most {most}", values))
    if bool(asked.lost) != bool(asked.over):
        mistakes.append(Message("--lost needs --over, the number of grips it took, and the other way round"))
    if mistakes or truck is None:
        raise InputError(mistakes)
    heat = sum(heats) / len(heats) if heats else grip_cost(truck, SLOW_RPM, lost_gauge_pa=air).energy_j
    wear = None if not lost else _wear(truck, lost, asked.over * heat)
    load = load_constant(truck.fan.power_w, truck.fan.speed_rad_s)
    rows = []
    for rpm in speeds:
        cost = grip_cost(truck, rpm, per_hour, air)
        slip = worst_steady_slip_w(load, rpm * RPM * truck.pulley_ratio)
        rows.append(
            GripRow(cost, slip, _loss(truck, cost.energy_j, wear), _loss(truck, slip * MINUTE_S, wear))
        )
    rated = truck.fan.speed_rad_s / truck.pulley_ratio / RPM
    return GripTable(truck.preset, tuple(rows), per_hour, torque_in_hand(truck, rated, air), wear, shop)


def _area_m2(truck: Truck) -> float:
    from fanwright.laws.wear import ring_area_m2

    return ring_area_m2(truck.facing.inner_radius_m, truck.facing.outer_radius_m) * truck.facing.faces


def _wear(truck: Truck, lost_m: float, energy_j: float) -> float:
    from fanwright.laws.wear import rate_from_loss_m3_per_j

    return rate_from_loss_m3_per_j(lost_m, _area_m2(truck), energy_j)


def _loss(truck: Truck, energy_j: float, wear: float | None) -> float | None:
    from fanwright.laws.wear import facing_loss_m

    return None if wear is None else facing_loss_m(energy_j, wear, _area_m2(truck))


def _truck(name: str, shop: Shop, mistakes: list[Message]) -> Truck | None:
    try:
        return which_truck(name, shop)[0]
    except InputError as error:
        mistakes += error.messages
        return None


def _speed(typed: str, language: str, mistakes: list[Message]) -> float:
    from fanwright.life.grips import RPM

    found = _quantity(
        "--rpm", f"{typed} rpm" if typed.strip().isdecimal() else typed, "rotation", language, mistakes
    )
    rpm = 1000.0 if found is None else found / RPM
    if not LEAST_RPM <= rpm <= MOST_RPM:
        values = {"given": text(typed), "low": number(LEAST_RPM), "high": number(MOST_RPM)}
        mistakes.append(
            Message("--rpm: {given} is no speed of a truck's engine: {low} to {high} rpm", values)
        )
    return rpm


def _quantity(
    option: str, typed: str, dimension: str, language: str, mistakes: list[Message]
) -> float | None:
    if not typed:
        return None
    try:
        found = read(typed, dimension, language).si
    except InputError as error:
        mistakes += [
            Message("{_option}: " + one.template, {"_option": text(option), **one.values})
            for one in error.messages
        ]
        return None
    if found < 0.0:
        mistakes.append(
            Message("{option}: {given} lies under 0", {"option": text(option), "given": text(typed)})
        )
    return found


def _runs(path: Path | None, mistakes: list[Message]) -> tuple[list[float], float | None]:
    """Read the heat of each grip [J] and the pace [1/h] out of a table of runs."""
    if path is None:
        return [], None
    try:
        sheet = read_sheet(path)
    except FileError as error:
        mistakes += error.messages
        return [], None
    names = [heading.strip().casefold() for heading in sheet.header]
    missing = [name for name in RUN_COLUMNS if name not in names]
    if missing:
        values = {"missing": listing(tuple(text(name) for name in missing))}
        mistakes.append(
            Message("--runs: the columns {missing} are missing; «fanwright duty --runs» writes them", values)
        )
        return [], None
    heats, times = [], []
    for row, cells in sheet.rows:
        try:
            start, end, heat = (cells[names.index(name)].strip() for name in RUN_COLUMNS)
            times += [float(start), float(end)]
            heats += [float(heat) * MJ] if heat else []
        except ValueError:
            mistakes.append(Message("--runs: row {row} holds no numbers", {"row": count(row)}))
    if not heats:
        mistakes.append(
            Message("--runs: no run has a heat; read the recording with --truck, then its runs have one")
        )
        return [], None
    span = max(times) - min(times)
    return heats, min(len(sheet.rows) / span * HOUR_S, MOST_PER_HOUR) if span > 0.0 else None
