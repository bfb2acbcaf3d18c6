"""Say who may sign in to the bay page, and in what role."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from fanwright.cli._records import by_option, db_option, json_option

if TYPE_CHECKING:
    from fanwright.desk.people import Person
    from fanwright.records.store import Store

Command = TypeVar("Command", bound=Callable[..., Any])
ROLES_HELP = "reader (looks), technician (enters), foreman (starts, keeps, signs) or manager (people)."


@click.group(name="people")
def command() -> None:
    """Add, list and shut out people; passwords are asked for or read from a file, never given as options."""


def _options(work: Command) -> Command:
    return db_option(by_option(json_option(work)))


def _password_file(work: Command) -> Command:
    return click.option(
        "--password-file",
        type=click.Path(path_type=Path),
        help="A file whose first line is the password or PIN; else it is asked for.",
    )(work)


@command.command(name="list")
@db_option
@json_option
def list_them(db: str | None, as_json: bool) -> None:
    """List everybody who may sign in, or was shut out."""
    from fanwright.cli._show import table, write_json
    from fanwright.desk import people

    with _records(db) as store:
        found = people.list_people(store)
    if as_json:
        write_json({"people": [vars(one) for one in found]})
        return
    rows = [(one.name, one.role, _pin(one), "shut out" if one.disabled else "") for one in found]
    table(("name", "role", "PIN", ""), rows)


def _pin(one: Person) -> str:
    if one.pin_sleeps:
        return "sleeps"
    return "yes" if one.has_pin else ""


@command.command()
@click.argument("name")
@click.option("--role", default="technician", show_default=True, help=ROLES_HELP)
@_password_file
@_options
def add(
    name: str, role: str, password_file: Path | None, db: str | None, by: str | None, as_json: bool
) -> None:
    """Let NAME sign in; records are started where there are none."""
    from fanwright.desk import people

    secret = _secret(password_file, "password")
    with _records(db, create=True) as store:
        people.add_person(store, name, role, secret, by=by)
    _done(name, "may sign in", as_json=as_json)


@command.command()
@click.argument("name")
@click.argument("role")
@_options
def role(name: str, role: str, db: str | None, by: str | None, as_json: bool) -> None:
    """Give NAME another ROLE."""
    from fanwright.desk import people

    with _records(db) as store:
        people.set_role(store, name, role, by=by)
    _done(name, "has another role", as_json=as_json)


@command.command()
@click.argument("name")
@_password_file
@_options
def password(name: str, password_file: Path | None, db: str | None, by: str | None, as_json: bool) -> None:
    """Give NAME a new password; every session of theirs ends."""
    from fanwright.desk import people

    secret = _secret(password_file, "password")
    with _records(db) as store:
        people.set_password(store, name, secret, by=by)
    _done(name, "has a new password and is signed out everywhere", as_json=as_json)


@command.command()
@click.argument("name")
@click.option("--none", "take_away", is_flag=True, help="Take the PIN away.")
@_password_file
@_options
def pin(
    name: str, take_away: bool, password_file: Path | None, db: str | None, by: str | None, as_json: bool
) -> None:
    """Give NAME a PIN, for a change of hands on a tablet that is known already."""
    from fanwright.desk import people

    digits = None if take_away else _secret(password_file, "PIN")
    with _records(db) as store:
        people.set_pin(store, name, digits, by=by)
    _done(name, "has no PIN" if take_away else "has a PIN", as_json=as_json)


@command.command()
@click.argument("name")
@_options
def disable(name: str, db: str | None, by: str | None, as_json: bool) -> None:
    """Shut NAME out; every session of theirs ends, and their work stays."""
    from fanwright.desk import people

    with _records(db) as store:
        people.disable(store, name, by=by)
    _done(name, "is shut out", as_json=as_json)


@command.command()
@click.argument("name")
@_options
def enable(name: str, db: str | None, by: str | None, as_json: bool) -> None:
    """Let NAME in again."""
    from fanwright.desk import people

    with _records(db) as store:
        people.enable(store, name, by=by)
    _done(name, "may sign in again", as_json=as_json)


@command.command()
@click.argument("name")
@db_option
@json_option
def withdraw(name: str, db: str | None, as_json: bool) -> None:
    """End every session of NAME, on every device; a server that runs notices within seconds."""
    from fanwright.desk import people

    with _records(db) as store:
        ended = people.withdraw_all(store, name)
    _done(name, f"is signed out ({ended} sessions)", as_json=as_json)


@contextmanager
def _records(db: str | None, *, create: bool = False) -> Iterator[Store]:
    from fanwright.desk.records import open_records

    store = open_records(db, create=create)
    try:
        yield store
    finally:
        store.close()


def _secret(file: Path | None, what: str) -> str:
    if file is None:
        asked: str = click.prompt(what, hide_input=True, confirmation_prompt=True, err=True)
        return asked
    from fanwright.desk.files import read_bytes
    from fanwright.errors import FileError
    from fanwright.words import Message, text

    try:
        lines = read_bytes(file, 4096).decode("utf-8").splitlines()
    except UnicodeDecodeError as error:
        raise FileError(Message("{file} is not text in UTF-8", {"file": text(file)})) from error
    return lines[0] if lines else ""


def _done(name: str, what: str, *, as_json: bool) -> None:
    from fanwright.cli._show import write_json

    if as_json:
        write_json({"name": " ".join(name.split()), "done": what})
    else:
        click.echo(f"{' '.join(name.split())} {what}")
