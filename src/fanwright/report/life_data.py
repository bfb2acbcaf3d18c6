"""A forecast as plain data for JSON: keys end in their unit, what cannot be told is null."""

from __future__ import annotations

from typing import Any

from fanwright.life import Forecast, Range
from fanwright.life.grips import GripCost
from fanwright.life.renewing import Renewing, Span
from fanwright.quantities import dimension
from fanwright.report.say import Reader, say, say_all
from fanwright.visit.life import Life

THOUSAND_KM, MM, HOUR_S = 1e6, 1e-3, 3600.0
PLACES = 6


def forecast_data(forecast: Forecast, reader: Reader) -> dict[str, Any]:
    """Give a forecast as plain data.

    Args:
        forecast: What to show.
        reader: Who reads the sentences in it.

    Returns:
        Tables, lists, texts and finite numbers only.
    """
    hours = forecast.history.in_hours
    step, rate = (HOUR_S, "wear_mm_per_1000_h") if hours else (1000.0, "wear_mm_per_1000_km")
    data: dict[str, Any] = {
        "unit": forecast.unit,
        "readings_used": forecast.in_force,
        "facing_mm": _range(forecast.thickness_m, 1.0 / MM),
        "limit_mm": _rounded(forecast.history.limit_m / MM),
        "remaining_h" if hours else "remaining_km": _range(forecast.remaining, 1.0 / step),
        rate: _range(forecast.rate, 1000.0 * step / MM),
        "ahead_h" if hours else "ahead_km": _rounded(forecast.ahead / step),
        "chance_at_limit": None if forecast.chance_at_limit is None else _rounded(forecast.chance_at_limit),
        "due": {share: _day(forecast, share) for share in ("p10", "p50", "p90")},
        "basis": say(forecast.basis, reader),
        "notes": say_all(forecast.notes, reader),
        "set_aside": [
            {
                "facing_mm": _rounded(dimension("length").to_json(one.reading.thickness_m)),
                "why": say(one.why, reader),
            }
            for one in forecast.history.set_aside
        ],
    }
    if forecast.change is not None:
        change = forecast.change
        data["change"] = {
            "after": None if change.after_date is None else change.after_date.isoformat(),
            "before": None if change.before_date is None else change.before_date.isoformat(),
            "after_h" if hours else "after_km": _rounded(change.after / step),
            "before_h" if hours else "before_km": _rounded(change.before / step),
            "probability": _rounded(change.chance),
            "rate_times": _rounded(change.ratio),
            "noted": [{"date": one.date.isoformat(), "what": say(one.what, reader)} for one in change.noted],
        }
    return data


def life_data(life: Life, reader: Reader) -> dict[str, Any]:
    """Give the life of an assessment as plain data: the forecast, what waiting costs, the ways to renew."""
    data = forecast_data(life.forecast, reader)
    if life.waiting is not None:
        data["waiting"] = {
            "chance_at_limit": _rounded(life.waiting.chance_at_limit),
            "chance_on_road": _rounded(life.waiting.chance_on_road),
            "now_usd": _rounded(life.waiting.now_usd),
            "wait_usd": _rounded(life.waiting.wait_usd),
            "why": say(life.waiting.message, reader),
        }
    data["choices"] = [
        {
            "choice": one.id,
            "cost_usd": _rounded(one.cost_usd),
            "lasts_km": _rounded(one.distance_m / 1000.0),
            "chance_fault_left": _rounded(one.chance_left),
            "usd_per_1000_km": _rounded(1000.0 * one.usd_per_km),
            "why": say(one.message, reader),
        }
        for one in life.choices
    ]
    data["eaters"] = [
        {
            "what": one.id,
            "grips": one.grips,
            "share": _rounded(one.share),
            "life_times_without": _rounded(one.times_without),
            "life_times_with_timer": None if one.times_with_timer is None else _rounded(one.times_with_timer),
            "why": say(one.message, reader),
        }
        for one in life.eaters
    ]
    if life.in_hand is not None:
        data["torque_in_hand"] = {
            "capacity_n_m": _rounded(life.in_hand.capacity_n_m),
            "needed_n_m": _rounded(life.in_hand.needed_n_m),
            "pull_n": _rounded(life.in_hand.pull_n),
            "how": say(life.in_hand.message, reader),
        }
    lost = [life.lost_to(one) for one in life.grips]
    data["grips"] = [
        grip_data(one) | {"facing_lost_mm": None if each is None else round(each / MM, 12)}
        for one, each in zip(life.grips, lost, strict=True)
    ]
    if life.energy_j_per_m is not None:
        data["grip_energy_mj_per_1000_km"] = _rounded(life.energy_j_per_m)
    if life.by_heat is not None:
        data["by_heat"] = {"remaining_km": _range(life.by_heat.remaining, 1.0 / 1000.0)}
    data["heat_mark"] = [say(one, reader) for one in life.heat_mark]
    return data


def grip_data(grip: GripCost) -> dict[str, Any]:
    """Give what a grip costs as plain data."""
    return {
        "engine_rpm": _rounded(grip.engine_rpm),
        "energy_mj": _rounded(grip.energy_j / 1e6),
        "slip_s": _rounded(grip.slip_s),
        "locks": grip.locks,
        "peak_rise_k": _rounded(grip.peak_rise_k),
        "mean_rise_k": _rounded(grip.mean_rise_k),
    }


def renewing_data(found: Renewing, unknown: int, reader: Reader) -> dict[str, Any]:
    """Give what the lives of a fleet say about renewing by age and looking as plain data."""
    step, end = (HOUR_S, "h") if found.dimension == "engine_time" else (1000.0, "km")

    def span(value: Span | None, factor: float) -> dict[str, float] | None:
        if value is None:
            return None
        return {name: _rounded(getattr(value, name) * factor) for name in ("value", "low", "high")}

    return {
        "ended": found.ended,
        "running": found.running,
        "age_not_known": unknown,
        f"scale_{end}": span(found.scale, 1.0 / step),
        "shape": span(found.shape, 1.0),
        f"b10_{end}": span(found.b10, 1.0 / step),
        f"mean_{end}": _rounded(found.fit.mean / step),
        "wear_out_seen": found.fit.wear_out_seen,
        "age_replacement_pays": found.best.worth_it,
        "chance_age_replacement_pays": _rounded(found.chance_pays),
        f"renew_at_{end}": span(found.age, 1.0 / step) if found.best.worth_it else None,
        "saving_share": _rounded(max(found.best.saving, 0.0)),
        f"look_every_{end}": span(found.look, 1.0 / step),
        "planned_usd": _rounded(found.costs.planned_usd),
        "failure_usd": _rounded(found.costs.failure_usd),
        "look_usd": _rounded(found.costs.inspection_usd),
        "advice": say_all(found.advice, reader),
    }


def _range(found: Range | None, factor: float) -> dict[str, float] | None:
    if found is None:
        return None
    return {share: _rounded(getattr(found, share) * factor) for share in ("p10", "p50", "p90")}


def _day(forecast: Forecast, share: str) -> str | None:
    day = forecast.due(share)
    return None if day is None else day.isoformat()


def _rounded(value: float) -> float:
    return round(value, PLACES)
