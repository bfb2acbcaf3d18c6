"""Sentences keep a template and its values apart, and hold together."""

from __future__ import annotations

import pytest

from fanwright import words
from fanwright.words import Message, Value


def test_places_and_values_must_match() -> None:
    with pytest.raises(ValueError, match="unit"):
        Message("{test} wants {unit}", {"test": words.test_name("vent_time")})
    with pytest.raises(ValueError, match="extra"):
        Message("nothing to fill", {"extra": words.count(1)})


def test_a_message_cannot_be_changed_afterwards() -> None:
    given = {"many": words.count(2)}
    message = Message("{many} readings", given)
    given["many"] = words.count(3)
    assert message.values["many"] == Value("count", 2)
    with pytest.raises(TypeError):
        message.values["many"] = words.count(4)  # type: ignore[index]  # that it cannot be assigned is the test


def test_equal_messages_are_one_key() -> None:
    one = Message("{many} of {all}", {"many": words.count(1), "all": words.count(2)})
    same = Message("{many} of {all}", {"all": words.count(2), "many": words.count(1)})
    other = Message("{many} of {all}", {"many": words.count(2), "all": words.count(2)})
    assert one == same
    assert hash(one) == hash(same)
    assert len({one, same, other}) == 2


@pytest.mark.parametrize(
    ("made", "kind", "value", "of"),
    [
        (words.text(3), "text", "3", ""),
        (words.quantity(1, "pressure"), "quantity", 1.0, "pressure"),
        (words.count(2), "count", 2, ""),
        (words.number(2), "number", 2.0, ""),
        (words.chance(0.25), "chance", 0.25, ""),
        (words.test_name("vent_time"), "test", "vent_time", ""),
        (words.outcome("vent_time", "under_1_s"), "outcome", "under_1_s", "vent_time"),
        (words.fault("exhaust_blocked"), "fault", "exhaust_blocked", ""),
        (words.verdict("good"), "verdict", "good", ""),
        (words.phrase("look at the port"), "phrase", "look at the port", ""),
        (words.listing((words.count(1),)), "list", (Value("count", 1),), ""),
    ],
)
def test_values_say_what_they_are(made: Value, kind: str, value: object, of: str) -> None:
    assert (made.kind, made.value, made.of) == (kind, value, of)


def test_braces_in_a_value_are_no_places() -> None:
    assert Message("{typed} is odd", {"typed": words.text("{nothing}")}).values["typed"].value == "{nothing}"
