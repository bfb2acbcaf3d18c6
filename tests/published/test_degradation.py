"""Degradation and remaining life: section 2 of the check page on statistics.

Published data, rounded to the book's decimals: GaAs lasers and sliding metal wear, Meeker and Escobar (1998).
Their fits: statsmodels, surpyval, lifelines and the closed forms. Case N and rows D are made data, arithmetic
references only. Case N is met twice: by the conjugate line, and by the filter of the forecast as its limit.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from fanwright.life import passage
from fanwright.life.drawing import wear_needed
from fanwright.life.filtering import Batch, Bells, Nuisance, Start, run
from fanwright.life.straight_line import Line, fit_line
from fanwright.life.weibull import Life, fit

pytestmark = pytest.mark.published
Array = NDArray[np.float64]

LASER_ROWS = """
0.47 0.93 2.11 2.72 3.51 4.34 4.91 5.48 5.99 6.72 7.13 8.00 8.92 9.49 9.87 10.94
0.71 1.22 1.90 2.30 2.86 3.75 4.42 4.99 5.51 6.07 6.64 7.16 7.78 8.42 8.91 9.28
0.71 1.17 1.73 1.99 2.53 2.97 3.30 3.94 4.16 4.45 4.89 5.27 5.69 6.02 6.45 6.88
0.36 0.62 1.36 1.95 2.30 2.95 3.39 3.79 4.11 4.50 4.72 4.98 5.28 5.62 5.95 6.14
0.27 0.61 1.11 1.77 2.06 2.58 2.99 3.38 4.05 4.63 5.24 5.62 6.04 6.32 7.10 7.59
0.36 1.39 1.95 2.86 3.46 3.81 4.53 5.35 5.92 6.71 7.70 8.61 9.15 9.95 10.49 11.01
0.36 0.92 1.21 1.46 1.93 2.39 2.68 2.94 3.42 4.09 4.58 4.84 5.11 5.57 6.11 7.17
0.46 1.07 1.42 1.77 2.11 2.40 2.78 3.02 3.29 3.75 4.16 4.76 5.16 5.46 5.81 6.24
0.51 0.93 1.57 1.96 2.59 3.29 3.61 4.11 4.60 4.91 5.34 5.84 6.40 6.84 7.20 7.88
0.41 1.49 2.38 3.00 3.84 4.50 5.25 6.26 7.05 7.80 8.32 8.93 9.55 10.45 11.28 12.21
0.44 1.00 1.57 1.96 2.51 2.84 3.47 4.01 4.51 4.80 5.20 5.66 6.20 6.54 6.96 7.42
0.39 0.80 1.35 1.74 2.98 3.59 4.03 4.44 4.79 5.22 5.48 5.96 6.23 6.99 7.37 7.88
0.30 0.74 1.52 1.85 2.39 2.95 3.51 3.92 5.03 5.47 5.84 6.50 6.94 7.39 7.85 8.09
0.44 0.70 1.05 1.35 1.80 2.55 2.83 3.39 3.72 4.09 4.83 5.41 5.76 6.14 6.51 6.88
0.51 0.83 1.29 1.52 1.91 2.27 2.78 3.42 3.78 4.11 4.38 4.63 5.38 5.84 6.16 6.62
"""
LASERS = np.array([list(map(float, row.split())) for row in LASER_ROWS.split("\n") if row])
HOURS = np.arange(250.0, 4001.0, 250.0)
SLOPES = (
    2.697299, 2.396016, 1.778984, 1.671684, 1.840695, 2.768075, 1.627968, 1.558850, 1.973583, 3.023262,
    1.898235, 2.020749, 2.091979, 1.718235, 1.633663,
)  # fmt: skip
SLIDING = {
    10: ("3.2 4.1 4.5 4.7 5.8 6.8 7.7 9.6", "2.7 3.4 3.8 3.9 5.4 5.7 6.3 8.4",
         "2.1 2.7 3.1 3.3 4.0 4.6 5.7 6.6", "2.6 3.5 4.0 4.0 5.2 6.1 6.7 8.5"),
    50: ("7.5 7.8 8.2 10.6 12.6 13.3 12.9 14.8", "7.5 8.1 9.8 10.9 14.8 16.1 17.3 20.2",
         "7.0 8.9 9.4 11.1 12.4 13.5 16.7 17.3", "7.8 8.9 10.0 11.5 13.7 16.2 16.2 21.0"),
    100: ("12.5 15.4 17.2 20.5 24.1 27.0 29.4 37.9", "11.0 13.9 16.1 18.6 22.2 27.8 31.0 36.6",
          "13.1 15.1 18.6 20.2 23.9 29.7 31.5 39.6", "11.7 13.7 16.7 17.5 22.3 25.3 32.0 38.2"),
}  # fmt: skip
CYCLES = (2, 5, 10, 20, 50, 100, 200, 500)


def slopes() -> Array:
    found: Array = LASERS @ HOURS / (HOURS @ HOURS) * 1000.0
    return found


def test_rows_d1_and_d2_random_rates() -> None:
    assert passage.reached_by_normal_rate(10, 5.5, 0.47, 0.08) == pytest.approx(0.158655, abs=1e-6)
    assert passage.usage_by_normal_rate(0.5, 5.5, 0.47, 0.08) == pytest.approx(11.702128, abs=1e-6)
    assert passage.usage_by_normal_rate(0.1, 5.5, 0.47, 0.08) == pytest.approx(9.606582, abs=1e-6)
    assert passage.usage_by_lognormal_rate(0.5, 5.5, 0.47, 0.18) == pytest.approx(11.702128, abs=1e-6)
    assert passage.usage_by_lognormal_rate(0.1, 5.5, 0.47, 0.18) == pytest.approx(9.291420, abs=1e-6)
    assert passage.reached_by_lognormal_rate(10, 5.5, 0.47, 0.18) == pytest.approx(0.191263, abs=1e-6)
    assert 5.5 / 0.47 * math.exp(0.18**2 / 2) == pytest.approx(11.893246, abs=1e-6)


def test_rows_d3_and_d4_processes() -> None:
    from scipy.optimize import brentq

    assert passage.reached_by_diffusion(10, 5.5, 0.47, 0.25) == pytest.approx(0.17420734, abs=1e-8)
    assert passage.reached_by_gamma_process(10, 5.5, 4.7, 0.1) == pytest.approx(0.12412955, abs=1e-8)
    assert passage.reached_by_gamma_process(12, 5.5, 4.7, 0.1) == pytest.approx(0.55704722, abs=1e-8)
    for share, by_diffusion, by_gamma in ((0.1, 9.483058, 9.810982), (0.5, 11.562621, 11.772973)):
        diffusion = brentq(lambda t, s=share: passage.reached_by_diffusion(t, 5.5, 0.47, 0.25) - s, 1, 50)
        gamma = brentq(lambda t, s=share: passage.reached_by_gamma_process(t, 5.5, 4.7, 0.1) - s, 1, 50)
        assert diffusion == pytest.approx(by_diffusion, abs=1e-6)
        assert gamma == pytest.approx(by_gamma, abs=1e-6)


def test_row_d4_is_met_by_the_closed_form_of_the_forecast() -> None:
    """Birnbaum and Saunders' law stands for the gamma process: within a hundredth for ten bites or more."""
    for z, exact in ((-1.2815515655446004, 9.810982), (0.0, 11.772973)):
        ours = float(wear_needed(np.array(5.5), np.array(0.1), np.array(z))) / 0.47
        assert ours == pytest.approx(exact, rel=0.01)


USAGE_N = (0.0, 1.2, 2.5, 3.9, 5.1, 6.0)
READ_N = (9.52, 8.97, 8.31, 7.68, 7.21, 6.71)
N6 = {
    0.01: 11.202934, 0.05: 11.424574, 0.10: 11.533661, 0.25: 11.708239, 0.50: 11.899497, 0.75: 12.098946,
    0.90: 12.296520, 0.95: 12.428351, 0.99: 12.718564,
}  # fmt: skip


@pytest.fixture(scope="module")
def line() -> Line:
    return fit_line(USAGE_N, READ_N, Line(np.array([9.5, -0.5]), np.diag([25.0, 6.25]), 3.0, 0.03))


def test_rows_n1_to_n5_conjugate(line: Line) -> None:
    assert line.mean == pytest.approx([9.50967266, -0.46301726], abs=1e-7)
    assert line.spread[0] == pytest.approx([0.51829982, -0.11393213], abs=1e-7)
    assert line.spread[1, 1] == pytest.approx(0.03679947, abs=1e-7)
    assert (line.shape, line.scale) == pytest.approx((6, 0.03360197), abs=1e-7)
    assert line.scale / (line.shape - 1) == pytest.approx(0.00672039, abs=1e-8)
    assert line.scale / line.shape == pytest.approx(0.00560033, abs=1e-8)
    sd = np.sqrt(np.diag(line.spread) * line.scale / (line.shape - 1))
    assert sd == pytest.approx([0.05901847, 0.01572600], abs=1e-8)
    scale = np.sqrt(np.diag(line.spread) * line.scale / line.shape)
    assert scale == pytest.approx([0.05387624, 0.01435580], abs=1e-8)
    assert line.log_evidence == pytest.approx(3.343996, abs=1e-6)


def test_rows_n6_to_n9_conjugate(line: Line) -> None:
    for share, usage in N6.items():
        assert line.usage_at(share, 4.0) == pytest.approx(usage, abs=1e-5)
    for share, usage in {
        0.05: 11.347561,
        0.10: 11.475066,
        0.50: 11.899497,
        0.90: 12.355116,
        0.95: 12.505363,
    }.items():
        assert line.usage_at(share, 4.0, read=True) == pytest.approx(usage, abs=1e-5)
    for usage, chance in {10: 1.02709e-6, 11: 0.00201657, 12: 0.63531151, 14: 0.99997327}.items():
        assert line.reached(usage, 4.0) == pytest.approx(chance, abs=1e-6)
    from scipy.stats import t

    freedom, middle, scale = line.thickness(8.0, read=True)
    assert (middle, scale) == pytest.approx((5.805535, 0.107162), abs=1e-6)
    assert (t(freedom, middle, scale).interval(0.95)) == pytest.approx((5.572048, 6.039021), abs=1e-6)


def general_n() -> tuple[Array, Array, Array, float]:
    """Case N by the filter: one bell a value of the error variance, summed over 600 of them.

    Returns:
        Weights, means (thickness, rate) and covariances after the last reading, and the evidence.
    """
    log_variance = np.linspace(math.log(1e-4), math.log(3.0), 1200)
    variance = np.exp(log_variance)
    shape = (len(variance), len(USAGE_N))
    batch = Batch(
        np.broadcast_to(USAGE_N, shape), np.broadcast_to(READ_N, shape),
        np.broadcast_to(variance[:, None], shape), np.zeros(shape, dtype=bool), np.full(len(variance), 6),
    )  # fmt: skip
    lift = variance[:, None, None]
    bells = Bells(np.array([0.5]), 6.25 * lift, np.ones(1), np.ones(1), np.ones(1))
    found = run(
        batch, bells, Nuisance(np.zeros((1, 1)), np.ones(1)), Start(9.5, 25.0 * lift), changes=False
    ).steady
    prior = 3.0 * math.log(0.03) - math.lgamma(3.0) - 3.0 * log_variance - 0.03 / variance
    weight = np.exp(prior + found.log_evidence.ravel()) * (log_variance[1] - log_variance[0])
    evidence = float(weight.sum())
    means = np.stack([found.thickness.ravel(), found.rate.ravel()])
    spread = np.stack(
        [part.ravel() for part in (found.thickness_variance, found.covariance, found.rate_variance)]
    )
    return weight / evidence, means, spread, evidence


def test_case_n_is_a_limit_of_the_general_model() -> None:
    from scipy.optimize import brentq
    from scipy.special import ndtr

    weight, means, spread, evidence = general_n()
    assert math.log(evidence) == pytest.approx(3.343996, abs=1e-6)
    assert weight @ means[1] == pytest.approx(0.46301726, abs=1e-8)

    def reached(usage: float) -> float:
        ahead = usage - 6.0
        sd = np.sqrt(spread[0] - 2 * ahead * spread[1] + ahead**2 * spread[2])
        return float(weight @ ndtr((4.0 - (means[0] - ahead * means[1])) / sd))

    for share, usage in N6.items():
        assert brentq(lambda t, s=share: reached(t) - s, 7, 20, xtol=1e-10) == pytest.approx(usage, abs=1e-5)
    for usage, chance in {10: 1.02709e-6, 11: 0.00201657, 12: 0.63531151, 14: 0.99997327}.items():
        assert reached(usage) == pytest.approx(chance, abs=1e-6)


def test_row_n10_what_emcee_found(line: Line) -> None:
    """32 walkers of 8 000 steps, about 5 600 draws worth: within their own noise."""
    assert line.mean == pytest.approx([9.5090, -0.4628], abs=2e-3)
    for share, usage in ((0.05, 11.421), (0.5, 11.905), (0.95, 12.438)):
        assert line.usage_at(share, 4.0) == pytest.approx(usage, abs=0.02)


def test_row_n11_least_squares_is_the_flat_limit() -> None:
    flat = fit_line(USAGE_N, READ_N, Line(np.zeros(2), np.diag([1e12, 1e12]), 1e-9, 1e-12))
    assert flat.mean == pytest.approx([9.5091857, -0.4628403], abs=1e-6)
    variance = 2 * flat.scale / 4
    assert variance == pytest.approx(0.00174513, abs=1e-8)
    assert np.sqrt(np.diag(flat.spread) * variance) == pytest.approx([0.0304541, 0.0080955], abs=1e-6)


def test_rows_g1_and_g4_slopes() -> None:
    found = slopes()
    assert found == pytest.approx(SLOPES, abs=1e-5)
    mean, sd = float(found.mean()), float(found.std(ddof=1))
    assert (mean, sd) == pytest.approx((2.0466185, 0.4626042), abs=1e-6)
    assert passage.reached_by_normal_rate(4.0, 10, mean, sd) == pytest.approx(0.163527, abs=1e-5)
    assert passage.reached_by_normal_rate(5.0, 10, mean, sd) == pytest.approx(0.540135, abs=1e-5)
    assert 1000 * passage.usage_by_normal_rate(0.1, 10, mean, sd) == pytest.approx(3788.64, abs=0.01)


def test_rows_g2_and_g3_pseudo_lives() -> None:
    lives = 10_000.0 / slopes()
    logs = np.log(lives)
    assert (logs.mean(), logs.std()) == pytest.approx((8.515919, 0.204071), rel=1e-5)
    found = fit([Life.ended(float(life)) for life in lives])
    assert (found.scale, found.shape) == pytest.approx((5482.815, 6.600311), rel=1e-5)
    free = []
    for row in LASERS:
        line = fit_line(
            np.append(0.0, HOURS / 1000),
            np.append(0.0, row),
            Line(np.zeros(2), np.diag([1e12, 1e12]), 1e-9, 1e-12),
        )
        free.append(1000 * (10.0 - line.mean[0]) / line.mean[1])
    assert (free[0], free[7]) == pytest.approx((3702.48, 6540.69), rel=1e-5)
    found = fit([Life.ended(float(life)) for life in free])
    assert (found.scale, found.shape) == pytest.approx((5508.227, 6.403662), rel=1e-5)


def test_row_g5_mixed_model_by_the_filter() -> None:
    """The likelihood that the forecast weighs fleets with, highest where statsmodels' mixed model has it."""
    from scipy.optimize import minimize

    read = np.column_stack([np.zeros(len(LASERS)), LASERS])  # 0 at 0 h counts as a reading there
    shape = read.shape
    usage = np.broadcast_to(np.append(0.0, HOURS / 1000), shape)
    fixed = (usage, -read, np.zeros(shape, dtype=bool), np.full(len(LASERS), shape[1]))

    def loss(point: Array) -> float:
        rate, log_spread, log_error = point
        batch = Batch(fixed[0], fixed[1], np.full(shape, math.exp(log_error)), fixed[2], fixed[3])
        bells = Bells(np.array([rate]), np.array([math.exp(log_spread)]), np.ones(1), np.ones(1), np.ones(1))
        found = run(batch, bells, Nuisance(np.zeros((1, 1)), np.ones(1)), Start(0.0, 0.0), changes=False)
        return -float(found.steady.log_evidence.sum())

    found = minimize(
        loss, np.array([2.0, -1.5, -3.0]), method="Nelder-Mead", options={"xatol": 1e-7, "fatol": 1e-9}
    )
    assert found.x[0] == pytest.approx(2.046618, abs=1e-4)
    assert math.exp(found.x[1]) == pytest.approx(0.199249, abs=1e-4)
    assert math.exp(found.x[2]) == pytest.approx(0.0397775, abs=1e-5)
    assert -found.fun == pytest.approx(3.153383, abs=1e-4)


def test_rows_g6_and_g7_one_rate_for_all() -> None:
    increments = np.diff(LASERS, prepend=0.0).ravel().tolist()
    steps = [250.0] * len(increments)
    drift, diffusion = passage.fit_diffusion(increments, steps)
    assert (drift, diffusion) == pytest.approx((0.00203717, 0.01266135), rel=1e-5)
    assert passage.reached_by_diffusion(4000, 10, drift, diffusion) == pytest.approx(0.011604, abs=1e-5)
    assert passage.reached_by_diffusion(5000, 10, drift, diffusion) == pytest.approx(0.599500, abs=1e-5)
    shape, scale = passage.fit_gamma_process(increments, steps)
    assert (shape, 1 / scale) == pytest.approx((0.0287430, 14.10929), rel=1e-5)
    assert passage.reached_by_gamma_process(4000, 10, shape, scale) == pytest.approx(0.010631, abs=1e-5)
    assert passage.reached_by_gamma_process(5000, 10, shape, scale) == pytest.approx(0.576210, abs=1e-5)


def test_row_g8_crossings_seen() -> None:
    lives = [Life(3750, 4000), Life(3500, 3750), Life(3250, 3500), *[Life.running(4000)] * 12]
    found = fit(lives)
    assert (found.scale, found.shape) == pytest.approx((4577.654, 11.01995), rel=1e-4)
    assert found.log_likelihood == pytest.approx(-11.531823, abs=1e-5)


def test_row_g9_sliding_wear() -> None:
    """ln w = a + b ln cycles + c ln load, least squares by numpy: wear grows slower than its cause.

    Cycles count in hundreds. The fit printed is of unrounded widths; these are rounded to 0.1 um: 1e-4.
    """
    rows = [
        (1.0, math.log(cycles), math.log(load), math.log(float(width)))
        for load, units in SLIDING.items()
        for unit in units
        for cycles, width in zip(CYCLES, unit.split(), strict=True)
    ]
    table = np.array(rows)
    found, rest, _, _ = np.linalg.lstsq(table[:, :3], table[:, 3], rcond=None)
    assert found == pytest.approx([-0.648414, 0.190840, 0.648906], abs=1e-4)
    assert math.sqrt(float(rest[0]) / (len(rows) - 3)) == pytest.approx(0.124687, abs=1e-4)


def test_spread_between_units_must_be_in_the_model() -> None:
    """3 of 15 lasers had failed by 4 000 h: a random rate says 16 %, one rate for all says 1 %."""
    found = slopes()
    by_rate = passage.reached_by_normal_rate(4.0, 10, float(found.mean()), float(found.std(ddof=1)))
    assert 0.1 < by_rate < 0.3
