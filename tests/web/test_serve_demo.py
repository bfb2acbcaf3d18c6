"""When records are open to whoever sits at this machine: begun as the demo, on loopback, nobody known."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from fanwright.desk import people
from fanwright.desk.backup import verify_records
from fanwright.desk.demo import load_demo
from fanwright.desk.records import open_records
from fanwright.desk.serve import demo_is_new, prepare_serving
from fanwright.errors import InputError
from fanwright.web.settings import Settings


@pytest.fixture
def fleet(root: Path, tmp_path: Path) -> Path:
    """A demo fleet of one truck."""
    folder = tmp_path / "fleet"
    folder.mkdir()
    shutil.copy(root / "examples" / "demo" / "201.toml", folder)
    return folder


def opened(db: Path, *, demo: bool = False, loopback: bool = True) -> bool:
    """Say whether these records would be open to everybody."""
    served = prepare_serving(str(db), None, demo=demo, loopback=loopback, names=("bay.test",))
    served.store.close()
    assert served.keys == db.with_name(f"{db.name}.keys")
    return served.demo


def test_records_begun_as_the_demo_are_open_on_loopback(fleet: Path, tmp_path: Path) -> None:
    db = tmp_path / "demo.db"
    assert demo_is_new(str(db))
    load_demo(str(db), fleet)
    assert not demo_is_new(str(db))
    assert opened(db)
    assert opened(db, demo=True)
    assert not verify_records(str(db)).wrong, "the mark is an entry of the chain like any other"
    with pytest.raises(InputError):
        opened(db, loopback=False)


def test_a_demo_with_people_of_its_own_asks_them_to_sign_in(fleet: Path, tmp_path: Path) -> None:
    db = tmp_path / "demo.db"
    load_demo(str(db), fleet)
    store = open_records(str(db))
    people.add_person(store, "Mia", "manager", "correct horse battery")
    store.close()
    assert not opened(db)
    assert opened(db, demo=True), "unless the demo is asked for"
    assert not opened(db, loopback=False)


def test_a_shops_records_do_not_become_the_demo(fleet: Path, records: Path) -> None:
    """Loading the demo fleet into them by mistake does not open them."""
    load_demo(str(records), fleet)
    assert not opened(records)
    with pytest.raises(InputError):
        opened(records, demo=True)


def test_names_ports_and_schemes_make_hosts_and_origins() -> None:
    shop = Settings("x", None, None, False, "0.0.0.0", 443, ("bay.test", "2001:db8::1"), Path("k"), "1")
    assert shop.hosts == ("bay.test", "[2001:db8::1]")
    assert shop.origins == ("https://bay.test", "https://[2001:db8::1]")
    assert shop.address == "https://bay.test/"
    here = Settings("x", None, None, False, "::1", 8214, (), None, "1")
    assert here.address == "http://[::1]:8214/"
    assert "localhost:8214" in here.hosts
