"""Sentences for people, kept apart from the language and units they are shown in.

A :class:`Message` is a template with named places and the values that fill them. Nothing below the desk turns
it into text: shells and the report do, in the reader's units (``fanwright.report.say``).
"""

from __future__ import annotations

import string
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

Kind = Literal[
    "text", "quantity", "count", "number", "chance", "test", "outcome", "fault", "instrument", "verdict",
    "phrase", "list",
]  # fmt: skip


@dataclass(frozen=True)
class Value:
    """One value in a sentence, with what is needed to show it.

    Args:
        kind: How the value is shown.
        value: The plain value: SI float for ``quantity``, id for ``test``, ``outcome`` or ``fault``.
        of: The dimension of a quantity, or the test an outcome word belongs to; empty otherwise.
    """

    kind: Kind
    value: object
    of: str = ""


def text(value: object) -> Value:
    """Quote something as it was given (a file name, a typed text)."""
    return Value("text", str(value))


def quantity(si: float, dimension: str) -> Value:
    """Show an SI number of a dimension of ``quantities`` in the reader's unit."""
    return Value("quantity", float(si), dimension)


def count(value: int) -> Value:
    """Show a whole number of things."""
    return Value("count", int(value))


def number(value: float) -> Value:
    """Show a bare number without unit."""
    return Value("number", float(value))


def chance(value: float) -> Value:
    """Show a probability in 0..1."""
    return Value("chance", float(value))


def test_name(test_id: str) -> Value:
    """Show a test by its plain name."""
    return Value("test", test_id)


def outcome(test_id: str, word: str) -> Value:
    """Show an outcome word of a test by its label."""
    return Value("outcome", word, test_id)


def fault(fault_id: str) -> Value:
    """Show a fault by its plain name."""
    return Value("fault", fault_id)


def instrument(name: str) -> Value:
    """Show an instrument by its label, or by its own number as given."""
    return Value("instrument", name)


def verdict(word: str) -> Value:
    """Show a verdict in the words of the screens."""
    return Value("verdict", word)


def phrase(sentence: str) -> Value:
    """Show a sentence that our own data hold (a reason, a step to take): its own key for translation."""
    return Value("phrase", sentence)


def listing(values: tuple[Value, ...]) -> Value:
    """Show several values one after the other."""
    return Value("list", values)


@dataclass(frozen=True)
class Message:
    """A sentence: template with named places, and a value for each place.

    Args:
        template: Text with places such as ``{test}``; it is also the key for translation.
        values: A :class:`Value` for each place, no more and no fewer.

    Raises:
        ValueError: A place without a value, or a value without a place.

    Example:
        >>> Message("{test} was not done", {"test": test_name("vent_time")}).template
        '{test} was not done'
    """

    template: str
    values: Mapping[str, Value] = field(default_factory=dict)

    def __post_init__(self) -> None:
        places = {name for _, name, _, _ in string.Formatter().parse(self.template) if name is not None}
        if places != set(self.values):
            raise ValueError(sorted(places ^ set(self.values)))
        object.__setattr__(self, "values", MappingProxyType(dict(self.values)))

    def __hash__(self) -> int:
        return hash((self.template, tuple(sorted(self.values.items(), key=lambda item: item[0]))))
