"""The command, as it is used: JSON, text, pictures, and mistakes all together."""

from __future__ import annotations

import json

import numpy as np
import pytest

from fanwright.cli import fanwright, run
from fanwright.evidence.trace import read_trace

KEYS = {
    "fills",
    "vents",
    "fill_time_s",
    "vent_time_s",
    "not_timed",
    "fill_time_worst_s",
    "vent_time_worst_s",
    "supply_at_rest_kpa",
    "supply_lowest_kpa",
    "drive_settled_kpa",
    "drive_rest_kpa",
    "hold_loss_kpa_per_min",
    "cannot_tell",
    "readings",
}


def call(capsys, *arguments) -> tuple[int, str, str]:
    words = ["trace", *(str(argument) for argument in arguments)]
    code = run(lambda: fanwright.main(words, standalone_mode=False, prog_name="fanwright"))
    said = capsys.readouterr()
    return code, said.out, said.err


@pytest.fixture
def sound(made, tmp_path):
    return made.write_csv(tmp_path / "sound.csv", made.Story().rows(100, 0.2, 1), digits=2)


def test_json(capsys, made, sound):
    code, out, err = call(capsys, sound, "--json")
    found = json.loads(out)
    fills, vents = made.Story().true_times()
    assert (code, err) == (0, "")
    assert set(found) >= KEYS
    assert (found["fills"], found["vents"], found["not_timed"]) == (1, 1, 0)
    assert found["fill_time_s"] == pytest.approx(fills[0], abs=0.01)
    assert found["vent_time_s"] == pytest.approx(vents[0], abs=0.01)
    assert found["supply_at_rest_kpa"] == pytest.approx(118 * 6.894757, abs=1.0)
    assert found["hold_loss_kpa_per_min"] is None
    assert {"test", "value_s", "sd_s", "source"} <= set(found["readings"][-1])


def test_text_shows_every_stroke_and_reading(capsys, sound):
    code, out, _ = call(capsys, sound)
    assert code == 0
    assert "0.46" in out
    assert " ± 0.003 s" in out
    assert "Gauge at the drive, air sent" in out


@pytest.mark.parametrize(("name", "begins"), [("a.svg", b"<svg"), ("a.png", b"\x89PNG")])
def test_plot(capsys, sound, tmp_path, name, begins):
    code, _, err = call(capsys, sound, "--plot", tmp_path / name)
    assert code == 0
    assert name in err
    assert begins in (tmp_path / name).read_bytes()[:200]


def test_columns_and_sizes(capsys, made, tmp_path):
    path = made.write_csv(tmp_path / "a.csv", made.Story().rows(100, 0.2, 1), digits=2)
    path.write_text(path.read_text().replace("drive [psi]", "P2", 1))
    sizes = ("--dead-volume", "0.2 dm3", "--piston-area", "60 cm2", "--stroke", "4 mm")
    assert call(capsys, path, "--columns", "drive=P2[psi]", *sizes)[0] == 0
    assert call(capsys, path, "--columns", "drive=P2[psi]", "--truck", "line-haul spring-on")[0] == 0


def test_all_mistakes_at_once_a_line_each_and_no_picture(capsys, tmp_path):
    path = tmp_path / "empty.csv"
    path.write_bytes(b"")
    given = ("--columns", "drive:P2", "--truck", "nobody's", "--plot", tmp_path / "a.gif")
    code, out, err = call(capsys, path, *given)
    assert (code, out) == (2, "")
    assert len(err.splitlines()) == 4
    assert "Traceback" not in err
    assert not (tmp_path / "a.gif").exists()


@pytest.mark.parametrize(
    "given",
    [
        ("--dead-volume", "3"),
        ("--dead-volume", "0 dm3", "--piston-area", "60 cm2", "--stroke", "4 mm"),
        ("--truck", "line-haul spring-on", "--stroke", "4 mm"),
        ("--columns", "drive=drive[psi],drive=x"),
    ],
)
def test_wrong_options_exit_with_two(capsys, sound, given):
    code, out, err = call(capsys, sound, *given)
    assert (code, out) == (2, "")
    assert err


def test_a_drive_that_never_empties_gives_no_fill_time(made, tmp_path):
    story = made.Story(
        vent=lambda begin, t: begin, begin_sent=True, begin_psi=118.0, switches=(3, 8, 12), end=17.0
    )
    result = read_trace(made.write_csv(tmp_path / "a.csv", story.rows(50, 0.2, 1), digits=2))
    assert (result.fills.seen, result.vents.seen, len(result.vents.never)) == (1, 2, 2)
    assert [reading.test for reading in result.evidence.readings if "time" in reading.test] == ["vent_time"]
    assert result.evidence.readings[-1].outcome == "over_3_s_or_never"


def test_a_fill_that_settled_low_within_three_seconds_never_arrives(made, tmp_path):
    story = made.Story(made.exponential_fill(71.0, 0.2), switches=tuple(np.arange(2.0, 18.0, 2.9)), end=18.0)
    result = read_trace(made.write_csv(tmp_path / "a.csv", story.rows(50, 0.1, 1), digits=2))
    assert len(result.fills.never) == result.fills.seen == 3
    fill = next(reading for reading in result.evidence.readings if reading.test == "fill_time")
    assert fill.outcome == "over_3_s_or_never"
