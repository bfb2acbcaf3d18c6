"""Scores of forecasts: rows Q1 to Q11 of the check page on statistics; outside library scoringrules."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fanwright.life import scoring

pytestmark = pytest.mark.published


@pytest.mark.parametrize(
    ("row", "outcome", "mean", "sd", "score"),
    [
        ("Q1", 0, 0, 1, 0.2336949773), ("Q1", 1, 0, 1, 0.6024413576), ("Q1", 2, 0, 1, 1.4527918217),
        ("Q2", 3.5, 3, 0.25, 0.3631979554),
    ],
)  # fmt: skip
def test_rows_q1_and_q2_normal(row: str, outcome: float, mean: float, sd: float, score: float) -> None:
    assert scoring.crps_normal(outcome, mean, sd) == pytest.approx(score, abs=1e-9), row


def test_row_q3_draws() -> None:
    assert scoring.crps_draws(1, [0, 1, 3]) == pytest.approx(1 / 3, abs=1e-12)
    assert scoring.crps_draws(1, [0, 1, 3], fair=True) == pytest.approx(0, abs=1e-12)


def test_rows_q4_and_q5() -> None:
    assert scoring.pinball(1, 0.5, 0.9) == pytest.approx(0.45, abs=1e-12)
    assert scoring.pinball(0, 0.5, 0.9) == pytest.approx(0.05, abs=1e-12)
    assert scoring.interval_score(1, -1, 0.8, 0.9) == pytest.approx(5.8, abs=1e-12)


def test_row_q6_weibull() -> None:
    assert scoring.crps_weibull(80, 100, 2) == pytest.approx(11.1317356001, abs=1e-8)


def test_rows_q7_and_q8_by_draws() -> None:
    """Student t, Poisson and lognormal by even draws of the quantile function: no closed form is needed."""
    from scipy import stats

    even = [(number + 0.5) / 200_000 for number in range(200_000)]
    t = stats.t(12, 5.80553454, 0.10716233).ppf(even)
    assert scoring.crps_draws(5.7, list(t)) == pytest.approx(0.0634578878, abs=1e-6)
    lognormal = stats.lognorm(0.4, scale=math.exp(1.5)).ppf(even)
    assert scoring.crps_draws(5, list(lognormal)) == pytest.approx(0.4851628637, abs=1e-5)
    poisson = stats.poisson(2).ppf(even)
    assert scoring.crps_draws(3, list(poisson)) == pytest.approx(0.6645295768, abs=1e-5)


def test_row_q9_brier_in_parts() -> None:
    chances, outcomes = [0.1, 0.1, 0.4, 0.4, 0.8, 0.8, 0.8, 0.9], [0, 0, 0, 1, 1, 1, 0, 1]
    score, reliability, resolution, base = scoring.brier(chances, outcomes)
    assert score == pytest.approx(0.15875, abs=1e-12)
    assert (reliability, resolution, base) == pytest.approx((0.0129166667, 0.1041666667, 0.25), abs=5e-11)
    assert score == pytest.approx(reliability - resolution + base, abs=1e-12)


def test_row_q10_coverage() -> None:
    assert scoring.coverage_band(50, 0.9) == (41, 49)


def test_row_q11_uniformity() -> None:
    """A gap of 0.188406 over 50 outcomes has a chance of 5 %."""
    values = [(rank - 0.5) / 50 for rank in range(1, 51)]
    shifted = [max(0.0, value - (0.188406 - 0.01)) for value in values]
    assert scoring.uniform_by_chance(shifted) == pytest.approx(0.05, abs=1e-4)
    assert scoring.uniform_by_chance(values) > 0.999


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.floats(-100, 100), min_size=2, max_size=30),
    st.floats(-100, 100), st.floats(0.1, 20), st.floats(0.05, 0.95),
)  # fmt: skip
def test_against_scoringrules(draws: list[float], outcome: float, sd: float, share: float) -> None:
    import numpy as np
    import scoringrules

    for fair, name in ((False, "nrg"), (True, "fair")):
        theirs = float(scoringrules.crps_ensemble(outcome, np.array(draws), estimator=name))
        assert scoring.crps_draws(outcome, draws, fair=fair) == pytest.approx(theirs, abs=1e-9)
    theirs = float(scoringrules.crps_normal(outcome, draws[0], sd))
    assert scoring.crps_normal(outcome, draws[0], sd) == pytest.approx(theirs, abs=1e-9)
    assert scoring.pinball(outcome, draws[0], share) == pytest.approx(
        float(scoringrules.quantile_score(outcome, draws[0], share)), abs=1e-9
    )


def test_crps_of_weibull_is_the_integral_of_pinball() -> None:
    from scipy.integrate import quad

    def loss(share: float) -> float:
        return scoring.pinball(70.0, 100.0 * (-math.log1p(-share)) ** (1 / 2.5), share)

    kink = -math.expm1(-((70 / 100) ** 2.5))
    whole = quad(loss, 0, kink)[0] + quad(loss, kink, 1)[0]
    assert scoring.crps_weibull(70.0, 100.0, 2.5) == pytest.approx(2 * whole, rel=1e-7)
