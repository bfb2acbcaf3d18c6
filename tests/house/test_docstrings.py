"""Docstrings are a contract: everything public has one, units agree with names, laws say all they must.

A law gives each argument and its result a unit in brackets (`[-]` too), names its source and runs an example.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

Function = ast.FunctionDef | ast.AsyncFunctionDef
Documented = Function | ast.ClassDef

# The units that the end of a name can promise, as they stand in brackets.
UNITS = {
    "pa": "Pa",
    "m": "m",
    "m2": "m2",
    "m3": "m3",
    "mm": "mm",
    "s": "s",
    "minutes": "min",
    "n": "N",
    "kg": "kg",
    "j": "J",
    "w": "W",
    "k": "K",
    "rad": "rad",
    "hz": "Hz",
    "rpm": "r/min",
    "ohm": "ohm",
    "v": "V",
    "a": "A",
    "si": "SI",
}
BRACKET = re.compile(r"\[([^\]]+)\]")
ARGUMENT = re.compile(r"^(\w+)(?: \([^)]*\))?: ")
SECTION = re.compile(
    r"^(Args|Returns|Yields|Raises|Example|Examples|Source|Note|Notes|Range): ?", re.MULTILINE
)


def is_public(name: str) -> bool:
    return not name.startswith("_")


def public_parts(tree: ast.Module) -> Iterator[tuple[str, Documented]]:
    """Public functions and classes of a module, and the public methods of those classes."""
    for node in tree.body:
        if isinstance(node, Documented) and is_public(node.name):
            yield node.name, node
            for part in node.body if isinstance(node, ast.ClassDef) else ():
                if isinstance(part, Function) and is_public(part.name):
                    yield f"{node.name}.{part.name}", part


def sections(docstring: str) -> dict[str, str]:
    """Split a docstring by its headings; the text before the first one is under the empty name."""
    cut = SECTION.split(docstring)
    return {"": cut[0]} | dict(zip(cut[1::2], cut[2::2], strict=True))


def arguments(text: str) -> dict[str, str]:
    """Read an Args section: name to its whole description."""
    found: dict[str, str] = {}
    name = ""
    for line in text.splitlines():
        start = (
            ARGUMENT.match(line.strip()) if line.startswith("    ") and not line.startswith("     ") else None
        )
        if start:
            name = start[1]
            found[name] = line.strip()[start.end() :]
        elif name:
            found[name] += " " + line.strip()
    return {key: description.strip() for key, description in found.items()}


def unit_at_end(description: str) -> str | None:
    found = re.search(r"\[([^\]]+)\]\.?$", description.strip())
    return found[1] if found else None


def promised(name: str) -> set[str]:
    """Ways to write the unit a name ends in: `_pa` Pa, `_n_m` N m, `_kg_s` and `_kg_per_s` kg/s."""
    words = name.split("_")
    start = len(words)
    while start > 1 and words[start - 1] in {*UNITS, "per"} and not words[start - 2].isdigit():
        start -= 1
    ending = words[start:]
    if not ending or ending[0] == "per":
        return set()
    if "per" in ending:
        cut = ending.index("per")
        splits = [(ending[:cut], ending[cut + 1 :])]
    else:
        splits = [(ending[:cut], ending[cut:]) for cut in range(1, len(ending) + 1)]
    return {way for above, below in splits for way in ways(above, below)}


def ways(above: list[str], below: list[str]) -> Iterator[str]:
    product = " ".join(UNITS[word] for word in above)
    over = " ".join(UNITS[word] for word in below if word != "per")
    yield product + (f"/({over})" if " " in over else f"/{over}" if over else "")


def disagrees(name: str, description: str) -> bool:
    """Say whether the name promises a unit and the brackets show another."""
    units = promised(name)
    shown = BRACKET.findall(description)
    return bool(units and shown) and not any(
        each == unit or each.startswith((unit + " ", unit + ",")) for each in shown for unit in units
    )


def complaints_of_units(name: str, node: Documented) -> Iterator[str]:
    """What a docstring anywhere in the package says about units that its names deny."""
    told = sections(ast.get_docstring(node) or "")
    for argument, description in arguments(told.get("Args", "")).items():
        if disagrees(argument, description):
            yield f"{name}: {argument} says {description}"
    if isinstance(node, Function) and disagrees(node.name, told.get("Returns", "")):
        yield f"{name}: its name and its result disagree"


def complaints_of_law(name: str, node: Function) -> Iterator[str]:
    """What is missing in the docstring of a law."""
    docstring = ast.get_docstring(node) or ""
    told = sections(docstring)
    documented = arguments(told.get("Args", ""))
    signature = node.args
    for argument in (*signature.posonlyargs, *signature.args, *signature.kwonlyargs):
        if argument.arg not in documented:
            yield f"{name}: {argument.arg} is not documented"
        elif unit_at_end(documented[argument.arg]) is None:
            yield f"{name}: {argument.arg} does not end in a unit in brackets"
    if unit_at_end(told.get("Returns", "").strip()) is None:
        yield f"{name}: its result does not end in a unit in brackets"
    if "Source" not in told:
        yield f"{name}: no source"
    if ">>>" not in told.get("Example", "") + told.get("Examples", ""):
        yield f"{name}: no example"
    yield from complaints_of_units(name, node)


def test_everything_public_has_a_docstring(trees: dict[Path, ast.Module]) -> None:
    missing = [
        f"{path}: {name}"
        for path, tree in trees.items()
        for name, node in public_parts(tree)
        if not ast.get_docstring(node)
    ]
    missing += [
        f"{path}: the module" for path, tree in trees.items() if len(ast.get_docstring(tree) or "") < 5
    ]
    assert missing == []


def test_units_in_docstrings_agree_with_names(trees: dict[Path, ast.Module]) -> None:
    wrong = [
        f"{path}: {complaint}"
        for path, tree in trees.items()
        for name, node in public_parts(tree)
        for complaint in complaints_of_units(name, node)
    ]
    assert wrong == []


def test_laws_say_all_they_must(trees: dict[Path, ast.Module]) -> None:
    wrong = [
        f"{path}: {complaint}"
        for path, tree in trees.items()
        if path.parts[0] == "laws" and is_public(path.name)
        for name, node in public_parts(tree)
        if isinstance(node, Function)
        for complaint in complaints_of_law(name, node)
    ]
    assert wrong == []


GOOD_LAW = '''
def fill_time_s(volume_m3: float, supply_abs_pa: float) -> float:
    """Say how long it takes.

    Source: somewhere, equation 1.

    Args:
        volume_m3: What is filled, which may be
            a long story [m3].
        supply_abs_pa: Supply, absolute [Pa].

    Returns:
        Time [s].

    Example:
        >>> 1 + 1
        2
    """
    return 0.0
'''


def test_names_promise_units() -> None:
    assert promised("supply_gauge_pa") == {"Pa"}
    assert promised("torque_n_m") == {"N m", "N/m"}
    assert promised("conductance_m3_per_s_pa") == {"m3/(s Pa)"}
    assert promised("rate_pa_per_s") == {"Pa/s"}
    assert promised("lost_in_60_s_pa") == {"Pa"}
    assert promised("ratio") == promised("s") == promised("grips_per_hour") == set()


def complaints(source: str) -> list[str]:
    (node,) = ast.parse(source).body
    assert isinstance(node, Function)
    return list(complaints_of_law(node.name, node))


def test_a_good_law_passes() -> None:
    assert complaints(GOOD_LAW) == []


def test_each_gap_in_a_law_is_found() -> None:
    """The rule itself can fail: each gap cut into the good law gives its complaint."""
    cuts = {
        ("        supply_abs_pa: Supply, absolute [Pa].\n", ""): "supply_abs_pa is not documented",
        ("absolute [Pa]", "absolute"): "supply_abs_pa does not end in a unit in brackets",
        ("absolute [Pa]", "absolute [bar]"): "supply_abs_pa says Supply, absolute [bar].",
        ("story [m3]", "story [m2]"): "volume_m3 says What is filled, which may be a long story [m2].",
        ("Time [s]", "Time"): "its result does not end in a unit in brackets",
        ("Time [s]", "Time [min]"): "its name and its result disagree",
        ("    Source: somewhere, equation 1.\n", ""): "no source",
        (">>> 1 + 1", "see below"): "no example",
    }
    for (old, new), complaint in cuts.items():
        assert old in GOOD_LAW
        assert complaints(GOOD_LAW.replace(old, new)) == [f"fill_time_s: {complaint}"]
