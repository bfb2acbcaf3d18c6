"""When renewing by age or inspecting pays: cost for usage, and the honest answer that it may not pay."""

from __future__ import annotations

import math
from dataclasses import dataclass

NO_GAIN = 0.01
"""A saving of under one per cent is no practical gain."""


@dataclass(frozen=True)
class AgeReplacement:
    """The best age to renew.

    Args:
        age: The age [usage], or None where renewing by age cannot pay.
        cost_rate: Cost for usage at that age, or of running to the end [money/usage].
        run_out_rate: Cost for usage of running to the end [money/usage].
    """

    age: float | None
    cost_rate: float
    run_out_rate: float

    @property
    def saving(self) -> float:
        """Share of the cost that it saves [-]."""
        return 1.0 - self.cost_rate / self.run_out_rate

    @property
    def worth_it(self) -> bool:
        """Whether it saves more than is lost in the noise."""
        return self.age is not None and self.saving >= NO_GAIN


def lived(scale: float, shape: float, age: float) -> float:
    """Expected usage until the end or until an age, whichever comes first."""
    from scipy.special import gammainc

    return float(scale / shape * math.gamma(1.0 / shape) * gammainc(1.0 / shape, (age / scale) ** shape))


def best_age(scale: float, shape: float, planned_cost: float, failure_cost: float) -> AgeReplacement:
    """Find the age at which renewing costs least for usage (Barlow and Proschan).

    Args:
        scale: Weibull scale [usage].
        shape: Weibull shape [-].
        planned_cost: Cost of renewing in time [money].
        failure_cost: Cost of an end on the road [money].

    Returns:
        The age; without one where the risk does not rise or the end costs no more.

    Example:
        >>> round(best_age(1000.0, 2.5, 1.0, 5.0).age, 5)
        493.04696
    """
    from scipy.optimize import brentq

    run_out = failure_cost / (scale * math.gamma(1.0 + 1.0 / shape))
    if shape <= 1.0 or failure_cost <= planned_cost:
        return AgeReplacement(None, run_out, run_out)
    wanted = planned_cost / (failure_cost - planned_cost)

    def excess(log_age: float) -> float:
        age = scale * math.exp(log_age)
        hazard = shape / scale * math.pow(age / scale, shape - 1.0)
        return hazard * lived(scale, shape, age) + math.expm1(-math.pow(age / scale, shape)) - wanted

    high = 1.0
    while excess(high) < 0.0 and high < 40.0:
        high += 1.0
    if excess(high) < 0.0:
        return AgeReplacement(None, run_out, run_out)
    age = scale * math.exp(float(brentq(excess, -30.0, high, xtol=1e-13)))
    rate = (failure_cost - planned_cost) * shape / scale * (age / scale) ** (shape - 1.0)
    return AgeReplacement(age, rate, run_out)


def best_age_with_minimal_repair(
    scale: float, shape: float, planned_cost: float, repair_cost: float
) -> AgeReplacement:
    """Find the best age where an end is only patched and the rest goes on ageing.

    Example:
        >>> round(best_age_with_minimal_repair(1000.0, 2.5, 1.0, 5.0).age, 6)
        446.658388
    """
    if shape <= 1.0:
        return AgeReplacement(None, math.inf, math.inf)
    age = scale * (planned_cost / (repair_cost * (shape - 1.0))) ** (1.0 / shape)
    return AgeReplacement(age, (planned_cost + repair_cost * (age / scale) ** shape) / age, math.inf)


def best_inspection(failure_rate: float, inspection_cost: float, hidden_cost: float) -> tuple[float, float]:
    """Find how often to look for a fault that hides (Barlow and Proschan).

    Args:
        failure_rate: Faults for usage, even [1/usage].
        inspection_cost: Cost of looking [money].
        hidden_cost: Cost for usage while it stays hidden [money/usage].

    Returns:
        The interval [usage], and the expected cost until it is found [money].

    Example:
        >>> [round(each, 6) for each in best_inspection(0.001, 10.0, 1.0)]
        [138.165122, 148.165122]
    """
    from scipy.optimize import brentq

    wanted = failure_rate * inspection_cost / hidden_cost
    share = float(brentq(lambda x: math.expm1(x) - x - wanted, 1e-12, 50.0, xtol=1e-15))
    interval = share / failure_rate
    cost = (inspection_cost + hidden_cost * interval) / -math.expm1(-share) - hidden_cost / failure_rate
    return interval, cost


def best_delay_inspection(
    defects: float, mean_delay: float, breakdown_cost: float, mend_cost: float, inspection_cost: float
) -> tuple[float, float, float]:
    """Find how often to look for defects that show for a while before they break (Christer's delay time).

    Args:
        defects: Defects that arise for usage [1/usage].
        mean_delay: Mean usage from a defect to its breakdown, exponential [usage].
        breakdown_cost: Cost of a breakdown [money].
        mend_cost: Cost of mending a defect that is found [money].
        inspection_cost: Cost of looking [money].

    Returns:
        The interval [usage], the cost for usage [money/usage], and the share of defects that break [-].

    Example:
        >>> round(best_delay_inspection(0.1, 10.0, 1000.0, 150.0, 50.0)[0], 5)
        3.89745
    """
    from scipy.optimize import minimize_scalar

    def broken(interval: float) -> float:
        return 1.0 + mean_delay / interval * math.expm1(-interval / mean_delay)

    def cost(log_interval: float) -> float:
        interval = math.exp(log_interval)
        share = broken(interval)
        return defects * (breakdown_cost * share + mend_cost * (1.0 - share)) + inspection_cost / interval

    middle = math.log(mean_delay)
    found = minimize_scalar(
        cost, bounds=(middle - 12.0, middle + 8.0), method="bounded", options={"xatol": 1e-12}
    )
    interval = math.exp(float(found.x))
    return interval, float(found.fun), broken(interval)
