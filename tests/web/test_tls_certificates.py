"""The shop's own authority, judged by OpenSSL (through Python's ssl) and by the verifier of `cryptography`.

Both are independent of what makes the certificates: OpenSSL does the handshake a browser would do.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
import socket
import ssl
import threading
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
from cryptography.x509.verification import PolicyBuilder, Store

from fanwright.desk.backup import make_backup, restore_backup
from fanwright.desk.records import open_records
from fanwright.errors import FileError, InputError
from fanwright.report.say import say_all
from fanwright.web.serving import Server
from fanwright.web.settings import Settings
from fanwright.web.tls import Certificates, days_left, fingerprint, prepare

NAMES = ("bay.shop.test", "192.0.2.7")
NOW = dt.datetime.now(dt.UTC)


@pytest.fixture
def made(tmp_path: Path) -> Certificates:
    folder = tmp_path / "shop.db.keys"
    assert prepare(folder, NAMES, NOW)
    return Certificates(folder)


def rogue(at: Certificates, names: list[x509.GeneralName]) -> Certificates:
    """What a thief of the authority's key would make: a certificate for other names, put in the place."""
    signer = serialization.load_pem_private_key(at.authority_key.read_bytes(), None)
    authority = x509.load_pem_x509_certificate(at.authority.read_bytes())
    assert isinstance(signer, ec.EllipticCurvePrivateKey)
    key = ec.generate_private_key(ec.SECP256R1())
    leaf = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "rogue")]))
        .issuer_name(authority.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(NOW - dt.timedelta(hours=1))
        .not_valid_after(NOW + dt.timedelta(days=30))
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key()), critical=False
        )
        .sign(signer, hashes.SHA256())
    )
    at.leaf.write_bytes(leaf.public_bytes(serialization.Encoding.PEM))
    at.leaf_key.write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
    )
    return at


def shake_hands(at: Certificates, name: str) -> str:
    """Let OpenSSL connect as a browser that trusts the authority; give what it complains of, or nothing."""
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(at.leaf, at.leaf_key)
    client = ssl.create_default_context(cafile=str(at.authority))
    ours, theirs = socket.socketpair()

    def answer() -> None:
        try:
            with server.wrap_socket(theirs, server_side=True) as held:
                held.recv(1)
        except (ssl.SSLError, OSError):
            theirs.close()

    thread = threading.Thread(target=answer)
    thread.start()
    try:
        with client.wrap_socket(ours, server_hostname=name) as held:
            held.send(b"x")
        return ""
    except ssl.SSLCertVerificationError as error:
        return error.verify_message
    finally:
        ours.close()
        thread.join(5)


@pytest.mark.parametrize("name", NAMES)
def test_who_trusts_the_authority_trusts_this_machine(made: Certificates, name: str) -> None:
    assert shake_hands(made, name) == ""
    subject = x509.IPAddress(ipaddress.ip_address(name)) if name[0].isdigit() else x509.DNSName(name)
    authority, leaf = (
        x509.load_pem_x509_certificate(path.read_bytes()) for path in (made.authority, made.leaf)
    )
    chain = PolicyBuilder().store(Store([authority])).build_server_verifier(subject).verify(leaf, [])
    assert chain == [leaf, authority]


@pytest.mark.parametrize("name", ["elsewhere.test", "shop.test", "192.0.2.8"])
def test_this_machine_passes_for_no_other(made: Certificates, name: str) -> None:
    assert "mismatch" in shake_hands(made, name)


@pytest.mark.parametrize(
    ("name", "general"),
    [
        ("elsewhere.test", x509.DNSName("elsewhere.test")),
        ("shop.test", x509.DNSName("shop.test")),
        ("notbay.shop.test", x509.DNSName("notbay.shop.test")),
        ("192.0.2.8", x509.IPAddress(ipaddress.ip_address("192.0.2.8"))),
        ("2001:db8::1", x509.IPAddress(ipaddress.ip_address("2001:db8::1"))),
    ],
)
def test_a_stolen_authority_vouches_for_no_other_name(
    made: Certificates, name: str, general: x509.GeneralName
) -> None:
    said = shake_hands(rogue(made, [general]), name)
    assert "subtree violation" in said, said


def test_the_rule_for_a_stolen_authority_can_fail(made: Certificates) -> None:
    """The rogue certificate is well made but for its name: for the shop's own name it passes."""
    assert shake_hands(rogue(made, [x509.DNSName(NAMES[0])]), NAMES[0]) == ""


@pytest.mark.parametrize(
    ("names", "stolen"), [(["bay.test"], "192.0.2.8"), (["192.0.2.7"], "elsewhere.test")]
)
def test_a_kind_of_name_that_is_not_used_is_shut_out_whole(
    tmp_path: Path, names: list[str], stolen: str
) -> None:
    """RFC 5280, 4.2.1.10 leaves a kind of name free that the constraints do not speak of."""
    prepare(tmp_path / "keys", names, NOW)
    general = x509.IPAddress(ipaddress.ip_address(stolen)) if stolen[0].isdigit() else x509.DNSName(stolen)
    assert "subtree violation" in shake_hands(rogue(Certificates(tmp_path / "keys"), [general]), stolen)


def test_keys_are_their_owners_only(made: Certificates) -> None:
    assert made.folder.stat().st_mode & 0o777 == 0o700
    assert made.authority_key.stat().st_mode & 0o777 == 0o600
    assert made.leaf_key.stat().st_mode & 0o777 == 0o600
    made.authority_key.chmod(0o644)
    prepare(made.folder, NAMES, NOW)
    assert made.authority_key.stat().st_mode & 0o777 == 0o600


def test_no_backup_holds_a_key(peopled: Path, tmp_path: Path) -> None:
    keys = peopled.with_name(f"{peopled.name}.keys")
    prepare(keys, NAMES, NOW)
    made_backup = make_backup(str(peopled), tmp_path / "all.zip").path
    with zipfile.ZipFile(made_backup) as packed:
        contents = {name: packed.read(name) for name in packed.namelist()}
    secrets = [path.read_bytes() for path in keys.iterdir()]
    assert len(secrets) == 4
    for name, content in contents.items():
        assert "keys" not in name
        assert b"PRIVATE KEY" not in content
        assert not any(secret in content for secret in secrets)
        assert b"$argon2" not in content, "no password either"
    (tmp_path / "again").mkdir()
    restore_backup(made_backup, str(tmp_path / "again" / "shop.db"))
    assert not list((tmp_path / "again").rglob("*.key"))


def test_the_servers_certificate_is_short_lived_and_renewed(made: Certificates) -> None:
    leaf = x509.load_pem_x509_certificate(made.leaf.read_bytes())
    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc <= dt.timedelta(days=397)
    before, seal = made.leaf.read_bytes(), fingerprint(made.authority)
    assert not prepare(made.folder, NAMES, NOW + dt.timedelta(days=355))
    assert made.leaf.read_bytes() == before
    later = NOW + dt.timedelta(days=361)
    assert days_left(made.leaf, later) < 30
    assert prepare(made.folder, NAMES, later)
    assert days_left(made.leaf, later) > 350
    assert fingerprint(made.authority) == seal, "tablets need not be touched"


def test_a_certificate_outlives_no_authority(made: Certificates) -> None:
    late = NOW + dt.timedelta(days=3650 - 100)
    prepare(made.folder, NAMES, late)
    leaf, authority = (
        x509.load_pem_x509_certificate(path.read_bytes()) for path in (made.leaf, made.authority)
    )
    assert leaf.not_valid_after_utc <= authority.not_valid_after_utc
    with pytest.raises(InputError) as told:
        prepare(made.folder, NAMES, NOW + dt.timedelta(days=3640))
    assert "ends in" in say_all(told.value.messages)[0]


def test_half_written_certificates_are_made_good(made: Certificates) -> None:
    other = made.folder.with_name("other")
    prepare(other, NAMES, NOW)
    made.leaf_key.write_bytes(Certificates(other).leaf_key.read_bytes())
    assert prepare(made.folder, NAMES, NOW), "the key was not the certificate's"
    made.leaf.unlink()
    assert prepare(made.folder, NAMES, NOW)
    made.leaf.write_bytes(Certificates(other).leaf.read_bytes())
    made.leaf_key.write_bytes(Certificates(other).leaf_key.read_bytes())
    assert prepare(made.folder, NAMES, NOW), "another authority signed it"
    assert shake_hands(made, NAMES[0]) == ""


def test_fewer_names_are_served_by_a_new_certificate_and_more_are_refused(made: Certificates) -> None:
    assert prepare(made.folder, NAMES[:1], NOW)
    assert "mismatch" in shake_hands(made, NAMES[1])
    assert prepare(made.folder, ["left.bay.shop.test"], NOW), "a name under one of its own"
    assert shake_hands(made, "left.bay.shop.test") == ""
    with pytest.raises(InputError) as told:
        prepare(made.folder, ["elsewhere.test", "192.0.2.8"], NOW)
    (said,) = say_all(told.value.messages)
    assert "bay.shop.test" in said
    assert "elsewhere.test, 192.0.2.8" in said


@pytest.mark.parametrize(
    "name",
    ["", "two words", "-bay", "bay-", "a" * 64, "*.shop.test", "bay.shop.test/x", "bäy", "bay..test", "x\n"],
)
def test_names_that_cannot_be_are_told_together(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError) as told:
        prepare(tmp_path / "keys", [name, "also wrong"], NOW)
    assert len(told.value.messages) == 2
    assert not (tmp_path / "keys").exists()


def test_damaged_files_are_told_of(made: Certificates) -> None:
    made.authority.write_text("nothing")
    with pytest.raises(FileError) as told:
        prepare(made.folder, NAMES, NOW)
    assert "cannot be used" in say_all(told.value.messages)[0]


def seen_by(client: ssl.SSLContext, server: ssl.SSLContext) -> bytes:
    """Shake hands with a server's context and give the certificate it showed."""
    ours, theirs = socket.socketpair()
    thread = threading.Thread(target=lambda: server.wrap_socket(theirs, server_side=True).close())
    thread.start()
    with client.wrap_socket(ours, server_hostname=NAMES[0], suppress_ragged_eofs=True) as held:
        shown = held.getpeercert(binary_form=True)
    thread.join(5)
    assert shown is not None
    return shown


def test_a_running_server_takes_its_new_certificate(settings: Settings, made: Certificates) -> None:
    """Without a restart: the next connection is shown the new one; trouble in renewing leaves the old one."""
    server = Server(replace(settings, tls=made.folder, names=NAMES), open_records(settings.db))
    server.config.load()
    context = server.config.ssl
    assert context is not None
    client = ssl.create_default_context(cafile=str(made.authority))
    first = seen_by(client, context)
    server.renew(NOW)
    assert seen_by(client, context) == first
    server.renew(NOW + dt.timedelta(days=361))
    late = ssl.create_default_context(cafile=str(made.authority))
    late.check_hostname = False
    late.verify_mode = ssl.CERT_NONE  # its validity begins in a year
    second = seen_by(late, context)
    assert second != first
    made.authority_key.write_text("damaged")
    made.leaf.unlink()
    server.renew(NOW)
    assert seen_by(late, context) == second
