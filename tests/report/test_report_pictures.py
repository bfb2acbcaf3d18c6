"""Pictures: well-formed, described, inside their frame, true to scale, and readable without colour."""

import dataclasses
import itertools
import re
import xml.etree.ElementTree as ET

import pytest

from fanwright.evidence.recording.exhibit import Run
from fanwright.evidence.trace.exhibit import Stroke
from fanwright.quantities import METRIC, Units
from fanwright.report.font import font
from fanwright.report.pictures import circuit, duty, facing, needle, trace
from fanwright.report.pictures.trace import slowest
from fanwright.report.say import Reader
from fanwright.truck.loader import presets
from fanwright.visit.model import NotJudged
from fanwright.words import Message

SVG = "{http://www.w3.org/2000/svg}"
INCH = 0.0254
PSI = 6894.757293168
THEMES = ("screen", "print")
ARRANGEMENTS = ("line-haul spring-on", "line-haul air-on", "line-haul spring-on no", "line-haul air-on nc")


def texts(svg):
    return [element.text for element in ET.fromstring(svg).iter(f"{SVG}text")]


def box(svg):
    return [float(number) for number in ET.fromstring(svg).attrib["viewBox"].split()]


def check_frame(svg):
    """Every text (by the font's own widths) and every straight path lies inside the view box."""
    _, _, width, height = box(svg)
    root = ET.fromstring(svg)
    for element in root.iter(f"{SVG}text"):
        size, x, y = (float(element.attrib[key]) for key in ("font-size", "x", "y"))
        wide = font().width(element.text, size, "font-weight" in element.attrib)
        left = (
            x - {"start": 0.0, "middle": 0.5, "end": 1.0}[element.attrib.get("text-anchor", "start")] * wide
        )
        assert left >= 0.0, element.text
        assert left + wide <= width, element.text
        assert size * 0.8 <= y <= height, element.text
    shapes = [element for element in root if element.tag == f"{SVG}path" and "C" not in element.attrib["d"]]
    for element in shapes:
        if "A" in element.attrib["d"]:
            continue
        for pair in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", element.attrib["d"]):
            assert -1.0 <= float(pair[0]) <= width + 1.0
            assert -1.0 <= float(pair[1]) <= height + 1.0
    for element in root.iter(f"{SVG}rect"):
        x, y, wide, high = (float(element.attrib[key]) for key in ("x", "y", "width", "height"))
        assert 0.0 <= x <= x + wide <= width
        assert 0.0 <= y <= y + high <= height


def check_whole(svg, theme):
    root = ET.fromstring(svg)
    assert root.attrib["role"] == "img"
    assert root[0].tag == f"{SVG}title"
    assert root[0].text
    assert root[1].tag == f"{SVG}desc"
    assert len(root[1].text) > 15
    assert (" class=" in svg) == (theme == "screen")
    assert "var(" not in svg
    assert "<style" not in svg
    assert "nan" not in svg
    check_frame(svg)


def all_pictures(trace_of, recording_of, seen, theme):
    yield from (
        needle.draw(verdict, theme) for verdict in ("good", "watch", "act_now", "stand_down", "not_judged")
    )
    for one in (trace_of(), trace_of(cycles=12), trace_of(arrives=False), trace_of(vent_s=0.6)):
        yield trace.draw(one, theme)
        yield trace.draw(one, theme, Units({"pressure": "bar"}), 430.0, 260.0)
    for one in (
        recording_of(),
        recording_of(span_s=90_000.0),
        recording_of(span_s=2000.0),
        recording_of(known=False),
    ):
        yield duty.draw(one, theme)
    for now in (0.02, 0.249, 0.297, 0.4):
        yield facing.draw(11 / 32 * INCH, 0.28 * INCH, INCH / 4, facing.Now(now * INCH, 0.001 * INCH), theme)
    yield facing.draw(11 / 32 * INCH, 0.28 * INCH, INCH / 4, None, theme, Units(METRIC))
    for preset in ARRANGEMENTS:
        yield circuit.draw(presets()[preset], theme=theme)
        yield circuit.draw(presets()[preset], seen.verdicts, seen.not_judged, theme)


@pytest.mark.parametrize("theme", THEMES)
def test_every_picture_is_whole_and_inside_its_frame(trace, recording, assessment, theme):
    for svg in all_pictures(trace, recording, assessment(), theme):
        check_whole(svg, theme)


def test_worst_words_in_every_place_stay_inside(judge):
    catalogue = Reader().catalogue
    longest = [
        judge("stand_down", test.id, word=max(test.outcomes, key=lambda each: len(each.label)).word)
        for test in catalogue.tests.values()
        if test.outcomes
    ]
    for preset in ARRANGEMENTS:
        svg = circuit.draw(presets()[preset], longest, (), "print")
        check_whole(svg, "print")
        assert overlaps(svg) == []


def test_trace_shows_gauges_limit_second_and_times(trace):
    shown = texts(trace_svg := trace_picture(trace()))
    for expected in (
        "psi",
        "90",
        "1 s",
        "inlet",
        "drive",
        "fill",
        "vent",
        "0.40 s",
        "2.10 s",
        "air sent",
        "shut off",
    ):
        assert expected in shown, expected
    assert "fill 0.40 s; vent 2.10 s" in trace_svg
    assert "never" in texts(trace_picture(trace(arrives=False)))
    untimed = dataclasses.replace(trace(), strokes=(Stroke("vent", 2.9, None, None, None),))
    assert "not timed" in texts(trace_picture(untimed))  # not watched long enough to say never
    assert "never" not in trace_picture(untimed)
    four = texts(trace_picture(trace(cycles=4, arrives=False)))
    assert "worst never" in four
    assert "never" not in four  # a second label at the same place would smear the first
    many = texts(trace_picture(trace(cycles=12)))
    assert {"12 fills", "worst 0.40 s", "12 vents", "worst 2.10 s"} <= set(many)


def trace_picture(exhibit):
    return trace.draw(exhibit, "print")


def test_a_spike_of_one_sample_survives_thinning(trace):
    slow = trace_picture(trace(cycles=10, rate_hz=1000.0, spike=True))
    plain = trace_picture(trace(cycles=10, rate_hz=1000.0))
    assert len(slow) < 200_000
    heights = [highest_of_drive(svg) for svg in (slow, plain)]
    # 140 psi against 117 psi at the same scale of the axis: the spike stands higher by that share
    tops = [foot_and_psi(svg) for svg in (slow, plain)]
    values = [(foot - top) / per_psi for top, (foot, per_psi) in zip(heights, tops, strict=True)]
    assert values == pytest.approx([140.0, 117.0], abs=0.6)


def highest_of_drive(svg):
    paths = [one for one in ET.fromstring(svg).iter(f"{SVG}path") if one.attrib.get("stroke") == "#7964cf"]
    return min(float(y) for one in paths for _, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", one.attrib["d"]))


def foot_and_psi(svg):
    """Where 0 psi lies, and how many units a psi takes, read off the figures of the axis."""
    figures = {
        one.text: float(one.attrib["y"])
        for one in ET.fromstring(svg).iter(f"{SVG}text")
        if one.attrib.get("text-anchor") == "end" and one.text in {"0", "90"}
    }
    return figures["0"] - 4, (figures["0"] - figures["90"]) / 90.0


def test_a_gap_in_time_breaks_the_line(trace):
    whole = trace()
    keep = (whole.time_s < 3.0) | (whole.time_s > 4.0)
    series = {
        name: getattr(whole, name)[keep]
        for name in ("time_s", "supply_gauge_pa", "drive_gauge_pa", "air_sent", "shut")
    }
    broken = type(whole)(whole.place, whole.sha256, **series, strokes=whole.strokes)
    count = trace_picture(whole).count('stroke="#7964cf"')
    assert trace_picture(broken).count('stroke="#7964cf"') == count + 1


def test_duty_has_a_row_for_each_reason_and_says_what_is_unknown(recording):
    svg = duty.draw(recording(), "print")
    shown = texts(svg)
    for expected in (
        "engine on",
        "coolant",
        "charge air",
        "air conditioning",
        "1 run, 100 s",
        "50 s",
        "not known",
        "time from 2026-04-14 07:00:00 UTC",
        "min",
    ):
        assert expected in shown, expected
    assert 'fill="url(#duty-unknown)"' in svg
    unknown = texts(duty.draw(recording(known=False), "print"))
    assert "not known" in unknown
    assert "never told on" not in unknown


@pytest.mark.parametrize(
    ("clock", "first_s"), [("absolute", 1776150000.0), ("local", 1776150000.0), ("relative", 7.0)]
)
def test_bars_stand_where_their_time_is(recording, clock, first_s):
    svg = duty.draw(recording(clock=clock, first_s=first_s), "print")
    figures = {
        one.text: float(one.attrib["x"])
        for one in ET.fromstring(svg).iter(f"{SVG}text")
        if one.attrib.get("text-anchor") == "middle"
    }
    minute = (figures["60"] - figures["0"]) / 60.0
    bars = [one.attrib for one in ET.fromstring(svg).iter(f"{SVG}rect")]
    coolant = next(one for one in bars if one["fill"] == "#0a2179")
    assert float(coolant["x"]) == pytest.approx(figures["0"] + 30.0 * minute, abs=0.1)
    assert float(coolant["width"]) == pytest.approx(100.0 / 60.0 * minute, abs=0.1)
    since = {
        "absolute": "time from 2026-04-14 07:00:00 UTC",
        "local": "time from 2026-04-14 07:00:00, zone not known",
    }
    assert since.get(clock, "time from the recording's own start") in texts(svg)


LINES = {
    "coolant": tuple((1776150000.0 + second, 360.0 + second / 600.0) for second in range(0, 3600, 5)),
    "road_speed": tuple(
        (1776150000.0 + second, 20.0) for second in (*range(0, 900, 5), *range(1800, 3600, 5))
    ),
}


@pytest.mark.parametrize("theme", THEMES)
def test_coolant_and_road_speed_stand_under_the_reasons(recording, theme):
    plain, shown = recording(), dataclasses.replace(recording(), **LINES)
    svg = duty.draw(shown, theme, Units({"temperature": "degF", "distance": "km"}))
    check_whole(svg, theme)
    assert {"coolant temperature", "road speed", "72 km/h"} <= set(texts(svg))
    assert any(one.endswith("°F") for one in texts(svg) if one)
    assert "coolant temperature" not in texts(duty.draw(plain, theme))
    assert overlaps(svg) == []


def test_a_line_is_broken_where_nothing_was_heard(recording):
    shown = dataclasses.replace(recording(), **LINES)
    whole = dataclasses.replace(shown, road_speed=LINES["road_speed"][:180])
    thick = 'stroke="#00000f" stroke-width="1.5"'
    assert duty.draw(shown, "print").count(thick) == duty.draw(whole, "print").count(thick) + 1


def test_lengths_of_a_timer_stack_and_those_of_a_switch_scatter(recording):
    def bars(lengths):
        begin, why = 1776150000.0, "air_conditioning"
        runs = [Run(begin + 60 * n, begin + 60 * n + s, why, (), False, None) for n, s in enumerate(lengths)]
        cut = Run(begin + 3000, begin + 3015, why, (), True, None)
        svg = duty.draw(dataclasses.replace(recording(), runs=(*runs, cut)), "print")
        check_whole(svg, "print")
        told = next(place for place, one in enumerate(texts(svg)) if one.startswith("how long"))
        boxes = [one for one in ET.fromstring(svg).iter(f"{SVG}rect") if one.attrib["fill"] == "#7964cf"]
        return boxes, texts(svg)[told:]

    stacked, said = bars([15] * 8)
    scattered, _ = bars([3, 17, 5, 31, 9, 24, 40, 12])
    assert len(scattered) - len(stacked) == 7
    assert "middle 15 s" in said
    assert said[0].endswith("60 s, the least for A/C; 1 cut off by the recording left out")


def test_a_run_of_15_s_still_shows_in_a_recording_of_a_day(recording):
    svg = duty.draw(recording(span_s=90_000.0), "print")
    violet = [one for one in ET.fromstring(svg).iter(f"{SVG}rect") if one.attrib["fill"] == "#7964cf"]
    bars = violet[:-1]  # the last one counts their lengths, which are all the same
    assert len(bars) == 27
    assert all(float(one.attrib["width"]) >= 0.5 for one in bars)


def test_the_facing_is_drawn_to_scale():
    svg = facing.draw(11 / 32 * INCH, 0.28 * INCH, INCH / 4, facing.Now(0.297 * INCH), "print")
    new, now = (float(one.attrib["width"]) for one in ET.fromstring(svg).iter(f"{SVG}rect"))
    assert now / new == pytest.approx(0.297 / (11 / 32), abs=1e-3)
    assert {"renew at 1/4 in", "watch under 0.280 in", "new 11/32 in", "0.297 in", "1/4"} <= set(texts(svg))
    metric = facing.draw(
        11 / 32 * INCH, 0.28 * INCH, INCH / 4, facing.Now(0.00754, 1e-4), "print", Units(METRIC)
    )
    assert {"renew at 6.35 mm", "new 8.73 mm", "7.5 mm"} <= set(texts(metric))


@pytest.mark.parametrize(
    ("preset", "passes", "grips"),
    [
        # drive and valve kind against what a truck does without current and with air: the table of the trade
        ("line-haul spring-on", False, True),
        ("line-haul air-on", True, True),
        ("line-haul spring-on no", True, False),
        ("line-haul air-on nc", False, False),
    ],
)
def test_the_circuit_is_drawn_as_it_stands_without_current(preset, passes, grips):
    truck = presets()[preset]
    assert circuit.grips_without_current(truck) == grips
    svg = circuit.draw(truck, theme="print")
    shown = texts(svg)
    assert ("without current: grips" in shown) == grips
    assert ("valve: passes" in shown) == passes
    # the facing touches the steel face when it grips and stands off when it lets go
    rects = [one.attrib for one in ET.fromstring(svg).iter(f"{SVG}rect")]
    friction = next(one for one in rects if one["fill"] == "url(#circuit-facing)")
    steel = next(one for one in rects if one["fill"] == "#e4e2dc")
    gap = float(steel["x"]) - float(friction["x"]) - float(friction["width"])
    assert (gap == pytest.approx(0.0)) if grips else (gap > 5.0)
    # air reaches the cylinder on the side away from the spring
    line = next(
        one.attrib["d"] for one in ET.fromstring(svg).iter(f"{SVG}path") if one.attrib["d"].endswith("282")
    )
    port = float(re.findall(r"([\d.]+) [\d.]+", line)[-1])
    assert (port > 504.0) == (truck.grips_by == "spring")


def test_readings_stand_in_the_circuit_with_needle_and_word(assessment):
    seen = assessment()
    svg = circuit.draw(seen.visit.truck, seen.verdicts, seen.not_judged, "print")
    shown = " | ".join(texts(svg))
    for expected in ("118 psi", "inlet, valve at rest", "117 psi", "2.1 s", "act now", "watch", "0.297 in"):
        assert expected in shown, expected
    empty = circuit.draw(seen.visit.truck, theme="print")
    assert svg.count("<circle") == empty.count("<circle") + 2  # the hubs of two needles
    assert "2.1 s, act now." in ET.fromstring(svg)[1].text


def test_a_worn_facing_is_drawn_thinner(judge):
    truck = presets()["line-haul spring-on"]
    widths = []
    for thickness in (11 / 32, 0.25):
        svg = circuit.draw(
            truck, [judge("good", "facing_thickness", thickness * INCH, dimension="length")], (), "print"
        )
        rects = [one.attrib for one in ET.fromstring(svg).iter(f"{SVG}rect")]
        widths.append(float(next(one for one in rects if one["fill"] == "url(#circuit-facing)")["width"]))
    assert widths[1] / widths[0] == pytest.approx(0.25 / (11 / 32), abs=1e-3)


def test_a_reading_kept_without_verdict_shows_an_empty_dial(judge):
    kept = NotJudged(
        "supply_gauge_still", Message("too odd"), judge("good", "supply_gauge_still", 30.0 * PSI).reading
    )
    svg = circuit.draw(presets()["line-haul spring-on"], (), (kept,), "print")
    assert {"30 psi", "not judged"} <= set(texts(svg))


def overlaps(svg):
    """Pairs of texts whose boxes, by the font's own widths, cover each other."""
    boxes = []
    for element in ET.fromstring(svg).iter(f"{SVG}text"):
        size, x, y = (float(element.attrib[key]) for key in ("font-size", "x", "y"))
        wide = font().width(element.text, size, "font-weight" in element.attrib)
        left = (
            x - {"start": 0.0, "middle": 0.5, "end": 1.0}[element.attrib.get("text-anchor", "start")] * wide
        )
        boxes.append((left, left + wide, y - 0.72 * size, y, element.text))
    return [
        (one[4], other[4])
        for one, other in itertools.combinations(boxes, 2)
        if min(one[1], other[1]) - max(one[0], other[0]) > 1.0
        and min(one[3], other[3]) - max(one[2], other[2]) > 1.0
    ]


@pytest.mark.parametrize("theme", THEMES)
def test_no_two_texts_cover_each_other(trace, recording, assessment, theme):
    for svg in all_pictures(trace, recording, assessment(), theme):
        assert overlaps(svg) == []
    for one in (trace(cycles=4, arrives=False), trace(cycles=3), trace(cycles=5, vent_s=0.6)):
        assert overlaps(trace_picture(one)) == []


def test_the_slowest_cycle_is_cut_out(trace):
    whole = trace(cycles=10)
    slow = whole.strokes[7]
    strokes = tuple(
        type(slow)(one.kind, one.start_s, one.end_s + 0.4 if one is slow else one.end_s, 0.02, None)
        if one.end_s is not None
        else one
        for one in whole.strokes
    )
    cut = slowest(
        type(whole)(whole.place, whole.sha256, whole.time_s, None, whole.drive_gauge_pa, None, None, strokes)
    )
    assert [one.kind for one in cut.strokes] == ["fill", "vent"]
    assert cut.time_s[0] == pytest.approx(18.0, abs=0.01)
    assert cut.time_s[-1] == pytest.approx(slow.end_s + 0.4 + 0.8, abs=0.01)
    nothing = type(whole)(whole.place, whole.sha256, whole.time_s, None, whole.drive_gauge_pa, None, None, ())
    assert slowest(nothing) is nothing
