"""The chain of reasoning of a diagnosis: from what was seen to what is wrong, and from a result to its cause.

Only what a small drawing needs: the most probable faults, the facts that speak for and against each, and
which of them leads to which.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from fanwright.diagnosis.model import Cause, Diagnosis, Sign

MOST_FAULTS = 3
FROM = 0.1
"""A fault less probable than this is drawn only where none is more probable; judgement."""
LEAD_FROM = 0.3
"""A cause this probable is drawn as what led to its result; judgement."""
MOST_FOR, MOST_AGAINST = 3, 1


@dataclass(frozen=True)
class Held:
    """A fault that is drawn.

    Args:
        fault: The fault (catalogue id), or ``no_fault``.
        probability: How probable it is that it is present [-].
        open_tests: Where it is a result whose cause is not known: tests that would show one.
    """

    fault: str
    probability: float
    open_tests: tuple[str, ...] = ()


@dataclass(frozen=True)
class Link:
    """One fact that speaks for or against one fault."""

    test: str
    fault: str
    speaks: Literal["for", "against"]


@dataclass(frozen=True)
class Reasoning:
    """Everything that is drawn.

    Args:
        evidence: The facts, in the order of the faults they speak of; each once.
        held: The faults, a cause before its result.
        links: Which fact speaks for or against which fault.
        leads: Pairs of a cause and the result it leads to, both among the faults drawn.
    """

    evidence: tuple[Sign, ...]
    held: tuple[Held, ...]
    links: tuple[Link, ...]
    leads: tuple[tuple[str, str], ...]


def reasoning_of(
    diagnosis: Diagnosis, *, faults: int = MOST_FAULTS, speaking_for: int = MOST_FOR
) -> Reasoning:
    """Choose what a drawing of a diagnosis shows.

    Args:
        diagnosis: The diagnosis.
        faults: How many faults at most [-].
        speaking_for: How many facts for each at most [-].

    Returns:
        The chain of reasoning.

    Example:
        >>> sign = Sign("coil_ohms", "open", 0.98, 0.001)
        >>> found = reasoning_of(Diagnosis((Cause("coil_open", 0.99, "", (sign,)),)))
        >>> [one.fault for one in found.held], found.links[0].speaks
        (['coil_open'], 'for')
    """
    likely = [cause for cause in diagnosis.causes if cause.probability >= FROM]
    shown = (likely or list(diagnosis.causes))[:faults]
    names = {cause.fault for cause in shown}
    leads = tuple(
        (one.cause, one.result)
        for one in diagnosis.leading_to
        if one.probability >= LEAD_FROM and {one.cause, one.result} <= names
    )
    ordered = _causes_first(shown, leads)
    links: list[Link] = []
    signs: dict[str, Sign] = {}
    for cause in ordered:
        for_it, against = cause.speaks_for[:speaking_for], cause.speaks_against[:MOST_AGAINST]
        for sign in (*for_it, *against):
            signs.setdefault(sign.test, sign)
            links.append(Link(sign.test, cause.fault, "for" if sign in for_it else "against"))
    explained = {result for _, result in leads}
    held = tuple(
        Held(
            cause.fault,
            cause.probability,
            () if cause.fault in explained else _open_tests(diagnosis, cause.fault),
        )
        for cause in ordered
    )
    return Reasoning(tuple(signs.values()), held, tuple(links), leads)


def _causes_first(causes: Sequence[Cause], leads: Sequence[tuple[str, str]]) -> list[Cause]:
    """Put a cause right before the first of its results; all else stays as it is."""
    found = list(causes)
    for cause, result in leads:
        at = [one.fault for one in found]
        if at.index(cause) > at.index(result):
            found.insert(at.index(result), found.pop(at.index(cause)))
    return found


def _open_tests(diagnosis: Diagnosis, result: str) -> tuple[str, ...]:
    """Name the tests that would show what led to a result, of the most probable causes first."""
    asked = [one for one in diagnosis.leading_to if one.result == result and one.probability < LEAD_FROM]
    return tuple(dict.fromkeys(test for one in asked for test in one.ask[:1]))[:2]
