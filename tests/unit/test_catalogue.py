"""The loader: a shop's own entries, refusals, and contradictions in our own files."""

from __future__ import annotations

import ast
import copy
import pathlib
import time

import pytest

from fanwright import catalogue
from fanwright.catalogue import loader, model
from fanwright.errors import DataError, InputError


def said(messages):
    return [
        message.template.format(**{name: value.value for name, value in message.values.items()})
        for message in messages
    ]


def refused(shop):
    with pytest.raises(InputError) as caught:
        catalogue.load(shop)
    return said(caught.value.messages)


def contradicted(change):
    """What a change to our own raw tables would be refused for."""
    raw = copy.deepcopy(dict(loader._raw()))
    change(raw)
    return said(loader._build(raw)[1])


def test_without_a_shop_the_same_catalogue_is_handed_back():
    assert catalogue.load() is catalogue.load(None)
    assert catalogue.load({}) is catalogue.load()


def test_the_catalogue_cannot_be_changed():
    with pytest.raises(TypeError):
        catalogue.load().tests["vent_time"] = None


def test_loading_is_quick():
    loader._own.cache_clear()
    loader._raw.cache_clear()
    best = min(_seconds() for _ in range(3))
    assert best < 0.04


def _seconds():
    loader._own.cache_clear()
    loader._raw.cache_clear()
    start = time.process_time()
    catalogue.load()
    return time.process_time() - start


def test_the_room_itself_imports_nothing_heavy():
    light = {
        "__future__",
        "collections",
        "dataclasses",
        "difflib",
        "functools",
        "importlib",
        "itertools",
        "math",
    }
    light |= {"tomllib", "types", "typing", "fanwright"}
    for path in pathlib.Path(catalogue.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names = [node.module] if isinstance(node, ast.ImportFrom) else []
            names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            assert {str(name).partition(".")[0] for name in names} <= light, path


def test_a_shop_changes_one_number_and_leaves_the_rest():
    shop = {"instruments": {"dash_gauge": {"division": "2 psi", "source": "gauge catalogue of the shop"}}}
    ours, theirs = catalogue.load(), catalogue.load(shop)
    changed = theirs.instruments["dash_gauge"]
    assert changed.division_si == pytest.approx(2 * 6894.757293168)
    assert changed.normal_sd_si == ours.instruments["dash_gauge"].normal_sd_si
    assert changed.source == "gauge catalogue of the shop"
    assert ours.instruments["dash_gauge"].division_si == pytest.approx(5 * 6894.757293168)
    assert theirs.tests == ours.tests
    assert catalogue.load() is ours


def test_a_shop_adds_its_own_gauge():
    own = {
        "label": "shop gauge 7",
        "dimension": "pressure",
        "division": "2 psi",
        "normal_sd": "0.5 psi",
        "source": "calibrated 2026-01-10",
    }
    assert catalogue.load({"instruments": {"G-07": own}}).instruments["G-07"].label == "shop gauge 7"


def test_a_shop_sets_its_prices_and_its_core_set():
    shop = {
        "prices": {"labour": {"low": 130, "high": 145.5, "source": "our books 2026"}},
        "core": {"planned": {"tests": ["fan_look", "vent_time"], "source": "foreman"}},
    }
    loaded = catalogue.load(shop)
    assert (loaded.prices["labour"].low, loaded.prices["labour"].high) == (130.0, 145.5)
    assert loaded.prices["labour"].source == "our books 2026"
    assert loaded.core["planned"] == ("fan_look", "vent_time")
    assert loaded.core["complaint"] == catalogue.load().core["complaint"]


@pytest.mark.parametrize("room", ["tests", "faults", "cautions"])
def test_a_shop_cannot_move_cut_points(room):
    assert refused({room: {"vent_time": {"source": "us"}}}) == [
        f"{room} cannot be changed by a shop: outcome words and cut points are fixed; change a limit instead"
    ]


@pytest.mark.parametrize(
    ("shop", "sentence"),
    [
        ({"price": {}}, "price is not known; did you mean prices?"),
        ({"wishes": {}}, "wishes is not known; allowed are instruments, prices, core"),
        ({"prices": 5}, "prices must be a table of entries"),
        ({"prices": {"labour": 5}}, "prices.labour must be a table with what changes and its source"),
        ({"prices": {"labor": {"low": 1, "source": "x"}}}, "prices.labor is not known; did you mean labour?"),
        (
            {"prices": {"labour": {"low": 120}}},
            "prices.labour needs a source: say where the shop has it from",
        ),
        (
            {"prices": {"labour": {"low": 120, "source": "  "}}},
            "prices.labour needs a source: say where the shop has it from",
        ),
        (
            {"prices": {"labour": {"lowest": 120, "source": "x"}}},
            "prices.labour.lowest is not known; allowed are low, high, source",
        ),
        (
            {"prices": {"labour": {"low": "120", "source": "x"}}},
            "prices.labour.low is 120: it must be a number, 0 or more",
        ),
        (
            {"prices": {"labour": {"low": True, "source": "x"}}},
            "prices.labour.low is True: it must be a number, 0 or more",
        ),
        (
            {"prices": {"labour": {"low": float("nan"), "source": "x"}}},
            "prices.labour.low is nan: it must be a number, 0 or more",
        ),
        (
            {"prices": {"labour": {"low": 200, "source": "x"}}},
            "prices.labour.low is 200.0, above the highest, 160.0",
        ),
        (
            {"instruments": {"dash_gage": {"division": "5 psi", "source": "x"}}},
            "instruments.dash_gage is not known; did you mean dash_gauge?",
        ),
        (
            {"instruments": {"dash_gauge": {"dimension": "length", "source": "x"}}},
            "instruments.dash_gauge.dimension is not known; allowed are label, division, normal_sd, source",
        ),
        (
            {"instruments": {"dash_gauge": {"division": "-5 psi", "source": "x"}}},
            "instruments.dash_gauge.division is -5 psi: it must be 0 or more",
        ),
        (
            {"instruments": {"infrared": {"division": "1 °C", "source": "x"}}},
            "instruments.infrared.division is 1 °C: write a difference of temperature in K",
        ),
        (
            {"instruments": {"controller_tester": {"division": "0 s", "source": "x"}}},
            "instruments.controller_tester reads without any error: give its division",
        ),
        (
            {"core": {"planned": ["fan_look"]}},
            "core.planned must be a table with what changes and its source",
        ),
        (
            {"core": {"planned": {"tests": [], "source": "x"}}},
            "core.planned is empty: nothing measured is never good",
        ),
        (
            {"core": {"planned": {"tests": "fan_look", "source": "x"}}},
            "core.planned.tests must be a list of texts",
        ),
        (
            {"core": {"planned": {"tests": ["fan_loock"], "source": "x"}}},
            "core.planned: fan_loock is not a test",
        ),
        (
            {"core": {"planned": {"tests": ["grip", "grip"], "source": "x"}}},
            "core.planned names grip more than once",
        ),
        (
            {"core": {"planned": {"tests": ["recent_work"], "source": "x"}}},
            "core.planned: recent_work only informs and can never be good",
        ),
        (
            {"core": {"yearly": {"tests": ["grip"], "source": "x"}}},
            "core.yearly is not known; allowed are planned, complaint, retest",
        ),
    ],
)
def test_refusals_say_what_is_wrong_and_what_would_do(shop, sentence):
    assert sentence in refused(shop)


def test_an_unknown_dimension_is_one_mistake_not_two():
    own = {"label": "g", "dimension": "presure", "division": "1 psi", "normal_sd": "1 psi", "source": "tag"}
    assert refused({"instruments": {"G-07": own}}) == [
        "instruments.G-07.dimension is presure, which is not a dimension we know"
    ]


def test_a_bare_number_for_a_division_is_refused_with_the_units_that_would_do():
    (sentence,) = refused({"instruments": {"dash_gauge": {"division": 2, "source": "x"}}})
    assert sentence.startswith("instruments.dash_gauge.division: «2» has no unit")
    assert "psi" in sentence


def test_all_mistakes_of_a_shop_are_reported_together():
    shop = {
        "tests": {},
        "prices": {"labour": {"low": 900, "source": "x"}, "tow": {"high": "much", "source": "x"}},
        "instruments": {"dash_gauge": {"division": "5"}},
        "core": {"retest": {"tests": ["griip"], "source": "x"}},
    }
    sentences = refused(shop)
    assert [
        any(sentence.startswith(start) for sentence in sentences)
        for start in (
            "tests cannot",
            "prices.labour.low",
            "prices.tow.high",
            "instruments.dash_gauge needs",
            "core.retest: griip",
        )
    ] == [True] * 5


def _set(where, value):
    def change(raw):
        *keys, last = where.split(".")
        table = raw
        for key in keys:
            table = table[key]
        table[last] = value

    return change


GRIP, VENT, COIL = "tests.test.grip", "tests.test.vent_time", "faults.fault.coil_open"
MIDDLE = f"{VENT}.cuts.from_1_to_3_s"
CONTRADICTIONS = [  # where in our tables, what stands there instead, how the message begins
    (f"{GRIP}.good", "grips", "tests.grip: the good word grips is not one of its words"),
    (f"{GRIP}.cautions", [], "tests.grip names no caution, not even that there is no hazard"),
    (f"{GRIP}.cautions", ["mind_it"], "tests.grip: there is no caution mind_it"),
    (f"{GRIP}.cautions", ["no_hazard", "eyes"], "tests.grip says that there is no hazard and names one"),
    (f"{GRIP}.words", {}, "tests.grip has no outcome words"),
    (f"{GRIP}.words.holds", " ", "tests.grip.words.holds must be a text that is not empty"),
    (f"{GRIP}.words.spins", "holds", "tests.grip: the label holds stands more than once"),
    (f"{GRIP}.label", "Pulley grooves", "tests: the label Pulley grooves stands more than once"),
    (f"{GRIP}.colour", "red", "tests.grip.colour is not known here"),
    (f"{GRIP}.only_from", "hearsay", "tests.grip: hearsay is no source we know"),
    (f"{GRIP}.state", "asleep", "tests.grip.state is asleep, which is not one of the states"),
    (f"{GRIP}.cuts", {"holds": {"up_to": "1 s"}}, "tests.grip has cut points, but nothing is measured"),
    (f"{GRIP}.instrument", "stopwatch", "tests.grip says how it is measured, but not its dimension"),
    (f"{VENT}.dimension", "patience", "tests.vent_time.cuts.within_1_s.up_to: «patience» is not a dimension"),
    (f"{VENT}.instrument", "ohmmeter", "tests.vent_time: ohmmeter does not measure what this test asks"),
    (f"{VENT}.instrument", "sundial", "tests.vent_time: there is no instrument sundial"),
    (f"{VENT}.instrument", "", "tests.vent_time: there is no instrument none"),
    (f"{VENT}.plausible", ["3 s", "2 s"], "tests.vent_time needs a plausible range that rises"),
    (f"{VENT}.plausible", ["3 s"], "tests.vent_time.plausible must hold the lowest and the highest value"),
    (f"{VENT}.combine", "median", "tests.vent_time: how a list combines is not known"),
    (f"{VENT}.combine", "", "tests.vent_time: say both what a list means and how it is combined"),
    (MIDDLE, {"at_least": "1 s", "up_to": "3 s"}, "tests.vent_time: within_1_s and from_1_to_3_s overlap"),
    (MIDDLE, {"above": "0.9 s", "up_to": "3 s"}, "tests.vent_time: within_1_s and from_1_to_3_s overlap"),
    (MIDDLE, {"above": "3 s", "up_to": "1 s"}, "tests.vent_time: no value can fall under from_1_to_3_s"),
    (
        MIDDLE,
        {"up_to": "3 s", "under": "3 s"},
        "tests.vent_time.cuts.from_1_to_3_s has two edges on one side",
    ),
    (MIDDLE, {"up_to": "3"}, "tests.vent_time.cuts.from_1_to_3_s.up_to: «3» has no unit"),
    (f"{VENT}.cuts.soon", {}, "tests.vent_time.cuts.soon is a cut for something that is not an outcome word"),
    ("tests.test.align.relative_to", "moon", "tests.align: moon is not a nominal we know"),
    (f"{COIL}.leads_to", ["rust"], "faults.coil_open leads to rust, which is no other fault"),
    (f"{COIL}.severity", 6, "faults.coil_open: the severity 6 is not 1 to 5"),
    (f"{COIL}.role", "villain", "faults.coil_open: the role villain is not known"),
    (f"{COIL}.labour_minutes", [9, 3], "faults.coil_open: the least labour is above the most"),
    (f"{COIL}.labour_minutes", [9], "faults.coil_open.labour_minutes must hold the least and the most"),
    (f"{COIL}.fix", "", "faults.coil_open.fix must be a text that is not empty"),
    ("cautions.eyes.valve", False, "cautions.eyes.valve is False: allowed are nc and no"),
    (
        "prices.price.tow.unit",
        "beads",
        "prices.tow.unit is beads: allowed are USD, USD/h, times, share, km and h",
    ),
    ("core.yearly", {"tests": ["grip"], "source": "x"}, "core must hold planned, complaint and retest"),
]


@pytest.mark.parametrize(("where", "value", "sentence"), CONTRADICTIONS)
def test_contradictions_in_our_own_files_are_found(where, value, sentence):
    assert any(found.startswith(sentence) for found in contradicted(_set(where, value)))


def test_our_own_files_do_not_contradict_themselves():
    assert contradicted(lambda raw: None) == []


def test_a_contradiction_in_our_own_files_is_no_fault_of_the_shop(monkeypatch):
    raw = copy.deepcopy(dict(loader._raw()))
    raw["tests"]["test"]["grip"]["good"] = "grips"
    monkeypatch.setattr(loader, "_raw", lambda: raw)
    loader._own.cache_clear()
    with pytest.raises(DataError):
        catalogue.load({"prices": {"labour": {"low": 120, "source": "x"}}})


def test_a_word_without_cut_holds_no_number():
    assert not model.Outcome("rough", "rough").holds(0.0)


@pytest.mark.parametrize(
    ("edges", "below", "on", "above"),
    [
        ({"up_to_si": 1.0}, True, True, False),
        ({"under_si": 1.0}, True, False, False),
        ({"at_least_si": 1.0}, False, True, True),
        ({"above_si": 1.0}, False, False, True),
    ],
)
def test_edges_hold_or_leave_out_the_value_on_them(edges, below, on, above):
    outcome = model.Outcome("word", "label", **edges)
    assert [outcome.holds(value) for value in (0.99, 1.0, 1.01)] == [below, on, above]
    assert outcome.holds(1.0 + 2e-16) is on
    assert outcome.holds(1.0 - 2e-16) is on
