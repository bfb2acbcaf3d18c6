"""One reading against its limits: chances of each band, and the verdict they lead to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from fanwright.catalogue import Catalogue, Test
from fanwright.evidence.reading import Measured, Reading
from fanwright.judging.chances import chance_between
from fanwright.judging.limits import Band, Limits, TestLimits
from fanwright.judging.nominal import difference, nominal, share
from fanwright.judging.verdict import WORST_LAST, Judgement, Verdict
from fanwright.truck.model import Truck
from fanwright.words import Message, Value, chance, outcome, phrase, quantity, test_name


@dataclass(frozen=True)
class Context:
    """What a reading is judged in.

    Args:
        truck: The machine.
        catalogue: What can be observed.
        limits: The limits in force.
        others: The reading chosen for each test of the same stage (before, or after the repair).
    """

    truck: Truck
    catalogue: Catalogue
    limits: Limits
    others: Mapping[str, Reading]


class _Weighed(NamedTuple):
    """A value weighed against one set of bands."""

    measured: Measured
    dimension: str
    verdict: Verdict
    chances: dict[str, float]
    repeat: bool
    limit_si: float | None
    watch_limit_si: float | None
    reason: str
    todo: str
    source: str


def judge(reading: Reading, context: Context) -> Judgement:
    """Judge one reading.

    Args:
        reading: A value or an outcome word, already found plausible.
        context: Truck, limits and the other readings it may depend on.

    Returns:
        The judgement; ``not_judged`` with the reason where nothing can be said, never a guess.
    """
    test = context.catalogue.tests[reading.test]
    limits = context.limits.tests[reading.test]
    refusal = reading.cannot_judge or _precondition(reading, context)
    if refusal is not None:
        return _not_judged(reading, test, context, refusal)
    if reading.measured is None or not limits.bands:
        return _by_word(reading, test, limits, context)
    return _by_value(reading, test, limits, context)


def _not_judged(reading: Reading, test: Test, context: Context, why: Message) -> Judgement:
    measured = reading.measured
    return Judgement(
        test=reading.test,
        verdict="not_judged",
        reading=reading,
        why=why,
        dimension=test.dimension,
        value_si=None if measured is None else measured.si,
        sd_si=None if measured is None else measured.sd_si,
        cautions=_cautions(test, context),
    )


def _cautions(test: Test, context: Context) -> tuple[str, ...]:
    return test.cautions_for(context.truck.grips_by, context.truck.valve)


def _precondition(reading: Reading, context: Context) -> Message | None:
    """Say why a reading cannot be judged as things stand, or None."""
    if reading.measured is None:
        return None
    if reading.test == "fill_time":
        return _fill_refusal(reading, context)
    if reading.test == "vent_time" and reading.origin == "typed":
        sent = context.others.get("drive_gauge_air_on")
        edge = next(band.up_to_si for band in context.limits.tests["drive_gauge_air_on"].bands)
        if (
            sent is not None
            and sent.measured is not None
            and edge is not None
            and sent.measured.si < edge - 2.5 * sent.measured.sd_si
        ):
            return Message(
                "the drive stood at {pressure} with air sent, so there was no {edge} to vent from: "
                "it cannot be timed",
                {
                    "pressure": quantity(sent.measured.si, "pressure"),
                    "edge": quantity(edge, "pressure"),
                },
            )
    return None


def _fill_refusal(reading: Reading, context: Context) -> Message | None:
    needed = context.limits.fill_from_inlet_pa
    still = context.others.get("supply_gauge_still")
    inlet = reading.conditions.get("inlet_gauge_pa")
    if inlet is None and still is not None and still.measured is not None:
        inlet = still.measured.si
    if inlet is None:
        return Message(
            "the inlet pressure was not read; fill time is judged only from {needed} at the inlet",
            {"needed": quantity(needed, "pressure")},
        )
    if inlet < needed:
        return Message(
            "the inlet stood at {inlet}; fill time is judged only from {needed} at the inlet: "
            "build air and time it again",
            {"inlet": quantity(inlet, "pressure"), "needed": quantity(needed, "pressure")},
        )
    return None


def _by_word(reading: Reading, test: Test, limits: TestLimits, context: Context) -> Judgement:
    if reading.measured is not None and set(limits.words.values()) <= {"none"}:
        return _informs(reading, reading.measured, test, limits, context)
    if not reading.outcome:
        return _not_judged(reading, test, context, Message("no limit and no outcome word covers this value"))
    verdict = limits.words[reading.outcome]
    if verdict == "none":
        why = Message("{outcome}: it only informs", {"outcome": outcome(test.id, reading.outcome)})
    else:
        why = Message(
            "{outcome}: {reason}",
            {
                "outcome": outcome(test.id, reading.outcome),
                "reason": phrase(limits.reason_for(context.truck.grips_by)),
            },
        )
    return Judgement(
        test=reading.test,
        verdict=verdict,
        reading=reading,
        why=why,
        todo=_todo(verdict, limits.todo),
        limit_source=limits.source,
        cautions=_cautions(test, context),
    )


def _informs(
    reading: Reading, measured: Measured, test: Test, limits: TestLimits, context: Context
) -> Judgement:
    return Judgement(
        test=reading.test,
        verdict="none",
        reading=reading,
        why=Message(
            "{value}: it only informs; {reason}",
            {"value": quantity(measured.si, test.dimension), "reason": phrase(limits.reason)},
        ),
        dimension=test.dimension,
        value_si=measured.si,
        sd_si=measured.sd_si,
        limit_source=limits.source,
        cautions=_cautions(test, context),
    )


def _todo(verdict: Verdict, todo: str) -> Message | None:
    return Message("{todo}", {"todo": phrase(todo)}) if todo and verdict in WORST_LAST[1:] else None


def _by_value(reading: Reading, test: Test, limits: TestLimits, context: Context) -> Judgement:
    measured = reading.measured
    assert measured is not None
    known = nominal(test.relative_to, reading, context.truck, context.others) if test.relative_to else None
    if test.relative_to and known is None and not limits.bands_without_nominal:
        return _not_judged(
            reading,
            test,
            context,
            Message("{test}: what it should be is not known for this truck", {"test": test_name(test.id)}),
        )
    judged = measured if known is None else share(measured, known)
    weighed = [
        _weigh(
            judged,
            "share" if known is not None else test.dimension,
            limits.bands_for(context.truck.volts, known is not None),
            limits.reason_for(context.truck.grips_by),
            limits.todo,
            limits.source,
            context.limits,
        )
    ]
    second, refusal = _against(reading, measured, test, limits, context)
    if refusal is not None and weighed[0].verdict == "good":
        return _not_judged(reading, test, context, refusal)
    if second is not None:
        weighed.append(second)
    worst = max(weighed, key=lambda one: WORST_LAST.index(one.verdict))
    repeat = any(one.repeat for one in weighed)
    return _judgement(reading, test, weighed[0], worst, context, repeat)


def _against(
    reading: Reading, measured: Measured, test: Test, limits: TestLimits, context: Context
) -> tuple[_Weighed | None, Message | None]:
    against = limits.against
    if against is None:
        return None, None
    gap = difference(against.other, reading, measured, context.others)
    if gap is None:
        if against.other in context.catalogue.tests:
            return None, None
        return None, Message("{test} needs what stands beside it to be judged", {"test": test_name(test.id)})
    return (
        _weigh(
            gap,
            test.dimension,
            against.bands,
            against.reason,
            against.todo,
            against.source,
            context.limits,
        ),
        None,
    )


def _weigh(
    measured: Measured,
    dimension: str,
    bands: tuple[Band, ...],
    reason: str,
    todo: str,
    source: str,
    limits: Limits,
) -> _Weighed:
    chances: dict[str, float] = {}
    for band in bands:
        held = chance_between(band.above_si, band.up_to_si, measured)
        chances[band.verdict] = chances.get(band.verdict, 0.0) + held
    verdict = next(
        (word for word in reversed(WORST_LAST) if chances.get(word, 0.0) >= limits.caution_share),
        max(WORST_LAST, key=lambda word: chances.get(word, 0.0)),
    )
    return _Weighed(
        measured,
        dimension,
        verdict,
        chances,
        max(chances.values()) < limits.sure_share,
        _nearest_edge(bands, ("act_now", "stand_down"), measured.si),
        _nearest_edge(bands, ("watch", "act_now", "stand_down"), measured.si),
        reason,
        todo,
        source,
    )


def _nearest_edge(bands: tuple[Band, ...], beyond: tuple[str, ...], value: float) -> float | None:
    """The edge nearest to the value at which the bands change into the given verdicts."""
    edges = [
        one.up_to_si
        for one, following in pairwise(bands)
        if one.up_to_si is not None and (one.verdict in beyond) != (following.verdict in beyond)
    ]
    return min(edges, key=lambda edge: abs(edge - value)) if edges else None


def _judgement(
    reading: Reading, test: Test, first: _Weighed, worst: _Weighed, context: Context, repeat: bool
) -> Judgement:
    by_difference = worst is not first
    return Judgement(
        test=reading.test,
        verdict=worst.verdict,
        reading=reading,
        why=_why(worst, by_difference),
        todo=_todo(worst.verdict, worst.todo),
        dimension=first.dimension,
        value_si=first.measured.si,
        sd_si=first.measured.sd_si,
        difference_si=worst.measured.si if by_difference else None,
        difference_limit_si=worst.limit_si if by_difference else None,
        limit_si=first.limit_si,
        watch_limit_si=first.watch_limit_si,
        chances=worst.chances,
        repeat=repeat,
        limit_source=worst.source,
        cautions=_cautions(test, context),
    )


def _why(weighed: _Weighed, by_difference: bool) -> Message:
    to_act = weighed.verdict in ("act_now", "stand_down") and weighed.limit_si is not None
    edge = weighed.limit_si if to_act else weighed.watch_limit_si
    within = weighed.chances.get("good", 0.0) + (weighed.chances.get("watch", 0.0) if to_act else 0.0)
    shown = (
        "temperature_difference"
        if weighed.dimension == "temperature" and by_difference
        else weighed.dimension
    )
    values: dict[str, Value] = {
        "value": quantity(weighed.measured.si, shown),
        "reason": phrase(weighed.reason),
    }
    if edge is None:
        return Message("{value}: {reason}", values)
    values |= {"limit": quantity(edge, shown), "chance": chance(max(0.0, 1.0 - within))}
    if by_difference:
        return Message(
            "{value} apart, against a limit of {limit}, {chance} chance of being beyond it: {reason}", values
        )
    return Message("{value} against a limit of {limit}, {chance} chance of being beyond it: {reason}", values)
