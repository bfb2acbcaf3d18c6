"""Files of a bay visit: in pieces, checked in the child, and not what they say."""

from __future__ import annotations

import hashlib
import io
import time
import uuid
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from PIL import Image

from fanwright.records.bay import load
from fanwright.records.store import Store
from fanwright.records.verifying import verify
from fanwright.web import child
from fanwright.web.app import create_app
from fanwright.web.jobs import jobs_of

Browsers = Callable[[Any], httpx.Client]
AT = "2026-04-14T07:21:04-06:00"


def key() -> str:
    return str(uuid.uuid4())


def entry(kind: str = "reading", **body: Any) -> dict[str, Any]:
    told = {"test": "vent_time", "value": "2.1 s"} if kind == "reading" else {}
    return {"key": key(), "kind": kind, "at": AT, "author": "Ana", **told, **body}


def send(web: httpx.Client, bay: int, what: str, name: str, data: bytes, **about: Any) -> str:
    told = {"key": key(), "bay": bay, "what": what, "name": name, "size": len(data), "sha256": ""} | about
    begun = web.post("/api/uploads", json=told)
    assert begun.status_code == 200, begun.text
    at = begun.json()["offset"]
    while at < len(data):
        answer = web.patch(
            f"/api/uploads/{told['key']}",
            content=data[at : at + 100_000],
            headers={"upload-offset": str(at), "content-type": "application/octet-stream"},
        )
        assert answer.status_code == 200, answer.text
        at = answer.json()["offset"]
    return str(told["key"])


def checked(web: httpx.Client, upload: str) -> dict[str, Any]:
    for _ in range(600):
        found: dict[str, Any] = web.get(f"/api/uploads/{upload}").json()
        if found["state"] in ("done", "refused"):
            return found
        time.sleep(0.05)
    raise AssertionError(found)


def photo_with_place(size: tuple[int, int] = (320, 200)) -> bytes:
    """A photo whose EXIF tells where it was taken, turned by a quarter, with something behind its end."""
    exif = Image.Exif()
    exif[0x0110] = "made-up camera"
    exif[0x0112] = 6
    exif.get_ifd(0x8825).update({1: "N", 2: (39.0, 44.0, 21.0), 3: "W", 4: (104.0, 59.0, 5.0)})
    made = io.BytesIO()
    Image.new("RGB", size, (200, 30, 30)).save(made, "JPEG", exif=exif)
    return made.getvalue() + b"<script>hidden behind the end</script>"


def files_of(store: Store, bay: int) -> list[tuple[str, str, bytes]]:
    return [
        (one.what, one.name, store.folder.path(one.sha256).read_bytes() if one.sha256 else b"")
        for one in load(store, bay).files
    ]


def test_a_photo_comes_out_without_its_place(web: httpx.Client, app: FastAPI, bay: int) -> None:
    sent = photo_with_place()
    assert Image.open(io.BytesIO(sent)).getexif().get_ifd(0x8825)
    upload = send(web, bay, "photos", "tag.jpeg", sent, sha256=hashlib.sha256(sent).hexdigest())
    web.post(f"/api/bay/{bay}/entries", json=entry("file", file=upload, what="photos", name="tag.jpeg"))
    assert checked(web, upload) == {"state": "done", "messages": []}
    ((what, name, kept),) = files_of(app.state.store, bay)
    assert (what, name) == ("photos", "tag.jpg")
    image = Image.open(io.BytesIO(kept))
    assert dict(image.getexif()) == {}
    assert image.size == (200, 320)
    assert b"Exif" not in kept
    assert b"hidden" not in kept
    assert b"made-up camera" not in kept
    assert web.get(f"/api/bay/{bay}").json()["files"][0]["state"] == "done"
    assert web.post("/api/uploads", json={
        "key": upload, "bay": bay, "what": "photos", "name": "tag.jpeg", "size": len(sent), "sha256": "",
    }).json()["offset"] == len(sent)  # fmt: skip


def bomb() -> bytes:
    """A PNG of 60,000 by 60,000 points in a few kilobytes."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return len(data).to_bytes(4, "big") + name + data + zlib.crc32(name + data).to_bytes(4, "big")

    head = (60_000).to_bytes(4, "big") * 2 + bytes([8, 2, 0, 0, 0])
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(bytes(100_000)))
        + chunk(b"IEND", b"")
    )


ZIP_BOMB = b"PK\x03\x04" + bytes(200)


@pytest.mark.parametrize(
    ("what", "name", "data"),
    [
        ("photos", "bomb.png", bomb()),
        ("photos", "page.jpg", b"<html><script>alert(1)</script>"),
        ("photos", "half.jpg", photo_with_place()[:300]),
        ("photos", "drawing.svg", b"<svg xmlns='http://www.w3.org/2000/svg' onload='x()'/>"),
        ("voice", "voice.webm", b"<html>"),
        ("sheet", "sheet.pdf", ZIP_BOMB),
        ("sheet", "sheet.xlsx", ZIP_BOMB),
        ("sheet", "sheet.csv", b"a\x00b"),
        ("air_trace", "trace.csv", b"no,trace\nat,all\n"),
        ("recording", "drive.log", b"\x00\x01\x02" * 100),
        ("recording", "drive.zip", ZIP_BOMB),
    ],
)  # fmt: skip
def test_what_is_not_what_it_says_is_refused_with_a_reason(
    web: httpx.Client, app: FastAPI, bay: int, what: str, name: str, data: bytes
) -> None:
    upload = send(web, bay, what, name, data)
    found = checked(web, upload)
    assert found["state"] == "refused", found
    assert found["messages"]
    assert all(
        "/" not in one.replace("1/", "") or "«" in one or "http" not in one for one in found["messages"]
    )
    web.post(f"/api/bay/{bay}/entries", json=entry("file", file=upload, what=what, name=name))
    shown = web.get(f"/api/bay/{bay}").json()
    assert [one["state"] for one in shown["files"]] == ["refused"]
    assert web.post(f"/api/bay/{bay}/keep", json={}).status_code == 200


def test_a_trace_and_a_recording_become_readings(
    web: httpx.Client, app: FastAPI, bay: int, make_demo: Any, tmp_path: Path
) -> None:
    make_demo(tmp_path)
    found = []
    for what, name in (("air_trace", "214-air.csv"), ("air_trace_after", "214-air-after.csv"),
                       ("recording", "214-duty.log")):  # fmt: skip
        upload = send(web, bay, what, name, (tmp_path / name).read_bytes())
        web.post(f"/api/bay/{bay}/entries", json=entry("file", file=upload, what=what, name=name))
        found.append(checked(web, upload))
    assert [one["state"] for one in found] == ["done"] * 3, found
    shown = web.get(f"/api/bay/{bay}").json()
    read = {(one["test"], one["after"]): one for one in shown["readings"]}
    assert read["vent_time", False]["source"] == "trace"
    assert read["vent_time", True]["verdict"] == "good"
    assert any(one["source"] == "recording" for one in shown["readings"])
    kept = web.post(f"/api/bay/{bay}/keep", json={}).json()["visit"]
    from fanwright.records.searching import show_visit

    assert {one.name for one in show_visit(app.state.store, kept).files} == {
        "214-air.csv", "214-air-after.csv", "214-duty.log",
    }  # fmt: skip
    assert verify(app.state.store).sound


@pytest.mark.parametrize(
    "wrong",
    [
        {"key": "../../etc/passwd"}, {"key": ""}, {"bay": "1"}, {"bay": 10**30}, {"bay": 99},
        {"what": "shop"},
        {"what": "../x"}, {"name": "../../x.jpg"}, {"name": "/etc/passwd"}, {"name": "a\r\nb.jpg"},
        {"name": ""},
        {"name": "x" * 200 + ".jpg"}, {"name": "C:\\x.jpg"}, {"name": ".htaccess"}, {"name": "a\x00.jpg"},
        {"size": 0}, {"size": -1}, {"size": 10**12}, {"size": "5"}, {"size": True}, {"sha256": "zz"},
    ],
)  # fmt: skip
def test_hostile_words_about_a_file_are_refused(
    web: httpx.Client, bay: int, tmp_path: Path, wrong: dict[str, Any]
) -> None:
    told = {"key": key(), "bay": bay, "what": "photos", "name": "x.jpg", "size": 5, "sha256": ""} | wrong
    before = sorted(tmp_path.rglob("*"))
    assert web.post("/api/uploads", json=told).status_code in (404, 422)
    assert [
        path for path in sorted(tmp_path.rglob("*")) if path not in before and "arriving" in str(path)
    ] == []


def test_pieces_go_on_where_they_left_off(web: httpx.Client, bay: int) -> None:
    data, upload = b"%PDF-1.7 " + b"x" * 5000, key()
    told = {"key": upload, "bay": bay, "what": "sheet", "name": "s.pdf", "size": len(data), "sha256": ""}
    address = f"/api/uploads/{upload}"

    def piece(at: int, piece: bytes) -> Any:
        return web.patch(address, content=piece, headers={"upload-offset": str(at)})

    assert web.post("/api/uploads", json=told).json()["offset"] == 0
    assert piece(0, data[:2000]).json()["offset"] == 2000
    assert piece(0, data[:2000]).json()["offset"] == 2000
    assert piece(4000, data[4000:]).json()["offset"] == 2000
    assert web.post("/api/uploads", json=told).json()["offset"] == 2000
    assert web.head(address).headers["upload-offset"] == "2000"
    assert piece(2000, data[2000:] + b"more").status_code == 422
    assert piece(-1, b"x").status_code == 400
    assert web.post("/api/uploads", json=told | {"size": 7}).json()["code"] == "other_body"
    assert piece(2000, data[2000:]).json()["offset"] == len(data)
    assert checked(web, upload)["state"] == "done"
    assert piece(0, data).json()["offset"] == len(data)
    for odd in ("x", "../x", key()):
        assert web.get(f"/api/uploads/{odd}").status_code == 404
        assert web.patch(
            f"/api/uploads/{odd}", content=b"x", headers={"upload-offset": "0"}
        ).status_code in (404, 405)  # fmt: skip


def test_what_arrives_damaged_begins_anew(web: httpx.Client, bay: int) -> None:
    data = b"%PDF-1.7 whole"
    upload, right = key(), hashlib.sha256(data).hexdigest()
    told = {"key": upload, "bay": bay, "what": "sheet", "name": "s.pdf", "size": len(data), "sha256": right}
    web.post("/api/uploads", json=told)
    broken = web.patch(f"/api/uploads/{upload}", content=b"x" * len(data), headers={"upload-offset": "0"})
    assert (broken.status_code, broken.json()["code"]) == (422, "damaged")
    assert web.post("/api/uploads", json=told).json()["offset"] == 0
    web.patch(f"/api/uploads/{upload}", content=data, headers={"upload-offset": "0"})
    assert checked(web, upload)["state"] == "done"


def test_what_had_arrived_is_checked_after_a_restart(app: FastAPI, bay: int, browser_of: Browsers) -> None:
    from fanwright.desk import uploads

    data, upload = b"%PDF-1.7 x", key()
    told = {"key": upload, "bay": bay, "what": "sheet", "name": "s.pdf", "size": len(data), "sha256": ""}
    uploads.begin(app.state.store, told, "Ana")
    uploads.add_piece(app.state.store, upload, 0, data)  # and the server was killed before it was checked
    again = create_app(app.state.settings, app.state.store)
    assert checked(browser_of(again), upload)["state"] == "done"


def test_two_files_of_one_name_are_both_kept(web: httpx.Client, app: FastAPI, bay: int) -> None:
    for _ in range(2):
        checked(web, send(web, bay, "sheet", "s.pdf", b"%PDF-1.7 x"))
    assert [name for _, name, _ in files_of(app.state.store, bay)] == ["s.pdf", "s-2.pdf"]


def test_an_upload_whose_child_is_stopped_is_refused_and_its_bytes_are_kept(
    web: httpx.Client, app: FastAPI, bay: int, make_demo: Any, tmp_path: Path
) -> None:
    make_demo(tmp_path)
    jobs_of(app).limits = child.Limits(memory_mb=120)
    data = (tmp_path / "214-duty.log").read_bytes()
    upload = send(web, bay, "recording", "214-duty.log", data)
    found = checked(web, upload)
    assert found["state"] == "refused"
    ((_, _, kept),) = files_of(app.state.store, bay)
    assert kept == data


def test_one_child_at_a_time(app: FastAPI, tmp_path: Path) -> None:
    jobs, running, most = jobs_of(app), [0], [0]

    def work() -> int:
        running[0] += 1
        most[0] = max(most[0], running[0])
        time.sleep(0.05)
        running[0] -= 1
        return running[0]

    import threading

    threads = [threading.Thread(target=jobs.run, args=(work,)) for _ in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert most == [1]
