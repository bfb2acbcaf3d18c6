"""Show a diagnosis: most likely causes, what to do next, what led to it."""

from __future__ import annotations

import click

from fanwright.cli._show import heading
from fanwright.diagnosis.model import Cause, Diagnosis, Sign
from fanwright.report.say import Reader, say, write_chance

SHOWN = 5
LED = 5


def show_diagnosis(diagnosis: Diagnosis, reader: Reader) -> None:
    """Show what is wrong, how sure that is, and what to do next."""
    heading("most likely causes")
    for cause in diagnosis.causes[:SHOWN]:
        _show_cause(cause, reader)
    for group in diagnosis.alike:
        click.echo(f"- {say(group.why, reader)}")
    show_next(diagnosis, reader)
    if diagnosis.leading_to:
        heading("a result does not close a visit")
        for led in diagnosis.leading_to[:LED]:
            click.echo(f"- {say(led.why, reader)}")
            if led.tells is not None:
                click.echo(f"  {say(led.tells, reader)}")
    if diagnosis.repairs:
        heading("repair, in this order")
        for number, repair in enumerate(diagnosis.repairs, start=1):
            fault = reader.catalogue.faults[repair.fault]
            click.echo(f"{number}. {fault.label}: {fault.fix}")
            click.echo(
                f"   about {repair.minutes:.0f} min, {repair.cost_usd:.0f} USD; then: {fault.follow_up}"
            )
            if repair.if_left:
                click.echo(f"   if left: {repair.if_left}")
    lines = [say(one, reader) for one in (*diagnosis.doubts, *diagnosis.unused)]
    if lines:
        heading("does not fit")
        for line in lines:
            click.echo(f"- {line}")


def show_next(diagnosis: Diagnosis, reader: Reader) -> None:
    """Show the next tests, or why there is none."""
    heading("next test")
    if diagnosis.stop is not None:
        click.echo(say(diagnosis.stop, reader))
    for one in diagnosis.next_tests:
        label = reader.catalogue.tests[one.test].label
        worth = "first" if one.forced else f"worth {one.worth_usd:.0f} USD"
        click.echo(f"- {label} ({one.test}), {one.minutes:g} min, {worth}: {say(one.why, reader)}")
    for skipped in diagnosis.skipped:
        label = reader.catalogue.tests[skipped.test].label
        click.echo(f"- cannot be done: {label} ({say(skipped.why, reader)})")


def _show_cause(cause: Cause, reader: Reader) -> None:
    click.echo(f"{write_chance(cause.probability):>9}  {reader.catalogue.faults[cause.fault].label}")
    for title, told in (("for", cause.speaks_for), ("against", cause.speaks_against)):
        for sign in told:
            click.echo(f"           {title}: {sign_text(sign, reader)}")


def sign_text(sign: Sign, reader: Reader) -> str:
    """Write what a fact says of a fault."""
    test = reader.catalogue.tests[sign.test]
    label = next((one.label for one in test.outcomes if one.word == sign.outcome), sign.outcome)
    return (
        f"{test.label}: {label} ({write_chance(sign.with_fault)} with this fault, "
        f"{write_chance(sign.without)} on a sound truck)"
    )
