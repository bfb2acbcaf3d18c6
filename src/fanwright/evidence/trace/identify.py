"""Identify the air circuit behind a trace: fit a simulation, say what it shows and what not."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np

from fanwright.evidence.trace import identify_words as words
from fanwright.evidence.trace.identify_episodes import MOST_EPISODES, Episode, Gauges, find_episodes
from fanwright.evidence.trace.identify_fit import Fit, fit
from fanwright.evidence.trace.identify_machine import Machine
from fanwright.evidence.trace.identify_model import Extra, Model, unknowns
from fanwright.evidence.trace.identify_numbers import Finder
from fanwright.evidence.trace.identify_result import Curve, Identified, Interval
from fanwright.evidence.trace.identify_start import best_fit
from fanwright.evidence.trace.result import TraceResult
from fanwright.evidence.trace.signal import PSI
from fanwright.virtual.air import simulate
from fanwright.words import Message

__all__ = ["identify"]

LEAST_MOVE_PA = 6.0 * PSI
FEWEST_ROWS = 4
LEFT_IN_DRIVE_PA = 2.5 * PSI
FITS_BADLY_PA, FITS_BADLY_NOISES = 3.0 * PSI, 3.0
BLOCKS, SIGN_SQUARES = 6, 25.0
MORE_THAN_NOISE = 1.2
CLEARLY_SEEN_PA = 0.5 * PSI
NEVER_LIFTS = 30.0  # above every pressure a truck has
STARTS: dict[Extra, tuple[float, ...]] = {
    "cooling": (0.05, 0.3),
    "line_leak": (1.0, 10.0),
}


def identify(
    result: TraceResult, machine: Machine | None, *, curves: bool = False, most: int = MOST_EPISODES
) -> Identified:
    """Identify the air circuit behind a trace.

    Args:
        result: What the trace says by itself.
        machine: The drive it was taken on, or None where its volumes are not known.
        curves: Whether the fit is wanted for a picture.
        most: How many fills and vents are looked at, at most; fewer are quicker and tell a little less [-].

    Returns:
        Conductances, pressures and times with their 80 % intervals; None, and the reason, for what the trace
        cannot tell.
    """
    if machine is None:
        return Identified(cannot_tell=(words.NO_VOLUME,))
    exhibit = result.exhibit
    gauges = Gauges(
        exhibit.time_s,
        exhibit.drive_gauge_pa,
        exhibit.supply_gauge_pa,
        exhibit.shut,
        result.drive_grain,
        result.supply_grain,
        exhibit.air_sent is not None,
        bool(machine.circuit.line_segments),
    )
    found = find_episodes(gauges, result.phases, most)
    episodes = tuple(one for one in (_usable(each) for each in found) if one is not None)
    told = list(_unfit(result, found, episodes))
    if not episodes:
        return Identified(cannot_tell=tuple(told))
    commanded = result.exhibit.air_sent is not None
    possible = _possible(_fitted(result, machine, episodes), commanded=commanded)
    best = possible[0].fit
    drawn = tuple(_curve(best, number) for number in range(len(episodes))) if curves else ()
    return replace(_said(result, possible, told), curves=drawn)


def _usable(one: Episode) -> Episode | None:
    """Leave out of an episode what did not move or was logged too slowly; None if nothing is left."""
    fills = one.fills and one.top_pa > LEAST_MOVE_PA and one.fill_rows >= FEWEST_ROWS
    vents = one.vents and one.fell_pa > LEAST_MOVE_PA and one.vent_rows >= FEWEST_ROWS
    if not (fills or vents):
        return None
    return one if (fills, vents) == (one.fills, one.vents) else _shortened(one, fills, vents)


def _shortened(one: Episode, fills: bool, vents: bool) -> Episode | None:
    """Keep one stroke of an episode: the fill up to where air is cut off, or the vent from where it stood."""
    cut = one.story.sent[0][1]
    last = cut if one.vents else np.inf
    kept = one.time_s < last if fills else one.time_s > cut - 0.2
    if int(kept.sum()) < 2 * FEWEST_ROWS:
        return None
    sent = one.story.sent[0] if fills else (-4.0, cut)
    return replace(
        one,
        story=replace(one.story, sent=(sent,)),
        time_s=one.time_s[kept],
        drive_pa=one.drive_pa[kept],
        drive_sd_pa=one.drive_sd_pa[kept],
        inlet_pa=None if one.inlet_pa is None else one.inlet_pa[kept],
        inlet_sd_pa=None if one.inlet_sd_pa is None else one.inlet_sd_pa[kept],
        fills=fills,
        vents=vents,
    )


def _unfit(
    result: TraceResult, found: tuple[Episode, ...], episodes: tuple[Episode, ...]
) -> Iterator[Message]:
    """Say why a path cannot be identified at all."""
    fills, vents = [one for one in found if one.fills], [one for one in found if one.vents]
    if not found:
        yield words.NO_STROKE
    elif not any(one.fills for one in episodes):
        if not fills:
            yield words.NO_FILL
        elif max(one.top_pa for one in fills) <= LEAST_MOVE_PA:
            yield words.drive_stayed_empty(max(one.top_pa for one in fills))
        else:
            yield words.fill_too_quick(max(one.fill_rows for one in fills), _interval_s(result))
    if found and not any(one.vents for one in episodes):
        if not vents:
            yield words.NO_VENT
        elif max(one.fell_pa for one in vents) <= LEAST_MOVE_PA:
            yield words.drive_stayed_full(max(one.top_pa for one in vents))
        else:
            yield words.vent_too_quick(max(one.vent_rows for one in vents), _interval_s(result))
    if result.exhibit.air_sent is None and found:
        yield words.NO_COMMAND
    if result.exhibit.supply_gauge_pa is None and found:
        yield words.NO_INLET


def _interval_s(result: TraceResult) -> float:
    return float(np.median(np.diff(result.exhibit.time_s[:100_000])))


def _fitted(result: TraceResult, machine: Machine, episodes: tuple[Episode, ...]) -> Fit:
    """Fit; at last let the inlet count less where it takes a course that no reservoir explains."""
    rest = result.levels.drive_rest
    extra: list[Extra] = ["seat"] if rest is not None and rest.value_pa > LEFT_IN_DRIVE_PA else []
    best = best_fit(Model(machine, episodes, unknowns(machine, episodes, extra)))
    best = _explained(best, extra)
    return best if best.scatter < MORE_THAN_NOISE else fit(best.model.eased(best.residuals), best.point)


def _explained(best: Fit, extra: list[Extra]) -> Fit:
    """Try what may explain more than noise, one thing after the other; only a hold shows it."""
    machine, episodes = best.model.machine, best.model.episodes
    if not any(one.story.shut for one in episodes):
        return best
    suspects: tuple[Extra, ...] = ("line_leak", "cooling") if machine.circuit.line_segments else ("cooling",)
    for _ in suspects:
        if best.scatter < MORE_THAN_NOISE and _bent_hold(best) < SIGN_SQUARES:
            break
        before, known = best, [*extra, *(name for name in suspects if best.model.place(name) is not None)]
        for name in suspects:
            if name not in known:
                model = Model(machine, episodes, unknowns(machine, episodes, [*known, name]))
                for start in STARTS[name]:
                    tried = best_fit(model, **{name: start})
                    best = _clearly_better(before, best, tried)
    return best


def _clearly_better(before: Fit, best: Fit, tried: Fit) -> Fit:
    """Take the better of two that both know more, if it is clearly better than the one that knows less."""
    clear = tried.squares < before.squares - SIGN_SQUARES * max(tried.scatter, 1.0)
    return tried if clear and tried.squares < best.squares else best


def _bent_hold(found: Fit) -> float:
    """Squares of the mean differences over sixths of each hold: many if the loss does not run like a leak."""
    total, row = 0.0, 0
    for one in found.model.episodes:
        for begin, until in one.story.shut:
            inside = (one.time_s > begin) & (one.time_s < until)
            parts = np.floor(BLOCKS * (one.time_s[inside] - begin) / (until - begin)).astype(int)
            scaled = found.residuals[row : row + one.time_s.size][inside]
            for part in range(BLOCKS):
                mine = scaled[parts == part]
                total += float(mine.sum()) ** 2 / mine.size if mine.size else 0.0
        row += one.time_s.size * (1 if one.inlet_pa is None else 2)
    return total / max(found.scatter, 1.0)


def _possible(best: Fit, *, commanded: bool) -> list[Finder]:
    """Give the fits that fit about as well, the best first: a piston not seen to move may stand still."""
    found = Finder(best, commanded=commanded)
    lift = found.piston([])[0]
    if lift is not None and lift.sd < CLEARLY_SEEN_PA:
        return [found]
    tried = [best, *(fit(model, best.point) for model in _standing(best.model))]
    least = min(tried, key=lambda each: each.squares)
    most = least.squares + SIGN_SQUARES * max(least.scatter, 1.0)
    near = sorted((one for one in tried if one.squares <= most), key=lambda each: each.squares)
    return [found if one is best else Finder(one, commanded=commanded) for one in near]


def _standing(model: Model) -> Iterator[Model]:
    """Give the models whose piston stands still: at rest, and at the end of its way."""
    circuit = model.machine.circuit
    arrived = circuit.dead_volume_m3 + circuit.piston_area_m2 * circuit.stroke_m
    for dead in (circuit.dead_volume_m3, arrived):
        machine = replace(model.machine, circuit=replace(circuit, dead_volume_m3=dead))
        yield replace(model, machine=machine).held(lift_off=NEVER_LIFTS)


def _together(possible: Sequence[Finder], told: list[Message]) -> Identified:
    """Take the first, each interval reaching over those of the others; what one lacks cannot be told."""
    found = [possible[0].all(told), *(one.all([]) for one in possible[1:])]
    if found[0].lift_off_pa is not None and any(one.lift_off_pa is None for one in found):
        told.append(words.piston_unseen(possible[0].top_pa))
        alike = {name: one for name, one in found[0].alike.items() if name not in ("lift_off", "full_stroke")}
        found[0] = replace(found[0], lift_off_pa=None, full_stroke_pa=None, friction_pa=None, alike=alike)
    wider: dict[str, Any] = {}
    for field in fields(Identified):
        each = [getattr(one, field.name) for one in found]
        if isinstance(each[0], Interval):
            others = [one for one in each if one is not None]
            low, high = min(one.low for one in others), max(one.high for one in others)
            wider[field.name] = Interval(each[0].value, low, high)
    return replace(found[0], **wider)


def _said(result: TraceResult, possible: Sequence[Finder], told: list[Message]) -> Identified:
    """Turn fits into numbers with intervals, or say that they do not fit."""
    best = possible[0].fit
    difference = _difference_pa(best)
    grain = result.drive_grain
    if difference > max(FITS_BADLY_PA, FITS_BADLY_NOISES * grain.row_sd_pa):
        told.append(words.fits_badly(difference))
        return Identified(difference_pa=difference, cannot_tell=tuple(told))
    found = _together(possible, told)
    return replace(
        found,
        difference_pa=difference,
        cannot_tell=tuple(told),
        summary=words.summary(found, best.model.machine),
    )


def _difference_pa(best: Fit) -> float:
    """Root mean square of trace less fit at the drive."""
    left, row = [], 0
    for one in best.model.episodes:
        left.append(best.residuals[row : row + one.time_s.size] * one.drive_sd_pa)
        row += one.time_s.size * (1 if one.inlet_pa is None else 2)
    return float(np.sqrt(np.mean(np.concatenate(left) ** 2)))


def _curve(best: Fit, number: int) -> Curve:
    """Draw the fit over one episode."""
    one = best.model.episodes[number]
    numbers = best.model.numbers(best.point[None], number)
    changed: dict[str, Any] = {name: float(value[0]) for name, value in numbers.items()}
    circuit = replace(best.model.machine.circuit, **changed)
    reopened = float(best.model.column(best.point[None], "reopen", number)[0])
    shown = simulate(circuit, one.told(reopened), np.minimum(one.time_s, one.story.duration_s))
    return Curve(
        one.time_s + one.start_s,
        shown.drive_gauge_pa,
        None if one.inlet_pa is None else shown.inlet_gauge_pa,
        one.drive_pa - shown.drive_gauge_pa,
        tuple((event.time_s + one.start_s, event.drive_gauge_pa) for event in shown.events[:8]),
    )
