"""The child process keeps to its limits, and the serving process stays small."""

from __future__ import annotations

import json
import time
import uuid
from pathlib import Path

import pytest

from fanwright.web import child

AT = "2026-04-14T07:21:04-06:00"


def test_a_child_that_eats_memory_is_stopped_and_told(tmp_path: Path) -> None:
    with pytest.raises(child.ChildFailed, match="more memory"):
        child.run("eat", {"memory_mb": 900}, tmp_path, child.Limits(memory_mb=500))
    assert child.run("eat", {"memory_mb": 100}, tmp_path, child.Limits(memory_mb=500))["held"] == 100 << 20


def test_a_child_that_takes_too_long_is_killed(tmp_path: Path) -> None:
    begun = time.monotonic()
    with pytest.raises(child.ChildFailed, match="took longer"):
        child.run("eat", {"wall_s": 60}, tmp_path, child.Limits(wall_s=2))
    with pytest.raises(child.ChildFailed, match="took longer"):
        child.run("eat", {"wall_s": 60, "busy": True}, tmp_path, child.Limits(cpu_s=1, wall_s=30))
    assert time.monotonic() - begun < 20


def test_a_child_that_falls_over_is_told(tmp_path: Path) -> None:
    with pytest.raises(child.ChildFailed, match="failed inside"):
        child.run("eat", {"fall": True}, tmp_path)


def test_the_serving_process_imports_nothing_heavy(root: Path, tmp_path: Path) -> None:
    import subprocess
    import sys

    path = str(tmp_path / "x.db")
    script = f"""
import json, runpy, sys
sys.path.insert(0, {str(root / "tests" / "helpers")!r})
from fanwright.desk.records import open_records
from fanwright.web.app import create_app
from fanwright.web.settings import Settings
store = open_records({path!r}, create=True)
app = create_app(Settings({path!r}, None, None, True, "127.0.0.1", 8214, (), None, "t"), store)
web = runpy.run_path({str(root / "tests" / "bay" / "conftest.py")!r})["browser"](app)
asked = {{"key": {str(uuid.uuid4())!r}, "unit": "1", "kind": "planned", "grips_by": "air", "valve": "no"}}
number = web.post("/api/bay", json=asked).json()["number"]
for test, value in (("vent_time", "2.1 s"), ("facing_thickness", ["0.297 in", "19/64 in"])):
    body = {{"key": "00000000-0000-4000-8000-" + test.encode().hex()[:12], "kind": "reading", "test": test}}
    answer = web.post(f"/api/bay/{{number}}/entries?full=1", json=body | {{"value": value, "at": {AT!r}}})
    assert answer.status_code == 201, answer.text
print(json.dumps(sorted({{"numba", "polars", "asammdf", "can", "pandas", "matplotlib"}} & set(sys.modules))))
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == []
