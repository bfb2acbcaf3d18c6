"""What a bay visit is made of: a base, and entries that are only ever added. No SQL here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

Kind = Literal["reading", "not_done", "take_back", "lock_out", "set", "file", "note"]
BayState = Literal["open", "kept", "signed"]


@dataclass(frozen=True)
class BayEntry:
    """One entry, made once on a tablet and never changed.

    Args:
        key: Its own key (UUID), made where it was entered.
        body: What was entered, as it was sent: ``kind``, ``test``, ``value`` and so on.
        author: Whose work it is.
        proved: Whether the author's token vouched for that.
        sent_by: Who was signed in when it was sent.
        number: Its place among the entries of its visit, from 1.
    """

    key: str
    body: Mapping[str, Any]
    author: str = ""
    proved: bool = False
    sent_by: str = ""
    number: int = 0

    @property
    def kind(self) -> str:
        """What it is."""
        return str(self.body.get("kind", ""))

    @property
    def test(self) -> str:
        """The test it is about, or empty."""
        return str(self.body.get("test", ""))

    @property
    def after(self) -> bool:
        """Whether it is about the truck after the repair."""
        return bool(self.body.get("after", False))

    @property
    def at(self) -> str:
        """When it was made, as the tablet's clock had it."""
        return str(self.body.get("at", ""))


@dataclass(frozen=True)
class BayFile:
    """A file that came in for a bay visit and was checked.

    Args:
        key: The key of its upload.
        what: What it is (``air_trace``, ``photos``).
        name: Its name.
        sha256: Hash of the bytes kept.
        size: How long it is [bytes].
        found: What was read out of it, as plain data: ``readings``, ``notes``, ``cannot_tell``.
        refused: Why it was not taken, as messages in plain data; empty when it was.
    """

    key: str
    what: str
    name: str
    sha256: str = ""
    size: int = 0
    found: Mapping[str, Any] = field(default_factory=dict)
    refused: tuple[Any, ...] = ()


@dataclass(frozen=True)
class BayVisit:
    """One visit on the bay page, with everything entered so far.

    Args:
        number: Its number among the bay visits.
        key: The key it was started with (UUID).
        unit: The truck.
        base: The mapping it starts from, of the shape of a visit file.
        language: Language of the numbers in it.
        base_visit: The kept visit it continues, or None.
        opened_by: Who started it.
        opened_at_utc: When, in UTC.
        entries: What was entered, oldest first.
        files: The files that came in and were checked.
        kept_visit: The number under which it was last kept, or None.
        changed_since: Whether something was added after that.
        ends: How often it was kept or signed.
        signed: Whether it is signed.
    """

    number: int
    key: str
    unit: str
    base: Mapping[str, Any]
    language: str = "en"
    base_visit: int | None = None
    opened_by: str = ""
    opened_at_utc: str = ""
    entries: tuple[BayEntry, ...] = ()
    files: tuple[BayFile, ...] = ()
    kept_visit: int | None = None
    changed_since: bool = False
    ends: int = 0
    signed: bool = False

    @property
    def state(self) -> BayState:
        """Where it stands in its life."""
        if self.signed:
            return "signed"
        return "open" if self.kept_visit is None or self.changed_since else "kept"

    @property
    def version(self) -> int:
        """Rises with everything that is added."""
        return 1 + len(self.entries) + len(self.files) + self.ends


@dataclass(frozen=True)
class BayRow:
    """One bay visit in a list.

    Args:
        number: Its number.
        unit: The truck.
        opened_by: Who started it.
        opened_at_utc: When, in UTC.
        version: Its version.
        entries: How many entries it has.
        base_visit: The kept visit it continues, or None.
        kept_visit: The number under which it was last kept, or None.
        signed: Whether it is signed.
    """

    number: int
    unit: str
    opened_by: str
    opened_at_utc: str
    version: int
    entries: int
    base_visit: int | None
    kept_visit: int | None
    signed: bool


@dataclass(frozen=True)
class Added:
    """What the records say of something that was sent to them.

    Args:
        number: The bay visit.
        version: Its version now.
        new: Whether it was added now; False when the very same was there already.
    """

    number: int
    version: int
    new: bool
