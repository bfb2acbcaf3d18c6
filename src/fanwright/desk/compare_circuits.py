"""Before and after: the air circuits behind two traces of the same drive."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from fanwright.desk.compare import TRACES
from fanwright.desk.shop import open_shop
from fanwright.desk.trace import find_machine
from fanwright.errors import InputError
from fanwright.words import Message, text


@dataclass(frozen=True)
class CircuitChange:
    """One number of the circuit found twice.

    The volumes and the exponent are not known well, but they are the same both times: the chance that a
    change is real does not suffer from them.

    Args:
        name: ``fill``, ``exhaust``, ``leak``, ``lift_off`` or ``full_stroke``.
        dimension: Its dimension.
        before_si: With the volumes as given, first [SI].
        after_si: The same, second [SI].
        sd_si: Standard uncertainty of the difference [SI].
        chance_real: Chance that the true change has the direction seen [-].
    """

    name: str
    dimension: str
    before_si: float
    after_si: float
    sd_si: float
    chance_real: float


NAMES: Mapping[str, str] = {
    "fill": "conductance",
    "exhaust": "conductance",
    "leak": "conductance",
    "lift_off": "pressure",
    "full_stroke": "pressure",
}


def compare_circuits(
    first: Path, second: Path, truck: str, shop_file: Path | None = None
) -> tuple[CircuitChange, ...]:
    """Compare the air circuits behind two traces.

    Args:
        first: The earlier trace.
        second: The later one.
        truck: A preset's name or a visit file that says what the drive is.
        shop_file: The shop's own data, or None.

    Returns:
        A change for each number that both traces tell.

    Raises:
        InputError: A trace cannot be read, the truck is not known, or nothing can be compared.
    """
    from fanwright.evidence.trace import read_trace
    from fanwright.evidence.trace.identify import identify

    others = [path for path in (first, second) if path.suffix.lower() not in TRACES]
    if others:
        raise InputError(
            Message(
                "With --truck two traces are compared; {file} is none",
                {"file": text(others[0])},
            )
        )
    shop = open_shop(shop_file, first)
    machine = find_machine(truck, {}, shop)
    before, after = (identify(read_trace(path), machine).alike for path in (first, second))
    both = [name for name in NAMES if name in before and name in after]
    if not both:
        raise InputError(
            Message("The air circuits cannot be compared: the two traces tell no number in common")
        )
    changes = []
    for name in both:
        sd = math.hypot(before[name].sd, after[name].sd)
        difference = after[name].value - before[name].value
        chance = (
            0.5 * math.erfc(-abs(difference) / sd / math.sqrt(2.0)) if sd > 0.0 else float(difference != 0.0)
        )
        values = [max(one[name].value, 0.0) for one in (before, after)]
        changes.append(CircuitChange(name, NAMES[name], values[0], values[1], sd, chance))
    return tuple(changes)
