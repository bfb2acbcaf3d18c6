"""From a Message to a sentence in the reader's units; the only place below the shells that does so."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import cast

from fanwright.catalogue import Catalogue, Fault, Instrument, Test, load
from fanwright.quantities import Units
from fanwright.report.translating import translated
from fanwright.words import Message, Value

VERDICT_WORDS = {
    "good": "good",
    "watch": "watch",
    "act_now": "act now",
    "stand_down": "do not run",
    "not_judged": "not judged",
    "none": "informs only",
}


@dataclass(frozen=True)
class Reader:
    """Who reads: their units, and the names of what they read about.

    Args:
        units: The units shown.
        catalogue: Where names of tests, outcomes and faults come from.
        language: ``en``, ``es`` or ``fr``.
    """

    units: Units = field(default_factory=Units)
    catalogue: Catalogue = field(default_factory=load)
    language: str = "en"

    def write(self, si: float, dimension: str, step_si: float | None = None) -> str:
        """Write an SI value in this reader's unit."""
        return self.units.write(si, dimension, step_si)

    def words(self, sentence: str) -> str:
        """Give a sentence or name of our own data in this reader's language."""
        return translated(sentence, self.language)


def say(message: Message, reader: Reader | None = None) -> str:
    """Make a sentence.

    Args:
        message: What to say.
        reader: Who reads; default units and English when None.

    Returns:
        One line of text.

    Example:
        >>> from fanwright.words import quantity
        >>> say(Message("the inlet stood at {p}", {"p": quantity(813581.36, "pressure")}))
        'the inlet stood at 118 psi'
    """
    who = reader or Reader()
    return who.words(message.template).format(
        **{name: _shown(value, who) for name, value in message.values.items()}
    )


def say_all(messages: Iterable[Message], reader: Reader | None = None) -> list[str]:
    """Make several sentences, the same one only once."""
    return list(dict.fromkeys(say(message, reader) for message in messages))


def _shown(value: Value, reader: Reader) -> str:
    if value.kind == "list":
        return ", ".join(_shown(item, reader) for item in cast("tuple[Value, ...]", value.value))
    if value.kind in ("quantity", "chance", "number"):
        return _shown_number(value, cast("float", value.value), reader)
    return _shown_name(value, str(value.value), reader)


def _shown_number(value: Value, plain: float, reader: Reader) -> str:
    if value.kind == "quantity":
        return reader.write(plain, value.of)
    if value.kind == "chance":
        return write_chance(plain, language=reader.language)
    written = f"{plain:.3g}"
    return written.replace(".", ",") if reader.units.comma else written


def _shown_name(value: Value, plain: str, reader: Reader) -> str:
    if value.kind == "outcome":
        return _outcome(plain, value.of, reader)
    if value.kind in ("verdict", "phrase"):
        return reader.words(VERDICT_WORDS.get(plain, plain) if value.kind == "verdict" else plain)
    named: Mapping[str, Mapping[str, Test | Fault | Instrument]] = {
        "test": reader.catalogue.tests,
        "fault": reader.catalogue.faults,
        "instrument": reader.catalogue.instruments,
    }
    known = named.get(value.kind, {})
    return reader.words(known[plain].label) if plain in known else plain


def _outcome(word: str, test_id: str, reader: Reader) -> str:
    test = reader.catalogue.tests.get(test_id)
    outcomes = () if test is None else test.outcomes
    return next((reader.words(outcome.label) for outcome in outcomes if outcome.word == word), word)


def write_chance(probability: float, *, short: bool = False, language: str = "en") -> str:
    """Write a probability so that a chance is never called certain.

    Args:
        probability: The chance in 0..1 [-].
        short: With signs instead of words, for a table.
        language: The reader's language.

    Returns:
        Whole per cent, or under 1 % or over 99 %.

    Example:
        >>> write_chance(0.9996), write_chance(0.253), write_chance(0.0)
        ('over 99 %', '25 %', 'under 1 %')
    """
    percent = 100.0 * probability
    if percent < 1.0:
        return "<1 %" if short else translated("under 1 %", language)
    if percent > 99.0:
        return ">99 %" if short else translated("over 99 %", language)
    return f"{percent:.0f} %"
