"""The network's marginals of single faults against the table of starting judgement.

``tests/data/likelihood.csv.gz`` holds the starting judgement, one fault at a time; no truck was measured. A
row agrees when it is within 0.05, or within a factor 1.5 below 0.1. Of the rows that differ from a sound
truck by more than 0.05 at least 90 % must agree, of the others 99 %; ``differences.toml`` names the rest.
"""

from __future__ import annotations

import csv
import gzip
import tomllib
from collections import defaultdict
from functools import cache
from pathlib import Path

import pytest

from fanwright.diagnosis.inference import believe, predict

HERE = Path(__file__).parent
TABLE = HERE.parent / "data" / "likelihood.csv.gz"
ARRANGEMENTS = [(grips_by, valve) for grips_by in ("spring", "air") for valve in ("nc", "no")]


@cache
def table() -> dict[tuple[str, str, str, str], dict[str, float]]:
    found: dict[tuple[str, str, str, str], dict[str, float]] = defaultdict(dict)
    with gzip.open(TABLE, "rt", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            key = (row["fault"], row["test"], row["grips_by"], row["valve"])
            found[key][row["outcome"]] = float(row["chance"])
    return found


def expected(fault: str, test: str, grips_by: str, valve: str) -> dict[str, float]:
    """The row in force for an arrangement: the most special one."""
    keys = [(fault, test, g, v) for g in (grips_by, "") for v in (valve, "")]
    return next(table()[key] for key in keys if key in table())


def agrees(judged: float, found: float) -> bool:
    if judged >= 0.1:
        return abs(judged - found) <= 0.05
    return max(judged, found) <= 1.5 * min(judged, found)


@pytest.fixture(scope="module")
def compared(engines) -> dict[bool, dict[tuple[str, str, str, str, str], bool]]:
    """Whether each row of the table agrees wherever it is in force, apart for telling and other rows."""
    rows: dict[bool, dict[tuple[str, str, str, str, str], bool]] = {True: {}, False: {}}
    shown = {}
    for arrangement in ARRANGEMENTS:
        model = engines(*arrangement).alone
        beliefs = believe(model, {})
        shown[arrangement] = {test: predict(beliefs, test) for test in model.links}
    for (fault, test, grips_by, valve), judged in table().items():
        if fault == "no_fault":
            continue
        place = model.sets.faults.index(fault)
        for column, (outcome, chance) in enumerate(judged.items()):
            held = [
                arrangement
                for arrangement in ARRANGEMENTS
                if grips_by in ("", arrangement[0])
                and valve in ("", arrangement[1])
                and expected(fault, test, *arrangement) is judged
            ]
            telling = any(abs(chance - expected("no_fault", test, *one)[outcome]) > 0.05 for one in held)
            rows[telling][fault, test, grips_by, valve, outcome] = all(
                agrees(chance, shown[one][test][place][column]) for one in held
            )
    return rows


def test_the_table_is_whole() -> None:
    assert len(table()) == 3313
    assert all(abs(sum(row.values()) - 1.0) < 1e-9 for row in table().values())


@pytest.mark.parametrize(("telling", "share"), [(True, 0.90), (False, 0.99)])
def test_enough_rows_agree(compared, telling: bool, share: float) -> None:
    rows = compared[telling]
    assert len(rows) > 1000
    assert sum(rows.values()) / len(rows) >= share


def test_each_difference_is_named_with_its_reason(compared) -> None:
    named = tomllib.loads((HERE / "differences.toml").read_text("utf-8"))
    listed = {
        (fault, test)
        for reason in named["reason"]
        for test, faults in reason["rows"].items()
        for fault in faults
    }
    differ = {
        (fault, test) for rows in compared.values() for (fault, test, *_), same in rows.items() if not same
    }
    assert differ - listed == set(), "differences without a reason"
    assert listed - differ == set(), "reasons without a difference"
    assert all(reason["why"].strip() for reason in named["reason"])
