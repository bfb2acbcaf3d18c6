"""The docs are held to what exists, and the check that holds them can fail."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture
def check_docs(root: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location("check_docs", root / "tools" / "check_docs.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_docs_tell_of_what_exists(check_docs: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    code = check_docs.main()
    assert capsys.readouterr().out == ""
    assert code == 0


def test_slips_are_found(check_docs: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "docs").mkdir()
    page = tmp_path / "docs" / "commands.md"
    page.write_text(
        "# Here\n[a](#here) [b](#there) [c](gone.md) [d](commands.md#here)\n`vent_time` `no_such_name`\n"
        "```\nfanwright assess x.toml\nfanwright nonsense\n```\n"
    )
    (tmp_path / "README.md").write_text("nothing here\n")
    monkeypatch.setattr(check_docs, "ROOT", tmp_path)
    monkeypatch.setattr(check_docs, "vocabulary", lambda: {"vent_time"})
    assert check_docs.broken_links(page) == [
        "docs/commands.md: this page has no heading #there",
        "docs/commands.md: gone.md is not there",
    ]
    assert check_docs.unknown_names(page) == [
        "docs/commands.md: `no_such_name` occurs nowhere in the program"
    ]
    slips = check_docs.command_slips()
    assert "README.md or docs/commands.md: there is no fanwright nonsense" in slips
    assert "docs/commands.md: fanwright new is not told of" in slips
    assert not any("assess" in slip for slip in slips)
