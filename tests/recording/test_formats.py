"""One contract for every format; the classes stand beside their writers, the contract in one place."""

from __future__ import annotations

from fanwright.evidence.recording.formats import formats
from format_contract import Contract, all_contracts
from table_formats import (
    TestMf4,
    TestMf4ByPythonCan,
    TestParquetFrames,
    TestParquetFramesAsText,
    TestSqlite,
)
from text_formats import (
    TestAsc,
    TestAscDecimal,
    TestAscRelative,
    TestBlf,
    TestCandumpLog,
    TestCandumpScreen,
    TestCandumpScreenDated,
    TestCandumpScreenDifferences,
    TestCandumpScreenZero,
    TestForeignTable,
    TestForeignTableOfDay,
    TestLabelledTable,
    TestPythonCanTable,
    TestTrc,
    TestTrc10,
    TestTrc11,
    TestTrc13,
    TestTrc20,
)

__all__ = [
    "TestAsc",
    "TestAscDecimal",
    "TestAscRelative",
    "TestBlf",
    "TestCandumpLog",
    "TestCandumpScreen",
    "TestCandumpScreenDated",
    "TestCandumpScreenDifferences",
    "TestCandumpScreenZero",
    "TestForeignTable",
    "TestForeignTableOfDay",
    "TestLabelledTable",
    "TestMf4",
    "TestMf4ByPythonCan",
    "TestParquetFrames",
    "TestParquetFramesAsText",
    "TestPythonCanTable",
    "TestSqlite",
    "TestTrc",
    "TestTrc10",
    "TestTrc11",
    "TestTrc13",
    "TestTrc20",
]


def test_every_format_has_its_contract() -> None:
    classes = {one.name for one in all_contracts(Contract)}
    assert classes >= {one.NAME for one in formats()}


def test_every_contract_is_run_here() -> None:
    assert {one.__name__ for one in all_contracts(Contract)} - {"Contract"} == set(__all__)
