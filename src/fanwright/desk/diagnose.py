"""Diagnose a visit as a dialogue: one question at a time, every answer kept beside the visit file.

A person's file is never rewritten; see :mod:`fanwright.desk.answers`.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fanwright.catalogue import Test
from fanwright.desk.answers import answers_file, read_answers, with_answers
from fanwright.desk.files import read_table
from fanwright.desk.shop import Shop, open_shop
from fanwright.errors import InputError
from fanwright.evidence.typed import read_entry
from fanwright.report.writing import replace_file
from fanwright.visit import Assessment, assess, visit_from
from fanwright.words import Message

if TYPE_CHECKING:
    from fanwright.report.pictures.svg import Theme
    from fanwright.report.say import Reader


@dataclass
class Dialogue:
    """A diagnosis in progress.

    Args:
        path: The visit file.
        shop: The shop it is made in.
        language: Language of the numbers.
        answers: What was answered so far.
        done: Tests answered in this dialogue, in order, for undoing.
    """

    path: Path
    shop: Shop
    language: str
    answers: dict[str, dict[str, Any]]
    done: list[str] = field(default_factory=list)

    def assessment(self) -> Assessment:
        """Assess the visit with the answers so far.

        Returns:
            The assessment.

        Raises:
            InputError: Every mistake of the visit file.
        """
        raw = with_answers(read_table(self.path), self.answers)
        visit = visit_from(raw, self.shop.catalogue, self.shop.presets, self.language)
        return assess(visit, self.shop.catalogue, self.shop.limits)

    def answer(self, test: Test, given: str) -> None:
        """Take an answer: the number of an outcome, an outcome word, or a quantity with its unit.

        Args:
            test: The test.
            given: What was typed.

        Raises:
            InputError: It is none of these; nothing is kept.
        """
        words = test.words()
        typed = given.strip()
        value = words[int(typed) - 1] if typed.isdigit() and 1 <= int(typed) <= len(words) else typed
        if not value:
            raise InputError(Message("nothing was typed; give a number of the list, a word, or a quantity"))
        read_entry(test.id, value, self.shop.catalogue, language=self.language)
        self._keep("readings", test.id, value)

    def cannot(self, test: Test, reason: str) -> None:
        """Note that a test cannot be done.

        Args:
            test: The test.
            reason: Why.
        """
        self._keep("not_done", test.id, reason.strip() or "cannot be done")

    def undo(self) -> str:
        """Take the last answer back.

        Returns:
            The test it belonged to, or an empty text when there is nothing to undo.
        """
        if not self.done:
            return ""
        test = self.done.pop()
        for table in self.answers.values():
            table.pop(test, None)
        self._write()
        return test

    def _keep(self, table: str, test: str, value: str) -> None:
        for other in self.answers.values():
            other.pop(test, None)
        self.answers[table][test] = value
        self.done = [*(one for one in self.done if one != test), test]
        self._write()

    def _write(self) -> None:
        content = json.dumps(self.answers, ensure_ascii=False, indent=1) + "\n"
        replace_file(answers_file(self.path), content.encode())


def open_dialogue(path: Path, shop_file: Path | None = None, *, language: str = "en") -> Dialogue:
    """Begin or go on with the diagnosis of a visit.

    Args:
        path: The visit file.
        shop_file: The shop's own data; else the environment's, else ``shop.toml`` beside the visit.
        language: Language of the numbers.

    Returns:
        The dialogue with the answers kept so far.

    Raises:
        FileError: A file cannot be read.
    """
    shop = open_shop(shop_file, path)
    kept = {name: dict(table) for name, table in read_answers(path).items()}
    return Dialogue(path, shop, language, kept, list(kept["readings"]))


def draw_chain(assessment: Assessment, theme: Theme = "screen", reader: Reader | None = None) -> str:
    """Draw the chain of reasoning of an assessment, from what was seen to its cause.

    Args:
        assessment: The assessment.
        theme: ``screen`` or ``print``.
        reader: Who reads; psi and English when None.

    Returns:
        An SVG document; empty where the search for causes failed.
    """
    from fanwright.report.pictures.chain import draw_assessment

    return draw_assessment(assessment, theme, reader)
