"""From a Message to a sentence in the reader's units; the only place below the shells that does so."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import cast

from fanwright.catalogue import Catalogue, load
from fanwright.quantities import Units
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
    """

    units: Units = field(default_factory=Units)
    catalogue: Catalogue = field(default_factory=load)

    def write(self, si: float, dimension: str, step_si: float | None = None) -> str:
        """Write an SI value in this reader's unit."""
        return self.units.write(si, dimension, step_si)


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
    return message.template.format(**{name: _shown(value, who) for name, value in message.values.items()})


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
    return write_chance(plain) if value.kind == "chance" else f"{plain:.3g}"


def _shown_name(value: Value, plain: str, reader: Reader) -> str:
    match value.kind:
        case "test":
            test = reader.catalogue.tests.get(plain)
            return plain if test is None else test.label
        case "outcome":
            return _outcome(plain, value.of, reader)
        case "fault":
            fault = reader.catalogue.faults.get(plain)
            return plain if fault is None else fault.label
        case "instrument":
            known = reader.catalogue.instruments.get(plain)
            return plain if known is None else known.label
        case "verdict":
            return VERDICT_WORDS.get(plain, plain)
        case _:
            return plain


def _outcome(word: str, test_id: str, reader: Reader) -> str:
    test = reader.catalogue.tests.get(test_id)
    outcomes = () if test is None else test.outcomes
    return next((outcome.label for outcome in outcomes if outcome.word == word), word)


def write_chance(probability: float, *, short: bool = False) -> str:
    """Write a probability so that a chance is never called certain.

    Args:
        probability: The chance in 0..1 [-].
        short: With signs instead of words, for a table.

    Returns:
        Whole per cent, or under 1 % or over 99 %.

    Example:
        >>> write_chance(0.9996), write_chance(0.253), write_chance(0.0)
        ('over 99 %', '25 %', 'under 1 %')
    """
    percent = 100.0 * probability
    if percent < 1.0:
        return "<1 %" if short else "under 1 %"
    if percent > 99.0:
        return ">99 %" if short else "over 99 %"
    return f"{percent:.0f} %"
