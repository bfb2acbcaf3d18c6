"""statsmodels, first shown to reproduce a published gauge study, then compared with our own repeats.

The study is the worked example of the AIAG manual Measurement Systems Analysis, 4th edition: 10 parts, 3
appraisers, 3 trials. Its sums of squares are printed in independent public copies to the digits used here.
"""

from __future__ import annotations

import math

import pytest

from fanwright.evidence.uncertainty import repeats

STUDY = """
A  0.29 -0.56 1.34 0.47 -0.80  0.02 0.59 -0.31 2.26 -1.36
A  0.41 -0.68 1.17 0.50 -0.92 -0.11 0.75 -0.20 1.99 -1.25
A  0.64 -0.58 1.27 0.64 -0.84 -0.21 0.66 -0.17 2.01 -1.31
B  0.08 -0.47 1.19 0.01 -0.56 -0.20 0.47 -0.63 1.80 -1.68
B  0.25 -1.22 0.94 1.03 -1.20  0.22 0.55  0.08 2.12 -1.62
B  0.07 -0.68 1.34 0.20 -1.28  0.06 0.83 -0.34 2.19 -1.50
C  0.04 -1.38 0.88 0.14 -1.46 -0.29 0.02 -0.46 1.77 -1.49
C -0.11 -1.13 1.09 0.20 -1.07 -0.67 0.01 -0.56 1.45 -1.77
C -0.15 -0.96 0.67 0.11 -1.45 -0.49 0.21 -0.49 1.87 -2.16
"""
SUMS_OF_SQUARES = {
    "C(part)": 88.361934,
    "C(appraiser)": 3.167262,
    "C(part):C(appraiser)": 0.358982,
    "Residual": 2.758933,
}


def test_statsmodels_reproduces_the_aiag_gauge_study() -> None:
    """Sums of squares of parts, appraisers, their interaction and the rest."""
    import pandas
    from statsmodels.api import stats
    from statsmodels.formula.api import ols

    rows = [line.split() for line in STUDY.strip().splitlines()]
    table = pandas.DataFrame(
        [(row[0], part, float(value)) for row in rows for part, value in enumerate(row[1:])],
        columns=["appraiser", "part", "value"],
    )
    found = stats.anova_lm(ols("value ~ C(part) * C(appraiser)", table).fit())["sum_sq"]
    for name, printed in SUMS_OF_SQUARES.items():
        assert found[name] == pytest.approx(printed, abs=1e-6), name
    assert found.sum() == pytest.approx(94.647112, abs=1e-6)


@pytest.mark.parametrize(
    "readings", [(2.1, 2.0), (0.29, 0.41, 0.64), tuple(0.0075 + i * 3.1e-6 for i in range(12))]
)
def test_repeats_agree_with_statsmodels(readings: tuple[float, ...]) -> None:
    """Mean, spread and uncertainty of the mean."""
    from statsmodels.stats.weightstats import DescrStatsW

    theirs = DescrStatsW(readings)
    ours = repeats(readings)
    assert ours.mean_si == pytest.approx(float(theirs.mean), rel=1e-12)
    assert ours.sd_of_mean_si == pytest.approx(float(theirs.std_mean), rel=1e-9)
    assert ours.sd_si == pytest.approx(float(theirs.std_ddof(1)), rel=1e-9)
    assert ours.sd_si == pytest.approx(ours.sd_of_mean_si * math.sqrt(len(readings)), rel=1e-12)
