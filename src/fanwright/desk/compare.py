"""Before and after: two visits, two traces or two recordings, reading by reading."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from fanwright.desk.assess import assess_visit
from fanwright.desk.shop import Shop, open_shop
from fanwright.errors import InputError
from fanwright.evidence.reading import Reading
from fanwright.words import Message, text

VISITS = (".toml", ".json")
TRACES = (".csv", ".txt", ".tsv")


@dataclass(frozen=True)
class Change:
    """One test read twice.

    Args:
        test: The test (catalogue id).
        before: The first reading, or None.
        after: The second reading, or None.
        difference_si: Second less first, where both are values [SI].
        sd_si: Standard uncertainty of the difference [SI].
        chance_real: Chance that the true change has the direction seen [-].
        verdict_before: The first verdict; empty where only readings are compared.
        verdict_after: The second verdict; likewise.
    """

    test: str
    before: Reading | None
    after: Reading | None
    difference_si: float | None
    sd_si: float | None
    chance_real: float | None
    verdict_before: str = ""
    verdict_after: str = ""


@dataclass(frozen=True)
class _Side:
    kind: str
    readings: Mapping[str, Reading]
    verdicts: Mapping[str, str]
    shop: Shop


def compare(first: Path, second: Path, shop_file: Path | None = None) -> tuple[Shop, tuple[Change, ...]]:
    """Compare two files of one kind.

    Args:
        first: The earlier visit, trace or recording.
        second: The later one; of a visit with readings after its repair, those count.
        shop_file: The shop's own data, or None.

    Returns:
        The shop, and one change for each test read in either.

    Raises:
        InputError: They are of two kinds, or one cannot be read.
    """
    one, two = _side(first, shop_file, latest=False), _side(second, shop_file, latest=True)
    if one.kind != two.kind:
        raise InputError(
            Message(
                "{first} is a {kind} and {second} a {other}: compare two of one kind",
                {
                    "first": text(first),
                    "kind": text(one.kind),
                    "second": text(second),
                    "other": text(two.kind),
                },
            )
        )
    tests = [test for test in one.shop.catalogue.tests if test in one.readings or test in two.readings]
    return one.shop, tuple(_change(test, one, two) for test in tests)


def _side(path: Path, shop_file: Path | None, *, latest: bool) -> _Side:
    ending = path.suffix.lower()
    if ending in VISITS:
        assessed = assess_visit(path, shop_file, verdicts_only=True)
        judged = [*assessed.assessment.verdicts, *(assessed.assessment.verdicts_after if latest else ())]
        return _Side(
            "visit",
            {judgement.test: judgement.reading for judgement in judged},
            {judgement.test: judgement.verdict for judgement in judged},
            assessed.shop,
        )
    if ending in TRACES:
        from fanwright.evidence.trace import read_trace

        found, kind = read_trace(path).evidence.readings, "trace"
    else:
        from fanwright.evidence.recording import read_recording

        found, kind = read_recording([path]).evidence.readings, "recording"
    return _Side(kind, {reading.test: reading for reading in found}, {}, open_shop(shop_file, path))


def _change(test: str, one: _Side, two: _Side) -> Change:
    before, after = one.readings.get(test), two.readings.get(test)
    difference = spread = real = None
    if before is not None and after is not None and before.measured and after.measured:
        difference = after.measured.si - before.measured.si
        spread = math.hypot(before.measured.sd_si, after.measured.sd_si)
        real = 0.5 * math.erfc(-abs(difference) / spread / math.sqrt(2.0)) if spread > 0.0 else None
    return Change(
        test,
        before,
        after,
        difference,
        spread,
        real,
        one.verdicts.get(test, ""),
        two.verdicts.get(test, ""),
    )
