"""When a fleet should renew by age or look: its whole lives, from a spreadsheet or from the records."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from fanwright.desk.shop import Shop, open_shop
from fanwright.desk.spreadsheet import Sheet, read_sheet
from fanwright.errors import InputError
from fanwright.quantities import read
from fanwright.words import Message, count, listing, text

if TYPE_CHECKING:
    from fanwright.life.history import History
    from fanwright.life.renewing import Costs, Renewing
    from fanwright.life.weibull import Life

KNOWN = ("unit", "good_at", "ended_by", "watched_from", "number")
MOST_ALIKE = 100_000


@dataclass(frozen=True)
class FleetRenewing:
    """What the lives of a fleet say, in the shop they were reckoned in.

    Args:
        found: The fit and the advice.
        unknown: Facings first seen worn, whose age is not known.
        shop: Whose prices count.
    """

    found: Renewing
    unknown: int
    shop: Shop


@dataclass(frozen=True)
class OwnCosts:
    """Costs as typed; None takes the catalogue's prices."""

    planned: str | None = None
    failure: str | None = None
    look: str | None = None


def renew_by_lives(
    path: Path | None,
    db: str | None = None,
    *,
    costs: OwnCosts | None = None,
    shop_file: Path | None = None,
    language: str = "en",
) -> FleetRenewing:
    """Fit the lives of a fleet and say when renewing by age or looking pays.

    Args:
        path: A sheet of lives (``good_at``, ``ended_by``) or of thickness readings (``facing``); None for
            the records.
        db: The records, or None.
        costs: Costs as typed, or None for the catalogue's.
        shop_file: The shop's own data, or None.
        language: Language of the numbers in the file.

    Returns:
        The fit and the advice.

    Raises:
        InputError: Every mistake of the file and of what was given, or too few lives have ended.
        FileError: A file or the records cannot be read.
    """
    from fanwright.life.lives import lives_of
    from fanwright.life.renewing import renewing

    shop = open_shop(shop_file, path)
    mistakes: list[Message] = []
    in_hours, unknown = False, 0
    sheet = None if path is None else read_sheet(path)
    if sheet is not None and _of_lives(sheet):
        reader = _LifeRows(sheet, language, mistakes)
        lives, in_hours = reader.lives(), reader.in_hours
    else:
        histories = _histories(sheet, db, shop, language, mistakes)
        in_hours = bool(histories) and all(one.in_hours for one in histories)
        told = lives_of([one for one in histories if one.in_hours == in_hours])
        lives, unknown = list(told.lives), told.unknown
    reckoned = _costs(shop, costs or OwnCosts(), in_hours, language, mistakes)
    if mistakes:
        raise InputError(mistakes)
    dimension = "engine_time" if in_hours else "distance"
    try:
        return FleetRenewing(renewing(lives, reckoned, dimension), unknown, shop)
    except InputError as error:
        if not unknown:
            raise
        left_out = Message(
            "{number} facings were first seen worn, so their age is not known and they are left out",
            {"number": count(unknown)},
        )
        raise InputError([*error.messages, left_out]) from error


def _of_lives(sheet: Sheet) -> bool:
    names = {heading.partition("[")[0].strip().casefold().replace(" ", "_") for heading in sheet.header}
    return "good_at" in names or "ended_by" in names


def _histories(
    sheet: Sheet | None, db: str | None, shop: Shop, language: str, mistakes: list[Message]
) -> list[History]:
    from fanwright.desk.facings import histories_of
    from fanwright.desk.life import read_histories
    from fanwright.desk.records import open_records
    from fanwright.life.history import cleaned

    if sheet is not None:
        return [cleaned(one) for one in read_histories(sheet, shop, language, mistakes)]
    store = open_records(db)
    try:
        return [cleaned(one) for one in histories_of(store, shop)]
    finally:
        store.close()


def _costs(shop: Shop, typed: OwnCosts, in_hours: bool, language: str, mistakes: list[Message]) -> Costs:
    from fanwright.life.priors import load
    from fanwright.visit.paying import renewing_costs

    costs = renewing_costs(shop.catalogue, load().speed_m_s if in_hours else None)
    for field, option in (("planned_usd", "planned"), ("failure_usd", "failure"), ("inspection_usd", "look")):
        given = getattr(typed, option)
        if given is None:
            continue
        try:
            value = read(given, "money", language).si
        except InputError as error:
            values = {"_option": text(f"--{option}")}
            mistakes += [
                Message("{_option}: " + one.template, {**values, **one.values}) for one in error.messages
            ]
            continue
        if value <= 0.0:
            mistakes.append(
                Message(
                    "{option}: {given} is not over 0", {"option": text(f"--{option}"), "given": text(given)}
                )
            )
        costs = replace(costs, **{field: value})
    return costs


class _LifeRows:
    """Reads lives row by row and gathers every mistake on the way."""

    def __init__(self, sheet: Sheet, language: str, mistakes: list[Message]) -> None:
        self.sheet, self.language, self.mistakes = sheet, language, mistakes
        self.places: dict[str, int] = {}
        self.units: dict[str, str] = {}
        self.dimensions: set[str] = set()
        for place, heading in enumerate(sheet.header):
            name, _, unit = heading.partition("[")
            name = name.strip().casefold().replace(" ", "_")
            if name in KNOWN and name not in self.places:
                self.places[name], self.units[name] = place, unit.rstrip("] ").strip()
        missing = [name for name in ("good_at", "ended_by") if name not in self.places]
        if missing:
            values = {
                "missing": listing(tuple(text(name) for name in missing)), "known": text(", ".join(KNOWN))
            }  # fmt: skip
            mistakes.append(
                Message("the columns {missing} are missing; columns that are read: {known}", values)
            )

    @property
    def in_hours(self) -> bool:
        """Whether the lives are in engine hours."""
        return self.dimensions == {"engine_time"}

    def lives(self) -> list[Life]:
        """Give the lives; mistakes are noted."""
        from fanwright.life.weibull import Life

        found: list[Life] = []
        for row, cells in self.sheet.rows:
            if not {"good_at", "ended_by"} <= set(self.places):
                break
            good, end = self._usage(row, cells, "good_at"), self._usage(row, cells, "ended_by")
            entry, number = self._usage(row, cells, "watched_from"), self._number(row, cells)
            if good is None and end is None:
                self._say(row, "give good_at, ended_by, or both: where it was last good, and gone")
                continue
            life = Life(good or 0.0, math.inf if end is None else end, entry or 0.0)
            if not 0.0 <= life.low <= life.high or life.high <= 0.0 or not 0.0 <= life.entry <= life.high:
                self._say(row, "a life ends after it was last good and after it was watched, and over 0")
                continue
            if math.isinf(life.high) and life.low <= life.entry:
                self._say(row, "a running life must be seen good after it was watched from")
                continue
            found += [life] * number
        if len(self.dimensions) > 1:
            self.mistakes.append(Message("some lives are in distance and some in hours; give all in one"))
        return found

    def _usage(self, row: int, cells: tuple[str, ...], name: str) -> float | None:
        cell = cells[self.places[name]].strip() if name in self.places else ""
        if not cell:
            return None
        unit = self.units[name]
        written = f"{cell} {unit}" if unit and not cell[-1:].isalpha() else cell
        for dimension in ("distance", "engine_time"):
            try:
                found = read(written, dimension, self.language).si
            except InputError:
                continue
            self.dimensions.add(dimension)
            return found
        self._say(
            row, f"{name}: «{cell}» is not a distance or engine time; write it like 120,000 mi or 9 870 h"
        )
        return None

    def _number(self, row: int, cells: tuple[str, ...]) -> int:
        cell = cells[self.places["number"]].strip() if "number" in self.places else ""
        if not cell:
            return 1
        if not cell.isdecimal() or not 0 < int(cell) <= MOST_ALIKE:
            self._say(row, f"number: «{cell}» is not a whole number of lives like this one")
            return 1
        return int(cell)

    def _say(self, row: int, what: str) -> None:
        self.mistakes.append(Message("row {row}: {what}", {"row": count(row), "what": text(what)}))
