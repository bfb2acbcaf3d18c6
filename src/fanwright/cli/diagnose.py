"""Find what is wrong with a truck, one test at a time: the next best test, why, and when to stop."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from fanwright.desk.diagnose import Dialogue
    from fanwright.diagnosis.model import Diagnosis, NextTest
    from fanwright.report.say import Reader

HELP = "a number of the list, a word, or a quantity; also: why, other, cannot, undo, causes, quit"


@click.command(name="diagnose")
@click.argument("visit", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Write the diagnosis as JSON and ask nothing.")
@click.option("--shop", type=click.Path(path_type=Path), help="The shop's own limits, presets and prices.")
@click.option("--language", type=click.Choice(["en", "es", "fr"]), default="en", help="Language of numbers.")
def command(visit: Path, as_json: bool, shop: Path | None, language: str) -> None:
    """Ask for one test after the other and say what is wrong with the truck of VISIT, a visit file.

    Answers are kept beside the visit file as NAME.answers.json and count whenever the visit is assessed. The
    visit file itself is never changed. Every answer can be taken back.
    """
    from fanwright.desk.diagnose import open_dialogue
    from fanwright.report.say import Reader

    dialogue = open_dialogue(visit, shop, language=language)
    reader = Reader(dialogue.shop.units, dialogue.shop.catalogue)
    if as_json:
        from fanwright.cli._show import write_json
        from fanwright.report.causes_data import diagnosis_data

        found = dialogue.assessment()
        data = {"unit": found.visit.unit}
        write_json(data if found.diagnosis is None else data | diagnosis_data(found.diagnosis, reader))
        return
    _talk(dialogue, reader)


def _talk(dialogue: Dialogue, reader: Reader) -> None:
    """Ask until no test is worth its time or nobody answers."""
    from fanwright.cli._causes import show_diagnosis

    place = 0
    while (diagnosis := dialogue.assessment().diagnosis) is not None and diagnosis.next_tests:
        place %= len(diagnosis.next_tests)
        asked = diagnosis.next_tests[place]
        _brief(diagnosis, reader)
        said = _ask(asked, reader)
        if said == "quit":
            break
        place = place + 1 if said == "other" else 0
        if said != "other":
            _take(dialogue, diagnosis, asked, said, reader)
    if diagnosis is None:
        click.echo("the search for causes failed inside the program; please report it", err=True)
    else:
        show_diagnosis(diagnosis, reader)


def _brief(diagnosis: Diagnosis, reader: Reader) -> None:
    from fanwright.report.say import write_chance

    likely = ", ".join(
        f"{reader.catalogue.faults[cause.fault].label} {write_chance(cause.probability)}"
        for cause in diagnosis.causes[:3]
    )
    click.echo(f"\nmost likely causes: {likely}")


def _ask(asked: NextTest, reader: Reader) -> str:
    """Show the test with its state, cautions and outcomes, and read one line; no line left is quit."""
    from fanwright.report.say import say

    test = reader.catalogue.tests[asked.test]
    click.echo(f"next test: {test.label} ({asked.minutes:g} min)")
    click.echo(f"  {say(asked.why, reader)}")
    click.echo(f"  {test.how} State: {test.state}.")
    for rule in test.cautions:
        click.echo(f"  caution: {reader.catalogue.cautions[rule.caution].text}")
    for number, one in enumerate(test.outcomes, start=1):
        click.echo(f"  {number}  {one.label}")
    try:
        return str(click.prompt(f"answer ({HELP})", prompt_suffix="\n> ")).strip()
    except click.Abort:
        click.echo()
        return "quit"


def _take(dialogue: Dialogue, diagnosis: Diagnosis, asked: NextTest, said: str, reader: Reader) -> None:
    """Do what was said; a mistake is told and nothing is kept."""
    from fanwright.errors import InputError
    from fanwright.report.say import say_all

    test = reader.catalogue.tests[asked.test]
    word, _, rest = said.partition(" ")
    if said == "why":
        click.echo(f"  taken apart: {test.taken_apart}; tools: {test.tools or 'none'}; from: {test.basis}")
    elif said == "causes":
        from fanwright.cli._causes import show_diagnosis

        show_diagnosis(diagnosis, reader)
    elif word == "cannot":
        dialogue.cannot(test, rest)
    elif said == "undo":
        undone = dialogue.undo()
        click.echo(
            f"taken back: {reader.catalogue.tests[undone].label}" if undone else "nothing to take back"
        )
    else:
        try:
            dialogue.answer(test, said)
        except InputError as mistake:
            for line in say_all(mistake.messages, reader):
                click.echo(line, err=True)
