"""Sums of uncertainty: components, their degrees of freedom, and the spread of repeats.

A component is a standard uncertainty already multiplied by its sensitivity, so that it carries the unit of
the result. Source: JCGM 100:2008 (GUM), sections 4.2, 5.1 and G.4.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fanwright.errors import OutOfRange
from fanwright.words import Message, count


@dataclass(frozen=True)
class Repeats:
    """What repeated readings of one thing say.

    Args:
        mean_si: Their mean [SI].
        sd_si: Standard deviation of a single reading [SI].
        sd_of_mean_si: Standard uncertainty of the mean [SI].
        degrees_of_freedom: One fewer than there are readings [-].
    """

    mean_si: float
    sd_si: float
    sd_of_mean_si: float
    degrees_of_freedom: int


def combined_sd(components_si: Sequence[float]) -> float:
    """Combine independent components.

    Source: GUM 5.1.2, equation 10.

    Args:
        components_si: Standard uncertainties times their sensitivities, in the unit of the result [SI].

    Returns:
        Combined standard uncertainty [SI].

    Example:
        >>> combined_sd((3.0, 4.0))
        5.0
    """
    _refuse_unusable(components_si)
    return math.hypot(*components_si)


def effective_degrees_of_freedom(components_si: Sequence[float], degrees: Sequence[float]) -> float:
    """Say how well a combined uncertainty is itself known (Welch-Satterthwaite).

    Source: GUM G.4.1, equation G.2b.

    Args:
        components_si: Standard uncertainties times their sensitivities, in the unit of the result [SI].
        degrees: Degrees of freedom of each; infinity where the component is known for sure [-].

    Returns:
        Effective degrees of freedom, not rounded; infinity where no component has a finite number [-].

    Raises:
        OutOfRange: A component without its degrees of freedom, or degrees that are not above zero.

    Example:
        >>> round(effective_degrees_of_freedom((25.0, 9.7, 2.9, 16.675), (18.0, 25.6, 50.0, 2.0)), 2)
        16.66
    """
    _refuse_unusable(components_si)
    if len(components_si) != len(degrees):
        raise OutOfRange(
            Message(
                "{components} components came with {degrees} degrees of freedom: give one for each component",
                {"components": count(len(components_si)), "degrees": count(len(degrees))},
            )
        )
    if not all(each > 0.0 for each in degrees):
        raise OutOfRange(Message("degrees of freedom must be above zero; infinity where known for sure"))
    total = combined_sd(components_si)
    if total == 0.0:
        return math.inf
    share = sum((part / total) ** 4 / each for part, each in zip(components_si, degrees, strict=True))
    return math.inf if share == 0.0 else 1.0 / share


def repeats(values_si: Sequence[float]) -> Repeats:
    """Take the mean of repeated readings and its uncertainty.

    Source: GUM 4.2.1 to 4.2.3, equations 3 to 5.

    Args:
        values_si: At least two readings of one thing [SI].

    Returns:
        Mean, spread and standard uncertainty of the mean [SI].

    Raises:
        OutOfRange: Fewer than two readings, or one that is no finite number.

    Example:
        >>> round(repeats((2.1, 2.0, 2.2)).sd_of_mean_si, 6)
        0.057735
    """
    _refuse_unusable(values_si)
    many = len(values_si)
    if many < 2:
        raise OutOfRange(
            Message("{many} reading shows no spread: at least two are needed", {"many": count(many)})
        )
    mean = math.fsum(values_si) / many
    spread = math.sqrt(math.fsum((value - mean) ** 2 for value in values_si) / (many - 1))
    return Repeats(mean, spread, spread / math.sqrt(many), many - 1)


def _refuse_unusable(values_si: Sequence[float]) -> None:
    if not all(math.isfinite(value) for value in values_si):
        raise OutOfRange(Message("uncertainty can only be worked out from finite numbers"))
