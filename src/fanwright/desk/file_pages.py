"""What a page shows of a trace or a recording; done in a child process, for the files come from outside."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fanwright.desk.files import read_table
from fanwright.desk.shop import Shop, open_shop
from fanwright.quantities import Units
from fanwright.report.say import Reader, say_all
from fanwright.visit import visit_from

if TYPE_CHECKING:
    from fanwright.desk.duty import ReadDuty


def reader_from(given: Mapping[str, Any], shop: Shop) -> Reader:
    """Make the reader a page was asked for by.

    Args:
        given: ``units`` by dimension and ``language``.
        shop: The shop.

    Returns:
        The reader.
    """
    units = Units(given.get("units", {}), comma=given.get("language") in ("es", "fr"))
    return Reader(units, shop.catalogue, given.get("language", "en"))


def trace_page(given: Mapping[str, Any]) -> dict[str, Any]:
    """Read a trace for the chart of its page.

    Args:
        given: ``visit_file``, ``file`` (its name beside it), ``shop``, ``units``, ``language``.

    Returns:
        What the chart draws.
    """
    from fanwright.desk.chart import trace_chart

    path = Path(given["visit_file"])
    shop = open_shop(Path(given["shop"]) if given.get("shop") else None)
    visit = visit_from(read_table(path), shop.catalogue, shop.presets, given.get("numbers", "en"))
    return trace_chart(path.parent / given["file"], reader_from(given, shop), visit.truck)


def recording_page(given: Mapping[str, Any]) -> dict[str, Any]:
    """Read the recordings of a visit for their page.

    Args:
        given: ``visit_file``, ``files`` (their names beside it), ``shop``, ``units``, ``language``.

    Returns:
        ``svg``, ``facts``, ``runs``, ``reasons``, ``findings``, ``notes`` and ``cannot_tell``.
    """
    from fanwright.desk.duty import read_duty
    from fanwright.report.pictures import duty

    path = Path(given["visit_file"])
    shop_file = Path(given["shop"]) if given.get("shop") else None
    paths = [path.parent / name for name in given["files"]]
    done = read_duty(paths, truck=str(path), shop_file=shop_file)
    reader = reader_from(given, done.shop)
    return {
        "svg": duty.draw(done.result.exhibit, "screen", reader.units),
        "facts": _facts(done, reader),
        "runs": _runs(done, reader),
        "reasons": _reasons(done, reader),
        "findings": [
            {
                "label": reader.words(reader.catalogue.tests[one.test].label),
                "verdict": one.verdict,
                "why": say_all([one.why], reader)[0],
                "todo": "" if one.todo is None else say_all([one.todo], reader)[0],
            }
            for one in done.look_at
        ],
        "notes": say_all(done.result.evidence.notes, reader),
        "cannot_tell": say_all(done.result.evidence.cannot_tell, reader),
    }


FACT_WORDS = {
    "engine_on_s": "engine on",
    "fan_on_s": "fan told on",
    "fan_share": "share of the known time",
    "grips_per_hour": "grips in an hour",
    "slip_energy_j": "heat of the grips",
    "fan_energy_j": "work the fan took",
    "fuel_m3": "fuel the fan took",
}
FACT_TIMES = ("engine_on_s", "fan_on_s")
FACT_UNITS = {
    "fan_share": "share",
    "slip_energy_j": "energy",
    "fan_energy_j": "energy",
    "fuel_m3": "volume",
}


def _facts(done: ReadDuty, reader: Reader) -> list[dict[str, str]]:
    from fanwright.report.pictures.duty_day import in_words

    found = []
    for name, label in FACT_WORDS.items():
        value = getattr(done.result, name)
        if value is not None:
            dimension = FACT_UNITS.get(name)
            shown = f"{value:.1f}" if dimension is None else reader.write(value, dimension)
            shown = in_words(value) if name in FACT_TIMES else shown
            found.append({"label": reader.words(label), "shown": shown})
    return found


def _runs(done: ReadDuty, reader: Reader) -> list[dict[str, Any]]:
    from fanwright.report.pictures.duty_day import in_words, label

    seen = done.result.exhibit

    def moment(time_s: float) -> str:
        if seen.clock == "relative":
            return in_words(time_s - seen.first_s)
        return f"{dt.datetime.fromtimestamp(time_s, dt.UTC):%Y-%m-%d %H:%M:%S}"

    return [
        {
            "start": moment(run.start_s),
            "lasted": in_words(run.duration_s),
            "reason": reader.words(label(run.reason)),
            "open_end": run.open_end or run.open_start,
            "rpm": "" if run.grip_rpm is None else f"{run.grip_rpm:.0f}",
            "energy": "" if run.slip_energy_j is None else reader.write(run.slip_energy_j, "energy"),
        }
        for run in done.result.runs
    ]


def _reasons(done: ReadDuty, reader: Reader) -> list[dict[str, Any]]:
    from fanwright.report.pictures.duty_day import in_words, label

    return [
        {"reason": reader.words(label(reason)), "runs": one.runs, "lasted": in_words(one.fan_on_s)}
        for reason, one in done.result.by_reason().items()
    ]
