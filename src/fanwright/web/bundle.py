"""Hands the modules of one page over as one file, so that a tablet far from the network asks once.

The modules stay what they are: each is put into a function of its own, and its imports become names taken
from the others. Nothing is shortened but comments that fill whole lines and the blanks before a line. Only
the plain forms of import and export that our own modules use are known, and no text over several lines;
anything else is an error at the first request, which a test makes.
"""

from __future__ import annotations

import re
from functools import cache

from fanwright.web.settings import STATIC

PAGES = ("visit", "bay")
STYLES = ("tokens", "page")
_IMPORT = re.compile(
    r'^import\s+(?:\{([^}]*)\}|\*\s+as\s+(\w+))\s+from\s+"\./([\w-]+)\.mjs";\n', re.MULTILINE
)
_BARE = re.compile(r'^import\s+"\./([\w-]+)\.mjs";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export\s+((?:async\s+)?function\s+(\w+)|const\s+(\w+)|let\s+(\w+))", re.MULTILINE)
_COMMENT = re.compile(r"^[ \t]*//.*\n|^[ \t]*/\*\*?(?:.|\n)*?\*/[ \t]*\n|^[ \t]*\n", re.MULTILINE)
_BLANKS = re.compile(r"^[ \t]+", re.MULTILINE)
_LEFT = re.compile(r"^\s*(?:import|export)\b(?!\()", re.MULTILINE)


@cache
def bundle(page: str) -> str:
    """Give the modules of a page as one module.

    Args:
        page: The page's own module, such as ``visit``.

    Returns:
        The text.

    Raises:
        ValueError: A module imports or exports in a way that is not known here.
    """
    written: dict[str, str] = {}
    _add(page, written, ())
    return "\n".join(written.values())


def _add(name: str, written: dict[str, str], above: tuple[str, ...]) -> None:
    """Write a module after those it needs."""
    if name in written:
        return
    if name in above:
        raise ValueError(*above, name)
    text = (STATIC / f"{name}.mjs").read_text("utf-8")
    for _, _, other in _IMPORT.findall(text):
        _add(other, written, (*above, name))
    for other in _BARE.findall(text):
        _add(other, written, (*above, name))
    body = _IMPORT.sub(_taken, _BARE.sub("", _COMMENT.sub("", text)))
    body = _BLANKS.sub("", body)
    names = [next(filter(None, found[1:])) for found in _EXPORT.findall(body)]
    body = _EXPORT.sub(r"\1", body)
    if _LEFT.search(body) or any(line.count("`") % 2 for line in body.splitlines()):
        raise ValueError(name)
    given = ", ".join(names)
    written[name] = f"const {_place(name)} = await (async () => {{\n{body}return {{ {given} }};\n}})();"


def _taken(found: re.Match[str]) -> str:
    names, space, other = found.groups()
    if space:
        return f"const {space} = {_place(other)};\n"
    return f"const {{ {names.replace(' as ', ': ').strip()} }} = {_place(other)};\n"


def _place(name: str) -> str:
    return "of_" + name.replace("-", "_")


@cache
def styles(page: str) -> str:
    """Give the style sheets of a page as one.

    Args:
        page: The page's own sheet, such as ``visit``.
    """
    return "".join((STATIC / f"{name}.css").read_text("utf-8") for name in (*STYLES, page))
