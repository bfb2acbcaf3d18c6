"""What a reading should be on this truck, and how far it is from another reading."""

from __future__ import annotations

import math
from collections.abc import Mapping

from fanwright.evidence.reading import Measured, Reading
from fanwright.laws import belt
from fanwright.truck.model import Truck


def share(measured: Measured, nominal_si: float) -> Measured:
    """Give a value as a share of its nominal [-]."""
    return Measured(
        measured.si / nominal_si, measured.half_width_si / nominal_si, measured.normal_sd_si / nominal_si
    )


def nominal(relative_to: str, reading: Reading, truck: Truck, others: Mapping[str, Reading]) -> float | None:
    """Find what a reading should be, or None when this truck's data do not tell.

    Args:
        relative_to: Which nominal: ``nominal_volts``, ``expected_current``, ``target_tone``, ``belt_span``
            or ``lift_off_spec``.
        reading: The reading itself.
        truck: The machine.
        others: The other readings of the same stage.

    Returns:
        The nominal in the reading's SI unit, or None.
    """
    if relative_to == "nominal_volts":
        return truck.volts
    if relative_to == "expected_current":
        ohms = others.get("coil_ohms")
        known = None if ohms is None or ohms.measured is None else ohms.measured.si
        return truck.volts / known if known and known < 200.0 else None
    if relative_to == "target_tone":
        return belt.span_tone_hz(truck.belt.tension_n, truck.belt.span_m, truck.belt.mass_per_length_kg_m)
    if relative_to == "belt_span":
        return reading.conditions.get("span_m", truck.belt.span_m)
    if relative_to == "lift_off_spec":
        return truck.lift_off_gauge_pa
    return None


def difference(
    other: str, reading: Reading, measured: Measured, others: Mapping[str, Reading]
) -> Measured | None:
    """How far a value lies from another: inlet above drive for pressures, above what is beside it for heat.

    Returns:
        The difference with both uncertainties, or None when the other is not known. The two rectangles are
        kept as one of the wider width; the narrower counts as normal, which is within 0.01 of the exact
        convolution for equal widths (a triangle).
    """
    if other == "beside_k":
        beside = reading.conditions.get("beside_k")
        return (
            None
            if beside is None
            else Measured(
                measured.si - beside,
                measured.half_width_si,
                math.hypot(measured.normal_sd_si, measured.sd_si),
            )
        )
    found = others.get(other)
    if found is None or found.measured is None:
        return None
    wide, narrow = sorted((measured, found.measured), key=lambda one: -one.half_width_si)
    spread = math.hypot(wide.normal_sd_si, narrow.sd_si)
    return Measured(found.measured.si - measured.si, wide.half_width_si, spread)
