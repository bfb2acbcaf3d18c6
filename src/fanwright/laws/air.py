"""Flow of air through valves, lines and holes (ISO 6358), alone and in a chain.

Pressures are absolute. A conductance C in m3/(s Pa) is 1e-8 times the figure printed in dm3/(s bar).
Volumes of free air are at the reference state of ISO 8778 (20 degC, 100 kPa, 1.185 kg/m3); mass follows from
that density, which is a convention (dry air there weighs 1.1888 kg/m3).
The private functions use ``math`` only and check nothing: they are compiled into the simulation as they are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from fanwright.laws._range import Asked, check

REFERENCE_DENSITY_KG_PER_M3 = 1.185
REFERENCE_TEMPERATURE_K = 293.15
GAS_CONSTANT_J_PER_KG_K = 287.05287
HEAT_RATIO = 1.4
LINEAR_FROM = 0.999
Element = tuple[float, float]
"""One flow element: conductance C in m3/(s Pa) and critical ratio b."""

MOST_CONDUCTANCE = 1.0e-4
LEAST_PRESSURE_PA, MOST_PRESSURE_PA = 1.0e3, 2.0e7
LEAST_TEMPERATURE_K, MOST_TEMPERATURE_K = 200.0, 450.0
_BISECTIONS = 80


def _mass_flow(
    conductance: float,
    critical: float,
    exponent: float,
    cracking: float,
    inlet: float,
    outlet: float,
    temperature: float,
    linear_from: float,
) -> float:
    ratio = outlet / inlet
    closes = 1.0 - cracking / inlet
    if conductance <= 0.0 or ratio >= closes:
        return 0.0
    sonic = (
        REFERENCE_DENSITY_KG_PER_M3 * conductance * inlet * math.sqrt(REFERENCE_TEMPERATURE_K / temperature)
    )
    if ratio <= critical:
        return sonic
    edge = linear_from * closes
    above = (min(ratio, edge) - critical) / (closes - critical)
    inside = 1.0 - above * above
    flow = sonic * (math.sqrt(inside) if exponent == 0.5 else inside**exponent)
    return flow if ratio <= edge else flow * (closes - ratio) / (closes - edge)


def _outlet_pressure(conductance: float, critical: float, inlet: float, flow: float) -> float:
    share = flow / (REFERENCE_DENSITY_KG_PER_M3 * conductance * inlet)
    return inlet * (critical + (1.0 - critical) * math.sqrt(max(0.0, 1.0 - share * share)))


def mass_flow(
    conductance_m3_per_s_pa: float,
    critical_ratio: float,
    inlet_absolute_pa: float,
    outlet_absolute_pa: float,
    temperature_k: float = REFERENCE_TEMPERATURE_K,
    exponent: float = 0.5,
    cracking_pa: float = 0.0,
    linear_from: float = LINEAR_FROM,
) -> float:
    """Mass flow through an element, choked or not.

    Args:
        conductance_m3_per_s_pa: Sonic conductance C, 0 to 1e-4 [m3/(s Pa)].
        critical_ratio: Pressure ratio b at and below which the flow is choked, 0 to 0.9 [-].
        inlet_absolute_pa: Pressure before it, absolute, 1 kPa to 20 MPa [Pa].
        outlet_absolute_pa: Pressure behind it, absolute, 0 to the inlet pressure [Pa].
        temperature_k: Stagnation temperature of the air that enters, 200 to 450 K [K].
        exponent: Subsonic index m, 0.3 to 1; 0.5 is the quarter ellipse [-].
        cracking_pa: Pressure difference below which nothing flows, 0 to a tenth of the inlet [Pa].
        linear_from: Share of the closing ratio above which the flow falls in a straight line to nothing,
            since the ellipse is infinitely steep there; 0.9 to 0.99999 [-].

    Returns:
        Mass flow [kg/s].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        ISO 6358-1:2013, flow equations (not seen; second-hand through open teaching text); the place of the
        cracking pressure in the denominator, 1 - dpc/p1 - b, from memory.

    Example:
        >>> round(mass_flow(2e-8, 0.3, 701300.0, 501300.0) / 1.185 * 60000, 2)  # litres of free air a minute
        677.88
    """
    check(
        *_of_element(conductance_m3_per_s_pa, critical_ratio),
        ("inlet pressure", inlet_absolute_pa, LEAST_PRESSURE_PA, MOST_PRESSURE_PA, "pressure_absolute"),
        ("outlet pressure", outlet_absolute_pa, 0.0, inlet_absolute_pa, "pressure_absolute"),
        _of_temperature(temperature_k),
        ("subsonic index", exponent, 0.3, 1.0, ""),
        ("cracking pressure", cracking_pa, 0.0, 0.1 * inlet_absolute_pa, "pressure"),
        ("share from which the flow is linear", linear_from, 0.9, 0.99999, ""),
    )
    return _mass_flow(
        conductance_m3_per_s_pa,
        min(critical_ratio, 1.0 - cracking_pa / inlet_absolute_pa - 1e-6),
        exponent,
        cracking_pa,
        inlet_absolute_pa,
        outlet_absolute_pa,
        temperature_k,
        linear_from,
    )


def outlet_pressure(
    conductance_m3_per_s_pa: float, critical_ratio: float, inlet_absolute_pa: float, flow_kg_per_s: float
) -> float:
    """Pressure behind an element that passes a known flow of air at 20 degC, m = 0.5.

    Args:
        conductance_m3_per_s_pa: Sonic conductance C, over 0 to 1e-4 [m3/(s Pa)].
        critical_ratio: Critical ratio b, 0 to 0.9 [-].
        inlet_absolute_pa: Pressure before it, absolute, 1 kPa to 20 MPa [Pa].
        flow_kg_per_s: Mass flow, 0 to what chokes it [kg/s].

    Returns:
        Pressure behind it, absolute; the highest that passes the flow when it is choked [Pa].

    Raises:
        OutOfRange: The element cannot pass that flow; the message holds the largest it can.

    Source:
        ISO 6358-1:2013, subsonic equation solved for the outlet pressure.

    Example:
        >>> round(701300.0 - outlet_pressure(3e-8, 0.35, 701300.0, 0.01 * 1.185))
        54784
    """
    most = REFERENCE_DENSITY_KG_PER_M3 * conductance_m3_per_s_pa * inlet_absolute_pa
    check(
        *_of_element(conductance_m3_per_s_pa, critical_ratio, least=1e-15),
        ("inlet pressure", inlet_absolute_pa, LEAST_PRESSURE_PA, MOST_PRESSURE_PA, "pressure_absolute"),
        ("mass flow in kg/s", flow_kg_per_s, 0.0, most, ""),
    )
    return _outlet_pressure(conductance_m3_per_s_pa, critical_ratio, inlet_absolute_pa, flow_kg_per_s)


def conductance_and_ratio(
    choked_flow_kg_per_s: float,
    subsonic_flow_kg_per_s: float,
    inlet_absolute_pa: float,
    outlet_absolute_pa: float,
) -> Element:
    """Find C and b from one choked and one subsonic flow at the same inlet pressure, 20 degC, m = 0.5.

    Args:
        choked_flow_kg_per_s: Flow with the outlet open enough to choke it, over 0 [kg/s].
        subsonic_flow_kg_per_s: Flow against the outlet pressure, over 0 and below the choked flow [kg/s].
        inlet_absolute_pa: Inlet pressure of both, absolute, 1 kPa to 20 MPa [Pa].
        outlet_absolute_pa: Outlet pressure of the subsonic flow, absolute, below the inlet pressure [Pa].

    Returns:
        Conductance C [m3/(s Pa)] and critical ratio b [-].

    Raises:
        OutOfRange: An argument lies outside its range, or the two flows fit no b from 0 to 0.9.

    Source:
        ISO 6358-1:2013, subsonic equation solved for b.

    Example:
        >>> found = conductance_and_ratio(0.01185, 0.00711, 701300.0, 601300.0)
        >>> round(found[0] * 1e8, 4), round(found[1], 4)
        (1.4259, 0.287)
    """
    check(
        ("inlet pressure", inlet_absolute_pa, LEAST_PRESSURE_PA, MOST_PRESSURE_PA, "pressure_absolute"),
        ("outlet pressure", outlet_absolute_pa, 0.0, inlet_absolute_pa * (1 - 1e-9), "pressure_absolute"),
        ("choked flow in kg/s", choked_flow_kg_per_s, 1e-9, 1e3, ""),
        ("subsonic flow in kg/s", subsonic_flow_kg_per_s, 1e-12, choked_flow_kg_per_s * (1 - 1e-9), ""),
    )
    root = math.sqrt(1.0 - (subsonic_flow_kg_per_s / choked_flow_kg_per_s) ** 2)
    ratio = outlet_absolute_pa / inlet_absolute_pa
    critical = (ratio - root) / (1.0 - root)
    check(("critical ratio", critical, 0.0, 0.9, ""))
    return choked_flow_kg_per_s / (REFERENCE_DENSITY_KG_PER_M3 * inlet_absolute_pa), critical


def series_by_squares(conductances_m3_per_s_pa: Sequence[float]) -> float:
    """Conductance of elements one behind the other, by the hand rule of squares (exact where every b is 0).

    Args:
        conductances_m3_per_s_pa: Conductance of each, over 0 to 1e-4 [m3/(s Pa)].

    Returns:
        Conductance of the chain [m3/(s Pa)].

    Raises:
        OutOfRange: A conductance lies outside its range.

    Source:
        Common hand rule, 1/C^2 = sum of 1/Ci^2 (open teaching text on sonic conductance).

    Example:
        >>> round(series_by_squares([1.2e-8, 1.0e-8, 3.0e-8]) * 1e8, 4)
        0.7442
    """
    check(*(_of_element(each, 0.0, least=1e-15)[0] for each in conductances_m3_per_s_pa))
    return 1.0 / math.sqrt(sum(1.0 / each**2 for each in conductances_m3_per_s_pa))


def series_by_cubes(conductances_m3_per_s_pa: Sequence[float]) -> float:
    """Conductance of elements one behind the other, by the hand rule of cubes (a larger figure).

    Args:
        conductances_m3_per_s_pa: Conductance of each, over 0 to 1e-4 [m3/(s Pa)].

    Returns:
        Conductance of the chain [m3/(s Pa)].

    Raises:
        OutOfRange: A conductance lies outside its range.

    Source:
        Hand rule 1/C^3 = sum of 1/Ci^3 (open teaching text on sonic conductance).

    Example:
        >>> round(series_by_cubes([2e-8, 2e-8]) * 1e8, 5)
        1.5874
    """
    check(*(_of_element(each, 0.0, least=1e-15)[0] for each in conductances_m3_per_s_pa))
    return 1.0 / math.cbrt(sum(1.0 / each**3 for each in conductances_m3_per_s_pa))


def parallel(conductances_m3_per_s_pa: Sequence[float]) -> float:
    """Conductance of elements side by side.

    Args:
        conductances_m3_per_s_pa: Conductance of each, 0 to 1e-4 [m3/(s Pa)].

    Returns:
        Conductance of all together [m3/(s Pa)].

    Raises:
        OutOfRange: A conductance lies outside its range.

    Source:
        Flows add: C = sum of Ci (open teaching text on sonic conductance).

    Example:
        >>> round(parallel([1e-8, 2e-8]) * 1e8, 6)
        3.0
    """
    check(*(_of_element(each, 0.0)[0] for each in conductances_m3_per_s_pa))
    return float(sum(conductances_m3_per_s_pa))


def series_flow(elements: Sequence[Element], inlet_absolute_pa: float, outlet_absolute_pa: float) -> float:
    """Mass flow through elements one behind the other at 20 degC, m = 0.5: one flow, marched down the chain.

    Args:
        elements: In flow order, conductance C, over 0 to 1e-4 [m3/(s Pa)], and critical ratio b,
            0 to 0.9 [-].
        inlet_absolute_pa: Pressure before the first, absolute, 1 kPa to 20 MPa [Pa].
        outlet_absolute_pa: Pressure behind the last, absolute, 0 to the inlet pressure [Pa].

    Returns:
        Mass flow [kg/s].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        ISO 6358-3:2014, principle only: same mass flow and stagnation temperature through all elements.

    Example:
        >>> round(series_flow([(2e-8, 0.3), (2e-8, 0.3)], 8e5, 4e5) / 1.185 * 1000, 4)
        11.2695
    """
    check(
        *(entry for element in elements for entry in _of_element(*element, least=1e-15)),
        ("inlet pressure", inlet_absolute_pa, LEAST_PRESSURE_PA, MOST_PRESSURE_PA, "pressure_absolute"),
        ("outlet pressure", outlet_absolute_pa, 0.0, inlet_absolute_pa, "pressure_absolute"),
    )
    low, high = 0.0, _choking_flow(elements, inlet_absolute_pa)
    if _end_pressure(elements, inlet_absolute_pa, high) >= outlet_absolute_pa:
        return high
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        passes = _end_pressure(elements, inlet_absolute_pa, middle) >= outlet_absolute_pa
        low, high = (middle, high) if passes else (low, middle)
    return low


def series_conductance(elements: Sequence[Element]) -> Element:
    """Conductance and critical ratio of elements one behind the other, by marching (m = 0.5).

    Args:
        elements: In flow order, conductance C, over 0 to 1e-4 [m3/(s Pa)], and critical ratio b,
            0 to 0.9 [-].

    Returns:
        Of the chain, the largest flow that can be marched through, as conductance [m3/(s Pa)], and the outlet
        over inlet pressure at which it is reached, as critical ratio [-].

    Raises:
        OutOfRange: An argument lies outside its range.

    Source:
        ISO 6358-3:2014, principle only.

    Example:
        >>> chain = series_conductance([(1.5e-8, 0.35), (3.0e-8, 0.30)])
        >>> round(chain[0] * 1e8, 5), round(chain[1], 3)
        (1.46555, 0.147)
    """
    check(*(entry for element in elements for entry in _of_element(*element, least=1e-15)))
    inlet = 1.0e6
    flow = _choking_flow(elements, inlet)
    return flow / (REFERENCE_DENSITY_KG_PER_M3 * inlet), _end_pressure(elements, inlet, flow) / inlet


def _end_pressure(elements: Sequence[Element], inlet: float, flow: float) -> float:
    pressure = inlet
    for conductance, critical in elements:
        if flow > REFERENCE_DENSITY_KG_PER_M3 * conductance * pressure * (1.0 + 1e-12):
            return -1.0
        pressure = _outlet_pressure(conductance, critical, pressure, flow)
    return pressure


def _choking_flow(elements: Sequence[Element], inlet: float) -> float:
    low, high = 0.0, REFERENCE_DENSITY_KG_PER_M3 * elements[0][0] * inlet
    if _end_pressure(elements, inlet, high) > 0.0:
        return high
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _end_pressure(elements, inlet, middle) > 0.0 else (low, middle)
    return low


def _of_element(conductance: float, critical: float, least: float = 0.0) -> tuple[Asked, Asked]:
    return (
        ("conductance", conductance, least, MOST_CONDUCTANCE, "conductance"),
        ("critical ratio", critical, 0.0, 0.9, ""),
    )


def _of_temperature(temperature: float) -> Asked:
    return ("temperature", temperature, LEAST_TEMPERATURE_K, MOST_TEMPERATURE_K, "temperature")
