"""What the house rules look at: the source tree of the package."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "src" / "fanwright"


@pytest.fixture(scope="session")
def package() -> Path:
    return PACKAGE


@pytest.fixture(scope="session")
def trees() -> dict[Path, ast.Module]:
    """Every source file of the package, parsed, by its path inside the package."""
    return {
        path.relative_to(PACKAGE): ast.parse(path.read_text("utf-8"))
        for path in sorted(PACKAGE.rglob("*.py"))
    }
