"""The demo visit of truck 214 as it stands half way on the bay page."""

from __future__ import annotations

import tomllib
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from direct import Direct
from fanwright.desk.records import open_records
from fanwright.records.bay_model import BayEntry, BayVisit
from fanwright.web.app import create_app
from fanwright.web.settings import Settings

ENTERED: tuple[dict[str, Any], ...] = (
    {"kind": "lock_out", "confirmed": True},
    {"kind": "reading", "test": "vent_time", "value": ["2.2 s", "2.0 s"], "instrument": "tablet_timer"},
    {"kind": "reading", "test": "vent_time", "value": "2.1 s", "author": "Bo"},
    {"kind": "reading", "test": "exhaust_puff", "value": "strong"},
    {"kind": "reading", "test": "exhaust_puff", "value": "weak_or_slow", "replaces": [4]},
    {"kind": "reading", "test": "hold_test", "value": "1 psi"},
    {"kind": "not_done", "test": "coil_amps", "why": "no clamp meter"},
    {"kind": "set", "table": "visit", "name": "complaint", "value": "fan late to let go"},
    {"kind": "reading", "test": "vent_time", "value": ["0.6 s", "0.6 s"], "after": True},
)
NOT_YET = (
    "vent_time", "exhaust_puff", "exhaust_look", "hold_test", "feed_volts", "click", "drive_gauge_air_off",
    "facing_look", "disc_look", "tensioner", "cooler_look", "set_ac_time", "stored_codes", "recent_work",
)  # fmt: skip


def numbered_key(number: int) -> str:
    """Give the same key for the same number every time."""
    return str(uuid.UUID(int=number, version=4))


def entries() -> tuple[BayEntry, ...]:
    made = []
    for number, body in enumerate(ENTERED, 1):
        full = {
            "key": numbered_key(number),
            **body,
            "replaces": [numbered_key(one) for one in body.get("replaces", ())],
            "at": f"2026-04-14T07:{20 + number}:04-06:00",
        }
        author = body.get("author", "Ana")
        made.append(BayEntry(numbered_key(number), full, author, True, "Ana", number))
    return tuple(made)


@pytest.fixture(scope="session")
def demo_base(root: Path) -> dict[str, Any]:
    """The visit file of 214 without what is entered on the tablet, and without its files."""
    raw = tomllib.loads((root / "examples" / "demo" / "214.toml").read_text("utf-8"))
    for test in NOT_YET:
        del raw["readings"][test]
    for table in ("readings_after", "not_done", "files"):
        del raw[table]
    del raw["visit"]["lock_out"]
    return raw


@pytest.fixture(scope="session")
def demo_bay(demo_base: dict[str, Any]) -> BayVisit:
    """The bay visit with nine entries."""
    return BayVisit(1, numbered_key(0), "214", demo_base, opened_by="Rae", entries=entries())


HERE = "http://127.0.0.1:8214"


def browser(app: Any) -> httpx.Client:
    """Make what asks an app as a page of ours would."""
    headers = {"sec-fetch-site": "same-origin", "origin": HERE}
    return httpx.Client(transport=Direct(app), base_url=HERE, headers=headers)


@pytest.fixture(scope="session")
def browser_of() -> Callable[[Any], httpx.Client]:
    """Give what makes browsers."""
    return browser


@pytest.fixture
def app(tmp_path: Path) -> Iterator[FastAPI]:
    path = tmp_path / "shop.db"
    store = open_records(str(path), create=True)
    yield create_app(Settings(str(path), None, None, True, "127.0.0.1", 8214, (), None, "test"), store)
    store.close()


@pytest.fixture
def web(app: FastAPI, browser_of: Callable[[Any], httpx.Client]) -> httpx.Client:
    return browser_of(app)


@pytest.fixture
def bay(web: httpx.Client) -> int:
    asked = {
        "key": str(uuid.uuid4()),
        "unit": "214",
        "kind": "complaint",
        "grips_by": "spring",
        "valve": "nc",
        "volts": 12,
    }
    answer = web.post("/api/bay", json=asked)
    assert answer.status_code == 201, answer.text
    assert web.post("/api/bay", json=asked).status_code == 200
    number: int = answer.json()["number"]
    return number
