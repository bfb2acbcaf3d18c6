"""Below the desk sentences are Messages: no f-string, % or format puts words and values together.

What counts as a sentence: two words with a blank between them, or a word of three letters or more with a
blank between it and a value. Two templates with places may be joined. `{whole} in` and `{number} {unit}` are
quantities, not sentences.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOMS_THAT_WRITE = {"__main__.py", "cli", "web", "desk", "report"}
VALUE = "\0"
SENTENCE = re.compile(
    rf"[^\W\d_]{{2,}}[,.:;]?\s+[^\W\d_]{{2,}}|[^\W\d_]{{3,}}[,.:;]?\s+{VALUE}|{VALUE}\s+[^\W\d_]{{3,}}"
    rf"|{VALUE}\s+[^\W\d_]{{2,}}\s+{VALUE}"
)


def made_text(node: ast.AST) -> str | None:
    """Give the text a node puts together at run time, a mark for each value, or None if it makes none."""
    match node:
        case ast.JoinedStr():
            return "".join(
                str(part.value) if isinstance(part, ast.Constant) else VALUE for part in node.values
            )
        case ast.BinOp(left=ast.Constant(value=str(template)), op=ast.Mod()):
            return re.sub(r"%(\(\w+\))?[-+0-9.]*[a-z]", VALUE, template)
        case ast.BinOp(left=ast.Constant(value=str(text)), op=ast.Add()) if "{" not in text:
            return text + VALUE
        case ast.BinOp(right=ast.Constant(value=str(text)), op=ast.Add()) if "{" not in text:
            return VALUE + text
        case ast.Call(
            func=ast.Attribute(value=ast.Constant(value=str(template)), attr="format" | "format_map")
        ):
            return re.sub(r"\{[^}]*\}", VALUE, template)
        case ast.Call(func=ast.Attribute(attr="format" | "format_map")):
            return f"a template {VALUE}"
    return None


def sentences(tree: ast.AST) -> Iterator[tuple[int, str]]:
    for node in ast.walk(tree):
        text = made_text(node)
        if text is not None and SENTENCE.search(text):
            yield getattr(node, "lineno", 0), text.replace(VALUE, "…")


def test_no_sentence_is_put_together_below_the_desk(trees: dict[Path, ast.Module]) -> None:
    found = [
        f"{path}:{line}: {text}"
        for path, tree in trees.items()
        if path.parts[0] not in ROOMS_THAT_WRITE
        for line, text in sentences(tree)
    ]
    assert found == []


def test_sentences_are_recognised() -> None:
    """The rule itself can fail, and lets quantities, paths and ids through."""
    bad = [
        'f"{name} is not known"',
        'f"{name} is {other}"',
        'f"unknown {name}"',
        '"%s is not known" % name',
        '"{} has no unit".format(name)',
        "template.format(name=name)",
        "message.template.format_map(values)",
        '"cannot read " + name',
        'raise_it(AssertionError(f"never happens {name}"))',
    ]
    fine = [
        'f"{whole} in"',
        'f"{number} {unit}"',
        'f"{name}_{word}.toml"',
        'f"limits.{name}"',
        '"two words"',
        '"a%d" % n',
    ]
    assert [source for source in bad if not list(sentences(ast.parse(source)))] == []
    assert [source for source in fine if list(sentences(ast.parse(source)))] == []
