"""Life-data programs, each first shown to reproduce a published fit before we compare ours with it.

NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3: the Weibull fit to 10 failures and 10 units still
running at 500 h prints shape 1.7208, scale 606.5280 and log-likelihood -75.135. The exact maximum lies at
shape 1.72079726, scale 606.52756, log-likelihood -75.1346182: the printed scale is 0.00044 h off.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from fanwright.life.replacement import best_age
from fanwright.life.weibull import Life, fit

FAILED_H = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0]
RUNNING_H = [500.0] * 10
SHAPE, SCALE_H, LOG_LIKELIHOOD = 1.7208, 606.5280, -75.135


def check(shape: float, scale_h: float, log_likelihood: float) -> None:
    """Compare a fit with the printed digits."""
    assert shape == pytest.approx(SHAPE, abs=5e-5)
    assert scale_h == pytest.approx(SCALE_H, abs=1e-3)
    assert log_likelihood == pytest.approx(LOG_LIKELIHOOD, abs=5e-4)


def test_lifelines_reproduces_nist_8_4_1_3() -> None:
    """Shape, scale and likelihood by lifelines."""
    from lifelines import WeibullFitter

    fit = WeibullFitter().fit(FAILED_H + RUNNING_H, [1] * len(FAILED_H) + [0] * len(RUNNING_H))
    check(fit.rho_, fit.lambda_, fit.log_likelihood_)


def test_reliability_reproduces_nist_8_4_1_3() -> None:
    """Shape, scale and likelihood by reliability."""
    from reliability.Fitters import Fit_Weibull_2P

    fit = Fit_Weibull_2P(
        failures=FAILED_H, right_censored=RUNNING_H, show_probability_plot=False, print_results=False
    )
    check(fit.beta, fit.alpha, fit.loglik)


def test_surpyval_reproduces_nist_8_4_1_3() -> None:
    """Shape, scale and likelihood by surpyval."""
    import surpyval

    fit = surpyval.Weibull.fit(x=FAILED_H + RUNNING_H, c=[0] * len(FAILED_H) + [1] * len(RUNNING_H))
    scale, shape = (float(each) for each in fit.params)
    check(shape, scale, -float(fit.neg_ll()))


def made_lives(seed: int) -> list[Life]:
    """Made lives of one Weibull law (shape 2.5, scale 100), looked at now and then; entered late in part."""
    rng = np.random.default_rng(seed)
    lives: list[Life] = []
    while len(lives) < 60:
        end, entry, stop = 100.0 * rng.weibull(2.5), rng.uniform(0.0, 40.0), rng.uniform(60.0, 160.0)
        if end <= entry:
            continue  # gone before it could be watched
        if end > stop:
            lives.append(Life.running(max(stop, entry + 1.0), entry))
        elif rng.random() < 0.4:
            lives.append(Life.ended(end, entry))
        else:
            low = max(entry, 20.0 * math.floor(end / 20.0))
            lives.append(Life(low, 20.0 * math.ceil(end / 20.0), entry))
    return lives


@pytest.mark.parametrize("seed", range(4))
def test_ours_equals_surpyval(seed: int) -> None:
    """Exact, interval and right-censored lives with late entry."""
    import surpyval

    lives = made_lives(seed)
    codes = [0 if one.low == one.high else 1 if math.isinf(one.high) else 2 for one in lives]
    values = [[one.low, one.high] if code == 2 else one.low for one, code in zip(lives, codes, strict=True)]
    theirs = surpyval.Weibull.fit(x=values, c=codes, tl=[one.entry for one in lives])
    ours = fit(lives)
    assert [ours.scale, ours.shape] == pytest.approx([float(each) for each in theirs.params], rel=1e-4)


@pytest.mark.parametrize("seed", range(4))
def test_ours_equals_lifelines_with_looks_and_late_entry(seed: int) -> None:
    """The same lives, an end that was seen given as an interval without width."""
    from lifelines import WeibullFitter

    lives = made_lives(seed)
    theirs = WeibullFitter().fit_interval_censoring(
        [one.low for one in lives],
        [one.high for one in lives],
        entry=[one.entry for one in lives],
        initial_point=np.array([100.0, 2.0]),
    )
    ours = fit(lives)
    assert [ours.scale, ours.shape] == pytest.approx([theirs.lambda_, theirs.rho_], rel=1e-3)
    assert ours.log_likelihood == pytest.approx(theirs.log_likelihood_, abs=1e-3)


def test_left_censored_lives_equal_surpyval() -> None:
    """Ends that came before the first look, among the others."""
    import surpyval

    lives = [Life(0.0, 25.0), Life(0.0, 35.0), Life(30.0, 40.0), Life.ended(54.0), Life.ended(70.0)]
    lives += [Life(50.0, 70.0), Life(65.0, 85.0), Life.running(80.0), Life.running(80.0)]
    theirs = surpyval.Weibull.fit(
        x=[25.0, 35.0, [30.0, 40.0], 54.0, 70.0, [50.0, 70.0], [65.0, 85.0], 80.0, 80.0],
        c=[-1, -1, 2, 0, 0, 2, 2, 1, 1],
    )
    ours = fit(lives)
    assert [ours.scale, ours.shape] == pytest.approx([float(each) for each in theirs.params], rel=1e-4)


@pytest.mark.parametrize(("shape", "failure"), [(2.5, 5.0), (1.5, 5.0), (4.0, 5.0), (2.5, 10.0)])
def test_age_replacement_equals_reliability_on_its_grid(shape: float, failure: float) -> None:
    """It looks at 10,000 ages and takes the best: within 0.05 % of the root of the slope."""
    from reliability.Repairable_systems import optimal_replacement_time

    theirs = optimal_replacement_time(
        cost_PM=1.0, cost_CM=failure, weibull_alpha=1000.0, weibull_beta=shape,
        show_time_plot=False, show_ratio_plot=False, print_results=False,
    )  # fmt: skip
    ours = best_age(1000.0, shape, 1.0, failure)
    assert ours.age == pytest.approx(theirs.ORT, rel=5e-4)
    assert ours.cost_rate == pytest.approx(theirs.min_cost, rel=1e-5)
