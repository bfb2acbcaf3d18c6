"""Files of the MDF 4 family, block by block, with every address checked: a damaged file never leads astray.

Blocks and their places are those of ASAM MDF 4.1 (from memory; checked in the tests against files that
asammdf and python-can write). A file is a tree of blocks: head, data groups, channel groups, channels.
Records lie in data blocks, plain or packed, in one piece or in lists. A logger that was cut off leaves counts
and lengths open; what is there is read.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fanwright.errors import FileError
from fanwright.evidence.recording.formats import ABSOLUTE, LOCAL
from fanwright.evidence.recording.source import Source
from fanwright.words import Message, text

MAGIC: Final = b"MDF     4"
UNFINISHED: Final = b"UnFinMF "
FIRST_BLOCK: Final = 64
HEAD: Final = struct.Struct("<4sIQQ")
BUS_EVENT, VARIABLE_GROUP = 2, 1
"""Flags of a channel group: events of a bus; values of varying length."""
LOCAL_TIME: Final = 1
VARIABLE, MASTER, VIRTUAL_MASTER = 1, 2, 3
"""Kinds of a channel: of varying length; the time; the time by counting."""
LINEAR, RATIONAL = 1, 2
MOST_BLOCKS: Final = 200_000
MOST_UNPACKED: Final = 1 << 30
FRAMES: Final = ("CAN_DataFrame", "CAN_ErrorFrame", "CAN_RemoteFrame")

Bytes = NDArray[np.uint8]


@dataclass(frozen=True)
class Block:
    """One block: its kind, links, and where its content lies."""

    kind: bytes
    links: tuple[int, ...]
    first: int
    end: int

    def link(self, place: int) -> int:
        """Give an address; 0 where there is none."""
        return self.links[place] if place < len(self.links) else 0


@dataclass(frozen=True)
class Channel:
    """One channel of a group.

    Args:
        name: Its name.
        unit: Its unit, or empty.
        kind: Kind of the channel.
        data_type: How its bits are a value.
        bit_offset: First bit in its first byte.
        byte_offset: First byte in the record.
        bits: How many bits it has.
        data: Address of values of varying length, or 0.
        scaling: Kind of its conversion and the numbers of it.
    """

    name: str
    unit: str
    kind: int
    data_type: int
    bit_offset: int
    byte_offset: int
    bits: int
    data: int
    scaling: tuple[int, tuple[float, ...]]


@dataclass(frozen=True)
class Group:
    """One channel group with where its records lie."""

    number: int
    record_id: int
    cycles: int
    flags: int
    size: int
    source: str
    channels: tuple[Channel, ...]
    data: int
    id_bytes: int
    sizes: tuple[tuple[int, int, bool], ...]

    def channel(self, name: str) -> Channel | None:
        """Find a channel by its name."""
        return next((one for one in self.channels if one.name == name), None)

    @property
    def kind(self) -> str:
        """Which logged frames it holds; empty for none."""
        return next((kind for kind in FRAMES if any(one.name.startswith(kind) for one in self.channels)), "")


def is_mdf(head: bytes) -> bool:
    """Say whether a file begins as such a file."""
    return head.startswith((MAGIC, UNFINISHED))


def open_mdf(source: Source) -> Mdf:
    """Open a file.

    Raises:
        FileError: It is damaged before its first group.
    """
    if source.packed():
        data = np.frombuffer(source.whole(), np.uint8)
    else:
        data = np.memmap(source.path, np.uint8, "r")
    mdf = Mdf(data)
    try:
        _ = mdf.groups, mdf.start
    except (ValueError, struct.error) as error:
        raise FileError(
            Message(
                "{file} is damaged: the description of its channels is not where it should be ({reason}); if "
                "its logger was cut off, let the logger's own program finish the file",
                {"file": text(source.path), "reason": text(error)},
            )
        ) from error
    return mdf


class Mdf:
    """A file as bytes.

    Args:
        data: All of them.
    """

    def __init__(self, data: Bytes) -> None:
        self._bytes = data
        self.size = len(data)
        self.unfinished = self.raw(0, 8) == UNFINISHED
        self.lost = 0
        self._joined: dict[int, Bytes] = {}

    def raw(self, first: int, end: int) -> bytes:
        """Give some bytes."""
        return self._bytes[first:end].tobytes()

    def block(self, at: int) -> Block:
        """Give the block at an address.

        Raises:
            ValueError: There is none.
        """
        if not FIRST_BLOCK <= at <= self.size - HEAD.size:
            raise ValueError("address past the end")
        kind, _, length, links = HEAD.unpack(self.raw(at, at + HEAD.size))
        if not kind.startswith(b"##") or length < HEAD.size or links > (length - HEAD.size) // 8:
            raise ValueError("no block")
        first = at + HEAD.size + 8 * links
        if first > self.size:
            raise ValueError("block past the end")
        addresses = struct.unpack("".join(("<", str(links), "Q")), self.raw(at + HEAD.size, first))
        return Block(kind[2:], addresses, first, at + length)

    def chain(self, at: int, kind: bytes) -> Iterator[Block]:
        """Give the blocks of a list, each of which names the next first."""
        seen: set[int] = set()
        while at and at not in seen and len(seen) < MOST_BLOCKS:
            seen.add(at)
            found = self.block(at)
            if found.kind != kind:
                raise ValueError("another block than expected")
            yield found
            at = found.link(0)

    def unpack(self, form: str, block: Block) -> tuple[Any, ...]:
        """Read the beginning of a block's content."""
        shape = struct.Struct("<" + form)
        return shape.unpack(self.raw(block.first, block.first + shape.size))

    def words(self, at: int) -> str:
        """Give the text at an address; empty for none, or for text with marks."""
        if not at:
            return ""
        found = self.block(at)
        written = self.raw(found.first, min(found.end, found.first + 4096)).split(b"\0")[0]
        shown = written.decode("utf-8", "replace")
        if found.kind == b"MD":
            shown = shown.partition("<TX>")[2].partition("</TX>")[0]
        return shown.strip()

    @cached_property
    def start(self) -> tuple[int, str]:
        """The time that times count from [us], and the kind of its clock."""
        since_ns, _, _, flags = self.unpack("QhhB", self.block(FIRST_BLOCK))
        return round(since_ns / 1_000), LOCAL if flags & LOCAL_TIME else ABSOLUTE

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        """All channel groups."""
        head = self.block(FIRST_BLOCK)
        if head.kind != b"HD":
            raise ValueError("no head")
        found: list[Group] = []
        for data_group in self.chain(head.link(0), b"DG"):
            (id_bytes,) = self.unpack("B", data_group)
            blocks = list(self.chain(data_group.link(1), b"CG"))
            described = [self.unpack("QQHH4xII", one) for one in blocks]
            sizes = tuple((one[0], one[4] + one[5], bool(one[2] & VARIABLE_GROUP)) for one in described)
            for block, (record_id, cycles, flags, _, size, extra) in zip(blocks, described, strict=True):
                source = block.link(3)
                name = self.words(self.block(source).link(0)) if source else ""
                channels = tuple(self._channels(block.link(1), 0))
                found.append(
                    Group(len(found), record_id, cycles, flags, size + extra, name, channels,
                          data_group.link(2), id_bytes, sizes)
                )  # fmt: skip
        return tuple(found)

    def _channels(self, at: int, depth: int) -> Iterator[Channel]:
        for block in self.chain(at, b"CN"):
            kind, _, data_type, bit, byte, bits = self.unpack("BBBBII", block)
            name, unit = self.words(block.link(2)), self.words(block.link(6))
            scaling = self._scaling(block.link(4))
            yield Channel(name, unit, kind, data_type, bit, byte, bits, block.link(5), scaling)
            inner = block.link(1)
            if inner and depth < 3 and self.block(inner).kind == b"CN":
                yield from self._channels(inner, depth + 1)

    def _scaling(self, at: int) -> tuple[int, tuple[float, ...]]:
        if not at:
            return 0, ()
        block = self.block(at)
        kind, _, _, _, many = self.unpack("BBHHH", block)
        wanted = {LINEAR: 2, RATIONAL: 6}.get(kind, 0)
        if not wanted or many < wanted:
            return kind, ()
        return kind, struct.unpack(
            "".join(("<", str(wanted), "d")), self.raw(block.first + 24, block.first + 24 + 8 * wanted)
        )

    # --- Records ------------------------------------------------------------------------------------------

    def records(self, group: Group) -> Bytes:
        """Give the records of a group, a row each, without their numbers."""
        data = self.content(group.data)
        if not group.size:
            return np.empty((0, 0), np.uint8)
        if not group.id_bytes:
            many = len(data) // group.size
            if not self.unfinished:
                many = min(many, group.cycles)
            return data[: many * group.size].reshape(many, group.size)
        at = np.asarray(self.places(data, group)[0], np.int64)
        return data[at[:, None] + np.arange(group.size)] if len(at) else np.empty((0, group.size), np.uint8)

    def places(self, data: Bytes, group: Group) -> tuple[list[int], list[int]]:
        """Give where the records of a group begin in a mix of groups, and how long each is."""
        sizes = {number: (size, varies) for number, size, varies in group.sizes}
        raw, at, end = data.tobytes(), 0, len(data)
        places, lengths = [], []
        while at + group.id_bytes <= end:
            number = int.from_bytes(raw[at : at + group.id_bytes], "little")
            at += group.id_bytes
            if number not in sizes:
                self.lost += 1
                break
            size, varies = sizes[number]
            if varies:
                size = 4 + int.from_bytes(raw[at : at + 4], "little")
            if at + size > end:
                break
            if number == group.record_id:
                places.append(at)
                lengths.append(size)
            at += size
        return places, lengths

    def content(self, at: int) -> Bytes:
        """Give the bytes of a data block or of a list of them, unpacked."""
        if at not in self._joined:
            parts = list(self._pieces(at)) if at else []
            self._joined[at] = np.concatenate(parts) if parts else np.empty(0, np.uint8)
        return self._joined[at]

    def _pieces(self, at: int) -> Iterator[Bytes]:
        try:
            block = self.block(at)
            if block.kind == b"HL":
                yield from self._pieces(block.link(0))
            elif block.kind == b"DL":
                for part in self.chain(at, b"DL"):
                    for link in part.links[1:]:
                        if link and self.block(link).kind in (b"DT", b"SD", b"DZ"):
                            yield self._piece(self.block(link))
            else:
                yield self._piece(block)
        except (ValueError, struct.error, zlib.error):
            self.lost += 1

    def _piece(self, block: Block) -> Bytes:
        if block.kind in (b"DT", b"SD"):
            open_end = self.unfinished and block.end - block.first <= 0
            return self._bytes[block.first : self.size if open_end else block.end]
        if block.kind != b"DZ":
            raise ValueError("no data")
        _, way, _, columns, size, packed = self.unpack("2sBBIQQ", block)
        if size > MOST_UNPACKED:
            raise ValueError("too much in one block")
        first = block.first + 24
        worker = zlib.decompressobj()
        plain = np.frombuffer(worker.decompress(self.raw(first, first + packed), size), np.uint8)
        if len(plain) < size:
            self.lost += 1
        if way == 1 and columns > 1 and len(plain) == size:
            whole = size // columns * columns
            turned = plain[:whole].reshape(columns, -1).T.ravel()
            plain = np.concatenate([turned, plain[whole:]])
        return plain

    def bus_groups(self) -> list[Group]:
        """Give the groups that hold logged frames."""
        return [group for group in self.groups if group.kind and not group.flags & VARIABLE_GROUP]
