"""`fanwright people` as it is typed: who may sign in, with secrets that never stand on the command line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fanwright.cli import fanwright, run
from fanwright.desk import people
from fanwright.desk.records import open_records

WORDS = "correct horse battery"


@pytest.fixture
def db(tmp_path: Path) -> str:
    return str(tmp_path / "shop.db")


@pytest.fixture
def secret(tmp_path: Path) -> str:
    path = tmp_path / "secret"
    path.write_text(f"{WORDS}\nanything else\n")
    return str(path)


def typed(*words: str) -> int:
    return run(lambda: fanwright.main(["people", *words], standalone_mode=False))


def listed(db: str, capsys: pytest.CaptureFixture[str]) -> dict[str, dict[str, Any]]:
    capsys.readouterr()
    assert typed("list", "--db", db, "--json") == 0
    return {one["name"]: one for one in json.loads(capsys.readouterr().out)["people"]}


def knows(db: str, name: str, password: str) -> bool:
    store = open_records(db)
    try:
        return people.check_password(store, name, password)
    finally:
        store.close()


def test_from_the_first_manager_to_one_who_left(
    db: str, secret: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert typed("add", "Mia", "--role", "manager", "--db", db, "--password-file", secret) == 0
    assert typed("add", " Ana  Lu ", "--db", db, "--password-file", secret, "--by", "Mia") == 0
    assert knows(db, "Ana Lu", WORDS)
    found = listed(db, capsys)
    assert {name: one["role"] for name, one in found.items()} == {"Ana Lu": "technician", "Mia": "manager"}
    assert "hash" not in json.dumps(found)
    digits = tmp_path / "digits"
    digits.write_text("8350")
    assert typed("pin", "Ana Lu", "--db", db, "--password-file", str(digits)) == 0
    assert listed(db, capsys)["Ana Lu"]["has_pin"] is True
    assert typed("pin", "Ana Lu", "--none", "--db", db) == 0
    assert listed(db, capsys)["Ana Lu"]["has_pin"] is False
    assert typed("role", "Ana Lu", "foreman", "--db", db) == 0
    digits.write_text("other horse battery")
    assert typed("password", "Ana Lu", "--db", db, "--password-file", str(digits)) == 0
    assert knows(db, "Ana Lu", "other horse battery")
    assert not knows(db, "Ana Lu", WORDS)
    assert typed("withdraw", "Ana Lu", "--db", db) == 0
    assert typed("disable", "Ana Lu", "--db", db) == 0
    assert not knows(db, "Ana Lu", "other horse battery")
    assert listed(db, capsys)["Ana Lu"]["disabled"] is True
    assert typed("enable", "Ana Lu", "--db", db) == 0
    assert knows(db, "Ana Lu", "other horse battery")


def test_a_password_is_asked_for_twice_and_not_shown(db: str) -> None:
    done = CliRunner().invoke(fanwright, ["people", "add", "Mia", "--db", db], input=f"{WORDS}\n{WORDS}\n")
    assert done.exit_code == 0, done.output
    assert WORDS not in done.output
    assert "Mia may sign in" in done.output
    assert knows(db, "Mia", WORDS)


def test_no_option_takes_a_password() -> None:
    for name in ("add", "password", "pin"):
        told = CliRunner().invoke(fanwright, ["people", name, "--help"]).output
        assert "--password-file" in told
        assert "--password " not in told


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["role", "Nob", "reader"], "there is nobody of the name"),
        (["role", "Mia", "reader"], "is the only manager"),
        (["disable", "Mia"], "is the only manager"),
        (["withdraw", "Nob"], "there is nobody of the name"),
        (["add", "Mia", "--password-file", "SECRET"], "is there already"),
        (["add", "E\x07ve", "--password-file", "SECRET"], "cannot be a name"),
        (["pin", "Mia", "--password-file", "SECRET"], "a PIN is 4 to 8 digits"),
        (["add", "Eve", "--password-file", "gone"], "is not there"),
    ],
)
def test_mistakes_are_told_in_a_line_each(
    db: str, secret: str, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    assert typed("add", "Mia", "--role", "manager", "--db", db, "--password-file", secret) == 0
    capsys.readouterr()
    assert typed(*(secret if word == "SECRET" else word for word in words), "--db", db) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert said in told.err
    assert len(told.err.splitlines()) == 1


def test_all_mistakes_of_one_call_come_together(
    db: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    short = tmp_path / "short"
    short.write_text("short")
    assert typed("add", "\x07", "--role", "king", "--db", db, "--password-file", str(short)) == 2
    assert len(capsys.readouterr().err.splitlines()) == 3


def test_a_password_file_that_is_no_text(db: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "x").write_bytes(b"\xff\xfe\xff")
    assert typed("add", "Mia", "--db", db, "--password-file", str(tmp_path / "x")) == 2
    assert "is not text in UTF-8" in capsys.readouterr().err
