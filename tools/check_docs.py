"""What the docs promise exists: commands, ids, links, examples. A line for each slip, nothing when fine."""

from __future__ import annotations

import re
import sys
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "src" / "fanwright"
NAME = re.compile(r"`([a-z][a-z0-9]*(?:_[a-z0-9]+)+)`")
LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
CALL = re.compile(r"^(?:\$ )?(?:\.venv/bin/)?fanwright ([a-z][a-z-]*)", re.MULTILINE)
CODE = re.compile(r"`([^`\n]+)`|^(?:```|    )(.*)$", re.MULTILINE)
MADE = ("make run", "make test")


def pages() -> list[Path]:
    """All pages a reader may open."""
    return sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])


def commands() -> set[str]:
    """Names of the commands: each file of the command line that holds one."""
    return {
        path.stem.rstrip("_").replace("_", "-")
        for path in (PACKAGE / "cli").glob("*.py")
        if not path.stem.startswith("_") and ".command(" in path.read_text("utf-8")
    }


@cache
def vocabulary() -> set[str]:
    """Every name that occurs in the program, its data or its settings."""
    files = [*PACKAGE.rglob("*.py"), *PACKAGE.rglob("*.toml"), ROOT / "pyproject.toml", ROOT / "Makefile"]
    names: set[str] = set()
    for path in files:
        names |= set(re.findall(r"[a-z][a-z0-9]*(?:_[a-z0-9]+)+", path.read_text("utf-8")))
    return names


def anchors(page: Path) -> set[str]:
    """Headings of a page as links name them."""
    headings = re.findall(r"^#+ (.*)$", page.read_text("utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


def broken_links(page: Path) -> list[str]:
    """Links to files or headings that are not there; addresses outside are not followed."""
    slips = []
    for target in LINK.findall(page.read_text("utf-8")):
        if re.match(r"[a-z]+:", target):
            continue
        name, _, anchor = target.partition("#")
        file = (page.parent / name).resolve() if name else page
        if not file.exists():
            slips.append(f"{page.relative_to(ROOT)}: {target} is not there")
        elif anchor and file.suffix == ".md" and anchor not in anchors(file):
            slips.append(f"{page.relative_to(ROOT)}: {name or 'this page'} has no heading #{anchor}")
    return slips


def unknown_names(page: Path) -> list[str]:
    """Names in back-quotes that occur nowhere in the program."""
    found = set(NAME.findall(page.read_text("utf-8"))) - vocabulary()
    return [f"{page.relative_to(ROOT)}: `{name}` occurs nowhere in the program" for name in sorted(found)]


def command_slips() -> list[str]:
    """Commands that no page tells of, and calls of commands that do not exist."""
    known = commands()
    text = "\n".join((ROOT / name).read_text("utf-8") for name in ("README.md", "docs/commands.md"))
    called = {name for span in CODE.findall(text) for name in CALL.findall(span[0] or span[1])}
    called |= set(CALL.findall(text))
    slips = [f"docs/commands.md: fanwright {name} is not told of" for name in sorted(known - called)]
    return slips + [
        f"README.md or docs/commands.md: there is no fanwright {name}" for name in sorted(called - known)
    ]


def example_slips() -> list[str]:
    """Tests, outcome words and causes in the visit files of the docs that the catalogue does not know."""
    from fanwright.catalogue import load

    catalogue = load()
    slips = []
    page = ROOT / "docs" / "visit-file.md"
    for shown in re.findall(r"^```toml\n(.*?)^```", page.read_text("utf-8"), re.DOTALL | re.MULTILINE):
        visit: dict[str, Any] = tomllib.loads(shown)
        parts = [visit.get(name, {}) for name in ("readings", "readings_after", "not_done")]
        unknown = {test for part in parts for test in part if test not in catalogue.tests}
        slips += [f"docs/visit-file.md: {test} is not a test" for test in sorted(unknown)]
        slips += [
            f"docs/visit-file.md: {word} is no outcome of {test}"
            for part in parts[:2]
            for test, word in part.items()
            if test in catalogue.tests and isinstance(word, str) and re.fullmatch(r"[a-z]\w*", word)
            if word not in catalogue.tests[test].words()
        ]
        cause = visit.get("work", {}).get("cause")
        if cause is not None and cause not in catalogue.faults:
            slips.append(f"docs/visit-file.md: {cause} is not a fault")
    return slips


def main() -> int:
    """Look at everything and say what is wrong."""
    slips = [slip for page in pages() for slip in broken_links(page)]
    slips += [slip for page in pages() if page.parent.name != "checks" for slip in unknown_names(page)]
    slips += command_slips() + example_slips()
    readme = (ROOT / "README.md").read_text("utf-8")
    slips += [f"README.md: {made} is missing" for made in MADE if made not in readme]
    for slip in slips:
        print(slip)
    return 1 if slips else 0


if __name__ == "__main__":
    sys.exit(main())
