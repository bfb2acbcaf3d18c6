"""The tone of a plucked belt span and its tension, as a pure string at rest.

Bending stiffness raises the tone of a short, thick span and belt speed lowers it. Neither is in the string
law, so it holds for a belt at rest whose span is many times its thickness.
"""

from __future__ import annotations

import math

from fanwright.laws._range import Asked, check


def span_tone_hz(tension_n: float, span_m: float, mass_per_length_kg_m: float) -> float:
    """Find the lowest tone of a plucked span.

    Args:
        tension_n: Tension of the belt at rest, 1 to 20 000 N [N].
        span_m: Free length between the points where the belt leaves the pulleys, 0.05 to 3 m [m].
        mass_per_length_kg_m: Mass of one metre of the whole belt, 0.001 to 2 kg/m [kg/m].

    Returns:
        The tone, f = sqrt(T / m) / (2 L) [Hz].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        Mersenne's law of the ideal string; the lowest mode of the wave equation with both ends fixed
        (in any text on waves; from memory, no edition at hand).

    Example:
        >>> round(span_tone_hz(600.0, 0.40, 0.16), 2)
        76.55
    """
    check(("tension", tension_n, 1.0, 20_000.0, "force"), *_belt(span_m, mass_per_length_kg_m))
    return _tone(tension_n, span_m, mass_per_length_kg_m)


def span_tension_n(tone_hz: float, span_m: float, mass_per_length_kg_m: float) -> float:
    """Find the tension from the lowest tone of a plucked span; 1 % of tone or length is 2 % of tension.

    Args:
        tone_hz: Lowest tone of the span, 1 to 1 000 Hz [Hz].
        span_m: Free length between the points where the belt leaves the pulleys, 0.05 to 3 m [m].
        mass_per_length_kg_m: Mass of one metre of the whole belt, 0.001 to 2 kg/m [kg/m].

    Returns:
        The tension of the belt at rest, T = 4 m L^2 f^2 [N].

    Raises:
        OutOfRange: An argument outside its range, with the nearest possible value.

    Source:
        The law of :func:`span_tone_hz`, solved for the tension.

    Example:
        >>> round(span_tension_n(76.55, 0.40, 0.16), 1)
        600.1
    """
    check(("tone", tone_hz, 1.0, 1_000.0, "frequency"), *_belt(span_m, mass_per_length_kg_m))
    return _tension(tone_hz, span_m, mass_per_length_kg_m)


def _belt(span_m: float, mass_per_length_kg_m: float) -> tuple[Asked, Asked]:
    return (
        ("free span", span_m, 0.05, 3.0, "length"),
        ("mass per length of the belt", mass_per_length_kg_m, 0.001, 2.0, "mass_per_length"),
    )


def _tone(tension: float, span: float, mass_per_length: float) -> float:
    return math.sqrt(tension / mass_per_length) / (2.0 * span)


def _tension(tone: float, span: float, mass_per_length: float) -> float:
    return 4.0 * mass_per_length * (span * tone) ** 2
