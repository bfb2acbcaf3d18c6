"""One typed entry of a visit to its reading, or readings where two took it, or to every mistake in it."""

from __future__ import annotations

import datetime as dt
import difflib
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from fanwright.catalogue import Catalogue, Instrument, Test
from fanwright.errors import InputError, QuantityError
from fanwright.evidence.reading import Measured, Reading
from fanwright.evidence.uncertainty import repeats
from fanwright.quantities import Quantity, read, units_of
from fanwright.words import Message, Value, listing, outcome, quantity, test_name, text

LONG_KEYS = ("value", "instrument", "at", "by", "note", *("beside", "span", "inlet"))
ALSO = "also"
CONDITIONS = {
    "beside": ("beside_k", "temperature"),
    "span": ("span_m", "length"),
    "inlet": ("inlet_gauge_pa", "pressure"),
}
COARSEST_FOR_SPREAD_M = 0.0254 / 100.0


@dataclass(frozen=True)
class _Typed:
    """What one entry said, before it becomes a reading."""

    items: tuple[object, ...]
    instrument: str
    at: str
    by: str
    conditions: Mapping[str, float]


def read_entry(
    test_id: str, raw: object, catalogue: Catalogue, *, after: bool = False, language: str = "en"
) -> tuple[Reading, ...]:
    """Read one typed entry.

    Args:
        test_id: The test it answers.
        raw: An outcome word, a quantity, a list, or a table with ``value`` and what else is known of it
            (``instrument``, ``at``, ``by``, ``note``; ``beside`` for a temperature, ``span`` for a belt,
            ``inlet`` for a fill time; ``also`` for a list of such tables, where others took it too).
        catalogue: What can be observed.
        after: Whether it was taken after the repair.
        language: Language of the numbers.

    Returns:
        The reading, and for a facing read at several places also the spread over them; the same for each
        that was taken ``also``. Words that contradict each other are not judged.

    Raises:
        InputError: Every mistake of the entry, each naming the test.

    Example:
        >>> from fanwright.catalogue import load
        >>> both = {"value": "2.1 s", "by": "Ana", "also": [{"value": "2.0 s", "by": "Bo"}]}
        >>> [reading.by for reading in read_entry("vent_time", both, load())]
        ['Ana', 'Bo']
    """
    test = catalogue.tests.get(test_id)
    if test is None:
        raise InputError(_unknown_test(test_id, catalogue))
    if not isinstance(raw, Mapping) or ALSO not in raw:
        return _one_entry(test, raw, catalogue, after, language)
    more = raw[ALSO]
    if not isinstance(more, (list, tuple)) or not all(isinstance(one, Mapping) for one in more):
        values = {"test": text(test.id), "also": text(ALSO)}
        raise InputError(Message("{test}: «{also}» must be a list of tables, each with its value", values))
    first = {key: value for key, value in raw.items() if key != ALSO}
    found: list[Reading] = []
    mistakes: list[Message] = []
    for one in (first, *more):
        try:
            found += _one_entry(test, one, catalogue, after, language)
        except InputError as error:
            mistakes += error.messages
    if mistakes:
        raise InputError(mistakes)
    return _agreeing(tuple(found))


def _agreeing(found: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """Two values are weighed by their uncertainty when judged; two words that differ cannot be."""
    words = [reading for reading in found if reading.measured is None]
    if len({reading.outcome for reading in words}) < 2:
        return found
    said = listing(tuple(outcome(reading.test, reading.outcome) for reading in words))
    why = Message(
        "readings_disagree: {test} was found {said}; look again",
        {"test": test_name(words[0].test), "said": said},
    )
    return tuple(
        replace(reading, cannot_judge=why) if reading.measured is None else reading for reading in found
    )


def _one_entry(
    test: Test, raw: object, catalogue: Catalogue, after: bool, language: str
) -> tuple[Reading, ...]:
    typed = _long_form(test, raw, language)
    word = _as_word(test, typed.items)
    if word is not None:
        return (
            Reading(
                test.id,
                outcome=word,
                after=after,
                instrument=typed.instrument,
                by=typed.by,
                at=typed.at,
                conditions=typed.conditions,
            ),
        )
    if not test.dimension:
        raise InputError(_not_a_word(test, typed.items))
    return _measured(test, typed, catalogue, after, language)


def _unknown_test(test_id: str, catalogue: Catalogue) -> Message:
    close = difflib.get_close_matches(test_id, catalogue.tests, n=1)
    if close:
        return Message(
            "{given} is not a test; did you mean {close}?", {"given": text(test_id), "close": text(close[0])}
        )
    return Message("{given} is not a test; «fanwright tests» lists them all", {"given": text(test_id)})


def _long_form(test: Test, raw: object, language: str) -> _Typed:
    table = raw if isinstance(raw, Mapping) else {"value": raw}
    mistakes = [
        Message(
            "{test}: «{key}» is not known here; allowed are {allowed}",
            {"test": text(test.id), "key": text(key), "allowed": text(", ".join(LONG_KEYS))},
        )
        for key in table
        if key not in LONG_KEYS
    ]
    value = table.get("value")
    items = tuple(value) if isinstance(value, (list, tuple)) else (value,)
    if value is None or not items:
        mistakes.append(Message("{test}: there is no value", {"test": text(test.id)}))
    if len(items) > 1 and not test.list_means:
        mistakes.append(Message("{test}: a list is not read here; give one value", {"test": text(test.id)}))
    conditions = {}
    for key, (name, dimension) in CONDITIONS.items():
        if key in table:
            try:
                conditions[name] = read(table[key], dimension, language).si
            except QuantityError as error:
                mistakes.extend(_in_test(test, message) for message in error.messages)
    if mistakes:
        raise InputError(mistakes)
    return _Typed(
        items,
        str(table.get("instrument", "")),
        _clock(table.get("at", "")),
        str(table.get("by", "")),
        conditions,
    )


def _clock(value: object) -> str:
    return value.isoformat() if isinstance(value, (dt.time, dt.date)) else str(value)


def _in_test(test: Test, message: Message) -> Message:
    return Message("{_test}: " + message.template, {"_test": text(test.id), **message.values})


def _as_word(test: Test, items: tuple[object, ...]) -> str | None:
    """Give the outcome word if the entry is one; of a list of words the last in the test's order."""
    words = test.words()
    if not all(isinstance(item, str) and item in words for item in items):
        return None
    return max((str(item) for item in items), key=words.index)


def _not_a_word(test: Test, items: tuple[object, ...]) -> list[Message]:
    allowed = listing(tuple(text(word) for word in test.words()))
    return [
        Message(
            "{test}: {given} is not an outcome of this test; write one of {allowed}",
            {"test": text(test.id), "given": text(f"«{str(item)[:60]}»"), "allowed": allowed},
        )
        for item in items
        if item not in test.words()
    ]


def _measured(
    test: Test, typed: _Typed, catalogue: Catalogue, after: bool, language: str
) -> tuple[Reading, ...]:
    quantities: list[Quantity] = []
    mistakes: list[Message] = []
    for item in typed.items:
        try:
            quantities.append(read(item, test.dimension, language))
        except QuantityError as error:
            mistakes.extend(_with_words(test, _in_test(test, message)) for message in error.messages)
    if mistakes:
        raise InputError(mistakes)
    instruments = [_instrument(test, typed, item, catalogue) for item in quantities]
    single = [
        Measured(item.si, instrument.division_si / 2.0, instrument.normal_sd_si)
        for item, instrument in zip(quantities, instruments, strict=True)
    ]
    reading = Reading(
        test.id,
        measured=_combine(test, single),
        after=after,
        each_si=tuple(one.si for one in single),
        instrument=typed.instrument or instruments[0].id,
        by=typed.by,
        at=typed.at,
        conditions=typed.conditions,
        cannot_judge=_implausible(test, quantities),
    )
    spread = _spread(reading, single, instruments) if test.id == "facing_thickness" else None
    return (reading,) if spread is None else (reading, spread)


def _with_words(test: Test, message: Message) -> Message:
    words: dict[str, Value] = {"_words": listing(tuple(text(word) for word in test.words()))}
    if not test.words():
        return message
    return Message(message.template + "; or one of {_words}", {**message.values, **words})


def _instrument(test: Test, typed: _Typed, item: Quantity, catalogue: Catalogue) -> Instrument:
    named = catalogue.instruments.get(typed.instrument)
    if named is not None and named.dimension == test.dimension:
        return named
    finer = test.fraction_instrument if item.fraction and test.fraction_instrument else test.instrument
    return catalogue.instruments[finer]


def _combine(test: Test, single: list[Measured]) -> Measured:
    if len(single) == 1:
        return single[0]
    if test.combine == "lowest":
        return min(single, key=lambda one: one.si)
    if test.combine == "highest":
        return max(single, key=lambda one: one.si)
    mean = repeats([one.si for one in single])
    widest = max(single, key=lambda one: one.half_width_si)
    return Measured(mean.mean_si, widest.half_width_si, math.hypot(widest.normal_sd_si, mean.sd_of_mean_si))


def _implausible(test: Test, quantities: list[Quantity]) -> Message | None:
    """Say which value cannot be honest, with the likely slip; None when all can."""
    if test.plausible is None:
        return None
    low, high = test.plausible
    odd = next((item for item in quantities if not low <= item.si <= high), None)
    if odd is None:
        return None
    values = {
        "given": text(odd.typed),
        "low": quantity(low, test.dimension),
        "high": quantity(high, test.dimension),
    }
    slip = _likely_slip(odd, low, high)
    if slip:
        return Message(
            "{given} lies outside {low} to {high}; was {slip} meant? Read it again",
            values | {"slip": text(slip)},
        )
    return Message("{given} lies outside {low} to {high}: read it again, with the gauge zeroed", values)


def _likely_slip(item: Quantity, low: float, high: float) -> str:
    """The same number in another unit of its dimension that would be plausible, as text; else empty."""
    number = item.unit.from_si(item.si)
    for unit in units_of(item.dimension):
        if unit is not item.unit and low <= unit.to_si(number) <= high and unit.factor != item.unit.factor:
            return f"{number:.6g} {unit.printed}"
    return ""


def _spread(reading: Reading, single: list[Measured], instruments: list[Instrument]) -> Reading | None:
    """Thickest less thinnest place, where several were read."""
    if len(single) < 2 or reading.cannot_judge is not None:
        return None
    values = [one.si for one in single]
    sd = math.sqrt(2.0) * max(one.sd_si for one in single)
    coarse = max(instrument.division_si for instrument in instruments) > COARSEST_FOR_SPREAD_M
    return Reading(
        "facing_spread",
        measured=Measured(max(values) - min(values), 0.0, sd),
        after=reading.after,
        instrument=reading.instrument,
        by=reading.by,
        at=reading.at,
        cannot_judge=Message(
            "{test} was read with a feeler or as a fraction, which cannot show the spread: use a depth gauge",
            {"test": test_name("facing_thickness")},
        )
        if coarse
        else None,
    )
