"""What an assessment holds of the facing's life."""

from __future__ import annotations

from dataclasses import dataclass

from fanwright.life import Forecast
from fanwright.life.by_energy import compared
from fanwright.life.eating import Eater
from fanwright.life.grips import GripCost, TorqueInHand
from fanwright.visit.paying import Choice, Waiting
from fanwright.words import Message


@dataclass(frozen=True)
class Life:
    """What is ahead of this truck's facing.

    Args:
        forecast: How long it will last.
        waiting: What it costs to wait until the next service, beside renewing now; None without an odometer.
        choices: New facing, rebuilt drive, exchange drive, the cheapest for distance first.
        eaters: What takes the facing, by a recording's grips, the worst first.
        in_hand: What the drive holds beside what the fan takes at its rated speed.
        heat_mark: What a temper colour on the steel face tells, where one was seen.
        energy_j_per_m: Heat of grips for distance by the visit's recording, or None [J/m].
        by_heat: The forecast by the heat of grips, where recordings of two days tell it.
        grips: The same grip from rest at a low and a high engine speed.
    """

    forecast: Forecast
    waiting: Waiting | None = None
    choices: tuple[Choice, ...] = ()
    eaters: tuple[Eater, ...] = ()
    in_hand: TorqueInHand | None = None
    heat_mark: tuple[Message, ...] = ()
    energy_j_per_m: float | None = None
    by_heat: Forecast | None = None
    grips: tuple[GripCost, ...] = ()

    def lost_to(self, grip: GripCost) -> float | None:
        """Facing lost to one grip, where a recording tells heat for distance and readings the wear [m]."""
        rate = self.forecast.rate
        if rate is None or not self.energy_j_per_m:
            return None
        return rate.p50 / self.energy_j_per_m * grip.energy_j

    def sentences(self) -> tuple[Message, ...]:
        """Give all but the forecast as sentences."""
        said = () if self.waiting is None else (self.waiting.message,)
        mended = tuple(choice.message for choice in self.choices)
        eaten = tuple(eater.message for eater in self.eaters)
        held = () if self.in_hand is None else (self.in_hand.message,)
        heat = None if self.by_heat is None else compared(self.by_heat, self.forecast)
        beside = () if heat is None else (heat,)
        return (*eaten, *beside, *said, *mended, *held, *self.heat_mark)
