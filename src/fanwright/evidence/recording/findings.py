"""What a recording's numbers answer: readings with uncertainty, words only where the numbers allow them."""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from fanwright.catalogue import load
from fanwright.evidence.reading import Measured, Reading
from fanwright.evidence.recording.analysis import Part, longest_hot_off_us, unanswered_request_us
from fanwright.evidence.recording.exhibit import Run
from fanwright.evidence.recording.result import SHORT_S, ReasonSum, median
from fanwright.words import Message

LEAST_KNOWN_S = 900.0
"""Under a quarter of an hour with the engine on nothing is said of the duty (assumption)."""
MANY_PER_HOUR = 20.0
"""Over 20 grips an hour is short cycling on any route (judgement of the trade)."""
NEARLY_ALWAYS = 0.5
"""No usual route tells the fan on for more than 45 % of the time (judgement of the trade)."""
RARELY = 0.02
COOL_K = 273.15 + 96.0
"""Under this coolant nothing should ask for the fan (usual settings are 96 to 104 degC; from memory)."""
HOT_K = 273.15 + 107.0
"""From here on a dash warns (105 to 110 degC; from memory)."""
HOT_LONG_S = 60.0
RISE_K_PER_S = 0.5 / 60.0
"""Rising by more than half a degree a minute in a run of over 3 minutes (judgement of the trade)."""
RISE_FROM_K = 273.15 + 90.0
"""Under this the engine is warming up, and a rise says nothing of the fan (assumption)."""
RETARDER_SHARE = -0.05
"""Braking of the retarder that counts as on (assumption)."""
MAIN_SHARE = 0.5
SETTLED_S = 10

GROUPS: Mapping[str, str] = MappingProxyType(
    {
        "coolant": "coolant_or_air",
        "charge_air": "coolant_or_air",
        "oil": "coolant_or_air",
        "engine_general": "coolant_or_air",
        "air_conditioning": "ac",
        "engine_brake": "engine_brake",
        "retarder": "engine_brake",
        "default": "default_or_manual",
        "manual": "default_or_manual",
    }
)


@dataclass(frozen=True)
class Sums:
    """What the findings are drawn from.

    Args:
        runs: All runs.
        by_reason: Runs and time by reason.
        known_s: Known time with the engine on [s].
        share: Share of it told on [-].
        parts: The stretches of clock.
        air_low_on_s: Air under 90 psi while told on, or None [s].
        air_low_needed_s: Air under 90 psi while the drive needs it, or None [s].
        pulley_ratio: Speed of the pulley in turns of the engine, or None [-].
        place: The files.
        cannot_judge: Why nothing of this may be judged, if so.
    """

    runs: tuple[Run, ...]
    by_reason: Mapping[str, ReasonSum]
    known_s: float
    share: float
    parts: tuple[Part, ...]
    air_low_on_s: float | None
    air_low_needed_s: float | None
    pulley_ratio: float | None
    place: str
    cannot_judge: Message | None = None


def readings(sums: Sums) -> tuple[Reading, ...]:
    """Give all readings of tests that the catalogue knows."""
    known = load().tests
    return tuple(reading for reading in _all(sums) if reading.test in known)


def _all(sums: Sums) -> Iterator[Reading]:
    if sums.known_s < LEAST_KNOWN_S:
        return
    for test, word in (("recording_runs", runs_word(sums)), ("recording_reason", reason_word(sums))):
        if word:
            yield Reading(
                test, outcome=word, origin="recording", place=sums.place, cannot_judge=sums.cannot_judge
            )
    for test, measured, each in _measured(sums):
        yield Reading(
            test,
            measured,
            origin="recording",
            each_si=each,
            place=sums.place,
            cannot_judge=sums.cannot_judge,
        )


def runs_word(sums: Sums) -> str:
    """Find the outcome word for length and number of runs; empty where none can be given honestly."""
    hot = [longest_hot_off_us(part, HOT_K) for part in sums.parts]
    lengths = [run.duration_s for run in sums.runs if run.whole]
    grips_per_hour = len(sums.runs) / (sums.known_s / 3600.0)
    word = "as_duty"
    if _heats_up(sums.runs):
        word = "asked_but_heats_up"
    elif any(one is not None and one / 1e6 > HOT_LONG_S for one in hot):
        word = "not_asked_though_hot"
    elif grips_per_hour > MANY_PER_HOUR and lengths and statistics.median(lengths) < SHORT_S:
        word = "many_short"
    elif sums.share >= NEARLY_ALWAYS:
        word = "nearly_always_asked"
    elif sums.share < RARELY:
        warmest = _warmest(sums.parts)
        if warmest is None:
            word = ""
        elif warmest < COOL_K:
            word = "rarely_asked_runs_cool"
    return word


def _heats_up(runs: Sequence[Run]) -> bool:
    return any(slope > RISE_K_PER_S for slope in (*_coolant_rises(runs), *_charge_air_rises(runs)))


def _coolant_rises(runs: Sequence[Run]) -> tuple[float, ...]:
    """Give the slope of the coolant in each warm run [K/s]; while the engine warms up it says nothing."""
    return tuple(run.coolant_rise_k_per_s for run in _warm(runs) if run.coolant_rise_k_per_s is not None)


def _charge_air_rises(runs: Sequence[Run]) -> tuple[float, ...]:
    """Give the slope of the charge air in each warm run told on for coolant, oil or air [K/s]."""
    return tuple(
        run.charge_air_rise_k_per_s
        for run in _warm(runs)
        if run.charge_air_rise_k_per_s is not None and GROUPS.get(run.reason) == "coolant_or_air"
    )


def _warm(runs: Sequence[Run]) -> Iterator[Run]:
    return (run for run in runs if run.coolant_off_k is not None and run.coolant_off_k >= RISE_FROM_K)


def _warmest(parts: Sequence[Part]) -> float | None:
    found = [part.traffic.series("coolant") for part in parts]
    return max((float(one.value.max()) for one in found if one is not None), default=None)


def reason_word(sums: Sums) -> str:
    """Find the main reason of the requests; empty where no group has more than half of them."""
    if not sums.runs:
        return "none"
    groups: dict[str, int] = {}
    for run in sums.runs:
        group = GROUPS.get(run.reason, "")
        groups[group] = groups.get(group, 0) + 1
    best = max(groups, key=lambda group: groups[group])
    return best if groups[best] > MAIN_SHARE * len(sums.runs) else ""


Found = tuple[str, Measured, tuple[float, ...]]


def _measured(sums: Sums) -> Iterator[Found]:
    many = len(sums.runs)
    yield (
        "recording_grip_rate",
        Measured(many / sums.known_s, 0.0, math.sqrt(max(many, 1)) / sums.known_s),
        (),
    )
    yield from _conditioning(sums)
    yield from _retarder(sums)
    default = sums.by_reason.get("default")
    on_default_s = 0.0 if default is None else default.fan_on_s
    yield "recording_default_share", Measured(on_default_s / sums.known_s, 0.0, 0.5 / sums.known_s), ()
    unanswered = [unanswered_request_us(part) for part in sums.parts]
    if any(one is not None for one in unanswered):
        time = sum(one for one in unanswered if one is not None) / 1e6
        yield "recording_unanswered_time", Measured(time, 1.0, 0.0), ()
    for test, slopes in (
        ("recording_coolant_rise", _coolant_rises(sums.runs)),
        ("recording_charge_air_rise", _charge_air_rises(sums.runs)),
    ):
        if slopes:
            yield test, Measured(max(slopes), 0.0, 0.05 / 60.0), slopes
    if sums.air_low_on_s is not None:
        yield "recording_air_low_on", Measured(sums.air_low_on_s, 1.0, 0.0), ()
    if sums.air_low_needed_s is not None:
        yield "recording_air_low_needed", Measured(sums.air_low_needed_s, 1.0, 0.0), ()
    yield from _sensor(sums)


def _conditioning(sums: Sums) -> Iterator[Found]:
    runs = [run for run in sums.runs if run.whole and run.reason == "air_conditioning"]
    lengths = tuple(run.duration_s for run in runs)
    if len(runs) < 3:
        return
    one_sd = median(run.duration_sd_s for run in runs) or 0.0
    sd = max(one_sd, statistics.stdev(lengths)) / math.sqrt(len(lengths))
    middle = statistics.median(lengths)
    yield "recording_ac_run_median", Measured(middle, 0.0, max(one_sd, _median_sd(lengths))), lengths
    yield "recording_ac_run_shortest", Measured(min(lengths), 0.0, one_sd), lengths
    low, _, high = statistics.quantiles(lengths, n=4)
    yield "recording_ac_run_spread", Measured(high - low, 0.0, 1.36 * sd), lengths


def _median_sd(lengths: Sequence[float]) -> float:
    """Give the standard uncertainty of a median on the side of the least A/C run [s].

    The two places of the ordered list half a root of its length away from the middle hold the median of all
    runs with the chance of one standard deviation, whatever their distribution is (binomial). Lengths are
    skewed: one long run must not put runs that stack at 60 s in doubt.
    """
    ordered = sorted(lengths)
    middle, away = (len(ordered) - 1) / 2.0, math.sqrt(len(ordered)) / 2.0
    low = ordered[max(0, math.floor(middle - away))]
    high = ordered[min(len(ordered) - 1, math.ceil(middle + away))]
    found = statistics.median(ordered)
    return found - low if found >= SHORT_S else high - found


def _retarder(sums: Sums) -> Iterator[Found]:
    seen = [run.retarder_share is not None or GROUPS.get(run.reason) == "engine_brake" for run in sums.runs]
    if not any(seen):
        return
    many = sum(
        GROUPS.get(run.reason) == "engine_brake"
        or (run.retarder_share is not None and run.retarder_share < RETARDER_SHARE)
        for run in sums.runs
    )
    share = many / len(sums.runs)
    sd = math.sqrt(max(share * (1 - share), 0.25 / len(sums.runs)) / len(sums.runs))
    yield "recording_retarder_grips", Measured(share, 0.0, sd), ()


def _sensor(sums: Sums) -> Iterator[Found]:
    """Fan speed over pulley speed where a fan-speed sensor shows something other than 0 at some time."""
    if sums.pulley_ratio is None:
        return
    on = [value for part in sums.parts for value in _speed_shares(part, sums.pulley_ratio, on=True)]
    off = [value for part in sums.parts for value in _speed_shares(part, sums.pulley_ratio, on=False)]
    for test, values in (("fan_speed_on", on), ("fan_speed_off", off)):
        if values:
            spread = statistics.stdev(values) / math.sqrt(len(values)) if len(values) > 1 else 0.02
            yield test, Measured(statistics.median(values), 0.0, max(spread, 0.005)), tuple(values)


def _speed_shares(part: Part, pulley_ratio: float, on: bool) -> list[float]:
    fan, engine = part.traffic.series("fan_speed"), part.traffic.series("engine_speed")
    if fan is None or engine is None or not (fan.value > 0.0).any():
        return []
    shares = []
    told = part.told.told(on)
    for start, end in _joined(told.start_us.tolist(), told.end_us.tolist()):
        piece = fan.between(start + SETTLED_S * 1_000_000, end)
        pulley = engine.at(piece.time_us, 1_000_000) * pulley_ratio
        steady = piece.value[~np.isnan(pulley)] / pulley[~np.isnan(pulley)]
        if len(steady) >= 5:
            shares.append(float(np.median(steady)))
    return shares


def _joined(start_us: list[int], end_us: list[int]) -> list[tuple[int, int]]:
    """Join stretches that touch."""
    joined: list[tuple[int, int]] = []
    for start, end in zip(start_us, end_us, strict=True):
        if joined and joined[-1][1] == start:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return joined
