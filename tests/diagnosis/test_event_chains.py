"""Chains of events and the network say the same; what recordings measure speaks for and against causes."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Callable
from importlib import resources
from typing import Any

import pytest

from fanwright.catalogue import Catalogue, load
from fanwright.diagnosis import Diagnosis, Fact, diagnose
from fanwright.diagnosis.chains import EventChain, chains_from, load_chains
from fanwright.diagnosis.inference import believe, predict
from fanwright.errors import DataError

CHAINS = load_chains(load())
TELLS = 1.2
"""A feature speaks for a cause when it is this many times likelier with it than on a sound truck."""


@pytest.mark.parametrize("chain", CHAINS, ids=lambda chain: chain.id)
def test_each_feature_is_what_the_network_expects(chain: EventChain, engines: Callable[..., Any]) -> None:
    model = engines().alone
    beliefs = believe(model, {})
    rivals = [number for number, name in enumerate(model.sets.faults) if name not in chain.causes]
    for cause in chain.causes:
        place = model.sets.faults.index(cause)
        for speaks, features in (("for", chain.speaks_for), ("against", chain.speaks_against)):
            for test, word in features.items():
                shown = predict(beliefs, test)[:, load().tests[test].words().index(word)]
                best = max(shown[number] for number in rivals)
                if speaks == "for":
                    sound = min(shown[rivals]) if cause == "no_fault" else shown[0]
                    assert shown[place] > TELLS * sound, (cause, test, word)
                else:
                    assert TELLS * shown[place] < best, (cause, test, word)


def test_every_mistake_of_the_file_is_told_at_once(catalogue: Catalogue) -> None:
    text = resources.files("fanwright.diagnosis").joinpath("chains.toml").read_text("utf-8")
    raw = copy.deepcopy(tomllib.loads(text))
    raw["chain"]["oil"]["causes"] = ["no_such_fault"]
    raw["chain"]["oil"]["speaks_for"] = {"facing_look": "no_such_word"}
    del raw["chain"]["spring"]["beware"]
    raw["chain"]["spring"]["colour"] = "blue"
    with pytest.raises(DataError) as refusal:
        chains_from(raw, catalogue)
    assert len(refusal.value.messages) == 4


def chances(found: Diagnosis) -> dict[str, float]:
    return {cause.fault: cause.probability for cause in found.causes}


SHORT = (
    Fact("recording_runs", "many_short"),
    Fact("recording_reason", "ac"),
    Fact("set_ac_time", "cannot_read"),
)


def test_runs_of_one_length_point_at_the_timer_and_scattered_ones_at_the_switch(
    engines: Callable[..., Any],
) -> None:
    engine = engines(kind="complaint")
    stacked = chances(diagnose(engine, [*SHORT, Fact("recording_ac_run_spread", "", 0.6, 0.2)], look=0))
    scattered = chances(diagnose(engine, [*SHORT, Fact("recording_ac_run_spread", "", 14.0, 3.0)], look=0))
    assert stacked["set_ac_time_short"] > 3.0 * stacked.get("ac_switch_chatters", 0.0)
    assert scattered["ac_switch_chatters"] > 3.0 * scattered.get("set_ac_time_short", 0.0)


def test_charge_air_parts_slip_from_the_coolant_side(engines: Callable[..., Any]) -> None:
    coolant = Fact("recording_coolant_rise", "over_half")
    engine = engines(kind="complaint")
    alone = chances(diagnose(engine, [coolant, Fact("recording_charge_air_rise", "up_to_half")], look=0))
    together = chances(diagnose(engine, [coolant, Fact("recording_charge_air_rise", "over_half")], look=0))
    assert alone["cooling_side_fault"] > 2.0 * together.get("cooling_side_fault", 0.0)


def test_a_second_look_at_the_same_thing_counts_less(engines: Callable[..., Any]) -> None:
    engine = engines()
    facts = [Fact("recording_runs", "many_short"), Fact("recording_grip_rate", "over_20")]
    alone = engine.weigh(facts[1:])["recording_grip_rate"]
    beside = engine.weigh(facts)["recording_grip_rate"]
    assert beside.rows == pytest.approx(alone.rows ** (1.0 / 1.6))


def test_nobody_is_asked_for_what_only_a_recording_gives(engines: Callable[..., Any]) -> None:
    engine = engines(kind="complaint")
    only = {test.id for test in engine.catalogue.tests.values() if test.only_from}
    assert len(only) == 11
    assert only <= engine.model.links.keys()
    assert not only & set(engine.model.order)


def test_a_trapped_loss_is_not_doubted_and_the_drive_alone_parts_line_from_seal(
    engines: Callable[..., Any],
) -> None:
    psi = 6894.757293168
    behind = Fact("hold_test", "over_10_psi", 14.0 * psi, 0.5 * psi)
    line = chances(diagnose(engines(), [behind, Fact("hold_at_drive", "", 1.0 * psi, 0.5 * psi)], look=0))
    seal = chances(diagnose(engines(), [behind, Fact("hold_at_drive", "", 13.0 * psi, 0.5 * psi)], look=0))
    assert line["leak_drive_line"] + line["drive_seal_leaks"] >= 0.95
    assert line["leak_drive_line"] > 2.0 * line["drive_seal_leaks"]
    assert seal["drive_seal_leaks"] >= 0.95


def test_a_result_names_how_its_chain_of_events_looks(engines: Callable[..., Any]) -> None:
    found = diagnose(engines(), [Fact("facing_thickness", "at_or_under_0_250")], look=0)
    assert any(one.tells is not None for one in found.leading_to)
