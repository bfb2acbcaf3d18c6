"""Weibull life, age replacement, inspection: sections 1 and 3 of the check page on statistics.

W1 to W4: NIST/SEMATECH e-Handbook 8.4.1.3. W14: shock absorbers, Meeker and Escobar (1998). W15: diesel fans,
Nelson (1982). A1: documentation of the library reliability (493.05). The other rows are made data: arithmetic
references by lifelines, surpyval and scipy, no evidence about any part.
"""

from __future__ import annotations

import math

import pytest

from fanwright.errors import InputError
from fanwright.life import replacement
from fanwright.life.weibull import Life, WeibullFit, fit, surviving_share

pytestmark = pytest.mark.published
FAILED_H = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)
SHOCK = (6700, 9120, 12200, 13150, 14300, 17520, 20100, 20900, 22700, 26510, 27490)
SHOCK_RUNNING = (
    6950, 7820, 8790, 9660, 9820, 11310, 11690, 11850, 11880, 12140, 12870, 13330, 13470, 14040, 17540, 17890,
    18450, 18960, 18980, 19410, 20100, 20150, 20320, 23490, 27410, 27890, 28100,
)  # fmt: skip
FANS = (450, 1150, 1150, 1600, 2070, 2070, 2080, 3100, 3450, 4600, 6100, 8750)
FANS_RUNNING = {
    460: 1, 1560: 1, 1660: 1, 1850: 5, 2030: 3, 2200: 1, 3000: 4, 3200: 1, 3750: 2, 4150: 4, 4300: 4, 4850: 4,
    5000: 3, 6100: 3, 6300: 1, 6450: 2, 6700: 1, 7450: 1, 7800: 2, 8100: 2, 8200: 1, 8500: 3, 8750: 2,
    9400: 1, 9900: 1, 10100: 3, 11500: 1,
}  # fmt: skip


def right_censored(
    failed: tuple[int, ...], running: list[int] | tuple[int, ...], level: float = 0.8
) -> WeibullFit:
    return fit([Life.ended(h) for h in failed] + [Life.running(h) for h in running], level)


@pytest.fixture(scope="module")
def nist() -> WeibullFit:
    return right_censored(FAILED_H, [500] * 10, 0.95)


def test_rows_w1_to_w4_nist(nist: WeibullFit) -> None:
    assert nist.scale == pytest.approx(606.52756, abs=1e-5 + 5e-6)
    assert nist.scale == pytest.approx(606.5280, abs=1e-3)
    assert nist.shape == pytest.approx(1.72079726, abs=1e-6)
    assert -nist.log_likelihood == pytest.approx(75.1346182, abs=1e-6)
    assert nist.aic == pytest.approx(154.269236, abs=1e-6)
    assert nist.mean == pytest.approx(540.737, abs=1e-3)
    assert nist.sd == pytest.approx(323.806, abs=1e-3)


def test_rows_w5_to_w8_nist(nist: WeibullFit) -> None:
    assert math.sqrt(nist.covariance[0]) == pytest.approx(0.20594391, abs=1e-5)
    assert math.sqrt(nist.covariance[2]) == pytest.approx(0.29181276, abs=1e-5)
    assert nist.covariance[1] == pytest.approx(-0.02712784, abs=1e-5)
    assert nist.interval("scale") == pytest.approx((405.0893, 908.1348), abs=1e-2)
    assert nist.interval("shape") == pytest.approx((0.971266, 3.048746), abs=1e-4)
    assert (nist.shape_low, nist.shape_high) == pytest.approx((0.905645, 2.885738), abs=1e-5)
    for share, life in ((0.01, 41.86641), (0.10, 164.02244), (0.50, 490.17378)):
        assert nist.usage_at(share) == pytest.approx(life, abs=1e-4)
    assert not nist.wear_out_seen


def test_row_w9_product_limit() -> None:
    lives = [Life.ended(h) for h in FAILED_H] + [Life.running(500)] * 10
    shares = surviving_share(lives)
    assert shares[0] == (54, pytest.approx(0.95, abs=1e-12))
    assert shares[-1] == (386, pytest.approx(0.50, abs=1e-12))


def test_rows_w10_w10b_w10c_inspections() -> None:
    """W10 and its standard errors W10b; W10c is the bias of taking each interval for its middle."""
    counts = {(0, 20): 1, (20, 40): 3, (40, 60): 7, (60, 80): 9, (80, 100): 6}
    lives = [Life(low, high) for (low, high), number in counts.items() for _ in range(number)]
    found = fit(lives + [Life.running(100)] * 4)
    assert (found.scale, found.shape) == pytest.approx((77.98502, 2.802645), rel=1e-5)
    assert found.log_likelihood == pytest.approx(-49.216047, rel=1e-7)
    assert math.sqrt(found.covariance[0]) == pytest.approx(0.0718167, rel=1e-4)
    assert math.sqrt(found.covariance[2]) == pytest.approx(0.1738870, rel=1e-4)
    assert found.covariance[1] == pytest.approx(0.0018802, abs=5e-7)
    middles = [Life.ended((life.low + life.high) / 2) for life in lives]
    wrong = fit(middles + [Life.running(100)] * 4)
    assert (wrong.scale, wrong.shape) == pytest.approx((77.72691, 2.730521), rel=1e-6)


W11 = (31, 44, 52, 58, 63, 70, 75, 82, 60, 90, 55, 95)
W11_ENTRY = (0, 10, 25, 0, 40, 15, 30, 50, 20, 45, 5, 60)


def test_rows_w11_w11b_late_entry() -> None:
    """W11; W11b is the bias of leaving the ages at entry out."""
    lives = [
        (Life.ended if number < 8 else Life.running)(end, entry)
        for number, (end, entry) in enumerate(zip(W11, W11_ENTRY, strict=True))
    ]
    found = fit(lives)
    assert (found.scale, found.shape) == pytest.approx((74.99697, 2.791061), rel=2e-6)
    assert found.log_likelihood == pytest.approx(-38.257582, abs=1e-6)
    blind = fit([Life(life.low, life.high) for life in lives])
    assert (blind.scale, blind.shape) == pytest.approx((78.99023, 3.327325), rel=2e-6)
    assert blind.log_likelihood == pytest.approx(-39.408986, abs=1e-6)


def test_row_w12_mixed() -> None:
    lives = [
        Life.ended(54), Life.ended(70), Life(30, 40), Life(50, 70), Life(65, 85), Life(0, 25), Life(0, 35),
        Life.running(80), Life.running(80),
    ]  # fmt: skip
    found = fit(lives)
    assert (found.scale, found.shape) == pytest.approx((67.48132, 1.929617), rel=1e-6)
    assert found.log_likelihood == pytest.approx(-20.489121, abs=1e-6)


def test_row_w13_inspections_and_late_entry() -> None:
    ends = ((20, 40), (40, 60), (40, 60), (60, 80), (80, 100), (80, math.inf), (100, math.inf))
    found = fit(
        [Life(low, high, entry) for (low, high), entry in zip(ends, (5, 0, 30, 25, 50, 10, 60), strict=True)]
    )
    assert (found.scale, found.shape) == pytest.approx((73.61074, 1.915981), rel=1e-5)
    assert found.log_likelihood == pytest.approx(-9.699332, abs=1e-6)


def test_row_w14_shock_absorbers() -> None:
    found = right_censored(SHOCK, SHOCK_RUNNING)
    assert len(SHOCK) + len(SHOCK_RUNNING) == 38
    assert (found.scale, found.shape) == pytest.approx((27718.718, 3.1604704), rel=1e-6)
    assert math.log(found.scale) == pytest.approx(10.23, abs=0.005)
    assert 1 / found.shape == pytest.approx(0.3164, abs=5e-5)
    assert found.wear_out_seen


def test_row_w15_fans_show_no_wear_out() -> None:
    running = [hours for hours, number in FANS_RUNNING.items() for _ in range(number)]
    assert sum(FANS) + sum(running) == 344_440
    assert len(FANS) + len(running) == 70
    found = right_censored(FANS, running)
    assert (found.scale, found.shape) == pytest.approx((26296.84, 1.058446), rel=1e-6)
    assert not found.wear_out_seen


@pytest.mark.parametrize(
    ("row", "shape", "failure", "age", "rate"),
    [
        ("A1", 2.5, 5.0, 493.04696, 0.0034620427),
        ("A2", 2.5, 10.0, 354.574410, 0.00475054680),
        ("A3", 1.5, 5.0, 675.491992, 0.00493129919),
        ("A4", 4.0, 5.0, 538.402120, 0.00249712491),
    ],
)
def test_rows_a1_to_a4_age(row: str, shape: float, failure: float, age: float, rate: float) -> None:
    found = replacement.best_age(1000.0, shape, 1.0, failure)
    assert found.age == pytest.approx(age, rel=1e-8), row
    assert found.cost_rate == pytest.approx(rate, rel=1e-8, abs=5e-11), row
    assert found.worth_it


def test_row_a1_documented_value_and_run_to_failure() -> None:
    found = replacement.best_age(1000.0, 2.5, 1.0, 5.0)
    assert found.age == pytest.approx(493.05, abs=0.005)
    assert found.run_out_rate == pytest.approx(0.0056353025, rel=1e-8)


def test_row_a5_on_the_nist_life() -> None:
    found = replacement.best_age(606.5276, 1.7208, 200.0, 900.0)
    assert found.age == pytest.approx(370.004366, rel=1e-6)
    assert found.cost_rate == pytest.approx(1.39079358, rel=1e-6)
    assert 100 * found.saving == pytest.approx(16.438, abs=5e-4)


def test_row_a6_no_practical_gain() -> None:
    found = replacement.best_age(1000.0, 2.5, 1.0, 1.2)
    assert found.age == pytest.approx(1941.256, rel=1e-4)
    assert 100 * found.saving == pytest.approx(0.0079, abs=5e-5)
    assert not found.worth_it


def test_row_a7_minimal_repair() -> None:
    found = replacement.best_age_with_minimal_repair(1000.0, 2.5, 1.0, 5.0)
    assert found.age == pytest.approx(446.658388, rel=1e-8)
    assert found.cost_rate == pytest.approx(0.00373141244, rel=1e-8)


@pytest.mark.parametrize(("shape", "failure"), [(1.0, 5.0), (0.8, 5.0), (2.5, 1.0), (2.5, 0.5)])
def test_age_replacement_cannot_pay(shape: float, failure: float) -> None:
    found = replacement.best_age(1000.0, shape, 1.0, failure)
    assert found.age is None
    assert not found.worth_it
    assert found.cost_rate == found.run_out_rate


def test_row_a8_hidden_fault() -> None:
    interval, cost = replacement.best_inspection(0.001, 10.0, 1.0)
    assert interval == pytest.approx(138.165130, rel=1e-6)
    assert cost == pytest.approx(148.165122, rel=1e-6)
    assert math.sqrt(2 * 10 / 0.001) == pytest.approx(141.421356, abs=5e-7)


def test_row_a9_delay_time() -> None:
    interval, cost, broken = replacement.best_delay_inspection(0.1, 10.0, 1000.0, 150.0, 50.0)
    assert interval == pytest.approx(3.897446, rel=1e-5)
    assert cost == pytest.approx(42.435468, rel=1e-7)
    assert broken == pytest.approx(0.171842, rel=1e-5)


def test_too_few_lives_and_contradictions_are_refused() -> None:
    with pytest.raises(InputError) as refused:
        fit([Life(50, 40), Life.ended(10, 20), Life.running(100)])
    assert len(refused.value.messages) == 2
    with pytest.raises(InputError):
        fit([Life.running(100)] * 5)
