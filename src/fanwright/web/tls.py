"""The shop's own certificates: an authority that can vouch for this machine's names only, and the server's.

The authority is made once and lasts ten years; a tablet trusts it after it was installed there by hand. Name
constraints (RFC 5280, 4.2.1.10) keep it to the names it was made for, so that whoever steals its key can pose
as this machine and as nothing else. The server's certificate lasts under 397 days, the most that browsers
take (from memory), and is renewed by itself. Keys are readable by their owner only, and lie beside the
records where no backup looks.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
import os
import re
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fanwright.errors import FileError, InputError
from fanwright.words import Message, count, listing, text

if TYPE_CHECKING:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey

AUTHORITY_DAYS = 3650
LEAF_DAYS = 390
RENEW_DAYS = 30
BEFORE = dt.timedelta(hours=1)  # a tablet's clock may be behind
_NAME = re.compile(r"(?=.{1,253}$)[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?(\.[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?)*")


@dataclass(frozen=True)
class Certificates:
    """The files of a folder of certificates.

    Args:
        folder: The folder.
    """

    folder: Path

    @property
    def authority(self) -> Path:
        """The authority's certificate, which tablets install."""
        return self.folder / "authority.crt"

    @property
    def authority_key(self) -> Path:
        """The authority's key."""
        return self.folder / "authority.key"

    @property
    def leaf(self) -> Path:
        """The server's certificate."""
        return self.folder / "server.crt"

    @property
    def leaf_key(self) -> Path:
        """The server's key."""
        return self.folder / "server.key"


def prepare(folder: Path, names: Sequence[str], now: dt.datetime) -> bool:
    """Make sure that a folder holds an authority and a server's certificate that is good for a while yet.

    Args:
        folder: Where they are; made when it is not there.
        names: Names and addresses that tablets use for this machine.
        now: The time now.

    Returns:
        Whether the server's certificate was made anew.

    Raises:
        InputError: A name cannot stand in a certificate, or the authority there is over or for other names.
        FileError: The folder cannot be used.
    """
    wanted = checked_names(names)
    at = Certificates(folder)
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        folder.chmod(0o700)
        if not at.authority.is_file() or not at.authority_key.is_file():
            _make_authority(at, wanted, now)
        _keep_private(at)
        authority = _load(at.authority)
        _require_good_for(authority, wanted, at, now)
        if not _needs_renewal(at, authority, wanted, now):
            return False
        _make_leaf(at, authority, wanted, now)
        return True
    except (OSError, ValueError) as error:
        raise FileError(_unusable(folder, error)) from error


def checked_names(names: Sequence[str]) -> tuple[str, ...]:
    """Check the names of a machine.

    Args:
        names: As they were typed.

    Returns:
        In lower case, each once.

    Raises:
        InputError: A name is neither a host name nor an address.

    Example:
        >>> checked_names(["Bay.shop.example", "192.0.2.7"])
        ('bay.shop.example', '192.0.2.7')
    """
    wrong = [name for name in names if not _address(name) and not _NAME.fullmatch(name.lower())]
    if wrong or not names:
        raise InputError(
            [
                Message(
                    "{name} is no name of a machine: write one like bay.shop.example or 192.0.2.7,"
                    " letters, digits and hyphens only",
                    {"name": text(f"«{name}»")},
                )
                for name in wrong
            ]
            or Message("no name of this machine is given: say with --name what tablets type to reach it")
        )
    return tuple(dict.fromkeys(name.lower() for name in names))


def days_left(certificate: Path, now: dt.datetime) -> int:
    """Say how long a certificate is good for yet.

    Args:
        certificate: Its file.
        now: The time now.

    Returns:
        Whole days; negative when it is over.
    """
    return (_load(certificate).not_valid_after_utc - now).days


def fingerprint(certificate: Path) -> str:
    """Give the SHA-256 of a certificate as tablets show it.

    Args:
        certificate: Its file.

    Returns:
        Pairs of digits with a colon between.
    """
    from cryptography.hazmat.primitives import hashes

    digits = _load(certificate).fingerprint(hashes.SHA256()).hex().upper()
    return ":".join(digits[at : at + 2] for at in range(0, len(digits), 2))


def _address(name: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(name)
    except ValueError:
        return None


def _load(path: Path) -> x509.Certificate:
    from cryptography import x509

    return x509.load_pem_x509_certificate(path.read_bytes())


def _load_key(path: Path) -> EllipticCurvePrivateKey:
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    key = load_pem_private_key(path.read_bytes(), None)
    if not isinstance(key, EllipticCurvePrivateKey):
        raise ValueError("not a key of ours")
    return key


def _keep_private(at: Certificates) -> None:
    for key in (at.authority_key, at.leaf_key):
        if key.is_file() and key.stat().st_mode & 0o077:
            key.chmod(0o600)


def _general_names(names: Sequence[str]) -> list[x509.GeneralName]:
    from cryptography import x509

    return [
        x509.DNSName(name) if (address := _address(name)) is None else x509.IPAddress(address)
        for name in names
    ]


def _constraints(names: Sequence[str]) -> x509.NameConstraints:
    """Only these names; a kind of name of which there is none is excluded whole."""
    from cryptography import x509

    addresses = [found for name in names if (found := _address(name)) is not None]
    permitted: list[x509.GeneralName] = [x509.DNSName(name) for name in names if _address(name) is None]
    permitted += [x509.IPAddress(ipaddress.ip_network(address)) for address in addresses]
    excluded: list[x509.GeneralName] = []
    if not any(isinstance(one, x509.DNSName) for one in permitted):
        excluded.append(x509.DNSName(""))
    for version, all_of_them in ((4, "0.0.0.0/0"), (6, "::/0")):
        if not any(address.version == version for address in addresses):
            excluded.append(x509.IPAddress(ipaddress.ip_network(all_of_them)))
    return x509.NameConstraints(permitted, excluded or None)


def _make_authority(at: Certificates, names: Sequence[str], now: dt.datetime) -> None:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Fanwright authority of {names[0]}"[:64])])
    usage = _usage(sign_certificates=True)
    made = (
        _begin(subject, subject, key, now, now + dt.timedelta(days=AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(_constraints(names), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write_key(at.authority_key, key)
    _write(at.authority, _pem(made), 0o644)


def _make_leaf(at: Certificates, authority: x509.Certificate, names: Sequence[str], now: dt.datetime) -> None:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    signer = _load_key(at.authority_key)
    key = ec.generate_private_key(ec.SECP256R1())
    ends = min(now + dt.timedelta(days=LEAF_DAYS), authority.not_valid_after_utc)
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, names[0][:64])])
    made = (
        _begin(subject, authority.subject, key, now, ends)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(sign_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(_general_names(names)), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key()), critical=False
        )
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(signer, hashes.SHA256())
    )
    # the certificate goes last: after a cut in between the two do not fit, which is seen and made good
    _write_key(at.leaf_key, key)
    _write(at.leaf, _pem(made), 0o644)


def _begin(
    subject: x509.Name,
    issuer: x509.Name,
    key: EllipticCurvePrivateKey,
    now: dt.datetime,
    ends: dt.datetime,
) -> x509.CertificateBuilder:
    from cryptography import x509

    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BEFORE)
        .not_valid_after(ends)
    )


def _usage(*, sign_certificates: bool) -> x509.KeyUsage:
    from cryptography import x509

    return x509.KeyUsage(
        digital_signature=not sign_certificates,
        key_cert_sign=sign_certificates,
        crl_sign=sign_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _require_good_for(
    authority: x509.Certificate, names: Sequence[str], at: Certificates, now: dt.datetime
) -> None:
    """Refuse names that the authority may not vouch for, and an authority that is nearly over."""
    from cryptography import x509

    limits = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    allowed = [str(one.value).partition("/")[0] for one in limits.permitted_subtrees or ()]
    outside = [name for name in names if not any(_covers(one, name) for one in allowed)]
    if outside:
        raise InputError(
            Message(
                "the authority of this shop was made for {allowed} and may not vouch for {outside}: take"
                " one of its names, or move {folder} away to make a new one, and install that on each tablet",
                {
                    "allowed": listing(tuple(text(one) for one in allowed)),
                    "outside": listing(tuple(text(one) for one in outside)),
                    "folder": text(at.folder),
                },
            )
        )
    left = (authority.not_valid_after_utc - now).days
    if left < RENEW_DAYS:
        raise InputError(
            Message(
                "the authority of this shop ends in {days} days: move {folder} away to make a new one,"
                " and install that on each tablet",
                {"days": count(max(left, 0)), "folder": text(at.folder)},
            )
        )


def _covers(allowed: str, name: str) -> bool:
    """A host name covers those that end in it (RFC 5280, 4.2.1.10); an address covers itself."""
    if _address(name) is not None or _address(allowed) is not None:
        return _address(name) == _address(allowed)
    return name == allowed or name.endswith("." + allowed)


def _needs_renewal(
    at: Certificates, authority: x509.Certificate, names: Sequence[str], now: dt.datetime
) -> bool:
    from cryptography import x509

    if not at.leaf.is_file() or not at.leaf_key.is_file():
        return True
    leaf = _load(at.leaf)
    if _load_key(at.leaf_key).public_key() != leaf.public_key():
        return True
    held = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    if set(held) != set(_general_names(names)) or now < leaf.not_valid_before_utc:
        return True
    signed = leaf.extensions.get_extension_for_class(x509.AuthorityKeyIdentifier).value.key_identifier
    own = authority.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value.digest
    return signed != own or (leaf.not_valid_after_utc - now).days < RENEW_DAYS


def _pem(certificate: x509.Certificate) -> bytes:
    from cryptography.hazmat.primitives.serialization import Encoding

    return certificate.public_bytes(Encoding.PEM)


def _write_key(path: Path, key: EllipticCurvePrivateKey) -> None:
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    _write(path, key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()), 0o600)


def _write(path: Path, content: bytes, mode: int) -> None:
    """Write a file whole or not at all; it is never readable by others before its mode is set."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=".part")
    beside = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        beside.chmod(mode)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


def _unusable(folder: Path, error: Exception) -> Message:
    reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return Message(
        "the certificates in {folder} cannot be used: {reason}",
        {"folder": text(folder), "reason": text(reason)},
    )
