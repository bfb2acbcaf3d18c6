"""The paper: what stands on it and where, the same bytes each time, nothing printed that was not typed."""

import dataclasses
import datetime as dt
import io
import re
import subprocess

import numpy as np
import pytest

from fanwright.catalogue import load
from fanwright.errors import InputError
from fanwright.judging.verdict import Finding
from fanwright.quantities import METRIC, Units
from fanwright.report.font import font
from fanwright.report.pdf import builders, make_pdf
from fanwright.report.photos import read_photos
from fanwright.report.say import Reader, say
from fanwright.visit.model import Work
from fanwright.words import Message


def run(tool, content, *options):
    done = subprocess.run([tool, *options, "-", "-"], input=content, capture_output=True, check=True)
    return done.stdout


def printed(pdf):
    return run("pdftotext", pdf, "-layout").decode()


def words(pdf):
    return " ".join(printed(pdf).split())


def pages(pdf):
    from pypdf import PdfReader

    return len(PdfReader(io.BytesIO(pdf)).pages)


@pytest.fixture
def photo(tmp_path):
    from PIL import Image

    def make(name="exhaust.jpg", size=(640, 480), **options):
        pixels = np.random.default_rng(7).integers(0, 255, (size[1], size[0], 3), dtype=np.uint8)
        Image.fromarray(pixels).save(tmp_path / name, **options)
        return name, tmp_path / name

    return make


def test_the_paper_says_what_was_found_why_and_what_proves_it(assessment):
    text = words(make_pdf(assessment()))
    for expected in (
        "214 act now",
        "Complaint visit, 2026-04-14: because of Seconds from 90 to 0 psi at the drive.",
        "As found: act now. After the repair: watch.",
        "look at the exhaust port",
        "the gauges differ by 1 psi",
        "Labour 12 min",
        "Parts screen",
        "Company number 214",
        "Make demo tractor",
        "Serial number DEMO-000214",
        "Year 2021",
        "Tire size not given",
        "Nature fan drive, complaint visit",
        "Date 2026-04-14",
        "Next due 2026-07-14",
        "Odometer 377,204 mi",
        "Engine hours 9,412 h",
        "2025-10-02 361,900 mi",
        "1 s, 1.5 s >99 %, >99 % G-07, Ana 1",
        "watch, repeat 99 psi 100 psi, 90 psi 80 %, <1 % from the trace 1",
        "0.297 in 0.280 in, 1/4 in 3 %, <1 %",
        "before: 214-air.csv",
        "after: 214-air-after.csv",
        "air conditioning",
        "not judged Seconds from 0 to 90 psi at the drive",
        "the inlet stood under 115 psi",
        "in agreement: Gauge at the valve inlet, valve at rest: 118.2 psi (from the trace)",
        "not done Coil current when fed no clamp meter",
        "has no verdict: Listen for leaks",
        "the fan's own speed was not recorded",
        "1 common practice, no source",
        "No shop data in force",
        "ab" * 32,
        "Done and re-tested: technician Ana",
        "Driver told",
        "1/3",
    ):
        assert expected in text, expected


def test_finding_comes_first_then_cause_then_proof(assessment):
    text = printed(make_pdf(assessment()))
    heads = [
        "Finding",
        "Cause",
        "Vehicle and record",
        "Where the readings were taken",
        "Before and after",
        "Facing, thinnest place",
        "Traces and recordings",
        "Not judged, not done",
        "Cautions",
        "Sources",
        "Sign-off",
    ]
    places = [text.index(f"\n{head}") if f"\n{head}" in text else text.index(head) for head in heads]
    assert places == sorted(places)
    assert [builder.ORDER for builder in builders()] == sorted({builder.ORDER for builder in builders()})


def test_the_same_visit_gives_the_same_bytes(assessment, photo):
    photos = read_photos([photo()])
    one, other = (make_pdf(assessment(), photos=photos) for _ in range(2))
    assert one == other
    later = make_pdf(assessment(date=dt.date(2026, 4, 15)), photos=photos)
    assert later != one


def test_the_paper_states_its_kind_date_and_title(assessment):
    from pypdf import PdfReader

    reader = PdfReader(io.BytesIO(make_pdf(assessment(), paper="a4")))
    assert reader.metadata.title == "Fan drive check, unit 214"
    assert reader.metadata.creation_date.date() == dt.date(2026, 4, 14)
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    kept = reader.trailer["/Root"]["/Metadata"].get_data().decode()
    assert re.search(r"pdfaid:part>2<", kept)
    assert re.search(r"pdfaid:conformance>A<", kept)
    assert [round(float(side)) for side in reader.pages[0].mediabox[2:]] == [595, 842]
    letter = PdfReader(io.BytesIO(make_pdf(assessment()))).pages[0].mediabox
    assert [float(side) for side in letter[2:]] == [612.0, 792.0]


def test_units_are_the_readers(assessment):
    text = words(make_pdf(assessment(), Reader(Units(METRIC))))
    for expected in ("814 kPa", "607,051 km", "689 kPa, 621 kPa", "renew at 6.35 mm"):
        assert expected in text, expected
    assert "118 psi" not in text


def test_text_is_never_markup(assessment):
    typed = '#panic("x") *bold* _it_ $x$ <label> @ref \\ `raw` // no = Head'
    seen = assessment(
        unit=typed,
        work=Work(typed, (typed,), None, typed),
        not_done={"coil_amps": typed},
        findings=(Finding("x", Message("{{" + typed.replace("{", "").replace("}", "") + "}}")),),
    )
    text = words(make_pdf(seen))
    assert text.count('#panic("x") *bold* _it_ $x$ <label> @ref \\ `raw` // no = Head') >= 4


def test_a_character_the_font_lacks_is_named_with_its_place(assessment):
    seen = assessment(
        work=Work("exhaust_blocked", (), None, "\u6f22\u5b57 ok"), not_done={"coil_amps": "\u6f22 too"}
    )
    with pytest.raises(InputError) as refused:
        make_pdf(seen)
    lines = [say(message) for message in refused.value.messages]
    assert len(lines) == 2
    assert "\u6f22" in lines[0]
    assert "U+6F22" in lines[0]
    assert "under Cause" in lines[0]
    assert "U+5B57" in lines[1]
    with pytest.raises(InputError):
        make_pdf(assessment(unit="214\u200e"))


def test_accents_and_other_alphabets_are_printed(assessment):
    note = "Año, façade, Łódź, Ωμέγα, ремень · 40 °C ± 2 µm × 3 – “fin”"
    assert note in words(make_pdf(assessment(work=Work("exhaust_blocked", (), None, note))))


def test_the_font_has_every_character_of_our_own_data():
    catalogue = load()
    texts = [
        one
        for test in catalogue.tests.values()
        for one in (test.label, test.how, *(o.label for o in test.outcomes))
    ]
    texts += [
        one
        for fault in catalogue.faults.values()
        for one in (fault.label, fault.fix, fault.follow_up, fault.consequence, fault.safety)
    ]
    texts += [one for caution in catalogue.cautions.values() for one in (caution.text, caution.source)]
    texts += [instrument.label for instrument in catalogue.instruments.values()]
    assert {character for text in texts for character in font().missing(text)} == set()


def test_every_test_of_the_catalogue_fits_on_three_pages(assessment, judge):
    verdicts = []
    for number, test in enumerate(load().tests.values()):
        if test.outcomes:
            verdict = ("good", "good", "good", "good", "watch")[number % 5]
            verdicts.append(
                judge(verdict, test.id, word=test.outcomes[0].word, why="why " * 8, todo="do " * 8)
            )
    seen = assessment(verdicts=tuple(verdicts), missing=())
    made = make_pdf(seen)
    assert pages(made) <= 3
    text = words(made)
    for each in verdicts:
        assert load().tests[each.test].label.split()[0] in text


@pytest.mark.parametrize("preset", ["line-haul air-on", "line-haul spring-on no", "line-haul air-on nc"])
def test_every_arrangement_has_a_paper(assessment, preset):
    made = make_pdf(assessment(preset=preset, evidence=(), verdicts_after=(), overall_after=None))
    text = words(made)
    assert 2 <= pages(made) <= 3
    assert "Before and after" not in text
    assert "Traces and recordings" not in text
    assert "No reading was repeated after the work" in text


def test_an_empty_visit_is_said_to_be_empty(assessment):
    seen = assessment(
        overall="not_judged",
        overall_after=None,
        verdicts=(),
        verdicts_after=(),
        not_judged=(),
        listed=(),
        missing=(),
        findings=(),
        evidence=(),
        not_done={},
        history=(),
        identity={},
        circumstances={},
        work=Work(),
        odometer_m=None,
        engine_time_s=None,
    )
    text = words(make_pdf(seen))
    for expected in (
        "214 not judged",
        "No reading calls for watching or work",
        "No cause was named",
        "Odometer not given",
    ):
        assert expected in text, expected


@pytest.mark.parametrize(
    ("change", "second"),
    [
        ({}, False),
        ({"overall": "stand_down"}, True),
        ({"work": Work("fan_blade_damaged")}, True),
        ({"work": Work("hub_bearing_worn")}, True),
        ({"work": Work("temp_signal_never_asks")}, True),
        ({"work": Work("exhaust_blocked", ("front bearing",))}, True),
        ({"work": Work("set_ac_time_short")}, False),
    ],
)
def test_grave_work_needs_a_second_signature(assessment, change, second):
    assert ("Checked: second person" in words(make_pdf(assessment(**change)))) == second


def test_marks_and_curves_survive_a_grey_printer(assessment):
    from PIL import Image

    options = ("-gray", "-r", "60", "-png", "-singlefile")
    shot = subprocess.run(
        ["pdftoppm", *options, "-"], input=make_pdf(assessment()), capture_output=True, check=True
    ).stdout
    with Image.open(io.BytesIO(shot)) as image:
        colour = np.asarray(image.convert("RGB")).astype(int)
    assert np.ptp(colour, axis=2).max() == 0
    grey = colour[:, :, 0]
    # the needle beside the overall verdict: dark ink in the head of the page, left of the middle
    head = grey[: grey.shape[0] // 9, int(0.12 * grey.shape[1]) : int(0.2 * grey.shape[1])]
    assert np.count_nonzero(head < 140) > 40


def test_photos_are_printed_with_a_description_and_without_metadata(assessment, photo):
    from PIL import Image

    exif = Image.Exif()
    exif[0x010F] = "secret camera"
    exif[0x0112] = 6  # turned by a quarter
    photos = read_photos([photo("exhaust.jpg", exif=exif), photo("tag.png")])
    with Image.open(io.BytesIO(photos[0].jpeg)) as clean:
        assert clean.size == (480, 640)
        assert not clean.getexif()
    assert b"secret" not in photos[0].jpeg
    made = make_pdf(assessment(), photos=photos)
    text = words(made)
    for expected in ("Photos", "exhaust.jpg", "tag.png", photos[0].sha256, photos[1].sha256):
        assert expected in text, expected
    alternatives = alternative_texts(made)
    assert "Photo exhaust.jpg of unit 214" in alternatives
    assert {"act now", "good"} <= alternatives


def alternative_texts(pdf):
    from pypdf import PdfReader

    reader = PdfReader(io.BytesIO(pdf))
    found, seen, todo = set(), set(), [reader.trailer["/Root"]["/StructTreeRoot"]]
    while todo:
        item = todo.pop().get_object()
        if isinstance(item, list):
            todo += [one for one in item if hasattr(one, "get_object")]
        elif isinstance(item, dict) and id(item) not in seen:
            seen.add(id(item))
            if "/Alt" in item:
                found.add(str(item["/Alt"]))
            if "/K" in item:
                todo.append(item["/K"])
    return found


def test_more_photos_than_fit_are_named(assessment, photo):
    photos = read_photos([photo(f"{number}.jpg", (64, 48)) for number in range(8)])
    text = words(make_pdf(assessment(), photos=photos))
    assert "2 more are kept with the visit" in text
    assert photos[7].sha256 in text


def test_what_is_no_photo_is_refused_all_together(tmp_path, photo):
    from PIL import Image

    good, path = photo("good.jpg")
    whole = path.read_bytes()
    (tmp_path / "cut.jpg").write_bytes(whole[: len(whole) // 2])
    (tmp_path / "text.jpg").write_text("no picture at all")
    (tmp_path / "empty.png").write_bytes(b"")
    (tmp_path / "page.jpg").write_bytes(b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n")
    (tmp_path / "folder.jpg").mkdir()
    Image.new("1", (9000, 9000)).save(tmp_path / "bomb.png")
    names = (
        "cut.jpg",
        "text.jpg",
        "empty.png",
        "page.jpg",
        "folder.jpg",
        "bomb.png",
        "missing.jpg",
        "nul\0.jpg",
    )
    with pytest.raises(InputError) as refused:
        read_photos([(good, path), *((name, tmp_path / name) for name in names)])
    lines = [say(message) for message in refused.value.messages]
    assert len(lines) == len(names)
    for name, line in zip(names, lines, strict=True):
        assert name in line
        assert "\n" not in line


def test_a_shop_file_is_named_with_its_hash(assessment):
    text = words(make_pdf(assessment(shop_file="shop.toml", shop_sha256="ef" * 32)))
    assert "shop.toml" in text
    assert "ef" * 32 in text


def test_a_facing_renewed_is_shown_before_and_after(assessment, judge):
    seen = assessment()
    renewed = judge(
        "good",
        "facing_thickness",
        11 / 32 * 0.0254,
        0.001 * 0.0254,
        dimension="length",
        limit_si=0.00635,
        watch_limit_si=0.007112,
        chances={"good": 1.0},
        after=True,
    )
    text = words(make_pdf(dataclasses.replace(seen, verdicts_after=(*seen.verdicts_after, renewed))))
    assert "Facing now" in text
    assert "Facing after the repair" in text
