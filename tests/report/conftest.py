"""Evidence and assessments built by hand, so that the paper is tested without the judging."""

import datetime as dt

import numpy as np
import pytest

from fanwright.evidence.reading import Evidence, Measured, Reading
from fanwright.evidence.recording.exhibit import RecordingExhibit, Run, Span
from fanwright.evidence.trace.exhibit import Stroke, TraceExhibit
from fanwright.judging.verdict import Finding, Judgement
from fanwright.truck.loader import presets
from fanwright.visit.model import Assessment, NotJudged, Past, Visit, Work
from fanwright.words import Message, quantity, test_name

PSI = 6894.757293168
INCH = 0.0254
SOURCE = "common practice, no source"


def reading(test, si=None, half=0.0, sd=0.0, word="", **more):
    return Reading(test, None if si is None else Measured(si, half, sd), word, **more)


def judged(
    verdict, test, si=None, half=0.0, sd=0.0, word="", *, why="because", todo=None, after=False, **more
):
    keep = {key: more.pop(key) for key in ("each_si", "instrument", "by", "origin") if key in more}
    return Judgement(
        test,
        verdict,
        reading(test, si, half, sd, word, after=after, **keep),
        Message(why),
        None if todo is None else Message(todo),
        value_si=si,
        sd_si=sd or None,
        limit_source=SOURCE,
        **more,
    )


def make_trace(*, vent_s=2.1, cycles=1, rate_hz=200.0, arrives=True, place="214-air.csv", spike=False):
    time = np.arange(0.0, 6.0 * cycles, 1.0 / rate_hz)
    phase = time % 6.0
    sent = (phase >= 0.5) & (phase < 2.7)
    rise = 117.0 * (1.0 - np.exp(-np.maximum(phase - 0.5, 0.0) / 0.27))
    fall = 117.0 * np.exp(-np.maximum(phase - 2.7, 0.0) * 4.0 / vent_s)
    drive = np.where(sent, rise, np.where(phase < 0.5, 0.0, fall))
    if spike:
        drive[int(1.5 * rate_hz)] = 140.0
    strokes = []
    for cycle in range(cycles):
        start = 6.0 * cycle
        strokes.append(Stroke("fill", start + 0.5, start + 0.9, 0.02, 118.0 * PSI))
        end = start + 2.9 + vent_s if arrives else None
        strokes.append(
            Stroke("vent", start + 2.9, end, 0.02 if arrives else None, 118.0 * PSI, never=not arrives)
        )
    supply = np.full_like(time, 118.0)
    return TraceExhibit(place, "ab" * 32, time, supply * PSI, drive * PSI, sent, time > 5.5, tuple(strokes))


def make_recording(*, span_s=3600.0, known=True, clock="absolute", first_s=1776150000.0):
    def span(start_s, end_s, what):
        return Span(first_s + start_s, first_s + end_s, what)

    runs = []
    for at in np.arange(100.0, 0.9 * span_s, span_s / 30.0).tolist():
        one = span(at, at + 15.0, "air_conditioning")
        runs.append(Run(one.start_s, one.end_s, one.what, (one,), False, 900.0))
    parts = (span(1800.0, 1900.0, "coolant"), span(1900.0, 1950.0, "charge_air"))
    runs.append(Run(parts[0].start_s, parts[1].end_s, "coolant", parts, False, 1300.0))
    stretches = (span(0.0, 0.4 * span_s, "known"), span(0.5 * span_s, span_s, "known")) if known else ()
    return RecordingExhibit(
        "214-duty.log",
        "cd" * 32,
        clock,
        first_s,
        span_s,
        (span(20.0, 0.95 * span_s, "on"),),
        stretches,
        tuple(runs) if known else (),
    )


def before():
    return (
        judged(
            "act_now",
            "vent_time",
            2.1,
            0.05,
            0.06,
            why="2.1 s is over the limit",
            todo="look at the exhaust port",
            dimension="time",
            limit_si=1.5,
            watch_limit_si=1.0,
            chances={"good": 0.0, "watch": 0.0, "act_now": 1.0},
            instrument="G-07",
            by="Ana",
            each_si=(2.1, 2.0),
            cautions=("lock_out",),
        ),
        judged(
            "watch",
            "supply_gauge_cycling",
            99.0 * PSI,
            0.5 * PSI,
            0.25 * PSI,
            dimension="pressure",
            limit_si=90.0 * PSI,
            watch_limit_si=100.0 * PSI,
            chances={"good": 0.2, "watch": 0.8},
            repeat=True,
            origin="trace",
        ),
        judged(
            "good",
            "supply_gauge_still",
            118.0 * PSI,
            0.5 * PSI,
            0.25 * PSI,
            dimension="pressure",
            limit_si=90.0 * PSI,
            watch_limit_si=100.0 * PSI,
            chances={"good": 1.0},
        ),
        judged(
            "good",
            "drive_gauge_air_on",
            117.0 * PSI,
            0.5 * PSI,
            0.25 * PSI,
            dimension="pressure",
            limit_si=90.0 * PSI,
            watch_limit_si=90.0 * PSI,
            chances={"good": 1.0},
        ),
        judged(
            "good",
            "facing_thickness",
            0.297 * INCH,
            0.0025 * INCH,
            0.001 * INCH,
            dimension="length",
            limit_si=0.25 * INCH,
            watch_limit_si=0.28 * INCH,
            chances={"good": 0.97, "watch": 0.03},
        ),
        judged("good", "hub_rock", word="tight"),
    )


@pytest.fixture
def trace():
    return make_trace


@pytest.fixture
def recording():
    return make_recording


@pytest.fixture
def judge():
    return judged


@pytest.fixture
def assessment():
    """Build an assessment; keywords replace fields of the visit or of the assessment."""

    def build(*, preset="line-haul spring-on", **other):
        after = (
            judged(
                "good",
                "vent_time",
                0.6,
                0.05,
                0.06,
                dimension="time",
                limit_si=1.5,
                watch_limit_si=1.0,
                chances={"good": 1.0},
                after=True,
            ),
        )
        visit = {
            "unit": "214",
            "truck": presets()[preset],
            "kind": "complaint",
            "date": dt.date(2026, 4, 14),
            "odometer_m": 377204 * 1609.344,
            "engine_time_s": 9412 * 3600.0,
            "identity": {"make": "demo tractor", "serial": "DEMO-000214", "model_year": "2021"},
            "circumstances": {"technician": "Ana", "place": "Millrace", "next_due": "2026-07-14"},
            "readings": (),
            "readings_after": (),
            "not_done": {"coil_amps": "no clamp meter"},
            "work": Work("exhaust_blocked", ("screen",), 720.0, ""),
            "history": (
                Past(dt.date(2025, 10, 2), 361900 * 1609.344, (reading("facing_thickness", 0.305 * INCH),)),
            ),
            "files": {},
        }
        visit |= {key: other.pop(key) for key in list(other) if key in visit}
        found = {
            "overall": "act_now",
            "overall_why": Message("because of {test}", {"test": test_name("vent_time")}),
            "overall_after": "watch",
            "verdicts": before(),
            "verdicts_after": after,
            "not_judged": (
                NotJudged(
                    "fill_time", Message("the inlet stood under 115 psi"), reading("fill_time", 1.1, 0.05)
                ),
            ),
            "listed": (reading("supply_gauge_still", 118.2 * PSI, 0.05 * PSI, origin="trace"),),
            "missing": ("listen_leaks",),
            "findings": (
                Finding("differ", Message("the gauges differ by {p}", {"p": quantity(PSI, "pressure")})),
            ),
            "evidence": (
                Evidence((), (make_trace(),)),
                Evidence(
                    (reading("vent_time", 0.6, after=True),),
                    (make_trace(vent_s=0.6, place="214-air-after.csv"),),
                ),
                Evidence((), (make_recording(),), (), (Message("the fan's own speed was not recorded"),)),
            ),
            "shop_file": "",
            "shop_sha256": "",
        }
        found |= other
        return Assessment(visit=Visit(**visit), not_done=visit["not_done"], **found)

    return build
