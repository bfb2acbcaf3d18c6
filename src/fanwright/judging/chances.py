"""How probable it is that the true value lies on either side of an edge.

A reading y on a scale of division d may be off by a rectangle of half width d/2 (GUM 4.3.7) and by a normal
part s. The chance that the true value is at most an edge T is the rectangle convolved with the normal curve:

    P = 1/(2a) * integral from -a to a of Phi((T - y + e)/s) de,   a = d/2

which has a closed form because the integral of Phi(z) is z Phi(z) + phi(z). With a = 0 it is the usual
one-sided conformance probability of JCGM 106:2012, 7.3.
"""

from __future__ import annotations

import math

from fanwright.evidence.reading import Measured

_FAR = 38.0


def chance_at_most(edge_si: float, measured: Measured) -> float:
    """Chance that the true value is at most an edge.

    Args:
        edge_si: The edge [SI].
        measured: Value, half scale division and normal part, in the same unit as the edge.

    Returns:
        Probability in 0..1 [-].

    Example:
        >>> round(chance_at_most(-5.40, Measured(-5.47, 0.0, 0.05)), 4)
        0.9192
    """
    gap = edge_si - measured.si
    half, spread = measured.half_width_si, measured.normal_sd_si
    if spread <= 0.0 and half <= 0.0:
        return 1.0 if gap >= 0.0 else 0.0
    if spread <= 0.0 or half / spread > 1e9:
        return min(1.0, max(0.0, 0.5 + gap / (2.0 * half)))
    if half / spread < 1e-6:
        return _phi_sum(gap / spread)
    low, high = (gap - half) / spread, (gap + half) / spread
    return min(1.0, max(0.0, (_ramp(high) - _ramp(low)) * spread / (2.0 * half)))


def chance_between(low_si: float | None, high_si: float | None, measured: Measured) -> float:
    """Chance that the true value lies between two edges; None stands for no edge on that side.

    Example:
        >>> round(chance_between(12.5, 16.3, Measured(13.6, 0.0, 1.8)), 4)
        0.6626
    """
    above = 1.0 if high_si is None else chance_at_most(high_si, measured)
    below = 0.0 if low_si is None else chance_at_most(low_si, measured)
    return max(0.0, above - below)


def _phi_sum(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def _ramp(z: float) -> float:
    """Integral of the normal distribution function from minus infinity to z."""
    if z > _FAR:
        return z
    return 0.0 if z < -_FAR else z * _phi_sum(z) + math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
