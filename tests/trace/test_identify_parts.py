"""The parts of the identification by themselves, against independent computations."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from fanwright.errors import InputError
from fanwright.evidence.trace.identify_episodes import Gauges, find_episodes
from fanwright.evidence.trace.identify_fit import fit
from fanwright.evidence.trace.identify_interval import Spread, _normal, interval
from fanwright.evidence.trace.identify_machine import machine_of, machine_of_volumes
from fanwright.evidence.trace.identify_model import Model, unknowns
from fanwright.evidence.trace.identify_profile import widening
from fanwright.evidence.trace.identify_start import best_fit
from fanwright.evidence.trace.identify_thin import thin
from fanwright.evidence.trace.phases import Phase
from fanwright.evidence.trace.signal import Grain
from fanwright.laws.air import series_conductance
from fanwright.truck.loader import presets
from fanwright.virtual.air import Story, circuit_of, cycles
from fanwright.virtual.logger import Logger, simulate_trace

PSI = 6894.757293168
MACHINE = machine_of(presets()["line-haul spring-on"])
SOUND = circuit_of(presets()["line-haul spring-on"], 120.0 * PSI)


@pytest.fixture(scope="module")
def model() -> Model:
    trace = simulate_trace(SOUND, cycles(1, 3.0, 4.0, 1.0), Logger(seed=1))
    first, cut = np.searchsorted(trace.time_s, [1.0, 4.0])
    phases = (
        Phase(False, 0, int(first), 0.0, 0.0, False, "switched"),
        Phase(True, int(first), int(cut), 0.995, 0.005, True, "switched"),
        Phase(False, int(cut), trace.time_s.size, 3.995, 0.005, True, "end"),
    )
    grain = Grain(0.2 * PSI, 0.1 * PSI)
    gauges = Gauges(trace.time_s, trace.drive_gauge_pa, trace.supply_gauge_pa, None, grain, grain, True, True)
    episodes = find_episodes(gauges, phases)
    return Model(MACHINE, episodes, unknowns(MACHINE, episodes))


def test_the_episode_holds_the_fill_and_the_vent(model: Model) -> None:
    (one,) = model.episodes
    assert (one.fills, one.vents, one.story.shut) == (True, True, ())
    assert one.start_s == pytest.approx(0.69, abs=0.02)
    assert one.sends_late_s == pytest.approx(0.01)
    assert one.time_s.size < 500


def test_a_fit_never_leaves_its_bounds_and_beats_its_start(model: Model) -> None:
    start = np.array([one.start for one in model.unknowns])
    done = fit(model, start)
    before = model.residuals(start[None])[0]
    assert done.squares < 0.2 * float(before @ before)
    assert all(one.low <= at <= one.high for one, at in zip(model.unknowns, done.point, strict=True))


def test_the_best_fit_is_no_worse_than_one_from_the_truth(model: Model) -> None:
    best = best_fit(model)
    assert best.scatter == pytest.approx(1.0, abs=0.15)
    again = fit(model, best.point)
    assert again.squares == pytest.approx(best.squares, abs=1.0)


def test_the_profile_agrees_with_the_covariance_where_noise_is_small(model: Model) -> None:
    best = best_fit(model)
    for name in ("fill", "exhaust"):
        place = model.place(name)
        assert place is not None
        assert 1.0 <= widening(best, place) < 1.3


def test_the_profile_widens_a_covariance_that_promises_too_much(model: Model) -> None:
    best = best_fit(model)
    place = model.place("fill")
    assert place is not None
    sharper = replace(best, slopes=3.0 * best.slopes)  # promises a third of the true uncertainty
    assert widening(sharper, place) > 1.5


def test_normal_distribution() -> None:
    x = np.linspace(-6.0, 6.0, 241)
    assert np.max(np.abs(_normal(x) - stats.norm.cdf(x))) < 1e-7


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-5.0, 5.0), st.floats(0.1, 3.0)), min_size=1, max_size=6),
    st.floats(0.05, 2.0),
)
def test_interval_of_a_mixture(parts: list[tuple[float, float]], sd: float) -> None:
    middles, weights = np.array(parts).T
    weights = weights / weights.sum()
    found = Spread(middles[:, None], weights, np.array([[sd**2]]), np.zeros(1))
    one = interval(found, np.ones(1))
    for share, at in ((0.1, one.low), (0.5, one.value), (0.9, one.high)):
        assert float(weights @ stats.norm.cdf(at, middles, sd)) == pytest.approx(share, abs=1e-4)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**31), st.sampled_from([20.0, 100.0, 1000.0]))
def test_thinning_keeps_every_row_and_never_reaches_over_a_switch(seed: int, rate: float) -> None:
    rng = np.random.default_rng(seed)
    time = np.arange(0.0, 8.0, 1.0 / rate)
    drive = np.where(time > 2.0, 8e5 * (1.0 - np.exp(-np.maximum(time - 2.0, 0.0) / 0.3)), 0.0)
    drive = drive + 1e3 * rng.standard_normal(time.size)
    thinned = thin(time, drive, Grain(1e3, 0.0), Story(8.1, ((2.0, 7.0),)), 7.0)
    assert int(thinned.counts.sum()) == time.size
    assert np.sum(thinned.mean(drive) * thinned.counts) == pytest.approx(drive.sum())
    for switch in (2.0, 7.0):
        row = int(np.searchsorted(time, switch))
        assert thinned.which[row] != thinned.which[row - 1]


def test_the_line_counts_to_the_path() -> None:
    line = (SOUND.line_conductance_m3_per_s_pa, 0.0)
    assert MACHINE.with_line(4e-9, 0.3, fills=True) == series_conductance([(4e-9, 0.3), line])
    assert MACHINE.with_line(4e-9, 0.3, fills=False) == series_conductance([line, (4e-9, 0.3)])
    plain = machine_of_volumes(2e-4, 0.02, 2.5e-3)
    assert plain.with_line(4e-9, 0.3, fills=True) == (4e-9, 0.3)
    assert math.isclose(plain.line_volume_m3, 0.0)


def test_impossible_volumes_are_refused_all_together() -> None:
    with pytest.raises(InputError) as caught:
        machine_of_volumes(5.0, 5.0, 5.0)
    assert len(caught.value.messages) == 3
