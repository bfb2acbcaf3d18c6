"""What a tablet must know to show a test and to judge it for the time being while there is no network."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from fanwright.catalogue import Catalogue, Instrument, Outcome, Test
from fanwright.desk.shop import Shop
from fanwright.judging.limits import Band, Limits, TestLimits
from fanwright.quantities import dimensions, units_of
from fanwright.report.say import VERDICT_WORDS, Reader, say
from fanwright.words import Message, phrase


def tablet_rules(
    shop: Shop, reader: Reader, language: str = "en", *, typed_only: bool = False
) -> dict[str, Any]:
    """Give tests, units, instruments and limits as plain data, in SI, with the sentences of one language.

    Args:
        shop: The shop whose limits are in force.
        reader: Who reads the sentences.
        language: Language of the numbers that are typed.
        typed_only: Whether tests that only a recording answers are left out.

    Returns:
        Tables, texts and finite numbers only; ``version`` is the hash of the rest.

    Example:
        >>> from fanwright.report.say import Reader
        >>> rules = tablet_rules(Shop(), Reader())
        >>> rules["tests"]["vent_time"]["limits"]["bands"][0]
        {'verdict': 'good', 'above_si': None, 'up_to_si': 1.0}
    """
    catalogue, limits = shop.catalogue, shop.limits
    asked = [one for one in catalogue.tests.values() if not (typed_only and one.only_from)]
    measured = {one.dimension for one in asked}
    rules: dict[str, Any] = {
        "language": language,
        "caution_share": limits.caution_share,
        "sure_share": limits.sure_share,
        "fill_from_inlet_pa": limits.fill_from_inlet_pa,
        "units": {key: _units(key) for key in dimensions() if key in measured},
        "instruments": {name: _instrument(one, reader) for name, one in catalogue.instruments.items()},
        "tests": {one.id: _test(one, catalogue, limits, reader) for one in asked},
        "verdicts": {name: _said(word, reader) for name, word in VERDICT_WORDS.items()},
    }
    text = json.dumps(rules, sort_keys=True, ensure_ascii=True)
    return {"version": hashlib.sha256(text.encode("ascii")).hexdigest()[:16], **rules}


def _said(sentence: str, reader: Reader) -> str:
    return say(Message("{sentence}", {"sentence": phrase(sentence)}), reader) if sentence else ""


def _units(key: str) -> list[Mapping[str, Any]]:
    return [
        {
            "name": unit.name,
            "printed": unit.printed,
            "spellings": list(unit.spellings),
            "factor": unit.factor,
            "offset": unit.offset,
            "step": unit.step,
        }
        for unit in units_of(key)
    ]


def _instrument(one: Instrument, reader: Reader) -> Mapping[str, Any]:
    return {
        "label": _said(one.label, reader),
        "dimension": one.dimension,
        "division_si": one.division_si,
        "normal_sd_si": one.normal_sd_si,
    }


def _test(test: Test, catalogue: Catalogue, limits: Limits, reader: Reader) -> Mapping[str, Any]:
    return {
        "label": _said(test.label, reader),
        "how": _said(test.how, reader),
        "minutes": test.minutes,
        "taken_apart": _said(test.taken_apart, reader),
        "state": _said(test.state, reader),
        "tools": _said(test.tools, reader),
        "only_from": test.only_from,
        "cautions": [
            {
                "text": _said(catalogue.cautions[rule.caution].text, reader),
                "grips_by": rule.grips_by,
                "valve": rule.valve,
            }
            for rule in test.cautions
        ],
        "dimension": test.dimension,
        "relative_to": test.relative_to,
        "plausible_si": None if test.plausible is None else list(test.plausible),
        "combine": test.combine,
        "list_means": test.list_means,
        "instrument": test.instrument,
        "fraction_instrument": test.fraction_instrument,
        "outcomes": [_outcome(one, reader) for one in test.outcomes],
        "outcomes_24v": [_outcome(one, reader) for one in test.outcomes_24v],
        "limits": _limits(limits.tests[test.id], reader),
    }


def _outcome(one: Outcome, reader: Reader) -> Mapping[str, Any]:
    return {**asdict(one), "label": _said(one.label, reader)}


def _limits(one: TestLimits, reader: Reader) -> Mapping[str, Any]:
    against = one.against
    return {
        "words": dict(one.words),
        "bands": _bands(one.bands),
        "bands_24v": _bands(one.bands_24v),
        "bands_without_nominal": _bands(one.bands_without_nominal),
        "bands_without_nominal_24v": _bands(one.bands_without_nominal_24v),
        "reason": _said(one.reason, reader),
        "reason_spring": _said(one.reason_spring, reader),
        "reason_air": _said(one.reason_air, reader),
        "todo": _said(one.todo, reader),
        "against": None
        if against is None
        else {
            "other": against.other,
            "bands": _bands(against.bands),
            "reason": _said(against.reason, reader),
            "todo": _said(against.todo, reader),
        },
    }


def _bands(bands: tuple[Band, ...]) -> list[Mapping[str, Any]]:
    return [{"verdict": band.verdict, "above_si": band.above_si, "up_to_si": band.up_to_si} for band in bands]
