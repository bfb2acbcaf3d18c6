"""Who may come in, in both databases: passwords, PINs on enrolled devices, sessions that can be withdrawn."""

from __future__ import annotations

import datetime as dt
import threading
from pathlib import Path

import pytest
from sqlalchemy import select, update

from fanwright.desk import passwords, people, sessions
from fanwright.errors import InputError
from fanwright.records.access_tables import sessions as session_rows
from fanwright.records.access_tables import users
from fanwright.records.archive import backup
from fanwright.records.store import Store
from fanwright.records.tables import entries
from fanwright.records.verifying import verify
from fanwright.report.say import say

PASSWORD = "four odd gravel boots"


@pytest.fixture
def shop(store: Store, monkeypatch: pytest.MonkeyPatch) -> Store:
    """Records with Ana and Rae; hashing is made cheap, its strength has a test of its own."""
    from argon2 import PasswordHasher

    cheap = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
    monkeypatch.setattr(passwords, "_hasher", lambda: cheap)
    sessions.forget()
    people.add_person(store, "Rae", "manager", PASSWORD)
    people.add_person(store, "Ana", "technician", PASSWORD, by="Rae")
    people.set_pin(store, "Ana", "4711", by="Rae")
    return store


def test_hashes_are_argon2id_of_64_mib(monkeypatch: pytest.MonkeyPatch) -> None:
    kept = passwords.hashed(PASSWORD)
    assert kept.startswith("$argon2id$")
    assert "m=65536" in kept
    assert passwords.matches(kept, PASSWORD)
    assert not passwords.matches(kept, PASSWORD + " ")
    assert not passwords.matches("", PASSWORD)
    assert not passwords.matches("no hash at all", PASSWORD)


def test_at_most_two_checks_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    inside, most, guard = 0, 0, threading.Lock()

    class Slow:
        def hash(self, _secret: str) -> str:
            nonlocal inside, most
            with guard:
                inside += 1
                most = max(most, inside)
            threading.Event().wait(0.02)
            with guard:
                inside -= 1
            return "x"

    monkeypatch.setattr(passwords, "_hasher", Slow)
    threads = [threading.Thread(target=passwords.hashed, args=("secret",)) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert most == 2


def test_sign_in_and_out(shop: Store) -> None:
    signed = people.sign_in(shop, "Ana", PASSWORD, None, "tablet")
    assert signed.device_token
    who = people.who_is(shop, signed.token)
    assert who is not None
    assert (who.name, who.role, who.how) == ("Ana", "technician", "password")
    again = people.sign_in(shop, "Ana", PASSWORD, signed.device_token)
    assert again.device_token is None
    assert again.who.device == who.device
    people.sign_out(shop, signed.token)
    people.sign_out(shop, signed.token)
    assert people.who_is(shop, signed.token) is None
    assert people.who_is(shop, again.token) is not None
    assert people.who_is(shop, "x" * 200) is None
    assert people.who_is(shop, "") is None


@pytest.mark.parametrize(
    ("name", "password"), [("Ana", "wrong"), ("Nobody", PASSWORD), ("", ""), ("Ana", "")]
)
def test_a_wrong_name_or_password_says_the_same(shop: Store, name: str, password: str) -> None:
    with pytest.raises(InputError) as refused:
        people.sign_in(shop, name, password)
    assert [say(one) for one in refused.value.messages] == ["name or password is wrong"]


def test_only_hashes_of_tokens_are_kept_and_no_backup_holds_them(shop: Store, tmp_path: Path) -> None:
    signed = people.sign_in(shop, "Ana", PASSWORD)
    with shop.reading() as connection:
        rows = str(connection.execute(select(session_rows)).all())
        kept = connection.execute(select(users.c.password_hash)).scalars().first() or ""
        acts = list(connection.execute(select(entries.c.act)).scalars())
    secret = signed.author_token.partition(".")[2]
    assert signed.token not in rows
    assert secret not in rows
    packed = tmp_path / "out.zip"
    backup(shop, packed, made_at=dt.datetime(2026, 4, 14, tzinfo=dt.UTC))
    import zipfile

    with zipfile.ZipFile(packed) as archive:
        held = b"".join(archive.read(name) for name in archive.namelist())
        assert not {"users", "sessions", "devices"} & {Path(name).stem for name in archive.namelist()}
    assert kept.encode() not in held
    assert acts == ["user added", "user added", "PIN changed"]
    assert verify(shop).sound


def test_pin_needs_an_enrolled_device_and_sleeps_after_five(shop: Store) -> None:
    with pytest.raises(InputError, match="only on a device"):
        people.sign_in_by_pin(shop, "Ana", "4711", None)
    with pytest.raises(InputError, match="only on a device"):
        people.sign_in_by_pin(shop, "Ana", "4711", "made up")
    device = people.sign_in(shop, "Rae", PASSWORD).device_token
    assert people.sign_in_by_pin(shop, "Ana", "4711", device).who.how == "pin"
    for _ in range(5):
        with pytest.raises(InputError, match="PIN is wrong"):
            people.sign_in_by_pin(shop, "Ana", "0815", device)
    with pytest.raises(InputError, match="PIN is wrong"):
        people.sign_in_by_pin(shop, "Ana", "4711", device)
    assert next(one for one in people.list_people(shop) if one.name == "Ana").pin_sleeps
    people.sign_in(shop, "Ana", PASSWORD, device)
    assert people.sign_in_by_pin(shop, "Ana", "4711", device).who.name == "Ana"


def test_many_guesses_at_once_get_no_more_than_five_tries(shop: Store) -> None:
    device = people.sign_in(shop, "Rae", PASSWORD).device_token
    looked, guard = 0, threading.Lock()
    real = passwords.matches

    def counting(kept: str, secret: str) -> bool:
        nonlocal looked
        with guard:
            looked += bool(kept)
        return real(kept, secret)

    def guess(pin: str) -> None:
        with pytest.raises(InputError):
            people.sign_in_by_pin(shop, "Ana", pin, device)

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(sessions, "matches", counting)
        threads = [threading.Thread(target=guess, args=(f"90{number}",)) for number in range(10, 22)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert looked == 5


def test_withdrawing(shop: Store) -> None:
    one, other = people.sign_in(shop, "Ana", PASSWORD), people.sign_in(shop, "Ana", PASSWORD)
    rae = people.sign_in(shop, "Rae", PASSWORD)
    assert len(people.list_sessions(shop, "Ana")) == 2
    assert people.withdraw(shop, one.who.token_id)
    assert not people.withdraw(shop, one.who.token_id)
    assert people.who_is(shop, one.token) is None
    assert people.who_is(shop, other.token) is not None
    assert people.withdraw_all(shop, "Ana") == 1
    assert people.who_is(shop, other.token) is None
    assert people.who_is(shop, rae.token) is not None
    (device,) = (each for each in people.list_devices(shop) if each.name == rae.who.device)
    assert people.withdraw_device(shop, device.id)
    assert people.who_is(shop, rae.token) is None
    with pytest.raises(InputError, match="only on a device"):
        people.sign_in_by_pin(shop, "Ana", "4711", rae.device_token)


@pytest.mark.parametrize(
    ("column", "value"),
    [("ends_utc", "2026-01-01T00:00:00.000Z"), ("seen_utc", "2026-01-01T00:00:00.000Z")],
)
def test_a_session_ends_by_itself(shop: Store, column: str, value: str) -> None:
    signed = people.sign_in(shop, "Ana", PASSWORD)
    with shop.engine.execution_options(writes=True).begin() as connection:
        connection.execute(update(session_rows).values(**{column: value}))
    sessions.forget()
    assert people.who_is(shop, signed.token) is None


def test_shut_out_and_let_in_again(shop: Store) -> None:
    signed = people.sign_in(shop, "Ana", PASSWORD)
    people.disable(shop, "Ana", by="Rae")
    assert people.who_is(shop, signed.token) is None
    assert not people.check_password(shop, "Ana", PASSWORD)
    people.enable(shop, "Ana", by="Rae")
    assert people.who_is(shop, signed.token) is None
    assert people.check_password(shop, "Ana", PASSWORD)
    with pytest.raises(InputError, match="only manager"):
        people.disable(shop, "Rae")
    with pytest.raises(InputError, match="only manager"):
        people.set_role(shop, "Rae", "reader")
    people.set_role(shop, "Ana", "foreman", by="Rae")
    assert people.sign_in(shop, "Ana", PASSWORD).who.role == "foreman"


def test_a_new_password_ends_the_sessions(shop: Store) -> None:
    signed = people.sign_in(shop, "Ana", PASSWORD)
    people.set_password(shop, "Ana", "another row of words", by="Rae")
    assert people.who_is(shop, signed.token) is None
    assert not people.check_password(shop, "Ana", PASSWORD)


def test_mistakes_are_told_together(shop: Store) -> None:
    with pytest.raises(InputError) as refused:
        people.add_person(shop, " \x07", "boss", "short")
    assert len(refused.value.messages) == 3
    with pytest.raises(InputError, match="there already"):
        people.add_person(shop, " Ana ", "reader", PASSWORD)
    for pin in ("12", "1234", "9876", "0000", "12a4", "123456789", "٤٧١١"):
        with pytest.raises(InputError):
            people.set_pin(shop, "Ana", pin)
    for password in ("aaaaaaaaaaaa", "x" * 201, "Ana"):
        with pytest.raises(InputError):
            people.set_password(shop, "Ana", password)
    with pytest.raises(InputError, match="nobody of the name"):
        people.set_pin(shop, "Nobody", "4711")


def test_whose_work_an_entry_is(shop: Store) -> None:
    ana, rae = people.sign_in(shop, "Ana", PASSWORD), people.sign_in(shop, "Rae", PASSWORD)
    vouches = people.vouches
    assert people.author_token(ana.token, ana.who) == ana.author_token
    assert vouches(shop, ana.author_token, "Ana", ana.who.device)
    assert not vouches(shop, ana.author_token, "Rae", ana.who.device)
    assert not vouches(shop, ana.author_token, "Ana", rae.who.device)
    number = ana.author_token.partition(".")[0]
    for wrong in ("", ".", "1.", f"{number}.x", "x.y", f"{'9' * 30}.x", "²." + "x" * 20, "1." + "x" * 500):
        assert not vouches(shop, wrong, "Ana", "")
    people.sign_out(shop, ana.token)
    assert vouches(shop, ana.author_token, "Ana", ana.who.device, "2026-01-01T07:00:00-06:00")
    assert not vouches(shop, ana.author_token, "Ana", ana.who.device, "2199-01-01T07:00:00-06:00")
    assert not vouches(shop, ana.author_token, "Ana", ana.who.device, "now")
