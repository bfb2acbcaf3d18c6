"""The command as its user meets it: a file that appears whole or not at all, one line for each mistake."""

import json
import subprocess
import sys
import time
from pathlib import Path

import pytest

from fanwright.errors import FileError, InputError
from fanwright.report.say import say
from fanwright.report.writing import replace_file

VISIT = """
[truck]
unit = "214"
odometer = "377,204 mi"
preset = "line-haul spring-on"
[drive]
grips_by = "spring"
valve = "nc"
volts = 12
[visit]
date = 2026-04-14
kind = "complaint"
technician = "Ana"
[readings]
supply_gauge_still = "118 psi"
vent_time = "2.1 s"
[work]
cause = "exhaust_blocked"
"""

pytestmark = pytest.mark.end_to_end


def fanwright(folder, *arguments):
    command = [str(Path(sys.executable).with_name("fanwright")), *arguments]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, timeout=60)


@pytest.fixture
def bay(tmp_path):
    (tmp_path / "214.toml").write_text(VISIT, encoding="utf-8")
    return tmp_path


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_report_is_written_within_two_seconds(bay):
    start = time.perf_counter()
    done = fanwright(bay, "report", "214.toml", "-o", "214.pdf", "--json")
    took_s = time.perf_counter() - start
    assert (done.returncode, done.stderr) == (0, "")
    told = json.loads(done.stdout)
    assert (told["unit"], told["overall"], told["file"]) == ("214", "act_now", "214.pdf")
    assert (bay / "214.pdf").read_bytes().startswith(b"%PDF-1.7")
    assert took_s < 2.0
    first = (bay / "214.pdf").read_bytes()
    assert fanwright(bay, "report", "214.toml", "-o", "214.pdf").stdout == ""
    assert (bay / "214.pdf").read_bytes() == first
    assert names(bay) == ["214.pdf", "214.toml"]


def test_the_folder_it_is_called_from_changes_no_byte(bay):
    rows = [
        "time [s],supply [psi],drive [psi]",
        *(f"{0.02 * i:.2f},118,{min(117, 3 * i)}" for i in range(400)),
    ]
    (bay / "air.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    (bay / "shop.toml").write_text('[units]\npressure = "bar"\n', encoding="utf-8")
    (bay / "214.toml").write_text(VISIT + '[files]\nair_trace = "air.csv"\n', encoding="utf-8")
    (bay / "elsewhere").mkdir()
    for folder, visit in ((bay, "214.toml"), (bay / "elsewhere", str(bay / "214.toml"))):
        done = fanwright(folder, "report", visit, "-o", str(bay / f"{folder.name}.pdf"))
        assert (done.returncode, done.stderr) == (0, "")
    assert (bay / f"{bay.name}.pdf").read_bytes() == (bay / "elsewhere.pdf").read_bytes()


@pytest.mark.parametrize(
    ("change", "arguments", "told"),
    [
        ("", ("-o", "214.toml"), "must end in .pdf"),
        ("", ("-o", "nowhere/214.pdf"), "cannot be written"),
        ("", ("-o", "214.pdf", "--shop", "no.toml"), "no.toml"),
        ('note = "\u6f22"', ("-o", "214.pdf"), "U+6F22"),
        ('[files]\nphotos = ["a.jpg", "b.jpg"]', ("-o", "214.pdf"), "a.jpg"),
        ("[readings]", ("-o", "214.pdf"), "214.toml"),
    ],
)
def test_mistakes_leave_nothing_behind(bay, change, arguments, told):
    (bay / "214.toml").write_text(VISIT + change + "\n", encoding="utf-8")
    before = (bay / "214.toml").read_bytes()
    done = fanwright(bay, "report", "214.toml", *arguments)
    assert done.returncode == 2
    assert told in done.stderr
    assert done.stdout == ""
    assert all(line and "Traceback" not in line for line in done.stderr.splitlines())
    assert names(bay) == ["214.toml"]
    assert (bay / "214.toml").read_bytes() == before


def test_both_missing_photos_are_named(bay):
    (bay / "214.toml").write_text(VISIT + '[files]\nphotos = ["a.jpg", "b.jpg"]\n', encoding="utf-8")
    lines = fanwright(bay, "report", "214.toml", "-o", "214.pdf").stderr.splitlines()
    assert len(lines) == 2
    assert "a.jpg" in lines[0]
    assert "b.jpg" in lines[1]


def test_an_old_paper_stays_when_the_new_one_fails(bay):
    (bay / "214.pdf").write_bytes(b"old")
    (bay / "214.toml").write_text(VISIT + 'note = "\u6f22"\n', encoding="utf-8")
    assert fanwright(bay, "report", "214.toml", "-o", "214.pdf").returncode == 2
    assert (bay / "214.pdf").read_bytes() == b"old"


def test_writing_refuses_what_cannot_be_written(tmp_path):
    (tmp_path / "folder").mkdir()
    for path in (tmp_path / "folder", tmp_path / "no" / "file", tmp_path / ("x" * 300), tmp_path / "nul\0"):
        with pytest.raises(FileError) as refused:
            replace_file(path, b"content")
        assert "cannot be written" in say(refused.value.messages[0])
    assert names(tmp_path) == ["folder"]
    assert issubclass(FileError, InputError)
