"""Every reading with its verdict, value, limits, chance and source."""

from __future__ import annotations

from fanwright.evidence.reading import Reading
from fanwright.judging.verdict import Judgement
from fanwright.report.figures import plain, reading_words
from fanwright.report.paper import Cell, Material, Section, Table, lines, verdict_cell
from fanwright.report.say import write_chance
from fanwright.words import text

ORDER = 60
HEAD = ("Test", "Verdict", "Reading", "Watch, act past", "Chance of it", "How read", "Source")
MOST_ROWS = 26  # more than this would not leave room on three pages


def build(material: Material) -> Section | None:
    """Build the table of verdicts."""
    seen = material.assessment
    if not seen.verdicts:
        return None
    sources = limit_sources(material)
    tabled = seen.verdicts
    brief: tuple[Judgement, ...] = ()
    if len(seen.verdicts) > MOST_ROWS:
        brief = tuple(each for each in seen.verdicts if each.verdict in {"good", "none"} and not each.chances)
        tabled = tuple(each for each in seen.verdicts if each not in brief)
    told = [
        material.say(
            "Chance of it: that the true value lies past the watch and past the act limit. A verdict is the "
            "worst band that holds at least the caution share; where none holds 90 %, repeat the reading."
        )
    ]
    if seen.listed:
        beside = "; ".join(
            f"{_brief(material, reading)} ({how_read(material, reading)})" for reading in seen.listed
        )
        told.insert(0, material.say("Read again another way, in agreement: {all}.", all=text(beside)))
    if brief:
        told.insert(
            0,
            material.say(
                "Found by look or feel, good or only noted: {all}.",
                all=text("; ".join(_brief(material, each.reading) for each in brief)),
            ),
        )
    rows = tuple(_row(material, each, sources) for each in tabled)
    head = tuple(material.say(words) for words in HEAD)
    table = Table(head, (2.9, 0, 1.7, 0, 0, 1.6, 0), rows, frozenset({3, 4}))
    return Section(material.say("Verdicts and limits in force"), (table.block(), lines(told, "quiet")))


def _brief(material: Material, reading: Reading) -> str:
    return f"{material.test_label(reading.test)}: {reading_words(reading, material.reader)}"


def limit_sources(material: Material) -> dict[str, int]:
    """Number the sources of the limits in the order they are first used."""
    seen = material.assessment
    named = [each.limit_source for each in (*seen.verdicts, *seen.verdicts_after) if each.limit_source]
    return {source: index + 1 for index, source in enumerate(dict.fromkeys(named))}


def _row(material: Material, each: Judgement, sources: dict[str, int]) -> tuple[Cell, ...]:
    return (
        material.test_label(each.test),
        verdict_cell(each.verdict, material.say("repeat") if each.repeat else ""),
        {"text": reading_words(each.reading, material.reader), "strong": True},
        _both(each, _limit(material, each, each.watch_limit_si), _limit(material, each, each.limit_si)),
        _both(each, _chance(each.chance_beyond_watch), _chance(each.chance_beyond_limit)),
        how_read(material, each.reading),
        str(sources[each.limit_source]) if each.limit_source else "",
    )


def _both(each: Judgement, watch: str, act: str) -> str:
    if each.watch_limit_si == each.limit_si:
        return act
    return f"{watch or 'none'}, {act or 'none'}" if watch or act else ""


def _limit(material: Material, each: Judgement, limit_si: float | None) -> str:
    if limit_si is None or not each.dimension:
        return ""
    return plain(limit_si, each.dimension, material.reader.units)


def _chance(chance: float | None) -> str:
    if chance is None:
        return ""
    return write_chance(chance, short=True).replace(" %", "\u00a0%")


def how_read(material: Material, reading: Reading) -> str:
    """Say how a reading came about: with what, by whom, when, from which file."""
    known = material.reader.catalogue.instruments.get(reading.instrument)
    instrument = reading.instrument if known is None else known.label
    if reading.origin != "typed":
        instrument = material.say("from the {origin}", origin=text(reading.origin))
    return ", ".join(part for part in (instrument, reading.by, reading.at) if part) or material.say("typed")
