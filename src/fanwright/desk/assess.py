"""Assess a visit: the file, the files it names, the shop's own data."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from fanwright.catalogue import Catalogue
from fanwright.desk.answers import read_answers, with_answers
from fanwright.desk.files import read_table
from fanwright.desk.shop import Shop, open_shop
from fanwright.errors import FanwrightError, InputError
from fanwright.evidence.reading import Evidence
from fanwright.visit import Assessment, Past, Visit, assess, visit_from
from fanwright.words import Message, text

TRACES = ("air_trace", "air_trace_after")
RECORDINGS = ("recording", "recording_after")


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
    try:
        visit = visit_from(
            with_answers(read_table(path), read_answers(path)), shop.catalogue, shop.presets, language
        )
    except InputError as error:
        mistakes += error.messages
    evidence: list[Evidence] = []
    if visit is not None:
        evidence = _read_files(visit, path.parent, mistakes)
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


def _read_files(visit: Visit, folder: Path, mistakes: list[Message]) -> list[Evidence]:
    found: list[Evidence] = []
    for what in (*TRACES, *RECORDINGS):
        for name in visit.files.get(what, ()):
            try:
                found.append(_read_one(what, folder / name, visit))
            except FanwrightError as error:
                mistakes += [
                    Message("files.{_what}: " + one.template, {"_what": text(what), **one.values})
                    for one in error.messages
                ]
    return found


def _read_one(what: str, path: Path, visit: Visit) -> Evidence:
    if what in TRACES:
        from fanwright.evidence.trace import read_trace

        evidence = read_trace(path).evidence
    else:
        from fanwright.evidence.recording import read_recording

        number = visit.identity.get("vin", "")
        evidence = read_recording([path], truck=visit.truck, vehicle_number=number).evidence
    if what.endswith("_after"):
        return replace(
            evidence, readings=tuple(replace(reading, after=True) for reading in evidence.readings)
        )
    return evidence
