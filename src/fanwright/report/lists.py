"""Tests and limits as plain data and as short texts."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from fanwright.catalogue import Test
from fanwright.judging import Band, Limits, TestLimits
from fanwright.quantities import dimension
from fanwright.report.say import VERDICT_WORDS, Reader


def tests_data(tests: Iterable[Test], limits: Limits, reader: Reader) -> list[dict[str, Any]]:
    """Give tests as plain data, each with how, outcomes, cautions and source."""
    return [
        {
            "test": test.id,
            "label": test.label,
            "how": test.how,
            "minutes": test.minutes,
            "taken_apart": test.taken_apart,
            "state": test.state,
            "measures": test.dimension or None,
            "instrument": test.instrument or None,
            "outcomes": [
                {
                    "outcome": outcome.word,
                    "label": outcome.label,
                    "verdict": limits.tests[test.id].words[outcome.word],
                }
                for outcome in test.outcomes
            ],
            "good": test.good or None,
            "group": test.group,
            "cautions": [
                {
                    "text": reader.catalogue.cautions[rule.caution].text,
                    "grips_by": rule.grips_by,
                    "valve": rule.valve,
                }
                for rule in test.cautions
            ],
            "source": test.basis,
        }
        for test in tests
    ]


def limits_data(tests: Iterable[Test], limits: Limits, reader: Reader) -> dict[str, Any]:
    """Give the limits in force as plain data, each with its source."""
    return {
        "caution_share": limits.caution_share,
        "sure_share": limits.sure_share,
        "fill_from_inlet_kpa": dimension("pressure").to_json(limits.fill_from_inlet_pa),
        "tests": [_limits(test, limits.tests[test.id]) for test in tests],
    }


def _limits(test: Test, limit: TestLimits) -> dict[str, Any]:
    scale = "share" if test.relative_to else test.dimension
    data: dict[str, Any] = {"test": test.id, "label": test.label, "arrangement": limit.arrangement}
    for name, bands, of in (
        ("bands", limit.bands, scale),
        ("bands_24v", limit.bands_24v, scale),
        ("bands_without_nominal", limit.bands_without_nominal, test.dimension),
        ("bands_without_nominal_24v", limit.bands_without_nominal_24v, test.dimension),
    ):
        if bands:
            data[name] = [_band(band, of) for band in bands]
    if limit.against is not None:
        data["against"] = {
            "other": limit.against.other,
            "bands": [_band(band, _difference_of(test.dimension)) for band in limit.against.bands],
            "source": limit.against.source,
        }
    return data | {
        "words": dict(limit.words),
        "reason": limit.reason,
        "todo": limit.todo,
        "source": limit.source,
    }


def _difference_of(dimension_key: str) -> str:
    return "temperature_difference" if dimension_key == "temperature" else dimension_key


def _band(band: Band, of: str) -> dict[str, Any]:
    shape = dimension(of)
    data: dict[str, Any] = {"verdict": band.verdict}
    if band.above_si is not None:
        data[f"above_{shape.json_ending}"] = shape.to_json(band.above_si)
    if band.up_to_si is not None:
        data[f"up_to_{shape.json_ending}"] = shape.to_json(band.up_to_si)
    return data


def band_text(band: Band, of: str, reader: Reader) -> str:
    """Say one band in a few words, such as ``good up to 1 s``."""
    word = VERDICT_WORDS[band.verdict]
    low = None if band.above_si is None else reader.write(band.above_si, of)
    high = None if band.up_to_si is None else reader.write(band.up_to_si, of)
    if low is None and high is None:
        return word
    if low is None:
        return f"{word} up to {high}"
    return f"{word} above {low}" if high is None else f"{word} above {low} up to {high}"


def bands_text(test: Test, limit: TestLimits, reader: Reader) -> list[str]:
    """Say all bands of a test, best first."""
    scale = "share" if test.relative_to else test.dimension
    lines = [band_text(band, scale, reader) for band in limit.bands]
    lines += [f"24 V: {band_text(band, scale, reader)}" for band in limit.bands_24v]
    if limit.against is not None:
        of = _difference_of(test.dimension)
        lines += [
            f"apart from {limit.against.other}: {band_text(band, of, reader)}" for band in limit.against.bands
        ]
    return lines
