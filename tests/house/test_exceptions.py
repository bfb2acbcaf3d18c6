"""One exception tree: what the program raises of its own can be caught by its root, and the tree is drawn."""

from __future__ import annotations

import importlib
import inspect
import pkgutil

import fanwright
from fanwright import errors


def own_exceptions() -> set[type[BaseException]]:
    modules = [
        importlib.import_module(name.name) for name in pkgutil.walk_packages(fanwright.__path__, "fanwright.")
    ]
    return {
        thing
        for module in modules
        for _, thing in inspect.getmembers(module, inspect.isclass)
        if issubclass(thing, BaseException) and thing.__module__.startswith("fanwright.")
    }


def test_every_exception_has_the_one_root() -> None:
    found = own_exceptions()
    assert len(found) >= 6
    assert [each.__qualname__ for each in found if not issubclass(each, errors.FanwrightError)] == []


def test_the_tree_is_drawn_whole() -> None:
    drawn = inspect.getdoc(errors) or ""
    assert [each.__name__ for each in own_exceptions() if each.__name__ not in drawn] == []
