"""What recordings say as plain data, for JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fanwright.desk.duty import ReadDuty
    from fanwright.evidence.recording import RecordingResult
    from fanwright.report.say import Reader

PLACES = 6


def duty_data(done: ReadDuty, reader: Reader) -> dict[str, Any]:
    """Give what recordings say as plain data; keys end in their unit.

    Args:
        done: What was read.
        reader: Who reads the sentences in it.

    Returns:
        Tables, lists, texts and finite numbers only.
    """
    from fanwright.evidence.recording import air_low_needed_s
    from fanwright.report.as_data import judgement_data, reading_data
    from fanwright.report.say import say_all

    result = done.result
    told = result.told
    return {
        **_counts(result),
        "span_s": _rounded(result.span_s),
        "overlap_s": _rounded(result.overlap_s),
        "engine_on_s": _rounded(result.engine_on_s),
        "fan_known_s": _rounded(result.fan_known_s),
        "runs": len(result.runs) if told else None,
        "fan_on_s": _rounded(result.fan_on_s) if told else None,
        "fan_share": _rounded(result.fan_share),
        "by_reason": {
            reason: {"runs": one.runs, "fan_on_s": _rounded(one.fan_on_s)}
            for reason, one in result.by_reason().items()
        },
        "short_runs": len(result.short_runs) if told else None,
        "grips_per_hour": _rounded(result.grips_per_hour),
        "slip_energy_mj": _scaled(result.slip_energy_j, 1e6),
        "fan_energy_mj": _scaled(result.fan_energy_j, 1e6),
        "fuel_l": _scaled(result.fuel_m3, 1e-3),
        "air_low_while_on_s": _rounded(result.air_low_on_s),
        "air_low_while_needed_s": _rounded(air_low_needed_s(result, done.grips_by)),
        "fault_codes": _codes(result, active=True),
        "earlier_fault_codes": _codes(result, active=False),
        "sessions": result.sessions,
        "vehicle_number_matches": result.vehicle_number_matches,
        "thresholds": _thresholds(result),
        "figures": _figures_data(done),
        "files": [
            {"file": one.place, "format": one.format, "clock": one.clock, "sha256": one.sha256}
            for one in result.files
        ],
        "notes": say_all(result.evidence.notes, reader),
        "cannot_tell": say_all(result.evidence.cannot_tell, reader),
        "readings": [reading_data(reading, reader) for reading in result.evidence.readings],
        "look_at": [judgement_data(one, reader) for one in done.look_at],
    }


def _counts(result: RecordingResult) -> dict[str, int]:
    tallies = [one.tally for one in result.files]
    return {
        name: sum(getattr(tally, name) for tally in tallies)
        for name in ("frames", "frames_used", "error_frames", "lines_unread")
    }


def _codes(result: RecordingResult, active: bool) -> list[dict[str, Any]]:
    from fanwright.evidence.recording.codes import MODES, NAMES

    return [
        {
            "source_address": code.sender,
            "spn": code.number,
            "fmi": code.mode,
            "count": code.messages,
            "name": NAMES.get(code.number, ""),
            "means": MODES[code.mode],
        }
        for code in result.codes
        if code.active is active
    ]


def _thresholds(result: RecordingResult) -> dict[str, Any]:
    """Give the temperatures at which the fan was really told on and off, from whole runs for that reason."""
    from fanwright.evidence.recording.result import median

    found: dict[str, Any] = {}
    for reason in ("coolant", "charge_air"):
        runs = [run for run in result.runs if run.reason == reason and run.whole]
        on = median(getattr(run, reason + "_on_k") for run in runs)
        off = median(getattr(run, reason + "_off_k") for run in runs)
        if on is not None and off is not None:
            found[reason] = {
                "on_c": _rounded(on - 273.15),
                "off_c": _rounded(off - 273.15),
                "runs": len(runs),
            }
    return found


def _figures_data(done: ReadDuty) -> dict[str, Any] | None:
    from fanwright.laws import fan

    if done.figures is None:
        return None
    return {
        "pulley_ratio": done.figures.pulley_ratio,
        "fan_inertia_kg_m2": done.figures.inertia_kg_m2,
        "clutch_torque_n_m": done.figures.torque_n_m,
        "fan_power_kw": done.figures.power_w / 1e3,
        "at_rpm": _rounded(done.figures.speed_rad_s / 0.10471975511965977),
        "fuel_g_per_kwh": _rounded(fan.SPECIFIC_CONSUMPTION_KG_PER_J * 3.6e9),
        "fuel_density_kg_per_m3": fan.DIESEL_KG_PER_M3,
    }


def _scaled(value: float | None, step: float) -> float | None:
    return None if value is None else _rounded(value / step)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(float(value), PLACES)
