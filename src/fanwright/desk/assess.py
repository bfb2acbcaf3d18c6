"""Assess a visit: the file, the files it names, the shop's own data."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fanwright.catalogue import Catalogue
from fanwright.desk.answers import read_answers, with_answers
from fanwright.desk.files import read_table
from fanwright.desk.shop import Shop, open_shop
from fanwright.errors import FanwrightError, InputError
from fanwright.evidence.reading import Evidence
from fanwright.visit import Assessment, Past, Visit, assess, visit_from
from fanwright.words import Message, text

if TYPE_CHECKING:
    from fanwright.evidence.trace import TraceResult
    from fanwright.evidence.trace.identify_machine import Machine
    from fanwright.evidence.trace.identify_result import Identified
    from fanwright.truck.model import Truck

TRACES = ("air_trace", "air_trace_after")
RECORDINGS = ("recording", "recording_after")
MOST_KEPT = 64
CYCLES = 2  # the gauge itself is less sure of the lift-off pressure than two cycles are
_FOUND: dict[tuple[str, Machine], Identified] = {}


@dataclass(frozen=True)
class Assessed:
    """An assessment with the shop it was made in."""

    assessment: Assessment
    shop: Shop


def assess_visit(
    path: Path,
    shop_file: Path | None = None,
    *,
    language: str = "en",
    past_of: Callable[[Visit], tuple[Past, ...]] | None = None,
    learned: Callable[[Catalogue], Catalogue] | None = None,
    verdicts_only: bool = False,
) -> Assessed:
    """Assess one visit file with everything it names.

    Args:
        path: The visit file (TOML, or JSON of the same shape).
        shop_file: The shop's own data; else the environment's, else ``shop.toml`` beside the visit.
        language: Language of the numbers in it.
        past_of: Gives the past of the truck from elsewhere, such as the records; None leaves the file's own.
        learned: Lays what closed visits taught over the catalogue; None leaves the judgement alone.
        verdicts_only: Leave out causes and life, which take most of the time.

    Returns:
        The assessment and the shop.

    Raises:
        InputError: Every mistake of the file and of the files it names, all together.
    """
    shop = open_shop(shop_file, path)
    mistakes: list[Message] = []
    visit: Visit | None = None
    written: Mapping[str, Any] = {}
    try:
        written = with_answers(read_table(path), read_answers(path))
        visit = visit_from(written, shop.catalogue, shop.presets, language)
    except InputError as error:
        mistakes += error.messages
    evidence: list[Evidence] = []
    if visit is not None:
        known = "preset" in written["truck"]
        evidence = _read_files(visit, path.parent, mistakes, known=known)
    if mistakes or visit is None:
        raise InputError(mistakes)
    if past_of is not None:
        visit = replace(visit, history=past_of(visit))
    return Assessed(
        assess(
            visit,
            shop.catalogue if learned is None else learned(shop.catalogue),
            shop.limits,
            tuple(evidence),
            shop_file="" if shop.path is None else str(shop.path),
            shop_sha256=shop.sha256,
            verdicts_only=verdicts_only,
        ),
        shop,
    )


def _read_files(visit: Visit, folder: Path, mistakes: list[Message], *, known: bool) -> list[Evidence]:
    found: list[Evidence] = []
    for what in (*TRACES, *RECORDINGS):
        for name in visit.files.get(what, ()):
            try:
                found.append(_read_one(what, folder / name, visit, known=known))
            except FanwrightError as error:
                mistakes += [
                    Message("files.{_what}: " + one.template, {"_what": text(what), **one.values})
                    for one in error.messages
                ]
    return found


def _read_one(what: str, path: Path, visit: Visit, *, known: bool) -> Evidence:
    if what in TRACES:
        evidence = _read_trace(path, visit.truck if known else None)
    else:
        from fanwright.evidence.recording import read_recording

        number = visit.identity.get("vin", "")
        evidence = read_recording([path], truck=visit.truck, vehicle_number=number).evidence
    if what.endswith("_after"):
        return replace(
            evidence, readings=tuple(replace(reading, after=True) for reading in evidence.readings)
        )
    return evidence


def _read_trace(path: Path, truck: Truck | None) -> Evidence:
    """Read a trace; on a truck whose volumes are known, not guessed, it also tells where the piston moves."""
    from fanwright.evidence.trace import read_trace

    result = read_trace(path)
    if truck is None:
        return result.evidence
    try:
        found = _identified(result, truck)
    except FanwrightError as error:  # the rest of the trace is sound all the same
        return replace(result.evidence, cannot_tell=(*result.evidence.cannot_tell, *error.messages))
    readings = found.readings(path.name)
    return replace(
        result.evidence,
        readings=(*result.evidence.readings, *readings),
        cannot_tell=(*result.evidence.cannot_tell, *(() if readings else found.cannot_tell)),
    )


def _identified(result: TraceResult, truck: Truck) -> Identified:
    """Identify the air circuit once for each trace and drive: a visit is assessed again at every change."""
    from fanwright.evidence.trace.identify import identify
    from fanwright.evidence.trace.identify_machine import machine_of

    machine = machine_of(truck)
    key = (result.exhibit.sha256, machine)
    if key not in _FOUND:
        found = identify(result, machine, most=CYCLES)
        while len(_FOUND) >= MOST_KEPT:
            _FOUND.pop(next(iter(_FOUND)), None)
        _FOUND[key] = found
    return _FOUND[key]
