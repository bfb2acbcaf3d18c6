"""Start a visit file: everything a visit needs, as comments to fill in."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from fanwright.catalogue import Catalogue, Test
from fanwright.desk.shop import open_shop
from fanwright.errors import FileError, InputError
from fanwright.quantities import dimension, units
from fanwright.report.writing import replace_file
from fanwright.truck.loader import presets, truck_for
from fanwright.words import Message, text

KINDS = ("planned", "complaint", "retest")


def new_visit(
    path: Path, unit: str, kind: str, preset: str | None, date: dt.date, shop_file: Path | None = None
) -> Path:
    """Write a commented visit file that needs only its readings.

    Args:
        path: Where; an existing file is never overwritten.
        unit: The fleet's own number of the truck.
        kind: ``planned``, ``complaint`` or ``retest``.
        preset: A preset by name, or None to leave the arrangement to be filled in.
        date: The day.
        shop_file: The shop's own data, or None.

    Returns:
        The path written.

    Raises:
        InputError: The file exists, the unit is empty or the preset is not known.
    """
    shop = open_shop(shop_file, path)
    mistakes = []
    if path.exists():
        mistakes.append(
            Message("{file} exists already and is not overwritten; choose another name", {"file": text(path)})
        )
    if not unit.strip() or any(ord(character) < 32 for character in unit):
        mistakes.append(Message("the unit is empty or holds control characters: give the truck's own number"))
    if preset is not None and preset not in presets(shop.presets):
        mistakes.append(
            Message(
                "{given} is not a preset; write one of {known}",
                {"given": text(preset), "known": text(", ".join(presets(shop.presets)))},
            )
        )
    if mistakes:
        raise (FileError if path.exists() else InputError)(mistakes)
    replace_file(path, _body(unit, kind, preset, date, shop.catalogue, tuple(presets(shop.presets))).encode())
    return path


def _body(
    unit: str, kind: str, preset: str | None, date: dt.date, catalogue: Catalogue, known: tuple[str, ...]
) -> str:
    lines = [
        "# A visit: one truck, one day. Lines with # are hints; take the # away and fill in.",
        '# A reading is an outcome word or a quantity with its unit; several: ["2.1 s", "2.0 s"].',
        "",
        "[truck]",
        f"unit = {_quoted(unit)}",
        '# odometer = "377,204 mi"',
        '# engine_hours = "9,412 h"',
        *_drive(preset, known),
        "",
        "[visit]",
        f"date = {date.isoformat()}",
        f'kind = "{kind}"            # {", ".join(KINDS)}',
        '# technician = "Ana"',
        '# lock_out = "engine off, tag on"   # confirm this before any hand goes near the fan',
        "",
        "[proof]                     # how the arrangement was proved, with the feed proved first",
        '# unplugged_drive_gauge = "0 psi"',
        '# unplugged_fan = "grips"  # or "lets_go"',
        "",
        "[readings]",
    ]
    core = catalogue.core[kind]
    lines += [line for test in core for line in _test(catalogue.tests[test])]
    lines += ["", "# more tests, where the ones above point at them:"]
    more = [test for test in catalogue.tests.values() if test.id not in core and not test.only_from]
    lines += [line for test in more for line in _test(test, how=False)]
    lines += ["", "[readings_after]            # the same tests after the repair", "", "[not_done]"]
    lines += ['# coil_amps = "no clamp meter"', "", "[work]", '# cause = "exhaust_blocked"', ""]
    return "\n".join(lines)


def _drive(preset: str | None, known: tuple[str, ...]) -> list[str]:
    if preset is not None:
        truck = truck_for(preset, None, None, None)
        return [
            f"preset = {_quoted(preset)}",
            "",
            "[drive]",
            f'grips_by = "{truck.grips_by}"',
            f'valve = "{truck.valve}"',
            f"volts = {truck.volts:.0f}",
        ]
    return [
        f'# preset = "{known[0]}"   # or: {", ".join(known[1:])}',
        "",
        "[drive]                     # read the tag, then prove it; never guess from looks",
        '# grips_by = "spring"       # what makes the drive grip: spring or air',
        '# valve = "nc"              # nc = shuts without current, no = passes without current',
        "# volts = 12",
    ]


def _test(test: Test, *, how: bool = True) -> list[str]:
    words = " | ".join(test.words())
    hint = f"# {test.id} = "
    if test.dimension:
        unit = units()[dimension(test.dimension).show].printed
        hint += f'"… {unit}"' + (f"    # or {words}" if words else "")
    else:
        hint += f'"{test.words()[0]}"    # {words}'
    return [f"# {test.label} ({test.minutes:g} min): {test.how}", hint] if how else [hint]


def _quoted(value: str) -> str:
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
