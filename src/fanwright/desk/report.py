"""Make the paper of a visit: assess it, add its photos, set it, write it whole."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fanwright.errors import InputError
from fanwright.words import Message, text

if TYPE_CHECKING:
    from fanwright.report.pdf import Paper

PHOTOS = "photos"


@dataclass(frozen=True)
class MadeReport:
    """A paper that was written.

    Args:
        path: Where it stands.
        sha256: Hash of its bytes.
        unit: The truck it is about.
        overall: The overall verdict it states.
    """

    path: Path
    sha256: str
    unit: str
    overall: str


def make_report(
    visit_file: Path,
    out: Path,
    shop_file: Path | None = None,
    *,
    language: str = "en",
    paper: Paper = "us-letter",
    db: str | None = None,
) -> MadeReport:
    """Write the paper of one visit.

    Args:
        visit_file: The visit file.
        out: The PDF to write; it appears whole or not at all.
        shop_file: The shop's own data, if not where it is looked for.
        language: Language of the numbers in the visit file.
        paper: Size of the sheet.
        db: Records whose past of the truck counts too; None for those the environment names, if any.

    Returns:
        What was written.

    Raises:
        InputError: Every mistake of the visit, its files and photos, a character the font lacks, or a
            place that cannot be written to.
    """
    from fanwright.desk.keep import assess_with_past
    from fanwright.report.pdf import make_pdf
    from fanwright.report.photos import read_photos
    from fanwright.report.say import Reader
    from fanwright.report.writing import replace_file

    if out.suffix.lower() != ".pdf":
        raise InputError(
            Message("{out} must end in .pdf, so that no other file is written over", {"out": text(out)})
        )
    assessed = assess_with_past(visit_file, db, shop_file, language=language)
    seen = assessed.assessment
    names = seen.visit.files.get(PHOTOS, ())
    photos = read_photos((name, visit_file.parent / name) for name in names)
    made = make_pdf(seen, Reader(assessed.shop.units, assessed.shop.catalogue), photos, paper)
    replace_file(out, made)
    return MadeReport(out, hashlib.sha256(made).hexdigest(), seen.visit.unit, seen.overall)
