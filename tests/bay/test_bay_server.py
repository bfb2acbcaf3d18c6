"""The routes of the bay as a browser meets them."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
from fastapi import FastAPI

Browsers = Callable[[Any], httpx.Client]
AT = "2026-04-14T07:21:04-06:00"


def key() -> str:
    return str(uuid.uuid4())


def entry(kind: str = "reading", **body: Any) -> dict[str, Any]:
    told = {"test": "vent_time", "value": "2.1 s"} if kind == "reading" else {}
    return {"key": key(), "kind": kind, "at": AT, "author": "Ana", **told, **body}


def test_an_entry_is_answered_alike_however_often_it_is_sent(web: httpx.Client, bay: int) -> None:
    body = entry()
    first = web.post(f"/api/bay/{bay}/entries", json=body)
    again = web.post(f"/api/bay/{bay}/entries", json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json() == {"stored": body["key"], "version": 2}
    other = web.post(f"/api/bay/{bay}/entries", json=body | {"value": "2.2 s"})
    assert (other.status_code, other.json()["code"]) == (422, "other_body")
    full = web.post(f"/api/bay/{bay}/entries?full=1", json=entry(value="0.6 s", after=True)).json()
    assert full["visit"]["version"] == full["version"] == 3


def test_refusals_carry_sentences_and_codes(web: httpx.Client, bay: int) -> None:
    wrong = web.post(f"/api/bay/{bay}/entries", json=entry(value="2.1"))
    assert (wrong.status_code, wrong.json()["code"]) == (422, "refused")
    assert "unit" in wrong.json()["messages"][0]
    assert web.post("/api/bay/99/entries", json=entry()).json()["code"] == "not_there"
    assert web.get("/api/bay/99").status_code == 404
    for odd in ("0", "-1", "9" * 30, "x", "1.5"):
        assert web.get(f"/api/bay/{odd}").status_code in (404, 422)
        assert web.post(f"/api/bay/{odd}/entries", json=entry()).status_code in (404, 422)
    for body in ("[]", "7", "{", '{"key": NaN}', '"' + "x" * 100 + '"'):
        answer = web.post(
            f"/api/bay/{bay}/entries", content=body, headers={"content-type": "application/json"}
        )
        assert answer.status_code == 422, body
    assert web.get(f"/api/bay/{bay}").json()["version"] == 1


def test_the_visit_has_a_mark_and_follows_the_reader(web: httpx.Client, bay: int) -> None:
    web.post(f"/api/bay/{bay}/entries", json=entry(test="supply_gauge_still", value="118 psi"))
    answer = web.get(f"/api/bay/{bay}")
    mark = answer.headers["etag"]
    assert web.get(f"/api/bay/{bay}", headers={"if-none-match": mark}).status_code == 304
    (found,) = answer.json()["readings"]
    assert found["shown"] == "118 psi"
    bar = web.get(f"/api/bay/{bay}", headers={"cookie": "fanwright-look=pressure=bar", "if-none-match": mark})
    assert bar.status_code == 200
    assert bar.json()["readings"][0]["shown"].endswith("bar")


def test_the_list_keeping_and_signing(web: httpx.Client, bay: int) -> None:
    web.post(f"/api/bay/{bay}/entries", json=entry())
    (row,) = web.get("/api/bay").json()
    assert (row["number"], row["unit"], row["overall"], row["entries"]) == (bay, "214", "act_now", 1)
    missing = web.post(f"/api/bay/{bay}/sign", json={})
    assert missing.status_code == 422
    assert len(missing.json()["messages"]) >= 2
    web.post(f"/api/bay/{bay}/entries", json=entry(value="0.6 s", after=True))
    done = web.post(
        f"/api/bay/{bay}/sign",
        json={"named_causes": ["exhaust_blocked"], "driver_told": True, "password": ""},
    )
    assert done.status_code == 200, done.text
    assert done.json()["pdf"] == f"/visits/{done.json()['visit']}/report.pdf"
    late = web.post(f"/api/bay/{bay}/entries", json=entry())
    assert (late.status_code, late.json()["code"]) == (409, "closed")
    assert web.get("/api/bay").json() == []
    assert web.get(f"/api/bay/{bay}").json()["state"] == "signed"


def test_trucks_follow_the_records(web: httpx.Client, bay: int) -> None:
    assert web.get("/api/trucks").json() == {"trucks": [], "more": False}
    mark = web.get("/api/trucks").headers["etag"]
    assert web.get("/api/trucks", headers={"if-none-match": mark}).status_code == 304
    web.post(f"/api/bay/{bay}/keep", json={})
    found = web.get("/api/trucks", headers={"if-none-match": mark, "accept-encoding": "gzip"})
    assert [one["unit"] for one in found.json()["trucks"]] == ["214"]
    assert web.get("/api/trucks?limit=0").status_code == 422
    assert web.get("/api/trucks?search=nothing").json()["trucks"] == []


def test_what_a_spreadsheet_would_run_is_only_text_there(
    web: httpx.Client, app: FastAPI, tmp_path: Path
) -> None:
    from fanwright.desk.export_records import export_records

    asked = {
        "key": key(),
        "unit": "=1+1",
        "kind": "complaint",
        "grips_by": "spring",
        "valve": "nc",
        "volts": 12,
    }
    number = web.post("/api/bay", json=asked).json()["number"]
    web.post(f"/api/bay/{number}/entries", json=entry(author="@Ana", instrument="+G-07"))
    assert web.post(f"/api/bay/{number}/keep", json={}).status_code == 200
    out = tmp_path / "out.csv"
    export_records(app.state.store.place.name, out)
    text = out.read_text("utf-8-sig")
    assert "'=1+1" in text
    assert not [one for line in text.splitlines() for one in line.split(",") if one[:1] in "=+@" and one]
