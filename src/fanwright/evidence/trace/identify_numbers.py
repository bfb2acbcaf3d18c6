"""Numbers with intervals out of a fit, and the reason where there is none."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fanwright.evidence.trace import identify_words as words
from fanwright.evidence.trace.identify_fit import Fit
from fanwright.evidence.trace.identify_interval import MODEL_SHARE, Spread, interval, spread
from fanwright.evidence.trace.identify_model import DELAY_S, LEAK, PRESSURE_PA, SUPPLY
from fanwright.evidence.trace.identify_profile import ENDS, widening
from fanwright.evidence.trace.identify_result import Alike, Identified, Interval
from fanwright.evidence.trace.signal import PSI
from fanwright.laws.air import GAS_CONSTANT_J_PER_KG_K, REFERENCE_DENSITY_KG_PER_M3
from fanwright.words import Message

Series = NDArray[np.float64]

PISTON_KNOWN_PA = 4.0 * PSI
MODEL_SD_PA = 0.15 * PSI  # how far the piston we reckon with may move apart from the real one; assumption
LITTLE_FRICTION_PA = 3.0 * PSI
HOLDS_MORE = (
    0.15  # what holds a sticking piston lies above what slows it by a share this uncertain; assumption
)
WIDEST_SHARE = 3.0
LARGEST_BELIEVED = 5.0e-8  # a quarter-inch line alone passes about 3.3e-8
MUCH_LOST = 0.05
DIPS_SHARE, LEAST_LOSS = 0.15, 1.0e-3
HOLD_ALIKE, HOLD_PARTS = 0.75, 5  # chance that a slow hold has the exponent of the strokes; assumption


class Finder:
    """Reads numbers with intervals out of a fit.

    Args:
        best: The fit.
        commanded: Whether the trace says when air was sent.
    """

    def __init__(self, best: Fit, *, commanded: bool) -> None:
        self.fit, self.model, self.spread, self.commanded = best, best.model, spread(best), commanded
        self.misfit = math.sqrt(max(best.scatter, 1.0))  # what the model lacks grows with what it leaves
        self.rate = np.log(self.model.per_rate(self.spread.points))

    @property
    def top_pa(self) -> float:
        """The highest the drive stood [Pa]."""
        return max(one.top_pa for one in self.model.episodes)

    def weight(self, **unknown: float) -> Series:
        """Weigh unknowns by name, shape (unknowns,)."""
        linear = np.zeros(self.fit.point.size)
        for name, factor in unknown.items():
            place = self.model.place(name)
            assert place is not None
            linear[place] = factor
        return linear

    def all(self, told: list[Message]) -> Identified:
        """Give every number; what cannot be told is added to a list."""
        leak = self.leak(told)
        lift_off, full_stroke, friction = self.piston(told)
        line_leak = self.sign_of("line_leak")
        fill, exhaust = self.path("fill", told), self.path("exhaust", told)
        exhaust = self.with_what_is_lost(exhaust, fill, line_leak or leak, told)
        known = {
            "fill": fill,
            "exhaust": exhaust,
            "leak": leak,
            "lift_off": lift_off,
            "full_stroke": full_stroke,
        }
        return Identified(
            fill=fill,
            exhaust=exhaust,
            leak=leak,
            supply=self.supply(told),
            seat=self.sign_of("seat"),
            line_leak=line_leak,
            lift_off_pa=lift_off,
            full_stroke_pa=full_stroke,
            friction_pa=friction,
            send_response_s=self.response("send") if self.commanded else None,
            cut_response_s=self.response("cut") if self.commanded else None,
            hold_loss_pa_per_s=self.hold_loss(leak),
            sag_pa=self.sag(),
            exponent=_through(interval(self.spread, self.weight(exponent=1.0)), math.exp),
            alike={name: one for name, one in self.alike() if known[name] is not None},
        )

    def alike(self) -> Iterator[tuple[str, Alike]]:
        """Give what can be compared with another trace of the same drive, volumes and exponent alike."""
        for name in ("fill", "exhaust"):
            place = self.model.place(name)
            if place is not None:
                value = math.exp(float(self.spread.given[place])) * LEAK
                sd = math.hypot(math.sqrt(float(self.spread.covariance[place, place])), MODEL_SHARE)
                yield name, Alike(value, value * sd)
        pressures = {"lift_off": self.weight(lift_off=PRESSURE_PA)}
        pressures["full_stroke"] = self.weight(lift_off=PRESSURE_PA, span=PRESSURE_PA)
        for name, linear in ({"leak": self.weight(leak=LEAK)} | pressures).items():
            sd = math.sqrt(max(float(linear @ self.spread.covariance @ linear), 0.0))
            sd = sd if name == "leak" else math.hypot(sd, MODEL_SD_PA)
            yield name, Alike(float(linear @ self.spread.given), sd)

    def path(self, name: str, told: list[Message]) -> Interval | None:
        """Give the conductance of the fill or exhaust path, drive line included."""
        place = self.model.place(name)
        if place is None:
            return None
        sure = _widened(self.spread, place, widening(self.fit, place))
        found = interval(sure, self.weight(**{name: 1.0}), self.rate, extra_sd=MODEL_SHARE * self.misfit)
        ratio = float(min(max(self.fit.point[self.model.place(name + "_ratio") or 0], 0.0), 0.6))
        if found.high - found.low > math.log(WIDEST_SHARE):
            told.append(words.PATH_UNKNOWN[name])
            return None
        if math.exp(found.low) * LEAK > LARGEST_BELIEVED:
            told.append(words.GAUGE_MISPLACED[name])
            return None
        machine = self.model.machine
        return _through(
            found, lambda at: machine.with_line(math.exp(at) * LEAK, ratio, fills=name == "fill")[0]
        )

    def with_what_is_lost(
        self, exhaust: Interval | None, fill: Interval | None, lost: Interval | None, told: list[Message]
    ) -> Interval | None:
        """Let the exhaust reach up to all that lets air out, where much is lost while air is sent.

        A leak and an exhaust that stays open while air is sent show the same course, filling and venting.
        """
        shut_off = any(one.story.shut for one in self.model.episodes)
        if exhaust is None or fill is None or lost is None or lost.low < MUCH_LOST * fill.value:
            return exhaust
        if shut_off and self.model.place("line_leak") is None:
            return exhaust
        told.append(words.LOST_EITHER_WAY)
        return Interval(exhaust.value, exhaust.low, exhaust.high + lost.high)

    def sign_of(self, name: str) -> Interval | None:
        """Give a leak that was fitted only where the trace shows signs of it."""
        return None if self.model.place(name) is None else self.small(name, self.spread, np.exp(self.rate))

    def small(self, name: str, among: Spread, factor: Series) -> Interval:
        """Give a conductance that may be nothing."""
        found = interval(among, self.weight(**{name: LEAK}), factor=factor)
        return Interval(*(max(each, 0.0) for each in (found.value, found.low, found.high)))

    def leak(self, told: list[Message]) -> Interval | None:
        """Give the leak; a slow hold need not have the exponent of a stroke, unless cooling is fitted."""
        held = any(one.story.shut for one in self.model.episodes)
        if not held and all(one.inlet_pa is None or not one.fills for one in self.model.episodes):
            return None
        if not held or self.model.place("cooling") is not None:
            found = self.small("leak", self.spread, np.exp(self.rate))
        else:
            found = self.small("leak", *self._slow())
        if not held and found.low <= 0.0:
            told.append(words.leak_hidden_below(found.high))
        return found

    def _slow(self) -> tuple[Spread, Series]:
        """Let a slow hold have the exponent of the strokes, or one nearer to 1; gives what that does.

        Air that changes more slowly has more time to take on heat, so its exponent is that of the strokes at
        most and 1 at least.
        """
        stroke = np.exp(self.spread.points[:, self.model.place("exponent") or 0])
        shares = np.append(np.full(HOLD_PARTS, (1.0 - HOLD_ALIKE) / HOLD_PARTS), HOLD_ALIKE)
        places = np.append((np.arange(HOLD_PARTS) + 0.5) / HOLD_PARTS, 1.0)
        held = 1.0 + (stroke[:, None] - 1.0) * places
        wider = replace(
            self.spread,
            points=np.repeat(self.spread.points, shares.size, axis=0),
            weights=(self.spread.weights[:, None] * shares).ravel(),
        )
        factor: Series = ((np.exp(self.rate) * stroke)[:, None] / held).ravel()
        return wider, factor

    def supply(self, told: list[Message]) -> Interval | None:
        """Give the conductance up to the inlet gauge, where the inlet dips enough to tell."""
        place = self.model.place("supply_loss")
        if place is None or not any(one.fills for one in self.model.episodes):
            return None
        loss = interval(self.spread, self.weight(supply_loss=1.0))
        if loss.low <= DIPS_SHARE * loss.high:
            told.append(words.supply_wide(SUPPLY / math.sqrt(max(loss.high, LEAST_LOSS))))
            return None
        return Interval(*(SUPPLY / math.sqrt(each) for each in (loss.value, loss.high, loss.low)))

    def piston(self, told: list[Message]) -> tuple[Interval | None, Interval | None, Interval | None]:
        """Give lift-off and full-stroke pressure and friction, where the trace shows the piston moving."""
        scale = PRESSURE_PA
        top = self.top_pa
        if self.model.holds("lift_off"):
            told.append(words.piston_unseen(top))
            return None, None, None
        friction = interval(self.spread, self.weight(friction=scale))
        sticks = HOLDS_MORE * max(friction.value - LITTLE_FRICTION_PA, 0.0)
        apart = math.hypot(MODEL_SD_PA * self.misfit, sticks)
        lift = interval(self.spread, self.weight(lift_off=scale), extra_sd=apart)
        full = interval(self.spread, self.weight(lift_off=scale, span=scale), extra_sd=apart)
        known_lift = lift.sd < PISTON_KNOWN_PA and 0.0 < lift.value < top
        known_full = known_lift and full.sd < PISTON_KNOWN_PA and full.value < top
        if not known_lift:
            told.append(words.piston_unseen(top))
        elif not known_full:
            told.append(words.full_stroke_unseen(top))
        both = any(one.fills for one in self.model.episodes) and any(one.vents for one in self.model.episodes)
        return (
            lift if known_lift else None,
            full if known_full else None,
            Interval(*(max(each, 0.0) for each in (friction.value, friction.low, friction.high)))
            if known_full and both
            else None,
        )

    def response(self, what: str) -> Interval | None:
        """Give how late the valve answers: the mean over the episodes; a command is known to half a row."""
        middles, squares = [], []
        for number, one in enumerate(self.model.episodes):
            place = self.model.place(what, number)
            if place is None:
                continue
            late = one.sends_late_s if what == "send" else one.cuts_late_s
            linear = np.zeros(self.fit.point.size)
            linear[place] = DELAY_S
            found = interval(self.spread, linear)
            middles.append(found.value - late / 2.0)
            squares.append(found.sd**2 + late**2 / 12.0)
        if not middles:
            return None
        mean, sd = float(np.mean(middles)), math.sqrt(sum(squares)) / len(middles)
        return Interval(mean, mean - ENDS * sd, mean + ENDS * sd)

    def hold_loss(self, leak: Interval | None) -> Interval | None:
        """Give what the leak takes from the trapped air at the pressure it began with, nothing cooling."""
        held = [(one, span) for one in self.model.episodes for span in one.story.shut]
        if leak is None or not held:
            return None
        one, (begin, until) = held[0]
        circuit = self.model.machine.circuit
        inside = (one.time_s > begin) & (one.time_s < until)
        first = float(one.drive_pa[inside][:3].mean()) + circuit.ambient_absolute_pa if inside.any() else 0.0
        swept = 0.0 if self.model.holds("lift_off") else circuit.piston_area_m2 * circuit.stroke_m
        volume = circuit.dead_volume_m3 + swept
        volume += 0.5 * self.model.machine.line_volume_m3
        gas = GAS_CONSTANT_J_PER_KG_K * circuit.temperature_k
        rate = REFERENCE_DENSITY_KG_PER_M3 * gas * first / volume
        return Interval(*(each * rate for each in (leak.value, leak.low, leak.high)))

    def sag(self) -> Interval | None:
        """Give how far the trapped air sagged as it cooled: what the fit without a leak still loses."""
        if self.model.place("cooling") is None:
            return None
        point = self.fit.point.copy()
        leak = self.model.place("leak")
        assert leak is not None
        point[leak] = 0.0
        sags = []
        for number, one in enumerate(self.model.episodes):
            for begin, until in one.story.shut:
                inside = np.flatnonzero((one.time_s > begin) & (one.time_s < until))
                if inside.size > 1:
                    scaled = self.model.episode_residuals(point[None], number)[0][: one.time_s.size]
                    shown = one.drive_pa - scaled * one.drive_sd_pa
                    sags.append(float(shown[inside[0]] - shown[inside[-1]]))
        if not sags:
            return None
        place = self.model.place("cooling")
        assert place is not None
        sd = float(np.sqrt(self.spread.covariance[place, place])) / max(float(self.fit.point[place]), 1e-3)
        half = ENDS * min(sd, 1.0) * abs(sags[0])
        return Interval(sags[0], max(sags[0] - half, 0.0), sags[0] + half)


def _widened(found: Spread, place: int, wider: float) -> Spread:
    """Widen what is not known of one unknown."""
    covariance = found.covariance.copy()
    covariance[place, :] *= wider
    covariance[:, place] *= wider
    return replace(found, covariance=covariance)


def _through(found: Interval, rising: Callable[[float], float]) -> Interval:
    return Interval(rising(found.value), rising(found.low), rising(found.high))
