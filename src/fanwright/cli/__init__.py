"""The command line. A command is one file here; it is imported only when it is called."""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

HERE = Path(__file__).parent


class _Commands(click.Group):
    """Finds commands by looking into this folder; imports one only to run it or to show its help."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Name all commands."""
        return sorted(_names())

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command."""
        stem = _names().get(cmd_name.replace("-", "_"))
        if stem is None:
            return None
        module = importlib.import_module(f"fanwright.cli.{stem}")
        found: click.Command = module.command
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands by the first line of their file, without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, _first_line(stem)) for name, stem in sorted(_names().items())])


def _names() -> dict[str, str]:
    """Commands and their files; a word of the language takes an underscore behind it (``import_.py``)."""
    stems = (path.stem for path in HERE.glob("*.py") if not path.stem.startswith("_"))
    return {stem.rstrip("_"): stem for stem in stems}


def _first_line(stem: str) -> str:
    with (HERE / f"{stem}.py").open(encoding="utf-8") as file:
        return file.readline().strip().strip('"').rstrip(".")


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="fanwright")
def fanwright() -> None:
    """Readings in, an honest verdict on a truck's air-operated fan drive out."""


def main() -> None:
    """Run the command line; mistakes of an input exit with 2, our own faults with 1, findings never."""
    sys.exit(run(lambda: fanwright.main(standalone_mode=False, prog_name="fanwright")))


def run(work: Callable[[], Any]) -> int:
    """Run something and turn whatever comes out of it into lines and an exit code."""
    try:
        work()
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except click.ClickException as mistake:
        mistake.show()
        return 2
    except (click.Abort, KeyboardInterrupt):
        click.echo("stopped", err=True)
        return 2
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:  # the last line of defence: one line for people, details to a file
        return _failed(error)
    return 0


def _failed(error: Exception) -> int:
    import tempfile
    import traceback

    from fanwright.errors import FanwrightError, InputError, OutOfRange
    from fanwright.report.say import say_all

    if isinstance(error, FanwrightError):
        for line in say_all(error.messages):
            click.echo(line, err=True)
        if isinstance(error, (InputError, OutOfRange)):
            return 2
        return 1
    with tempfile.NamedTemporaryFile("w", prefix="fanwright-", suffix=".txt", delete=False) as details:
        details.write("".join(traceback.format_exception(error)))
    click.echo(f"fanwright failed ({type(error).__name__}); details are in {details.name}", err=True)
    return 1
