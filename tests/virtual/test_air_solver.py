"""The solver itself: compiled equals plain, order of accuracy, an independent stiff solver, mass kept."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from fanwright.errors import FileError
from fanwright.truck.loader import presets
from fanwright.virtual import air, equations, kernels, solver, steps
from fanwright.virtual.air import Circuit, Story, circuit_of, cycles, simulate, simulate_draws, with_faults

STATES = {"held": equations.HELD, "free": equations.FREE}


def sound(name: str = "line-haul spring-on") -> Circuit:
    return circuit_of(presets()[name], 120 * 6894.757293168)


def rates(circuit: Circuit, opening: float, mode: int) -> Any:
    p, size = equations.prepare(circuit.vector(), 1), 9
    derive = kernels.compiled().derivatives

    def f(_: float, y: NDArray[np.float64]) -> NDArray[np.float64]:
        out = np.zeros(size)
        derive(y, out, p, 1, opening, True, True, mode)
        return out

    return f


def begun(circuit: Circuit, opening: float) -> NDArray[np.float64]:
    y = np.zeros(9)
    equations.start(equations.prepare(circuit.vector(), 1), 1, opening, y)
    return y


def leaking() -> Circuit:
    faults = {
        "leak_supply_side": 0.1,
        "leak_drive_line": 0.1,
        "drive_seal_leaks": 0.1,
        "valve_seat_leaks": 0.1,
    }
    return with_faults(sound(), faults)


@pytest.mark.parametrize("mode", STATES)
@pytest.mark.parametrize("segments", [0, 1, 2, 3])
def test_jacobian_against_central_differences(mode: str, segments: int) -> None:
    size, drive = 7 + 2 * segments, 2 + 2 * segments
    p = equations.prepare(leaking().vector(), segments)
    p[equations.WALL_TIME] = 0.7
    y = np.zeros(size)
    y[0], y[1] = 9.0e5, 8.2e5
    y[2 : drive + 1 : 2] = np.linspace(6.5e5, 5.0e5, segments + 1)
    y[3:drive:2] = 0.003
    y[drive + 1], y[drive + 2], y[drive + 3] = 1.1e-3, 0.02, 1.0e-3
    f = np.zeros(size)

    def derive(state: NDArray[np.float64]) -> NDArray[np.float64]:
        out = np.zeros(size)
        equations.derivatives(state, out, p, segments, 0.6, True, True, STATES[mode])
        return out

    f[:] = derive(y)
    chain, rest, a = np.zeros((4, drive + 1)), np.zeros(equations.REST), np.zeros((4, drive + 1))
    equations.matrix(y, f, p, segments, 0.6, True, True, STATES[mode], chain, rest)
    step = 3e-3
    equations.factor(chain, rest, segments, step, a)
    steps_of = np.array([1.0] * size)
    steps_of[3:drive:2] = 1e-6
    steps_of[drive + 1 : drive + 4] = (1e-7, 1e-5, 1e-8)
    jacobian = np.zeros((size, size))
    for j in range(size - 1):
        up, down = y.copy(), y.copy()
        up[j] += steps_of[j]
        down[j] -= steps_of[j]
        jacobian[:, j] = (derive(up) - derive(down)) / (2 * steps_of[j])
    right = f + 0.0
    dense = np.linalg.solve(2.0 / step * np.eye(size) - jacobian, right)
    equations.solve(chain, rest, segments, step, a, right)
    assert right == pytest.approx(dense, rel=2e-5, abs=1e-12)


def test_step_is_of_third_order() -> None:
    circuit, opening = leaking(), 0.6
    f, y0 = rates(circuit, opening, equations.HELD), begun(circuit, 0.0)
    p = equations.prepare(circuit.vector(), 1)
    y0 = solve_ivp(f, (0.0, 0.02), y0, "Radau", rtol=1e-10, atol=1e-9).y[:, -1]
    span = 0.004
    exact = solve_ivp(f, (0.0, span), y0, "Radau", rtol=1e-12, atol=1e-11).y[:, -1]
    errors = []
    for count in (8, 16, 32):
        y, after, spare = y0.copy(), np.zeros(9), np.zeros(18)
        chain, rest, a, k = np.zeros((4, 5)), np.zeros(equations.REST), np.zeros((4, 5)), np.zeros((4, 9))
        for _ in range(count):
            rate = f(0.0, y)
            equations.matrix(y, rate, p, 1, opening, True, True, equations.HELD, chain, rest)
            steps.stages(
                y, rate, p, 1, opening, 0.0, True, True, 0, span / count, chain, rest, a, k, spare, after
            )
            y = after.copy()
        errors.append(abs(y[4] - exact[4]))
    assert errors[0] / errors[1] > 6.0
    assert errors[1] / errors[2] > 6.0


def test_step_is_of_third_order_while_the_valve_travels() -> None:
    circuit = leaking()
    p, span, slope = equations.prepare(circuit.vector(), 1), 0.004, 150.0
    settled = solve_ivp(
        rates(circuit, 0.2, 0), (0.0, 0.02), begun(circuit, 0.0), "Radau", rtol=1e-10, atol=1e-9
    )
    y0 = settled.y[:, -1]
    derive = kernels.compiled().derivatives

    def f(time: float, y: NDArray[np.float64]) -> NDArray[np.float64]:
        out = np.zeros(9)
        derive(y, out, p, 1, 0.2 + slope * time, True, True, equations.HELD)
        return out

    exact = solve_ivp(f, (0.0, span), y0, "Radau", rtol=1e-12, atol=1e-11).y[:, -1]
    errors = []
    for count in (8, 16, 32):
        y, after, spare = y0.copy(), np.zeros(9), np.zeros(18)
        chain, rest, a, k = np.zeros((4, 5)), np.zeros(equations.REST), np.zeros((4, 5)), np.zeros((4, 9))
        for i in range(count):
            opening = 0.2 + slope * span * i / count
            rate = f(span * i / count, y)
            equations.matrix(y, rate, p, 1, opening, True, True, equations.HELD, chain, rest)
            steps.stages(
                y, rate, p, 1, opening, slope, True, True, 0, span / count, chain, rest, a, k, spare, after
            )
            y = after.copy()
        errors.append(abs(y[4] - exact[4]))
    assert errors[0] / errors[1] > 6.0
    assert errors[1] / errors[2] > 6.0


def test_against_another_stiff_solver() -> None:
    # scipy's Radau, which shares only the rates of change; the piston is kept at rest by a strong spring
    circuit = with_faults(sound(), {"leak_drive_line": 0.1})
    held = Circuit(**{**vars(circuit), "preload_n": 1e5, "send_delay_s": 0.0, "switch_time_s": 0.0})
    clock = np.linspace(0.0, 1.0, 401)
    exact = solve_ivp(
        rates(held, 1.0, equations.HELD),
        (0.0, 1.0),
        begun(held, 0.0),
        "Radau",
        rtol=1e-9,
        atol=1e-6,
        t_eval=clock,
    )
    shown = simulate(held, Story(1.0, ((0.0, 1.0),)), clock)
    assert np.max(np.abs(shown.drive_gauge_pa + 101325.0 - exact.y[4])) < 150.0
    assert np.max(np.abs(shown.inlet_gauge_pa[5:] + 101325.0 - exact.y[1][5:])) < 150.0
    tight = simulate(held, Story(1.0, ((0.0, 1.0),)), clock, 1e-9)
    assert np.max(np.abs(tight.drive_gauge_pa + 101325.0 - exact.y[4])) < 1.0


def test_plain_equals_compiled() -> None:
    circuit, story = leaking(), cycles(1, on_s=0.05, off_s=0.05, first_s=0.01, settle_s=0.0)
    clock = np.linspace(0.0, story.duration_s, 12)
    times, targets = np.array([0.01, 0.06]), np.array([0.0, 1.0, 0.0])
    found = []
    for run in (kernels.compiled().run, solver.run):
        result = np.zeros((12, 4))
        status = run(
            circuit.vector(),
            1,
            times,
            targets,
            np.zeros(0),
            False,
            0.0,
            story.duration_s,
            1e-3,
            clock,
            np.array([0, 1, 4, 5]),
            result,
            np.zeros((8, 3)),
            np.zeros(4),
        )
        assert status == solver.DONE
        found.append(result)
    assert found[0] == pytest.approx(found[1], rel=1e-9)


@pytest.mark.parametrize("name", ["line-haul spring-on", "line-haul air-on"])
@pytest.mark.parametrize("fault", [None, *air.FAULTS])
def test_mass_is_kept_whatever_is_wrong(name: str, fault: str | None) -> None:
    circuit = with_faults(sound(name), {} if fault is None else {fault: 0.6})
    story = cycles(2, on_s=1.0, off_s=1.0)
    shown = simulate(circuit, story, np.linspace(0.0, story.duration_s, 50))
    assert shown.mass_moved_kg > 0.0 or fault is not None
    assert abs(shown.mass_error_kg) < 1e-9 * max(shown.mass_moved_kg, 1e-3)


@pytest.mark.parametrize("segments", [0, 1, 2, 4])
def test_isothermal_air_in_the_drive_obeys_the_gas_law(segments: int) -> None:
    # n = 1: pressure times volume must follow the mass that flowed in, which the solver adds up by itself
    circuit = Circuit(**{**vars(sound()), "exponent": 1.0, "line_segments": segments})
    clock, drive = np.linspace(0.0, 2.0, 41), 2 + 2 * segments
    result = np.zeros((41, 3))
    kernels.compiled().run(
        circuit.vector(),
        segments,
        np.array([0.1, 1.2]),
        np.array([0.0, 1.0, 0.0]),
        np.zeros(0),
        False,
        0.0,
        2.0,
        1e-7,
        clock,
        np.array([drive, drive + 1, drive + 3]),
        result,
        np.zeros((0, 3)),
        np.zeros(4),
    )
    half_line = (
        0.0 if segments == 0 else np.pi * circuit.line_bore_m**2 / 8 * circuit.line_length_m / segments
    )
    volume = circuit.dead_volume_m3 + half_line + circuit.piston_area_m2 * result[:, 1]
    mass = result[:, 0] * volume / (287.05287 * 293.15)
    assert mass == pytest.approx(result[:, 2], rel=1e-5)


def test_hot_fill_sags_towards_the_wall_temperature() -> None:
    # adiabatic filling, then slow cooling at a shut drive: the sag of the closed form, nothing lost
    circuit = Circuit(
        **{**vars(sound()), "exponent": 1.4, "wall_time_s": 3.0, "line_segments": 0, "preload_n": 1e5}
    )
    story = Story(40.0, ((0.0, 40.0),), shut=((0.2, 40.0),), shut_at="valve")
    shown = simulate(circuit, story, np.array([0.2, 39.9]), 1e-7)
    hot, cold = shown.drive_gauge_pa + 101325.0
    held = 101325.0 + (hot - 101325.0) / 1.4
    assert cold == pytest.approx(held, rel=0.02)  # some heat is already lost during the fill
    assert cold < 0.9 * hot


def test_draws_equal_single_runs() -> None:
    circuit, story = sound(), cycles(1, on_s=1.0, off_s=1.0)
    clock = np.linspace(0.0, story.duration_s, 60)
    names = ["fill_conductance_m3_per_s_pa", "exponent"]
    draws = np.array([[3e-9, 1.1], [4e-9, 1.3], [5e-9, 1.4]])
    many = simulate_draws(circuit, names, draws, story, clock, threads=2)
    for row, draw in enumerate(draws):
        one = simulate(Circuit(**{**vars(circuit), **dict(zip(names, draw, strict=True))}), story, clock)
        assert np.array_equal(one.drive_gauge_pa, many.drive_gauge_pa[row])
        assert np.array_equal(one.inlet_gauge_pa, many.inlet_gauge_pa[row])


def test_smooth_in_its_parameters() -> None:
    # central differences at two step sizes agree: a fit can rely on slopes
    circuit, story = sound(), cycles(1, on_s=1.5, off_s=1.5)
    clock = np.linspace(0.0, story.duration_s, 350)
    for name in ("fill_conductance_m3_per_s_pa", "exhaust_conductance_m3_per_s_pa", "preload_n"):
        base = getattr(circuit, name)
        shares = np.array([1e-2, -1e-2, 3e-3, -3e-3])
        found = simulate_draws(circuit, [name], base * (1 + shares[:, None]), story, clock).drive_gauge_pa
        wide, close = (found[0] - found[1]) / 0.02, (found[2] - found[3]) / 0.006
        apart = np.sqrt(np.mean((wide - close) ** 2) / np.mean(wide**2))
        assert apart < 0.1, name


def test_cache_key_follows_every_source(monkeypatch: pytest.MonkeyPatch, tmp_path: Any) -> None:
    for room in ("laws", "virtual"):
        (tmp_path / room).mkdir()
    law = tmp_path / "laws" / "air.py"
    law.write_text("a = 1\n")
    (tmp_path / "virtual" / "kernels.py").write_text("b = 1\n")
    monkeypatch.setattr(kernels, "PACKAGE", tmp_path)
    before = kernels.fingerprint.__wrapped__()
    assert kernels.fingerprint.__wrapped__() == before
    law.write_text("a = 2\n")
    assert kernels.fingerprint.__wrapped__() != before
    law.write_text("a = 1\n")
    (tmp_path / "evidence").mkdir()
    (tmp_path / "evidence" / "kernels.py").write_text("c = 1\n")
    assert kernels.fingerprint.__wrapped__() != before


def test_cache_folder_that_cannot_be_made_is_said(monkeypatch: pytest.MonkeyPatch, tmp_path: Any) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    with pytest.raises(FileError):
        kernels.compiled.__wrapped__()


def test_cache_stands_in_the_users_cache_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Any) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert kernels.cache_folder().parent == tmp_path / "fanwright"
