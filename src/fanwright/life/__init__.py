"""How long the facing will last, and what is eating it. Sees readings and exhibits, makes no verdicts."""

from __future__ import annotations

from fanwright.life.forecast import Forecast, Range, forecast_fleet
from fanwright.life.history import History, Thickness

__all__ = ["Forecast", "History", "Range", "Thickness", "forecast_fleet"]
