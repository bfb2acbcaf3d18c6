"""What must hold whatever was read: chances are whole, order does not matter, gates stand."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fanwright.catalogue import load
from fanwright.cli.diagnose import command
from fanwright.diagnosis import Fact, diagnose
from fanwright.diagnosis.advice import GATE, TURNS_FAN

CATALOGUE = load()
ONE_FACT = st.sampled_from(sorted(CATALOGUE.tests)).flatmap(
    lambda test: st.sampled_from(CATALOGUE.tests[test].words()).map(lambda word: Fact(test, word))
)
FACTS = st.lists(ONE_FACT, max_size=8, unique_by=lambda fact: fact.test)
HABITS = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@HABITS
@given(facts=FACTS)
def test_chances_are_whole_and_order_does_not_matter(engines, facts: list[Fact]) -> None:
    engine = engines("air", "no", "complaint")
    beliefs = engine.believe(engine.weigh(facts))
    turned = engine.believe(engine.weigh(facts[::-1]))
    assert beliefs.chances.sum() == pytest.approx(1.0, abs=1e-9)
    assert np.isfinite(beliefs.chances).all()
    assert beliefs.presence() == pytest.approx(turned.presence(), abs=1e-6)


@HABITS
@given(facts=FACTS)
def test_nothing_turns_the_fan_before_the_gate(engines, facts: list[Fact]) -> None:
    found = diagnose(engines(), facts, look=0)
    done = {fact.test for fact in facts}
    for test in found.next_tests:
        assert test.test not in done
        if CATALOGUE.tests[test.test].state.startswith(TURNS_FAN):
            assert set(GATE) <= done
        done.add(test.test)
    assert (found.stop is None) == bool(found.next_tests)


def test_a_test_that_cannot_be_done_is_not_proposed_and_its_reason_is_told(engines) -> None:
    facts = [
        Fact("drive_gauge_air_on", "at_least_90"),
        Fact("fill_time", "within_1_s"),
        Fact("vent_time", "from_1_to_3_s"),
    ]
    free = diagnose(engines(kind="complaint"), facts)
    best = free.next_tests[0].test
    held = diagnose(engines(kind="complaint"), facts, {best: "no light"})
    assert best not in {test.test for test in held.next_tests}
    assert best in {one.test for one in held.skipped}


@pytest.fixture
def visit_file(tmp_path: Path) -> Path:
    path = tmp_path / "900.toml"
    path.write_text(
        '[truck]\nunit = "900"\n[drive]\ngrips_by = "spring"\nvalve = "nc"\nvolts = 12\n'
        '[visit]\ndate = 2026-04-14\nkind = "complaint"\n[readings]\nask_driver = "fan_always_on"\n',
        encoding="utf-8",
    )
    return path


def test_dialogue_keeps_answers_beside_the_file_and_takes_one_back(visit_file: Path) -> None:
    before = visit_file.read_bytes()
    result = CliRunner().invoke(
        command, [str(visit_file)], input="1\nnonsense\n2\nundo\ncannot too dark\nquit\n"
    )
    assert result.exit_code == 0, result.output
    kept = json.loads(visit_file.with_suffix(".answers.json").read_text("utf-8"))
    assert len(kept["readings"]) == 1
    assert list(kept["not_done"].values()) == ["too dark"]
    assert "nonsense" not in json.dumps(kept)
    assert visit_file.read_bytes() == before


def test_dialogue_ends_with_the_input(visit_file: Path) -> None:
    result = CliRunner().invoke(command, [str(visit_file)], input="")
    assert result.exit_code == 0
    assert "most likely causes" in result.output


def test_kept_answers_count_when_the_visit_is_read_again(visit_file: Path) -> None:
    kept = {"readings": {"coil_ohms": "open"}, "not_done": {}}
    visit_file.with_suffix(".answers.json").write_text(json.dumps(kept), encoding="utf-8")
    data = json.loads(CliRunner().invoke(command, [str(visit_file), "--json"]).output)
    assert data["causes"][0]["fault"] == "coil_open"
