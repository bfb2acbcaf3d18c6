"""Every example in a docstring of the package runs and gives what it shows."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import fanwright


def test_examples_run() -> None:
    attempted, failed = 0, []
    for found in pkgutil.walk_packages(fanwright.__path__, "fanwright."):
        result = doctest.testmod(importlib.import_module(found.name), optionflags=doctest.ELLIPSIS)
        attempted += result.attempted
        if result.failed:
            failed.append(found.name)
    assert failed == []
    assert attempted >= 10
