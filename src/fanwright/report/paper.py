"""What a section is made from and made of: plain blocks, text as data and never as markup."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import PurePath
from typing import Any

from fanwright.evidence.reading import Evidence, Exhibit
from fanwright.report.photos import Photo
from fanwright.report.pictures import needle
from fanwright.report.say import VERDICT_WORDS, Reader, say
from fanwright.visit.model import Assessment
from fanwright.words import Message, Value

Block = dict[str, Any]
Cell = str | dict[str, Any]


@dataclass(frozen=True)
class Material:
    """Everything a section may draw on.

    Args:
        assessment: What is reported.
        reader: Who reads.
        photos: Photos that go with the visit.
        program: Name and version of the program that wrote the paper.
    """

    assessment: Assessment
    reader: Reader
    photos: tuple[Photo, ...] = ()
    program: str = ""

    def say(self, template: str, **values: Value) -> str:
        """Make a sentence of the paper's own."""
        return say(Message(template, values), self.reader)

    def told(self, message: Message) -> str:
        """Make a sentence of somebody else's message."""
        return say(message, self.reader)

    def test_label(self, test_id: str) -> str:
        """Give the plain name of a test."""
        test = self.reader.catalogue.tests.get(test_id)
        return test_id.replace("_", " ") if test is None else test.label

    def exhibits(self) -> tuple[tuple[Exhibit, Evidence], ...]:
        """Give every exhibit with the evidence it stands in."""
        return tuple((exhibit, one) for one in self.assessment.evidence for exhibit in one.exhibits)


@dataclass(frozen=True)
class Section:
    """One part of the paper.

    Args:
        title: Its heading; empty for none.
        blocks: What it holds, in order.
        together: Whether it should stay on one page.
        floating: Whether it may move to the top or foot of a page, so that what follows fills the gap.
    """

    title: str
    blocks: tuple[Block, ...]
    together: bool = False
    floating: bool = False

    def data(self) -> dict[str, Any]:
        """Give it as plain data for the template."""
        return {
            "title": self.title,
            "blocks": list(self.blocks),
            "together": self.together,
            "floating": self.floating,
        }


@dataclass(frozen=True)
class Table:
    """A ruled table.

    Args:
        head: Column heads.
        widths: Share of the free width of each column; 0 as wide as its content [-].
        rows: Cells, row by row.
        right: Columns set to the right.
    """

    head: tuple[str, ...]
    widths: tuple[float, ...]
    rows: tuple[tuple[Cell, ...], ...]
    right: frozenset[int] = field(default_factory=frozenset)

    def block(self) -> Block:
        """Give it as a block."""
        return {
            "kind": "table",
            "head": list(self.head),
            "widths": list(self.widths),
            "rows": [list(row) for row in self.rows],
            "right": sorted(self.right),
        }


def file_name(place: str) -> str:
    """Give a file's own name: the paper says the same from whichever folder it was made.

    Example:
        >>> file_name("visits/april/214-air.csv")
        '214-air.csv'
    """
    return PurePath(place).name


def lines(texts: Sequence[str], style: str = "plain") -> Block:
    """Set paragraphs; style is ``plain``, ``strong``, ``quiet`` or ``list``."""
    return {"kind": "lines", "texts": list(texts), "style": style}


def halves(texts: Sequence[str]) -> Block:
    """Set a long list in two columns of about the same length."""
    half, so_far, cut = sum(map(len, texts)) / 2, 0, 0
    while cut < len(texts) and so_far < half:
        so_far += len(texts[cut])
        cut += 1
    return {"kind": "halves", "sides": [list(texts[:cut]), list(texts[cut:])]}


def pairs(entries: Sequence[tuple[str, str]], across: int = 2) -> Block:
    """Set names with their values, so many to a row."""
    return {"kind": "pairs", "entries": [list(entry) for entry in entries], "across": across}


def picture(svg: str, alt: str, wide: float = 1.0, caption: str = "") -> Block:
    """Set a picture as wide as a share of the page [-], its caption above."""
    return {"kind": "picture", "svg": svg, "alt": alt, "wide": wide, "caption": caption}


def beside(pictures: Sequence[Block], captions: Sequence[str]) -> Block:
    """Set pictures side by side, each with a line below."""
    return {"kind": "beside", "pictures": list(pictures), "captions": list(captions)}


def verdict_cell(verdict: str, note: str = "") -> Cell:
    """Set the mark of a verdict with its word."""
    word = VERDICT_WORDS.get(verdict, verdict)
    strong = verdict in {"watch", "act_now", "stand_down"}
    shown = f"{word}, {note}" if note else word
    if verdict == "none":
        return {"text": shown, "strong": False}
    return {"text": shown, "strong": strong, "svg": needle.draw(verdict, "print"), "alt": word}


def strong(text: str) -> Cell:
    """Set a cell in bold."""
    return {"text": text, "strong": True}
