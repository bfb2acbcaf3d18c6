"""Whether the gauges stand at zero when there is nothing in them.

A gauge off zero and air left in the drive look alike: both show a pressure with the air cut off. The zero is
judged only where one of them is ruled out:

- the inlet is empty too, so that no air can be left in the drive;
- the gauge stands below zero, which air cannot do;
- the drive stands as much above the inlet with air sent as it does above zero with air cut off: still air
  cannot stand higher in the drive than at the inlet;
- the drive gauge stood at zero before the first fill, so what is left later is air.

Otherwise nothing is corrected, and that is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fanwright.evidence.trace.exhibit import Zero
from fanwright.evidence.trace.levels import Level, line, look_back, settled, together
from fanwright.evidence.trace.phases import Phase
from fanwright.evidence.trace.reader import RawTrace
from fanwright.evidence.trace.signal import PSI, Grain, Series
from fanwright.words import Message, quantity

LEAST_OFF_PA = 0.3 * PSI
MOST_OFF_PA = 10.0 * PSI
SAME_PA = 0.7 * PSI
EMPTY_S = 0.5
SETTLED_PA_PER_S = 0.5 * PSI
NOTHING = Zero()


@dataclass(frozen=True)
class Zeroing:
    """What is known of the zero of the gauges.

    Args:
        zero: What is to be taken off.
        sd_pa: Standard uncertainty of the drive gauge's zero [Pa].
        rest_known: Whether air left in the drive can be told from a gauge off zero.
        notes: What was corrected.
        cannot_tell: What could not be told apart.
    """

    zero: Zero = NOTHING
    sd_pa: float = 0.0
    rest_known: bool = True
    notes: tuple[Message, ...] = ()
    cannot_tell: tuple[Message, ...] = ()


def judge_zero(raw: RawTrace, phases: Sequence[Phase], drive: Series, grain: Grain) -> Zeroing:
    """Find out whether the gauges stand at zero when empty.

    Args:
        raw: The trace.
        phases: Its phases.
        drive: Pressure at the drive, gauge, without spikes [Pa], shape (n,).
        grain: Noise and division of the drive gauge.

    Returns:
        What to take off, and what to say.
    """
    tolerance = max(LEAST_OFF_PA, grain.division_pa)
    empty = _where_empty(raw, drive, grain)
    if empty is not None:
        return _both(empty[0], empty[1], tolerance, grain)
    off = [
        (phase, level)
        for phase in phases
        if not phase.air_sent and (level := settled(raw.time_s, drive, phase, grain)) is not None
    ]
    if not off:
        return Zeroing(rest_known=False)
    stand = min((level for _, level in off), key=lambda level: level.value_pa)
    above = _above_inlet(raw, phases, drive, grain)
    if stand.value_pa < -tolerance:
        return _below_zero(stand, above, grain)
    if stand.value_pa <= tolerance:
        return Zeroing(sd_pa=abs(stand.value_pa) / 2.0)
    if above is not None and abs(above - stand.value_pa) <= max(SAME_PA, tolerance) and above > tolerance:
        return _corrected(Zero(0.0, stand.value_pa), grain.noise_pa / 10.0)
    return _ambiguous(stand.value_pa)


def _both(supply: Level, drive: Level, tolerance: float, grain: Grain) -> Zeroing:
    zero = Zero(*(level.value_pa if abs(level.value_pa) > tolerance else 0.0 for level in (supply, drive)))
    return _corrected(zero, grain.mean_sd_pa(25)) if zero != NOTHING else Zeroing(sd_pa=tolerance / 4.0)


def _below_zero(stand: Level, above: float | None, grain: Grain) -> Zeroing:
    """Correct a gauge that stands below zero; both, if they agree with air sent."""
    both = above is not None and abs(above) < abs(above - stand.value_pa)
    zero = Zero(stand.value_pa if both else 0.0, stand.value_pa)
    found = _corrected(zero, grain.noise_pa / 10.0)
    left = Message(
        "Whether air is left in the drive cannot be told: its gauge was set to zero at its own reading with "
        "air cut off; zero the gauges open to the air"
    )
    known = above is not None and not both and abs(above - stand.value_pa) <= SAME_PA
    return found if known else Zeroing(zero, found.sd_pa, False, found.notes, (left,))


def _corrected(zero: Zero, sd_pa: float) -> Zeroing:
    notes = []
    if zero.drive_pa:
        template = "The drive gauge stood at {pressure} when empty; that was taken off all it read"
        notes.append(Message(template, {"pressure": quantity(zero.drive_pa, "pressure")}))
    if zero.supply_pa:
        template = "The inlet gauge stood at {pressure} when empty; that was taken off all it read"
        notes.append(Message(template, {"pressure": quantity(zero.supply_pa, "pressure")}))
    return Zeroing(zero, sd_pa, True, tuple(notes))


def _ambiguous(stand_pa: float) -> Zeroing:
    """Leave a small standing pressure alone that may be either; a large one is air."""
    if stand_pa > MOST_OFF_PA:
        return Zeroing()
    said = Message(
        "The drive gauge stands at {pressure} with air cut off: air left in the drive, or the gauge off "
        "zero, cannot be told apart here and nothing was taken off; zero the gauges open to the air "
        "and repeat",
        {"pressure": quantity(stand_pa, "pressure")},
    )
    return Zeroing(sd_pa=min(stand_pa, 2.0 * PSI) / 3.0**0.5, rest_known=False, cannot_tell=(said,))


def _where_empty(raw: RawTrace, drive: Series, grain: Grain) -> tuple[Level, Level] | None:
    """Find a stretch at either end of the trace in which inlet and drive are both near zero and still."""
    if raw.supply_gauge_pa is None:
        return None
    rows = max(5, round(EMPTY_S / raw.interval_s))
    for part in (slice(0, rows), slice(max(raw.time_s.size - rows, 0), raw.time_s.size)):
        levels = []
        for series in (raw.supply_gauge_pa, drive):
            mean, slope, slope_sd = line(raw.time_s[part], series[part], grain.row_sd_pa)
            if abs(mean) > MOST_OFF_PA or abs(slope) > SETTLED_PA_PER_S + 3.0 * slope_sd:
                break
            levels.append(Level(mean, grain.mean_sd_pa(rows)))
        if len(levels) == 2:
            return levels[0], levels[1]
    return None


def _above_inlet(raw: RawTrace, phases: Sequence[Phase], drive: Series, grain: Grain) -> float | None:
    """How far the drive settled above the inlet with air sent [Pa], or None."""
    if raw.supply_gauge_pa is None:
        return None
    found = []
    for phase in phases:
        if phase.air_sent and settled(raw.time_s, drive, phase, grain) is not None:
            rows = look_back(raw.time_s, phase)
            above = drive[rows] - raw.supply_gauge_pa[rows]
            found.append(Level(float(above.mean()), 0.0))
    level = together(found)
    return None if level is None else level.value_pa
