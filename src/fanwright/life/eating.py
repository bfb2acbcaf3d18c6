"""What eats the facing: the heat of recorded grips by reason, and what life would be without each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fanwright.evidence.recording.exhibit import Run
from fanwright.words import Message, chance, number, quantity

SHORT_S = 60.0
TIMER_S = 90.0
LEAST_GRIPS = 5
LEAST_SHARE = 0.05


@dataclass(frozen=True)
class Eater:
    """One thing that takes facing.

    Args:
        id: ``short_air_conditioning``, or a reason of runs.
        grips: How many grips it made.
        share: Its share of the heat of all grips [-].
        times_without: Life without it, in times of the life with it [-].
        times_with_timer: Life with 90 s for each run of the air conditioning, None where that is no gain [-].
    """

    id: str
    grips: int
    share: float
    times_without: float
    times_with_timer: float | None = None

    @property
    def message(self) -> Message:
        """What it takes, as a sentence."""
        values = {"share": chance(self.share), "times": number(self.times_without)}
        if self.id == "short_air_conditioning":
            values["short"] = quantity(SHORT_S, "time")
            if self.times_with_timer is None:
                return Message(
                    "runs for the air conditioning under {short} take {share} of the facing; it would last "
                    "{times} times as long without them",
                    values,
                )
            values |= {"timer": quantity(TIMER_S, "time"), "held": number(self.times_with_timer)}
            return Message(
                "runs for the air conditioning under {short} take {share} of the facing; held for {timer} "
                "each, it would last {held} times as long, without them {times} times",
                values,
            )
        return Message(SENTENCES[self.id], values)


SENTENCES = {
    "air_conditioning": "longer runs for the air conditioning take {share} of the facing; it would last "
    "{times} times as long without them",
    "engine_brake": "the fan told on with the engine brake takes {share} of the facing; it would last "
    "{times} times as long without it",
    "retarder": "the fan told on with the retarder takes {share} of the facing; it would last {times} times "
    "as long without it",
    "manual": "the fan switched on by hand takes {share} of the facing; it would last {times} times as long "
    "without it",
    "default": "runs because the controller fell back take {share} of the facing; it would last {times} "
    "times as long without them",
    "timer": "runs told by a timer take {share} of the facing; it would last {times} times as long without "
    "them",
}


def eaters(runs: Sequence[Run]) -> tuple[Eater, ...]:
    """Find what takes the facing, the worst first; cooling the engine is not among them.

    Args:
        runs: Recorded runs, in order, with the heat of their grips.

    Returns:
        What takes at least a twentieth; nothing where too few grips have a known heat.
    """
    known = [run for run in runs if run.slip_energy_j is not None]
    total = _heat(known)
    if len(known) < LEAST_GRIPS or total <= 0.0:
        return ()

    by_kind: dict[str, list[Run]] = {}
    for run in known:
        by_kind.setdefault("short_air_conditioning" if _short(run) else run.reason, []).append(run)
    found = []
    for name, mine in by_kind.items():
        if name not in (*SENTENCES, "short_air_conditioning"):
            continue
        share = _heat(mine) / total
        if share >= LEAST_SHARE:
            held = _held(known) / total if name == "short_air_conditioning" else 1.0
            times = 1.0 / held if held < 0.98 else None
            found.append(Eater(name, len(mine), share, 1.0 / max(1.0 - share, 0.02), times))
    return tuple(sorted(found, key=lambda one: -one.share))


def _short(run: Run) -> bool:
    whole = not run.open_end and not run.open_start
    return run.reason == "air_conditioning" and whole and round(run.end_s - run.start_s) < SHORT_S


def _heat(runs: Iterable[Run]) -> float:
    return sum(run.slip_energy_j or 0.0 for run in runs)


def _held(runs: Sequence[Run]) -> float:
    """Heat left when each run for the air conditioning lasts 90 s at least: grips within it do not happen."""
    left, until = 0.0, float("-inf")
    for run in runs:
        if run.start_s < until:
            until = max(until, run.end_s)
            continue
        left += run.slip_energy_j or 0.0
        until = max(run.end_s, run.start_s + TIMER_S) if run.reason == "air_conditioning" else run.end_s
    return left
