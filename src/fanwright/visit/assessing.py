"""Everything that can honestly be said about a visit, built whole."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from fanwright.catalogue import Catalogue
from fanwright.diagnosis import Diagnosis
from fanwright.evidence.reading import Evidence, Reading, apart
from fanwright.judging import WORST_LAST, Context, Judgement, Limits, judge
from fanwright.judging.contradictions import find_contradictions
from fanwright.judging.verdict import Finding
from fanwright.visit.diagnosing import diagnose_visit
from fanwright.visit.life import Life
from fanwright.visit.living import life_of
from fanwright.visit.model import Assessment, NotJudged, Visit
from fanwright.words import Message, count, listing, test_name, text


def assess(
    visit: Visit,
    catalogue: Catalogue,
    limits: Limits,
    evidence: tuple[Evidence, ...] = (),
    *,
    shop_file: str = "",
    shop_sha256: str = "",
    verdicts_only: bool = False,
) -> Assessment:
    """Assess a visit.

    Args:
        visit: What was written down.
        catalogue: What can be observed.
        limits: The limits in force.
        evidence: What was read out of the visit's files.
        shop_file: The shop's own data in force, if any.
        shop_sha256: Hash of that file.
        verdicts_only: Leave out causes and life, which take most of the time.

    Returns:
        The assessment; nothing in it is ever NaN, and what was not measured is never good.
    """
    read_out = [reading for one in evidence for reading in one.readings]
    before, disagreeing, listed = _choose([*visit.readings, *(one for one in read_out if not one.after)])
    after, disagreeing_after, listed_after = _choose(
        [*visit.readings_after, *(one for one in read_out if one.after)]
    )
    context = Context(visit.truck, catalogue, limits, before)
    judged = _judge_all(before.values(), context)
    judged_after = _judge_all(after.values(), replace(context, others={**before, **after}))
    findings = (
        *(Finding("assumed", message) for message in visit.assumed),
        *find_contradictions(_with(visit, before, after), context),
    )
    diagnosis: Diagnosis | None = None
    life: Life | None = None
    failed: tuple[Finding, ...] = ()
    if not verdicts_only:
        diagnosis, failed = _diagnosed(visit, before.values(), catalogue)
        life, failed_too = _lasting(visit, before, after, catalogue, diagnosis, evidence)
        failed = (*failed, *failed_too)
    core = catalogue.core.get(visit.kind, ())
    overall, why, missing = _overall(judged, core)
    now = {one.test: one for one in judged} | {one.test: one for one in judged_after}
    return Assessment(
        visit=visit,
        overall=overall,
        overall_why=why,
        overall_after=_overall(now.values(), core)[0] if judged_after else None,
        verdicts=_ordered(judged, catalogue),
        verdicts_after=_ordered(judged_after, catalogue),
        not_judged=(*disagreeing, *disagreeing_after, *_not_judged([*judged, *judged_after])),
        listed=(*listed, *listed_after),
        not_done=visit.not_done,
        missing=missing,
        findings=(*findings, *failed),
        diagnosis=diagnosis,
        life=life,
        evidence=evidence,
        shop_file=shop_file,
        shop_sha256=shop_sha256,
    )


def _diagnosed(
    visit: Visit, readings: Iterable[Reading], catalogue: Catalogue
) -> tuple[Diagnosis | None, tuple[Finding, ...]]:
    """Diagnose; a crash inside becomes a finding, and the verdicts stand."""
    try:
        return diagnose_visit(visit, readings, catalogue), ()
    except Exception as error:  # whatever it is, the verdicts of the visit still stand
        why = Message(
            "the search for causes failed inside the program ({kind}); please report it",
            {"kind": text(type(error).__name__)},
        )
        return None, (Finding("diagnosis_failed", why),)


def _lasting(
    visit: Visit,
    before: Mapping[str, Reading],
    after: Mapping[str, Reading],
    catalogue: Catalogue,
    diagnosis: Diagnosis | None,
    evidence: tuple[Evidence, ...],
) -> tuple[Life | None, tuple[Finding, ...]]:
    """Forecast the facing; a crash inside becomes a finding, and the verdicts stand."""
    try:
        return life_of(visit, before.values(), after.values(), catalogue, diagnosis, evidence), ()
    except Exception as error:  # whatever it is, the verdicts of the visit still stand
        why = Message(
            "the forecast of the facing failed inside the program ({kind}); please report it",
            {"kind": text(type(error).__name__)},
        )
        return None, (Finding("life_failed", why),)


def _with(visit: Visit, before: Mapping[str, Reading], after: Mapping[str, Reading]) -> Visit:
    return replace(visit, readings=tuple(before.values()), readings_after=tuple(after.values()))


def _choose(
    readings: Iterable[Reading],
) -> tuple[Mapping[str, Reading], tuple[NotJudged, ...], tuple[Reading, ...]]:
    """Choose one reading a test: the surer one; two that contradict each other are not judged.

    Returns:
        The reading chosen for each test, the ones that contradict it, and the ones merely listed beside it.
    """
    chosen: dict[str, Reading] = {}
    contradicting: list[NotJudged] = []
    listed: list[Reading] = []
    for reading in readings:
        held = chosen.get(reading.test)
        if held is None:
            chosen[reading.test] = reading
            continue
        surer, other = _surer(held, reading)
        if surer.measured and other.measured and apart(surer.measured, other.measured):
            why = _disagreement(surer, other)
            chosen[reading.test] = replace(surer, cannot_judge=why)
            contradicting.append(NotJudged(reading.test, why, other))
        else:
            chosen[reading.test] = surer
            listed.append(other)
    return MappingProxyType(chosen), tuple(contradicting), tuple(listed)


def _surer(one: Reading, other: Reading) -> tuple[Reading, Reading]:
    """Put the reading with the smaller uncertainty first; a value before a word, a judgeable one before."""

    def rank(reading: Reading) -> tuple[bool, bool, float]:
        measured = reading.measured
        return (
            reading.cannot_judge is not None,
            measured is None,
            0.0 if measured is None else measured.sd_si,
        )

    return (one, other) if rank(one) <= rank(other) else (other, one)


def _disagreement(surer: Reading, other: Reading) -> Message:
    return Message(
        "readings_disagree: the {one} and the {other} reading of {test} contradict each other; take it again",
        {"one": text(surer.origin), "other": text(other.origin), "test": test_name(surer.test)},
    )


def _judge_all(readings: Iterable[Reading], context: Context) -> tuple[Judgement, ...]:
    return tuple(_guarded(reading, context) for reading in readings)


def _guarded(reading: Reading, context: Context) -> Judgement:
    """Judge one reading; a crash inside becomes a finding about that reading, and the visit goes on."""
    try:
        return judge(reading, context)
    except Exception as error:  # whatever it is, the other readings still deserve their verdict
        return Judgement(
            test=reading.test,
            verdict="not_judged",
            reading=reading,
            why=Message(
                "judging {test} failed inside the program ({kind}); please report it",
                {"test": test_name(reading.test), "kind": text(type(error).__name__)},
            ),
        )


def _overall(judged: Iterable[Judgement], core: tuple[str, ...]) -> tuple[str, Message, tuple[str, ...]]:
    """The worst verdict given; good only if the whole core set is judged good."""
    verdicts = {one.test: one.verdict for one in judged}
    missing = tuple(test for test in core if verdicts.get(test) not in WORST_LAST)
    given = [word for word in verdicts.values() if word in WORST_LAST]
    worst = max(given, key=WORST_LAST.index, default="not_judged")
    if worst in WORST_LAST[1:]:
        culprits = tuple(test_name(test) for test, word in verdicts.items() if word == worst)
        return (
            worst,
            Message("because of: {tests}", {"tests": listing(culprits)}),
            missing,
        )
    if missing or worst == "not_judged":
        return (
            "not_judged",
            Message(
                "nothing bad was found, but {number} tests that this kind of visit needs are missing: "
                "{tests}",
                {
                    "number": count(len(missing)),
                    "tests": listing(tuple(test_name(test) for test in missing)),
                },
            ),
            missing,
        )
    return "good", Message("every test that this kind of visit needs was judged good"), ()


def _ordered(judged: tuple[Judgement, ...], catalogue: Catalogue) -> tuple[Judgement, ...]:
    order = {test: number for number, test in enumerate(catalogue.tests)}
    severity = {"stand_down": 0, "act_now": 1, "watch": 2, "good": 3, "none": 4}
    shown = [one for one in judged if one.verdict != "not_judged"]
    return tuple(sorted(shown, key=lambda one: (severity[one.verdict], order[one.test])))


def _not_judged(judged: Iterable[Judgement]) -> tuple[NotJudged, ...]:
    return tuple(NotJudged(one.test, one.why, one.reading) for one in judged if one.verdict == "not_judged")
