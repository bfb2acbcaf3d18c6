"""The catalogue's data: complete, and each number under the word it belongs to."""

from __future__ import annotations

import itertools

import pytest

from fanwright import catalogue
from fanwright.quantities import read


def ids(text):
    return text.split()


ADDED = ids("inlet_dip feed_drop ground_drop facing_spread unplugged_drive_gauge unplugged_fan")
RECORDED = ids("""
recording_grip_rate recording_ac_run_median recording_ac_run_shortest recording_ac_run_spread
recording_retarder_grips recording_default_share recording_unanswered_time recording_coolant_rise
recording_charge_air_rise recording_air_low_on recording_air_low_needed
""")
FAULTS = ids("""
no_fault vehicle_air_low supply_path_blocked filter_plugged air_wet_or_oily leak_supply_side leak_drive_line
drive_line_restricted drive_seal_leaks valve_sticks_shut valve_sticks_open valve_seat_leaks exhaust_blocked
valve_wrong_or_swapped coil_open coil_weak wire_open wire_touches_power volts_low plug_comes_and_goes
temp_signal_always_asks temp_signal_never_asks ac_switch_chatters ac_never_asks ac_head_pressure_high
set_ac_time_short set_fan_with_brake set_type_or_temps_wrong fan_asked_on_purpose controller_output_dead
facing_worn facing_oily facing_glazed disc_overheated clamp_spring_weak drive_sticks hub_bearing_worn
pulley_bearing_worn mount_loose belt_slips tensioner_weak pulley_worn_or_misaligned fan_blade_damaged
fan_centre_failing fan_rubs fan_wrong_or_backwards coolers_plugged cooling_side_fault
""")
WORDS = {
    "ask_driver": "nothing fan_always_on fan_never_on runs_hot noise_or_shake on_off_often fuel_or_power",
    "recent_work": "no yes",
    "build_air": "reaches_120 holds_90_to_119 below_90",
    "listen_leaks": "none supply_side valve_or_exhaust drive_line drive",
    "soap_leaks": "none supply_side valve_or_exhaust drive_line drive",
    "supply_gauge_still": "at_least_90 from_60_to_89 below_60",
    "supply_gauge_cycling": "stays_90_or_more dips_then_recovers stays_below_90",
    "drive_gauge_air_on": "at_least_90 from_60_to_89 from_5_to_59 below_5",
    "drive_gauge_air_off": "zero_to_2 from_3_to_59 at_least_60",
    "fill_time": "within_1_s from_1_to_3_s over_3_s_or_never",
    "vent_time": "within_1_s from_1_to_3_s over_3_s_or_never",
    "hold_test": "up_to_2_psi from_3_to_10_psi over_10_psi",
    "hold_at_drive": "up_to_2_psi from_3_to_10_psi over_10_psi",
    "exhaust_puff": "strong weak_or_slow none steady_leak",
    "exhaust_look": "clear_and_down dirty blocked_or_upward",
    "shop_air_direct": "moves_fully moves_partly does_not_move",
    "lift_off_pressure": "as_spec low high in_jerks",
    "filter_drain": "clean_dry water oil_or_sludge plugged",
    "click": "clear weak none",
    "coil_ohms": "in_range open too_low too_high",
    "coil_amps": "as_calculated none low high",
    "pull_in_volts": "up_to_70_pct from_71_to_80_pct over_80_pct_or_never",
    "feed_volts": "full_and_switches low none_ever always_there",
    "jumper_feed": "full_change partly no_change wrong_way",
    "wiggle": "steady flickers",
    "loom_ohms": "sound open_or_high touching",
    "command_follow": "follows stuck_asking stuck_not_asking",
    "temp_switch": "plausible stuck_asking stuck_not_asking",
    "ac_switch": "steady chatters stuck_asking never_asks",
    "ac_pressures": "normal high",
    "set_ac_time": "at_least_60_s under_60_s cannot_read",
    "set_brake_fan": "off on cannot_read",
    "set_type_temps": "as_spec differs cannot_read",
    "stored_codes": "none fan_circuit hot_coolant_or_air air_or_ac sensor_circuit",
    "let_go": "free drags locked",
    "grip": "holds creeps spins",
    "facing_thickness": "over_0_280 from_0_251_to_0_280 at_or_under_0_250",
    "facing_look": "dry_even glazed oil_wet cracked_or_loose",
    "disc_look": "clean light_marks_or_straw blue_cracked_or_deep",
    "gap_told_off": "even_clear uneven touching",
    "hub_rock": "tight play rough",
    "belt_off_spin": "smooth rough play",
    "fan_alone_spin": "smooth rough play",
    "pulley_look": "dull_even polished worn_or_cupped",
    "belt_look": "good cracked_or_glazed oil_wet frayed_edge",
    "belt_tension": "in_band low high",
    "tensioner": "good out_of_range wobbles_or_weak",
    "align": "in_line out",
    "fan_look": "sound cracked_or_bent tips_worn rivets_or_centre wrong_or_backwards",
    "shroud_gap": "even_clear rub_marks broken_or_missing",
    "mount_tight": "tight loose_or_damaged",
    "cooler_look": "clean partly_plugged heavily_plugged",
    "coolant_check": "good low_or_leak bubbles_or_oil",
    "recording_runs": "as_duty many_short nearly_always_asked rarely_asked_runs_cool asked_but_heats_up "
    "not_asked_though_hot",
    "recording_reason": "coolant_or_air ac engine_brake default_or_manual none",
    "drive_heat": "near_surroundings hot very_hot",
    "fan_speed_on": "at_least_98_pct from_90_to_97_pct under_90_pct",
    "fan_speed_off": "under_25_pct from_25_to_60_pct over_60_pct",
    "engage_sound": "clean_thump long_squeal nothing_heard",
}
INFORM = {
    *ids("recent_work recording_reason unplugged_drive_gauge unplugged_fan recording_ac_run_spread"),
    *ids("recording_retarder_grips recording_default_share recording_unanswered_time recording_air_low_on"),
    "recording_air_low_needed",
}

# Test: typed value = word it falls under; no word after the sign where the number alone gives none. Per cent
# where the cuts are shares of a nominal.
FALLS_UNDER = """
build_air: 120 psi = reaches_120 | 119.9 psi = holds_90_to_119 | 90 psi = holds_90_to_119
build_air: 89.9 psi = below_90
supply_gauge_still: 90 psi = at_least_90 | 89.9 psi = from_60_to_89 | 60 psi = from_60_to_89
supply_gauge_still: 59.9 psi = below_60 | 620.52815638512 kPa = at_least_90
supply_gauge_cycling: 90 psi = stays_90_or_more | 89 psi =
inlet_dip: 5.5 psi = up_to_5_psi | 5.6 psi = from_6_to_15_psi | 15 psi = from_6_to_15_psi
inlet_dip: 15.1 psi = over_15_psi
drive_gauge_air_on: 90 psi = at_least_90 | 89 psi = from_60_to_89 | 59 psi = from_5_to_59
drive_gauge_air_on: 5 psi = from_5_to_59 | 4.9 psi = below_5
drive_gauge_air_off: 0 psi = zero_to_2 | 2.5 psi = zero_to_2 | 2.6 psi = from_3_to_59 | 60 psi = at_least_60
unplugged_drive_gauge: 2 psi = zero | 3 psi = | 118 psi = high
fill_time: 1 s = within_1_s | 1.0 s = within_1_s | 1.01 s = from_1_to_3_s | 3.01 s = over_3_s_or_never
vent_time: 1 s = within_1_s | 3 s = from_1_to_3_s | 3.1 s = over_3_s_or_never
hold_test: 10.1 psi = over_10_psi | 2 psi = up_to_2_psi | 3 psi = from_3_to_10_psi
hold_test: 10 psi = from_3_to_10_psi
hold_at_drive: 2.6 psi = from_3_to_10_psi | 11 psi = over_10_psi | 2.5 psi = up_to_2_psi
lift_off_pressure: 100 % =
coil_ohms: 7.9 ohm = too_low | 8 ohm = in_range | 30 ohm = in_range | 30.1 ohm = too_high
coil_ohms: 200 ohm = too_high | 201 ohm = open
coil_amps: 4.9 % = none | 5 % = low | 80 % = as_calculated | 120 % = as_calculated | 121 % = high
pull_in_volts: 70 % = up_to_70_pct | 71 % = from_71_to_80_pct | 80 % = from_71_to_80_pct
pull_in_volts: 80.1 % = over_80_pct_or_never
feed_drop: 0.5 V = up_to_0_5_v | 1 V = from_0_5_to_1_v | 1.1 V = over_1_v
ground_drop: 0.2 V = up_to_0_2_v | 0.5 V = from_0_2_to_0_5_v | 0.6 V = over_0_5_v
facing_thickness: 0.281 in = over_0_280 | 0.280 in = from_0_251_to_0_280 | 0.2505 in = from_0_251_to_0_280
facing_thickness: 0.250 in = at_or_under_0_250 | 1/4 in = at_or_under_0_250 | 6.35 mm = at_or_under_0_250
facing_spread: 0.015 in = up_to_0_015_in | 0.030 in = from_0_015_to_0_030_in | 0.031 in = over_0_030_in
hub_rock: 0.030 in = tight | 0.031 in = play
belt_tension: 89 % = low | 90 % = in_band | 110 % = in_band | 111 % = high
align: 0.53 % = out
shroud_gap: 12 mm = even_clear | 11.9 mm =
fan_speed_on: 98 % = at_least_98_pct | 97.9 % = from_90_to_97_pct | 90 % = from_90_to_97_pct
fan_speed_on: 89.9 % = under_90_pct
fan_speed_off: 24.9 % = under_25_pct | 25 % = from_25_to_60_pct | 60 % = from_25_to_60_pct
fan_speed_off: 61 % = over_60_pct
drive_heat: 120 °C = | 121 °C = very_hot
set_ac_time: 60 s = at_least_60_s | 1 min = at_least_60_s | 59 s = under_60_s
recording_grip_rate: 20 /h = up_to_20 | 20.1 /h = over_20
recording_ac_run_median: 60 s = at_least_60_s | 59.9 s = under_60_s
recording_ac_run_shortest: 60 s = at_least_60_s | 59.9 s = under_60_s
recording_ac_run_spread: 1.9 s = stacked | 2 s = scattered
recording_retarder_grips: 10 % = up_to_10_pct | 10.1 % = over_10_pct
recording_default_share: 1 % = up_to_1_pct | 1.1 % = over_1_pct
recording_unanswered_time: 10 s = up_to_10_s | 10.1 s = over_10_s
recording_coolant_rise: 0.5 K/min = up_to_half | 0.51 °C/min = over_half
recording_charge_air_rise: 0.5 K/min = up_to_half | 0.51 K/min = over_half
recording_air_low_on: 10 s = up_to_10_s | 11 s = over_10_s
recording_air_low_needed: 10 s = up_to_10_s | 11 s = over_10_s
"""
CASES = [
    (test_id, *(part.strip() for part in case.split("=")))
    for test_id, _, cases in (line.partition(":") for line in FALLS_UNDER.strip().splitlines())
    for case in cases.split("|")
]

# Measured tests in which some numbers have no word, and why.
GAPS = {
    "supply_gauge_cycling": "the lowest alone cannot tell a dip from staying low",
    "unplugged_drive_gauge": "between zero and 60 psi nothing is proved",
    "lift_off_pressure": "every drive has its own pressure",
    "shroud_gap": "a ruler sees no rub marks",
    "drive_heat": "the words compare with what stands beside it",
}

# Each before the next: the gate first, nothing cleared before it is read, gauges before air is split.
GATE = ids("fan_look mount_tight hub_rock")
TURNS_THE_FAN = ids("build_air fan_speed_on fan_speed_off engage_sound drive_heat ac_switch ac_pressures")
ORDER = [
    *itertools.product(GATE, TURNS_THE_FAN),
    ("stored_codes", "fan_look"),
    ("set_ac_time", "fan_look"),
    ("hub_rock", "belt_look"),
    ("build_air", "let_go"),
    ("supply_gauge_still", "supply_gauge_cycling"),
    ("drive_gauge_air_on", "fill_time"),
    ("hold_test", "hold_at_drive"),
    ("vent_time", "jumper_feed"),
    ("facing_thickness", "belt_off_spin"),
    ("belt_off_spin", "recording_runs"),
]


def test_every_test_and_fault_is_there_and_no_other():
    loaded = catalogue.load()
    assert (len(WORDS), len(ADDED), len(RECORDED), len(FAULTS)) == (59, 6, 11, 48)
    assert set(loaded.tests) == {*WORDS, *ADDED, *RECORDED}
    assert set(loaded.faults) == set(FAULTS)


def test_nobody_is_asked_for_what_only_a_recording_gives():
    asked_for_by_hand = {test.id for test in catalogue.load().tests.values() if not test.only_from}
    assert asked_for_by_hand == {*WORDS, *ADDED}


@pytest.mark.parametrize("test_id", WORDS)
def test_outcome_words_are_the_agreed_ones(test_id):
    assert catalogue.load().tests[test_id].words() == tuple(ids(WORDS[test_id]))


def test_the_first_word_is_good_except_where_a_test_only_informs():
    for test in catalogue.load().tests.values():
        assert test.good == ("" if test.id in INFORM else test.words()[0])


@pytest.mark.parametrize(("test_id", "typed", "word"), CASES)
def test_word_at_and_around_each_cut(test_id, typed, word):
    test = catalogue.load().tests[test_id]
    value = read(typed, "share" if test.relative_to else test.dimension).si
    assert test.word_for(value) == word


def test_every_edge_is_exercised_above():
    loaded = catalogue.load()
    exercised = {(test_id, word) for test_id, _, word in CASES} | {("align", "in_line")}
    wanted = {
        (test.id, outcome.word)
        for test in loaded.tests.values()
        for outcome in test.outcomes
        if outcome.has_cut
    }
    assert wanted <= exercised


@pytest.mark.parametrize(
    ("ohms", "word"),
    [(29.9, "too_low"), (30.0, "in_range"), (120.0, "in_range"), (121.0, "too_high"), (201.0, "open")],
)
def test_24_v_coils_have_their_own_cuts(ohms, word):
    assert catalogue.load().tests["coil_ohms"].word_for(ohms, volts=24.0) == word


def test_one_sixteenth_in_a_foot_is_still_in_line():
    align = catalogue.load().tests["align"]
    assert align.word_for((1 / 16) / 12) == "in_line"
    assert align.word_for((1 / 16 + 1e-6) / 12) == "out"


def test_shares_worked_out_from_readings_stand_on_their_edge():
    pull_in = catalogue.load().tests["pull_in_volts"]
    assert [pull_in.word_for(volts / 12.0) for volts in (8.4, 9.6)] == ["up_to_70_pct", "from_71_to_80_pct"]
    assert pull_in.word_for(16.8 / 24.0, volts=24.0) == "up_to_70_pct"


def test_measured_words_leave_no_number_out_unless_argued():
    for test in catalogue.load().tests.values():
        if not test.dimension or test.id in GAPS:
            continue
        for table in filter(None, (test.outcomes, test.outcomes_24v)):
            cut = sorted((one for one in table if one.has_cut), key=lambda one: one.lowest_si)
            assert cut[0].lowest_si == -float("inf"), test.id
            assert cut[-1].highest_si == float("inf"), test.id
            for lower, upper in itertools.pairwise(cut):
                assert lower.highest_si == upper.lowest_si, test.id
                assert lower.holds(lower.highest_si) != upper.holds(lower.highest_si), test.id


def test_plausible_ranges():
    loaded = catalogue.load()
    low, high = loaded.tests["facing_thickness"].plausible
    assert (low, high) == pytest.approx((0.15 * 0.0254, 0.36 * 0.0254))
    assert loaded.tests["vent_time"].plausible == pytest.approx((0.1, 20.0))
    assert all((test.plausible is not None) == bool(test.dimension) for test in loaded.tests.values())


def test_how_lists_combine():
    tests = catalogue.load().tests
    combined = {test.id: (test.combine, test.list_means) for test in tests.values() if test.combine}
    for times in ("fill_time", "vent_time"):
        assert combined[times] == ("highest", "trials")
    assert combined["facing_thickness"] == ("lowest", "places")
    assert combined["supply_gauge_cycling"] == ("lowest", "trials")
    assert combined["drive_gauge_air_on"] == ("mean", "repeats")
    assert tests["facing_spread"].list_means == ""


def test_fractions_are_read_with_a_feeler_and_decimals_with_a_depth_gauge():
    loaded = catalogue.load()
    facing = loaded.tests["facing_thickness"]
    assert loaded.instruments[facing.instrument].division_si == pytest.approx(0.005 * 0.0254)
    assert loaded.instruments[facing.fraction_instrument].division_si == pytest.approx(0.0254 / 64)
    assert loaded.tests["facing_spread"].fraction_instrument == ""


def test_a_degree_of_the_infrared_thermometer_is_a_difference():
    assert catalogue.load().instruments["infrared"].division_si == pytest.approx(1.0)


@pytest.mark.parametrize(("first", "then"), ORDER)
def test_order_of_the_procedure(first, then):
    order = list(catalogue.load().tests)
    assert order.index(first) < order.index(then)


def test_every_measuring_instrument_has_its_source():
    assert all(one.source and one.division_si > 0.0 for one in catalogue.load().instruments.values())


def test_prices_are_assumptions_with_low_at_most_high():
    prices = catalogue.load().prices
    assert len(prices) == 24
    assert all(0.0 < price.low <= price.high for price in prices.values())
    assert all("assumption" in price.source for price in prices.values())
    assert (prices["labour"].low, prices["labour"].high, prices["labour"].unit) == (110.0, 160.0, "USD/h")


def test_ids_with_disc_are_shown_as_steel_face():
    loaded = catalogue.load()
    labels = [
        entry.label for entry in (*loaded.tests.values(), *loaded.faults.values()) if "disc" in entry.id
    ]
    assert len(labels) == 2
    assert all("teel face" in label for label in labels)


@pytest.mark.parametrize(
    ("test_id", "word", "label"),
    [
        ("pulley_look", "dull_even", "even and dull"),
        ("fan_look", "rivets_or_centre", "rivet missing or centre cracked"),
        ("fan_look", "wrong_or_backwards", "wrong fan or fitted backwards"),
        ("recording_runs", "as_duty", "as the route asks"),
        ("recording_runs", "rarely_asked_runs_cool", "rarely asked, temperature low"),
        ("set_brake_fan", "on", "on although the fleet sheet says off"),
        ("set_brake_fan", "off", "as the fleet sheet says"),
        ("jumper_feed", "wrong_way", "gauge goes the wrong way"),
        ("stored_codes", "sensor_circuit", "temperature sensor circuit"),
        ("ac_switch", "never_asks", "never asks for the fan"),
    ],
)
def test_labels_in_the_words_of_the_trade(test_id, word, label):
    outcomes = {one.word: one.label for one in catalogue.load().tests[test_id].outcomes}
    assert outcomes[word] == label


def test_core_sets():
    core = catalogue.load().core
    assert set(core["planned"]) < set(core["complaint"])
    assert {"fan_look", "mount_tight", "hub_rock"} <= set(core["planned"])
    assert {"fill_time", "vent_time", "supply_gauge_cycling"} <= set(core["complaint"])
    minutes = sum(catalogue.load().tests[name].minutes for name in core["planned"])
    assert minutes <= 30.0


# Faults that damage each other, so that the graph runs in a circle: a worn hub lets the fan wobble and touch,
# a damaged or unbalanced fan ruins the hub.
ARGUED_CIRCLES = {frozenset({"hub_bearing_worn", "fan_rubs", "fan_blade_damaged", "fan_centre_failing"})}


def test_faults_lead_to_each_other_in_no_circle_unless_argued():
    graph = {fault.id: set(fault.leads_to) for fault in catalogue.load().faults.values()}
    reach = {name: _reachable(graph, name) for name in graph}
    circles = {frozenset(other for other in reach[name] if name in reach[other]) for name in graph} - {
        frozenset()
    }
    assert circles == ARGUED_CIRCLES


def _reachable(graph, start):
    seen, waiting = set(), list(graph[start])
    while waiting:
        name = waiting.pop()
        if name not in seen:
            seen.add(name)
            waiting.extend(graph[name])
    return seen
