"""Text for people: tables in a terminal, plain lines when piped. Not a command."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from typing import Any

import click

from fanwright.catalogue import Test
from fanwright.evidence.reading import Reading
from fanwright.judging import Judgement, Limits
from fanwright.quantities import write_fraction
from fanwright.report.lists import bands_text
from fanwright.report.say import VERDICT_WORDS, Reader, say, say_all, write_chance
from fanwright.visit import Assessment, NotJudged

STYLES = {"stand_down": "bold red", "act_now": "bold", "watch": "", "good": "dim", "none": "dim"}
WIDTH = 110


def write_json(data: object) -> None:
    """Write JSON to standard output; a number that is not finite is a fault of ours and never written."""
    click.echo(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))


def heading(text: str) -> None:
    """Write a heading."""
    click.echo("")
    click.echo(click.style(text, bold=True) if sys.stdout.isatty() else text)


def table(columns: tuple[str, ...], rows: Iterable[tuple[str, ...]], styles: Iterable[str] = ()) -> None:
    """Write a ruled table as wide as the terminal, or at a fixed width when piped."""
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    piped = not sys.stdout.isatty()
    console = Console(width=WIDTH if piped else None, no_color=piped, highlight=False, soft_wrap=False)
    ruled = Table(box=SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for column in columns:
        ruled.add_column(column, overflow="fold")
    painted = list(styles)
    for number, row in enumerate(rows):
        ruled.add_row(*(Text(cell) for cell in row), style=painted[number] if painted else None)
    with console.capture() as capture:
        console.print(ruled)
    click.echo("\n".join(line.rstrip() for line in capture.get().splitlines()))


def show_assessment(assessment: Assessment, reader: Reader) -> None:
    """Show an assessment: finding first, then proof, then what is not known."""
    visit = assessment.visit
    who = visit.circumstances.get("technician", "")
    said = [visit.date.isoformat(), f"{visit.kind} visit", who]
    if visit.odometer_m is not None:
        said.append(reader.write(visit.odometer_m, "distance"))
    click.echo(f"truck {visit.unit}   " + "   ".join(part for part in said if part))
    click.echo(_arrangement(assessment))
    heading(f"{VERDICT_WORDS[assessment.overall].upper()}: {say(assessment.overall_why, reader)}")
    if assessment.overall_after is not None:
        click.echo(f"after the repair: {VERDICT_WORDS[assessment.overall_after]}")
    if assessment.diagnosis is not None:
        from fanwright.cli._causes import show_diagnosis

        show_diagnosis(assessment.diagnosis, reader)
    if assessment.life is not None:
        from fanwright.cli.life import show_life

        show_life(assessment.life, reader)
    _verdicts("as found", assessment.verdicts, reader)
    _verdicts("after the repair", assessment.verdicts_after, reader)
    _reasons((*assessment.verdicts, *assessment.verdicts_after), reader)
    _lines("does not fit together", [say(one.message, reader) for one in assessment.findings])
    _lines(
        "not judged",
        [_unjudged(one, reader) for one in assessment.not_judged],
    )
    _lines(
        "read twice: the surer reading is judged, these agree with it",
        [
            f"{reader.catalogue.tests[one.test].label}: {reading_text(one, reader)}, {one.origin}"
            for one in assessment.listed
        ],
    )
    _lines(
        "not done",
        [f"{reader.catalogue.tests[test].label}: {why}" for test, why in assessment.not_done.items()],
    )
    _lines(
        "missing for this kind of visit", [reader.catalogue.tests[test].label for test in assessment.missing]
    )
    _lines("seen in the files", say_all((n for one in assessment.evidence for n in one.notes), reader))
    _lines(
        "cannot be told from the files",
        say_all((n for one in assessment.evidence for n in one.cannot_tell), reader),
    )
    _lines("before anyone reaches in", _general(assessment, reader))
    if assessment.shop_file:
        click.echo(f"\nlimits from {assessment.shop_file} (sha256 {assessment.shop_sha256[:12]})")


def _general(assessment: Assessment, reader: Reader) -> list[str]:
    """The cautions that stand over every visit of this arrangement."""
    truck = assessment.visit.truck
    return [
        caution.text
        for caution in reader.catalogue.cautions.values()
        if caution.general
        and caution.grips_by in (None, truck.grips_by)
        and caution.valve in (None, truck.valve)
    ]


def _unjudged(one: NotJudged, reader: Reader) -> str:
    label = reader.catalogue.tests[one.test].label
    return f"{label} ({reading_text(one.reading, reader)}): {say(one.why, reader)}"


def _arrangement(assessment: Assessment) -> str:
    truck = assessment.visit.truck
    valve = "shuts without current" if truck.valve == "nc" else "passes without current"
    return f"{truck.grips_by}-on drive, valve {valve}, {truck.volts:.0f} V"


def _verdicts(title: str, judged: tuple[Judgement, ...], reader: Reader) -> None:
    if not judged:
        return
    heading(title)
    table(
        ("verdict", "test", "value", "watch | act", "chance beyond", "from"),
        [
            (
                VERDICT_WORDS[one.verdict] + (", repeat" if one.repeat else ""),
                reader.catalogue.tests[one.test].label,
                reading_text(one.reading, reader),
                _limit(one, reader),
                _chances(one),
                one.reading.origin,
            )
            for one in judged
        ],
        [STYLES[one.verdict] for one in judged],
    )


def reading_text(reading: Reading | None, reader: Reader) -> str:
    """Say a reading as its value, or as the label of its outcome."""
    if reading is None:
        return ""
    test = reader.catalogue.tests[reading.test]
    if reading.measured is None:
        return next((one.label for one in test.outcomes if one.word == reading.outcome), reading.outcome)
    written = reader.write(reading.measured.si, test.dimension)
    if test.id == "facing_thickness" and reader.units.unit("length").name == "in":
        written += f" ({write_fraction(reading.measured.si)})"
    return written


def _limit(judged: Judgement, reader: Reader) -> str:
    if judged.difference_limit_si is not None:
        of = "temperature_difference" if judged.dimension == "temperature" else judged.dimension
        return f"{reader.write(judged.difference_limit_si, of)} apart"
    edges = [edge for edge in (judged.watch_limit_si, judged.limit_si) if edge is not None]
    written = list(dict.fromkeys(reader.write(edge, judged.dimension) for edge in edges))
    unit = reader.units.unit(judged.dimension).printed if judged.dimension else ""
    return " | ".join([one.removesuffix(f" {unit}") for one in written[:-1]] + written[-1:])


def _chances(judged: Judgement) -> str:
    chances = [judged.chance_beyond_watch, judged.chance_beyond_limit]
    if judged.limit_si == judged.watch_limit_si:
        chances = chances[1:]
    return " | ".join(write_chance(chance, short=True) for chance in chances if chance is not None)


def _reasons(judged: Iterable[Judgement], reader: Reader) -> None:
    told = [one for one in judged if one.verdict in ("watch", "act_now", "stand_down")]
    if not told:
        return
    heading("why, and what to do")
    for one in told:
        stage = " after the repair" if one.reading.after else ""
        label = reader.catalogue.tests[one.test].label
        click.echo(f"- {VERDICT_WORDS[one.verdict]}, {label}{stage}: {say(one.why, reader)}")
        if one.todo is not None:
            click.echo(f"    do: {say(one.todo, reader)}")
        for caution in one.cautions:
            click.echo(f"    caution: {reader.catalogue.cautions[caution].text}")
        click.echo(f"    limit from: {one.limit_source}")


def _lines(title: str, lines: list[str]) -> None:
    if lines:
        heading(title)
        for line in lines:
            click.echo(f"- {line}")


def show_tests(tests: tuple[Test, ...], limits: Limits, reader: Reader, *, alone: bool) -> None:
    """Show all tests as a table, or one in full."""
    if not alone:
        table(
            ("test", "what", "min", "taken apart"),
            [(test.id, test.label, f"{test.minutes:g}", test.taken_apart) for test in tests],
        )
        return
    for test in tests:
        click.echo(f"{test.id}: {test.label}")
        for name, said in (
            ("how", test.how),
            ("state", test.state),
            ("taken apart", test.taken_apart),
            ("minutes", f"{test.minutes:g}"),
            ("source", test.basis),
        ):
            click.echo(f"  {name}: {said}")
        words = limits.tests[test.id].words
        _lines(
            "outcomes",
            [f"{one.word} ({one.label}): {VERDICT_WORDS[words[one.word]]}" for one in test.outcomes],
        )
        _lines("limits", bands_text(test, limits.tests[test.id], reader))
        _lines("cautions", [reader.catalogue.cautions[rule.caution].text for rule in test.cautions])


def show_limits(tests: tuple[Test, ...], limits: Limits, reader: Reader) -> None:
    """Show the limits in force with their sources."""
    rows = []
    for test in tests:
        limit = limits.tests[test.id]
        words = [f"{word}: {VERDICT_WORDS[verdict]}" for word, verdict in limit.words.items()]
        rows.append((test.id, "\n".join(bands_text(test, limit, reader) or words), limit.source))
    table(("test", "limits", "source"), rows)


def show_rows(title: str, columns: tuple[str, ...], rows: list[tuple[Any, ...]]) -> None:
    """Show a titled table."""
    heading(title)
    table(columns, [tuple(str(cell) for cell in row) for row in rows])
