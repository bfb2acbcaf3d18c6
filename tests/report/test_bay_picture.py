"""The drawing of a visit: every test in its place, for all arrangements, wide and small, read and open."""

from __future__ import annotations

import itertools
import random
import xml.etree.ElementTree as ET

import pytest

from fanwright.catalogue import load
from fanwright.report.pictures import bay, bay_places
from fanwright.report.pictures.bay_captions import CAPTIONS
from fanwright.report.pictures.bay_spots import Area, Spot, wide_of
from fanwright.report.say import VERDICT_WORDS
from fanwright.truck.loader import presets

SVG = "{http://www.w3.org/2000/svg}"
ARRANGEMENTS = ("line-haul spring-on", "line-haul air-on", "line-haul spring-on no", "line-haul air-on nc")
TESTS = [test for test in load().tests.values() if not test.only_from]
VERDICTS = tuple(VERDICT_WORDS)


def spots(read: float, seed: int = 1) -> list[Spot]:
    """Every test, a share of them read with the longest of its outcomes."""
    chance = random.Random(seed)
    made = []
    for test in TESTS:
        longest = max((outcome.label for outcome in test.outcomes), key=len, default="118.5 psi")
        if chance.random() < read:
            value = 0.0075 if test.id == "facing_thickness" else None
            made.append(Spot(test.id, test.label, test.minutes, longest, chance.choice(VERDICTS), value))
        else:
            made.append(Spot(test.id, test.label, test.minutes))
    return made


def drawn(arrangement: str, small: bool, read: float, nexts: tuple[str, ...] = ()) -> ET.Element:
    return ET.fromstring(bay.draw(presets()[arrangement], spots(read), nexts, small=small))


def places(root: ET.Element) -> dict[str, tuple[float, float, float, float]]:
    found = {}
    for group in root.iter(f"{SVG}g"):
        if "data-test" in group.attrib:
            hit = group.find(f"{SVG}rect")
            assert hit is not None
            x, y, wide, high = (float(hit.attrib[name]) for name in ("x", "y", "width", "height"))
            found[group.attrib["data-test"]] = (x, y, wide, high)
    return found


@pytest.mark.parametrize("areas", [bay_places.WIDE_AREAS, bay_places.SMALL_AREAS])
def test_every_test_a_person_can_do_has_one_place(areas: tuple[Area, ...]) -> None:
    placed = [test for area in areas for test in area.tests]
    assert sorted(placed) == sorted(test.id for test in TESTS)
    assert {test.id for test in TESTS} <= CAPTIONS.keys()


@pytest.mark.parametrize("small", [False, True])
@pytest.mark.parametrize("read", [0.0, 0.35, 1.0])
@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_tests_stand_apart_and_inside(arrangement: str, read: float, small: bool) -> None:
    root = drawn(arrangement, small, read, ("vent_time", "coolant_check"))
    _, _, wide, high = (float(each) for each in root.attrib["viewBox"].split())
    found = places(root)
    assert found.keys() == {test.id for test in TESTS}
    for x, y, across, down in found.values():
        assert x >= 0
        assert y >= 0
        assert x + across <= wide
        assert y + down <= high
    for (one, mine), (other, yours) in itertools.combinations(found.items(), 2):
        apart = (
            mine[0] + mine[2] <= yours[0] + 0.5
            or yours[0] + yours[2] <= mine[0] + 0.5
            or mine[1] + mine[3] <= yours[1] + 0.5
            or yours[1] + yours[3] <= mine[1] + 0.5
        )
        assert apart, (one, other)


@pytest.mark.parametrize("small", [False, True])
def test_words_stay_inside_their_place(small: bool) -> None:
    for seed in range(5):
        root = ET.fromstring(
            bay.draw(presets()["line-haul spring-on"], spots(0.5, seed), ("vent_time",), small=small)
        )
        found = places(root)
        for group in root.iter(f"{SVG}g"):
            if "data-test" not in group.attrib:
                continue
            x, _, wide, _ = found[group.attrib["data-test"]]
            for text in group.iter(f"{SVG}text"):
                if text.attrib.get("text-anchor"):
                    continue
                end = float(text.attrib["x"]) + wide_of(
                    text.text or "", float(text.attrib["font-size"]), bool(text.attrib.get("font-weight"))
                )
                assert end <= x + max(wide, 150.0) + 46, (group.attrib["data-test"], text.text)


def test_a_test_is_told_with_its_state() -> None:
    made = [
        Spot("vent_time", "Vent", 1, "2.1 s", "act_now", 2.1),
        Spot("fill_time", "Fill", 1, not_done="no gauge"),
        Spot("click", "Click", 1),
    ]
    root = ET.fromstring(bay.draw(presets()["line-haul spring-on"], made, ("click",)))
    told = {g.attrib["data-test"]: g.attrib for g in root.iter(f"{SVG}g") if "data-test" in g.attrib}
    assert told["vent_time"]["aria-label"] == "Vent: 2.1 s, act now"
    assert told["fill_time"]["aria-label"] == "Fill: not done, no gauge"
    assert told["click"]["aria-label"] == "Click: open, 1 min, the next test"
    assert all(one["role"] == "button" and one["tabindex"] == "0" for one in told.values())
    assert root.attrib["role"] == "group"


def test_the_machine_shows_its_state() -> None:
    """The spring stands on the other side in the other drive, and the facing is as thick as it was read."""
    pictures = {
        (name, small): bay.draw(presets()[name], spots(0.0), small=small)
        for name in ARRANGEMENTS
        for small in (False, True)
    }
    assert len(set(pictures.values())) == len(pictures)
    thin, thick = (
        bay.draw(
            presets()["line-haul spring-on"],
            [Spot("facing_thickness", "Facing", 4, "x", "good", thickness)],
        )
        for thickness in (0.0064, 0.0087)
    )
    assert thin != thick


def test_a_picture_without_choice_is_one_image_with_its_words() -> None:
    made = [Spot("vent_time", "Vent <b>", 1, "2.1 s & more", "act_now", 2.1)]
    root = ET.fromstring(bay.draw(presets()["line-haul spring-on"], made, chosen=False))
    assert root.attrib["role"] == "img"
    assert not places(root)
    desc = root.find(f"{SVG}desc")
    assert desc is not None
    assert "Vent <b>: 2.1 s & more, act now." in (desc.text or "")


def test_print_has_literal_inks_and_screen_has_classes() -> None:
    truck = presets()["line-haul spring-on"]
    printed, screen = (bay.draw(truck, spots(0.5), theme=theme) for theme in ("print", "screen"))
    assert "class='line" not in printed
    assert 'class="line' not in printed
    assert "stroke='#" not in screen
    assert "class='line-ink" in screen
