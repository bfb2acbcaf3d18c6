"""Where limits, files and numbers come from."""

from __future__ import annotations

from fanwright.report.paper import Block, Material, Section, Table, file_name, lines
from fanwright.report.sections.verdicts import limit_sources
from fanwright.words import text

ORDER = 110


def build(material: Material) -> Section:
    """Build the sources."""
    seen = material.assessment
    numbered = [
        material.say("{n} {source}", n=text(index), source=text(source))
        for source, index in limit_sources(material).items()
    ]
    told: list[str] = []
    if seen.shop_file:
        told.append(
            material.say(
                "The shop's own data in force: {file}, SHA-256 {hash}.",
                file=text(file_name(seen.shop_file)),
                hash=text(seen.shop_sha256),
            )
        )
    else:
        told.append(material.say("No shop data in force: limits are the program's own."))
    told.append(
        material.say(
            "Where the drive's own data sheet differs, the data sheet wins. Truck taken as «{preset}».",
            preset=text(seen.visit.truck.preset),
        )
    )
    blocks: list[Block] = [lines(["; ".join(numbered), *told], "quiet")]
    files = [(file_name(exhibit.place), exhibit.sha256) for exhibit, _ in material.exhibits()]
    files += [(photo.name, photo.sha256) for photo in material.photos]
    if files:
        head = (material.say("File"), "SHA-256")
        blocks.append(Table(head, (1, 2.4), tuple(files)).block())
    return Section(material.say("Sources"), tuple(blocks))
