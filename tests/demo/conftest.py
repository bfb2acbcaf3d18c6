"""The maker of the demo files, loaded from the examples folder."""

from __future__ import annotations

import runpy
from collections.abc import Callable
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def make_demo() -> Callable[[Path], object]:
    """Give the function that writes the demo fleet's traces and recordings into a folder."""
    maker: Callable[[Path], object] = runpy.run_path(
        str(Path(__file__).parents[2] / "examples" / "make_demo.py")
    )["make"]
    return maker
