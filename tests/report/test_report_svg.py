"""The writer of SVG, its axes and marks: no spike lost, no text outside, nothing half written."""

import io
import itertools
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from fanwright.errors import FileError
from fanwright.report.font import folder, font
from fanwright.report.pictures import needle
from fanwright.report.pictures.axis import round_step, thin, time_step
from fanwright.report.pictures.svg import Drawing, safe
from fanwright.report.pictures.trace import draw
from fanwright.report.png import from_svg, to_png

SVG = "{http://www.w3.org/2000/svg}"


@given(st.lists(st.tuples(st.floats(0.0, 40.0), st.floats(-1e3, 1e3)), min_size=1, max_size=300).map(sorted))
def test_thinning_keeps_the_ends_of_every_pixel_column(points):
    across, up = np.array(points).T
    kept_across, kept_up = thin(across, up)
    assert np.all(np.diff(kept_across) >= 0.0)
    assert kept_across.size <= max(4 * (np.unique(np.floor(across)).size), 4)
    for column in np.unique(np.floor(across)):
        before, after = up[np.floor(across) == column], kept_up[np.floor(kept_across) == column]
        assert (before.min(), before.max(), before[0], before[-1]) == (
            after.min(),
            after.max(),
            after[0],
            after[-1],
        )


@given(st.floats(1e-3, 1e7), st.integers(2, 12))
def test_steps_of_an_axis_are_round_and_few(span, most):
    for step in (round_step(span, most), time_step(span, most)):
        assert span / step <= most * (1 + 1e-9)
    assert float(f"{round_step(span, most):e}".split("e")[0]) in {1.0, 2.0, 5.0, 10.0}


def test_marks_differ_from_each_other_in_black_and_white():
    from PIL import Image

    marks = {}
    for verdict in ("good", "watch", "act_now", "stand_down", "not_judged"):
        with Image.open(io.BytesIO(to_png(needle.draw(verdict, "print"), 56))) as image:
            marks[verdict] = np.asarray(image.convert("L")) < 160
    for one, other in itertools.combinations(marks, 2):
        different = np.count_nonzero(marks[one] != marks[other])
        assert different > 0.03 * marks[one].size, (one, other)


def test_strange_names_are_text_and_nothing_else(trace):
    name = "a<b>&\"'</text><script>\x00\ud800.csv"
    svg = draw(trace(place=name), "print")
    assert ET.fromstring(svg)[0].text == "Pressure trace a<b>&\"'</text><script>\ufffd\ufffd.csv"
    assert "<script" not in svg


@example("0\x1f")
@example("00\r")
@given(st.text(max_size=60))
@settings(max_examples=60)
def test_any_text_gives_well_formed_xml_inside_the_frame(words):
    drawing = Drawing(200.0, 60.0, words or "title", "something that is described", "print")
    drawing.text(150.0, 20.0, words * 3, bold=True)
    root = ET.fromstring(drawing.svg())
    line = root.find(f"{SVG}text")
    wide = font().width(line.text or "", 12.0, bold=True)
    assert float(line.attrib["x"]) + wide <= 200.0
    assert ET.fromstring(f"<a>{safe(words)}</a>") is not None


def test_widths_agree_with_the_typesetter():
    """Reference: the same lines measured by typst, an independent reader of the same font file."""
    import json

    import typst

    lines = [
        "Seconds from 90 to 0 psi at the drive",
        "117 psi",
        "2.10 s",
        "coolant",
        "exhaust port: blocked",
        "iiii",
    ]
    source = (
        '#set text(font: "Noto Sans", size: 100pt, kerning: false)\n'
        "#context [#metadata(json(bytes(sys.inputs.lines)).map(one => "
        "(measure(text(one)).width.pt(), measure(text(weight: 700, one)).width.pt()))) <widths>]"
    )
    compiler = typst.Compiler(
        source.encode(),
        font_paths=[str(folder())],
        ignore_system_fonts=True,
        sys_inputs={"lines": json.dumps(lines)},
    )
    measured = json.loads(compiler.query("<widths>", field="value", one=True))
    for line, (regular, bold) in zip(lines[:-1], measured[:-1], strict=True):
        assert font().width(line, 100.0) == pytest.approx(regular, rel=1e-3), line
        assert font().width(line, 100.0, bold=True) >= bold, line
    assert font().width(lines[-1], 100.0) == pytest.approx(measured[-1][0], rel=1e-3)


def test_png_is_written_whole_or_not_at_all(tmp_path, trace):
    from PIL import Image

    from_svg(draw(trace(), "print"), tmp_path / "trace.png")
    with Image.open(tmp_path / "trace.png") as image:
        assert image.size == (1520, 600)
        assert np.asarray(image.convert("L")).min() < 40
    with pytest.raises(FileError):
        from_svg(draw(trace(), "print"), tmp_path / "no folder" / "trace.png")
    (tmp_path / "folder.png").mkdir()
    with pytest.raises(FileError):
        from_svg(draw(trace(), "print"), tmp_path / "folder.png")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["folder.png", "trace.png"]
