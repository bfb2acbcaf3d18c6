"""Records with one person of each role, the app over them, and clients signed in."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import httpx
import pytest
from argon2 import PasswordHasher
from fastapi import FastAPI

from direct import Direct
from fanwright.desk import passwords, people
from fanwright.desk.records import open_records
from fanwright.web.app import create_app
from fanwright.web.settings import Settings

PASSWORD = "correct horse battery"  # of everybody in these tests
PIN = "2580"
PEOPLE = {"reader": "Ren", "technician": "Ana", "foreman": "Rae", "manager": "Mia"}
HERE = "http://127.0.0.1:8214"
OURS = {"sec-fetch-site": "same-origin", "origin": HERE}

Browser = Callable[..., httpx.Client]


@pytest.fixture(scope="session", autouse=True)
def quick_hashes() -> Iterator[None]:
    """Hash with little work: how dear a real hash is, is measured where people are tested."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(passwords, "_hasher", cache(lambda: PasswordHasher(time_cost=1, memory_cost=64)))
        passwords._nobodys_hash.cache_clear()
        yield
    passwords._nobodys_hash.cache_clear()


@pytest.fixture(scope="session")
def peopled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Records in which one person of each role may sign in, two of them also by PIN."""
    path = tmp_path_factory.mktemp("peopled") / "shop.db"
    store = open_records(str(path), create=True)
    for role, name in PEOPLE.items():
        people.add_person(store, name, role, PASSWORD)
    people.set_pin(store, "Ana", PIN)
    people.set_pin(store, "Rae", PIN)
    store.close()
    return path


@pytest.fixture
def records(peopled: Path, tmp_path: Path) -> Path:
    """A copy of those records for one test."""
    return Path(shutil.copy(peopled, tmp_path / "shop.db"))


@pytest.fixture
def settings(records: Path) -> Settings:
    """Served to this machine only."""
    return Settings(str(records), None, None, False, "127.0.0.1", 8214, (), None, "test-1")


@pytest.fixture
def app(settings: Settings) -> Iterator[FastAPI]:
    """The app over those records."""
    made = create_app(settings)
    yield made
    made.state.store.close()


@pytest.fixture
def browser(app: FastAPI) -> Iterator[Browser]:
    """Give a browser: of somebody signed in, or of a stranger."""
    opened: list[httpx.Client] = []

    def open_one(role: str | None = None, *, on: FastAPI = app, base: str = HERE) -> httpx.Client:
        client = httpx.Client(
            transport=Direct(on), base_url=base, headers=OURS | {"accept-encoding": "identity"}
        )
        opened.append(client)
        if role is not None:
            answer = client.post("/sign-in", data={"name": PEOPLE[role], "password": PASSWORD})
            assert answer.status_code == 303, answer.text
        return client

    yield open_one
    for client in opened:
        client.close()
