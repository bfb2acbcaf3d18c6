"""What the server was started with."""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from pathlib import Path

STATIC = Path(__file__).parent / "static"
LOOPBACK_NAMES = ("localhost", "127.0.0.1", "::1")


@dataclass(frozen=True)
class Settings:
    """How this server was started.

    Args:
        db: The records.
        files: The folder of their files, or None for the one beside them.
        shop: The shop's own file, or None.
        demo: Whether everybody who reaches this server may work on it, as the demo's foreman.
        host: The address listened at.
        port: The port listened at.
        names: Names and addresses that tablets use for this machine.
        tls: The folder with the certificates, or None when the server speaks plain http.
        release: What is served: the program's version and a mark of its pages.

    Example:
        >>> Settings("x.db", None, None, True, "127.0.0.1", 8214, (), None, "1").origins
        ('http://localhost:8214', 'http://127.0.0.1:8214', 'http://[::1]:8214')
    """

    db: str
    files: Path | None
    shop: Path | None
    demo: bool
    host: str
    port: int
    names: tuple[str, ...]
    tls: Path | None
    release: str

    @property
    def scheme(self) -> str:
        """What the addresses of this server begin with."""
        return "https" if self.tls else "http"

    @property
    def hosts(self) -> tuple[str, ...]:
        """Each Host header that is answered; a page elsewhere that points its own name here gets nothing."""
        local = LOOPBACK_NAMES if is_loopback(self.host) else ()
        named = dict.fromkeys((*self.names, *local))
        return tuple(host for name in named for host in self._with_port(_bracketed(name)))

    @property
    def origins(self) -> tuple[str, ...]:
        """Where a page may come from that changes something here."""
        return tuple(f"{self.scheme}://{host}" for host in self.hosts)

    @property
    def address(self) -> str:
        """The address to open."""
        name = self.names[0] if self.names else self.host
        return f"{self.scheme}://{self._with_port(_bracketed(name))[0]}/"

    def _with_port(self, name: str) -> tuple[str, ...]:
        standard = 443 if self.tls else 80
        return (name,) if self.port == standard else (f"{name}:{self.port}",)


def is_loopback(host: str) -> bool:
    """Say whether only this machine reaches an address.

    Example:
        >>> is_loopback("localhost"), is_loopback("127.0.0.1"), is_loopback("0.0.0.0")
        (True, True, False)
    """
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host.lower() == "localhost"


def _bracketed(name: str) -> str:
    return f"[{name}]" if ":" in name else name.lower()
