"""What a catalogue must not contradict: each id named exists, words and cut points fit together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import combinations

from fanwright.catalogue.model import NOMINALS, Catalogue, Fault, Instrument, Outcome, Test
from fanwright.words import Message, text

ROLES = ("cause", "result", "both", "none")
COMBINES = ("lowest", "highest", "mean")
LIST_MEANS = ("places", "trials", "repeats")
KINDS = ("planned", "complaint", "retest")
ONLY_FROM = ("", "recording")
SEVEREST = 5


def contradictions(catalogue: Catalogue) -> list[Message]:
    """Find everything that does not fit together.

    Args:
        catalogue: The catalogue as built.

    Returns:
        A message for each contradiction; none for a sound catalogue.
    """
    found: list[Message] = []
    for test in catalogue.tests.values():
        found += _words(test)
        found += _measuring(test, catalogue.instruments)
        found += _cautions(test, catalogue)
    for fault in catalogue.faults.values():
        found += _fault(fault, catalogue)
    for instrument in catalogue.instruments.values():
        if instrument.dimension and instrument.division_si == instrument.normal_sd_si == 0.0:
            found.append(
                _about(f"instruments.{instrument.id}", "{where} reads without any error: give its division")
            )
    found += _core(catalogue)
    found += _labels(catalogue)
    return found


def _about(where: str, template: str, **given: object) -> Message:
    return Message(template, {"where": text(where)} | {name: text(value) for name, value in given.items()})


def _words(test: Test) -> Iterator[Message]:
    where = f"tests.{test.id}"
    if not test.outcomes:
        yield _about(where, "{where} has no outcome words")
    if test.good and test.good not in test.words():
        yield _about(where, "{where}: the good word {given} is not one of its words", given=test.good)
    if test.only_from not in ONLY_FROM:
        yield _about(where, "{where}: {given} is no source we know", given=test.only_from)
    for table in (test.outcomes, test.outcomes_24v):
        yield from _cuts(where, table)
        if not test.dimension and any(outcome.has_cut for outcome in table):
            yield _about(where, "{where} has cut points, but nothing is measured")


def _cuts(where: str, outcomes: tuple[Outcome, ...]) -> Iterator[Message]:
    cut = [outcome for outcome in outcomes if outcome.has_cut]
    for outcome in cut:
        if outcome.lowest_si >= outcome.highest_si:
            yield _about(where, "{where}: no value can fall under {word}", word=outcome.word)
    for one, other in combinations(cut, 2):
        low = max(one.lowest_si, other.lowest_si)
        high = min(one.highest_si, other.highest_si)
        if low < high or (low == high and one.holds(low) and other.holds(low)):
            yield _about(where, "{where}: {one} and {other} overlap", one=one.word, other=other.word)


def _measuring(test: Test, instruments: Mapping[str, Instrument]) -> Iterator[Message]:
    where = f"tests.{test.id}"
    if not test.dimension:
        if test.instrument or test.relative_to or test.plausible or test.combine or test.list_means:
            yield _about(where, "{where} says how it is measured, but not its dimension")
        return
    if test.plausible is None or test.plausible[0] >= test.plausible[1]:
        yield _about(where, "{where} needs a plausible range that rises")
    if test.relative_to and test.relative_to not in NOMINALS:
        yield _about(where, "{where}: {given} is not a nominal we know", given=test.relative_to)
    for name in filter(None, (test.instrument or "none", test.fraction_instrument)):
        instrument = instruments.get(name)
        if instrument is None:
            yield _about(where, "{where}: there is no instrument {given}", given=name)
        elif instrument.dimension != test.dimension:
            yield _about(where, "{where}: {given} does not measure what this test asks", given=name)
    if bool(test.combine) != bool(test.list_means):
        yield _about(where, "{where}: say both what a list means and how it is combined, or neither")
    if test.combine not in (None, *COMBINES) or test.list_means not in ("", *LIST_MEANS):
        yield _about(where, "{where}: how a list combines is not known")


def _cautions(test: Test, catalogue: Catalogue) -> Iterator[Message]:
    named = [rule.caution for rule in test.cautions]
    if not named:
        yield _about(f"tests.{test.id}", "{where} names no caution, not even that there is no hazard")
    if "no_hazard" in named and len(named) > 1:
        yield _about(f"tests.{test.id}", "{where} says that there is no hazard and names one")
    for caution in named:
        if caution not in catalogue.cautions:
            yield _about(f"tests.{test.id}", "{where}: there is no caution {given}", given=caution)


def _fault(fault: Fault, catalogue: Catalogue) -> Iterator[Message]:
    where = f"faults.{fault.id}"
    for led_to in fault.leads_to:
        if led_to not in catalogue.faults or led_to == fault.id:
            yield _about(where, "{where} leads to {given}, which is no other fault", given=led_to)
    if fault.role not in ROLES:
        yield _about(where, "{where}: the role {given} is not known", given=fault.role)
    if not 1 <= fault.severity <= SEVEREST:
        yield _about(where, "{where}: the severity {given} is not 1 to 5", given=fault.severity)
    if fault.labour_minutes[0] > fault.labour_minutes[1]:
        yield _about(where, "{where}: the least labour is above the most")


def _core(catalogue: Catalogue) -> Iterator[Message]:
    if set(catalogue.core) != set(KINDS):
        yield _about("core", "{where} must hold planned, complaint and retest, and nothing else")
    for kind, tests in catalogue.core.items():
        where = f"core.{kind}"
        if not tests:
            yield _about(where, "{where} is empty: nothing measured is never good")
        for name, times in Counter(tests).items():
            if times > 1:
                yield _about(where, "{where} names {given} more than once", given=name)
            if name not in catalogue.tests:
                yield _about(where, "{where}: {given} is not a test", given=name)
            elif not catalogue.tests[name].good:
                yield _about(where, "{where}: {given} only informs and can never be good", given=name)


def _labels(catalogue: Catalogue) -> Iterator[Message]:
    for room, labels in (
        ("tests", [test.label for test in catalogue.tests.values()]),
        ("faults", [fault.label for fault in catalogue.faults.values()]),
    ):
        for label, times in Counter(labels).items():
            if times > 1:
                yield _about(room, "{where}: the label {given} stands more than once", given=label)
    for test in catalogue.tests.values():
        for label, times in Counter(outcome.label for outcome in test.outcomes).items():
            if times > 1:
                yield _about(
                    f"tests.{test.id}", "{where}: the label {given} stands more than once", given=label
                )
