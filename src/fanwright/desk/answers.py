"""Answers given in a dialogue, kept beside the visit file and merged whenever it is read.

A person's file is never rewritten. Answers go into ``NAME.answers.json`` beside ``NAME.toml``, shaped
as the tables ``readings`` and ``not_done`` of a visit file. What the visit file says itself goes before an
answer.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fanwright.desk.files import read_table
from fanwright.errors import FileError
from fanwright.words import Message, text

TABLES = ("readings", "not_done")


def answers_file(path: Path) -> Path:
    """Name the file that holds the answers to a visit.

    Example:
        >>> answers_file(Path("214.toml")).name
        '214.answers.json'
    """
    return path.with_suffix(".answers.json")


def read_answers(path: Path) -> Mapping[str, Mapping[str, Any]]:
    """Read the answers kept beside a visit file.

    Args:
        path: The visit file.

    Returns:
        The tables ``readings`` and ``not_done``; empty where nothing was answered yet.

    Raises:
        FileError: The file of answers is there but cannot be read.
    """
    kept = answers_file(path)
    if not kept.exists():
        return {name: {} for name in TABLES}
    raw = read_table(kept)
    unknown = [name for name in raw if name not in TABLES]
    wrong = [name for name in TABLES if not isinstance(raw.get(name, {}), Mapping)]
    if unknown or wrong:
        raise FileError(
            Message(
                "{file}: {names} cannot be used; allowed are the tables readings and not_done, or delete it"
                " and answer again",
                {"file": text(kept), "names": text(", ".join([*unknown, *wrong]))},
            )
        )
    return {name: raw.get(name, {}) for name in TABLES}


def with_answers(raw: Mapping[str, Any], answers: Mapping[str, Mapping[str, Any]]) -> Mapping[str, Any]:
    """Lay answers under what a visit file says itself.

    Args:
        raw: The parsed visit file.
        answers: The tables of the answers.

    Returns:
        Both together; where both say something of one test, the visit file counts.

    Example:
        >>> with_answers({"readings": {"grip": "holds"}}, {"readings": {"grip": "spins", "click": "clear"}})
        {'readings': {'grip': 'holds', 'click': 'clear'}}
    """
    merged = dict(raw)
    own = {name: raw.get(name, {}) for name in TABLES}
    if not all(isinstance(table, Mapping) for table in own.values()):
        return merged
    for name, table in answers.items():
        added = {test: given for test, given in table.items() if test not in own["readings"]}
        if added:
            merged[name] = {
                **own[name],
                **{test: one for test, one in added.items() if test not in own[name]},
            }
    return merged
