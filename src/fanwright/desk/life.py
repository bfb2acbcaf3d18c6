"""How long each facing of a spreadsheet, or of the records, will last."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from fanwright.desk.shop import Shop, open_shop
from fanwright.desk.spreadsheet import Sheet, read_sheet
from fanwright.errors import InputError
from fanwright.evidence.typed import read_entry
from fanwright.quantities import read
from fanwright.truck.loader import presets
from fanwright.truck.model import Truck
from fanwright.words import Message, count, listing, text

if TYPE_CHECKING:
    from fanwright.life import Forecast, History, Thickness

AHEAD = "25,000 mi"
PICTURES = (".svg", ".png")
NEEDED = ("unit", "date", "facing")
KNOWN = (*NEEDED, "odometer", "hours", "reading_sd", "new_facing", "route", "preset")
DIMENSIONS = {"odometer": "distance", "hours": "engine_time", "facing": "length", "reading_sd": "length"}
BARE = re.compile(r"[+-]?(\d+([.,]\d+)*|\.\d+|\d+[- ]\d+/\d+|\d+/\d+)")
YES, NO = ("1", "1.0", "yes", "true"), ("", "0", "0.0", "no", "false")


@dataclass(frozen=True)
class FleetLife:
    """Forecasts of a fleet in the shop they were made in; by unit what the heat of grips says beside them."""

    forecasts: tuple[Forecast, ...]
    shop: Shop
    by_heat: Mapping[str, Message] = field(default_factory=dict)


def read_life(
    path: Path,
    ahead: str = AHEAD,
    *,
    shop_file: Path | None = None,
    language: str = "en",
    plot: Path | None = None,
) -> FleetLife:
    """Forecast every facing of a spreadsheet.

    Args:
        path: CSV or XLSX with unit, date, odometer or hours, facing and more, see ``KNOWN``.
        ahead: How far it is to the next service, as typed.
        shop_file: The shop's own data, or None.
        language: Language of the numbers.
        plot: Picture to write, ``.svg`` or ``.png``, or None.

    Returns:
        A forecast a truck, in the order of the file.

    Raises:
        InputError: Every mistake of the file and of what was given.
    """
    from fanwright.life import forecast_fleet

    shop = open_shop(shop_file, path)
    mistakes: list[Message] = []
    ahead_m = read_ahead(ahead, language, mistakes)
    refuse_picture(plot, mistakes)
    histories = read_histories(read_sheet(path), shop, language, mistakes)
    if mistakes:
        raise InputError(mistakes)
    done = FleetLife(forecast_fleet(histories, ahead_m), shop)
    if plot is not None:
        draw_life(done, plot)
    return done


def read_histories(sheet: Sheet, shop: Shop, language: str, mistakes: list[Message]) -> list[History]:
    """Read a sheet of thickness readings, noting every mistake: a history a truck, as the sheet has them."""
    return _Rows(sheet, shop, language, mistakes).histories()


def refuse_picture(plot: Path | None, mistakes: list[Message]) -> None:
    """Note a picture of a kind that is not written."""
    if plot is not None and plot.suffix.lower() not in PICTURES:
        kinds = {"file": text(plot), "kinds": text(", ".join(PICTURES))}
        mistakes.append(Message("{file}: a picture is written as {kinds}", kinds))


def read_ahead(typed: str, language: str, mistakes: list[Message]) -> float:
    """Read the way to the next service, noting what is wrong with it; hours at the usual speed [m]."""
    from fanwright.life.priors import load

    try:
        hours = read(typed, "engine_time", language).si
        found = hours * load().speed_m_s
    except InputError:
        try:
            found = read(typed, "distance", language).si
        except InputError as error:
            mistakes += [Message("--ahead: " + one.template, one.values) for one in error.messages]
            return 1.0
    if found <= 0.0:
        mistakes.append(
            Message("--ahead: «{typed}» lies behind; give a distance over 0", {"typed": text(typed)})
        )
    return found


class _Rows:
    """Reads a sheet row by row and gathers every mistake on the way."""

    def __init__(self, sheet: Sheet, shop: Shop, language: str, mistakes: list[Message]) -> None:
        self.sheet, self.shop, self.language, self.mistakes = sheet, shop, language, mistakes
        self.places: dict[str, int] = {}
        self.units: dict[str, str] = {}
        self._columns()
        self.trucks = presets(shop.presets)

    def _columns(self) -> None:
        for place, heading in enumerate(self.sheet.header):
            name, _, unit = heading.partition("[")
            name = name.strip().casefold().replace(" ", "_")
            if name in KNOWN and name not in self.places:
                self.places[name], self.units[name] = place, unit.rstrip("] ").strip()
        self.complete = False
        missing = [name for name in NEEDED if name not in self.places]
        if not {"odometer", "hours"} & set(self.places):
            missing.append("odometer")
        if missing:
            values = {
                "missing": listing(tuple(text(name) for name in missing)),
                "known": text(", ".join(KNOWN)),
            }
            self.mistakes.append(
                Message("the columns {missing} are missing; columns that are read: {known}", values)
            )
        self.complete = not missing

    def histories(self) -> list[History]:
        """Give a history a truck, in the order the trucks first appear."""
        if not self.complete:
            return []
        rows: dict[str, list[tuple[int, Mapping[str, str]]]] = {}
        for number, cells in self.sheet.rows:
            row = {name: cells[place].strip() for name, place in self.places.items()}
            if not row["unit"]:
                self.say(number, "the unit is missing")
                continue
            rows.setdefault(row["unit"], []).append((number, row))
        return [self._truck(unit, mine) for unit, mine in rows.items()]

    def _truck(self, unit: str, rows: list[tuple[int, Mapping[str, str]]]) -> History:
        from fanwright.life import History

        in_hours = not all(row.get("odometer") for _, row in rows)
        if in_hours and not all(row.get("hours") for _, row in rows):
            for number, row in rows:
                if not row.get("odometer") and not row.get("hours"):
                    self.say(number, "the odometer is missing")
        read_at = [(number, row) for number, row in rows if row["facing"]]
        readings = [self._reading(number, row, in_hours) for number, row in read_at]
        unread = [
            Message("row {row}: no facing was read; the row is left out", {"row": count(number)})
            for number, row in rows
            if not row["facing"]
        ]
        last = rows[-1][1]
        truck = self._preset(rows)
        names = (last.get("route", ""), truck.preset if last.get("preset") else "")
        return History(
            unit,
            tuple(one for one in readings if one is not None),
            truck.facing.limit_m,
            truck.facing.new_m,
            tuple(name for name in names if name),
            in_hours,
            assumed=tuple(unread),
        )

    def _preset(self, rows: list[tuple[int, Mapping[str, str]]]) -> Truck:
        number, row = rows[-1]
        name = row.get("preset", "")
        if name and name not in self.trucks:
            self.say(number, "there is no preset of that name; there are " + ", ".join(self.trucks))
        return self.trucks.get(name) or next(iter(self.trucks.values()))

    def _reading(self, number: int, row: Mapping[str, str], in_hours: bool) -> Thickness | None:
        from fanwright.life import Thickness

        before = len(self.mistakes)
        date = self._date(number, row["date"])
        usage = self._quantity(number, row, "hours" if in_hours else "odometer")
        thickness, sd = self._facing(number, row)
        fresh = row.get("new_facing", "").casefold()
        if fresh not in (*YES, *NO):
            self.say(number, "new_facing is 1 where a new facing was fitted, else 0 or empty")
        if len(self.mistakes) > before or usage is None or thickness is None:
            return None
        given = self._quantity(number, row, "reading_sd") if row.get("reading_sd") else None
        if given is not None and given <= 0.0:
            self.say(number, "reading_sd must be over 0")
        return Thickness(date, usage, thickness, given or sd, fresh in YES, f"row {number}")

    def _facing(self, number: int, row: Mapping[str, str]) -> tuple[float | None, float]:
        """Read a thickness with the uncertainty its writing tells of: a fraction was read off a feeler."""
        try:
            entry = self._with_unit(row, "facing")
            found = read_entry("facing_thickness", entry, self.shop.catalogue, language=self.language)
        except InputError as error:
            self.keep(number, error)
            return None, 0.0
        measured = next((one.measured for one in found if one.measured is not None), None)
        if measured is None:
            self.say(number, "the facing must be a thickness, such as 0.297 in")
            return None, 0.0
        return measured.si, measured.sd_si

    def _quantity(self, number: int, row: Mapping[str, str], name: str) -> float | None:
        if not row.get(name):
            return None
        try:
            return read(self._with_unit(row, name), DIMENSIONS[name], self.language).si
        except InputError as error:
            self.keep(number, error)
            return None

    def _with_unit(self, row: Mapping[str, str], name: str) -> str:
        cell, unit = row[name], self.units[name]
        return f"{cell} {unit}" if unit and BARE.fullmatch(cell) else cell

    def _date(self, number: int, cell: str) -> dt.date | None:
        try:
            return dt.date.fromisoformat(cell[:10])
        except ValueError:
            self.say(number, f"«{cell}» is not a date; write it like 2026-04-14")
            return None

    def say(self, number: int, what: str) -> None:
        self.mistakes.append(Message("row {row}: {what}", {"row": count(number), "what": text(what)}))

    def keep(self, number: int, error: InputError) -> None:
        self.mistakes += [
            Message("row {_row}: " + one.template, {"_row": count(number), **one.values})
            for one in error.messages
        ]


def draw_life(done: FleetLife, plot: Path) -> None:
    """Draw one truck's wear line, or the fleet's sheet."""
    from fanwright.report.pictures import life as picture
    from fanwright.report.png import from_svg
    from fanwright.report.writing import replace_file

    known = [one for one in done.forecasts if one.remaining is not None]
    if not known:
        raise InputError(Message("there is nothing to draw: no reading of the facing can be used"))
    units = done.shop.units
    svg = picture.draw(known[0], "print", units) if len(known) == 1 else picture.fleet(known, "print", units)
    if plot.suffix.lower() == ".png":
        from_svg(svg, plot)
    else:
        replace_file(plot, svg.encode("utf-8"))
