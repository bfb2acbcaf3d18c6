"""Formats that the general library python-can reads: its messages as our rows."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from fanwright.errors import FileError
from fanwright.evidence.recording.formats._text import Row, data_row, error_row, remote_row
from fanwright.evidence.recording.intake import Intake
from fanwright.evidence.recording.source import Source
from fanwright.words import Message, text

MOST_SECONDS = 1e10
MOST_IDENT = 0x1FFFFFFF


def rows(source: Source, intake: Intake, opener: Callable[[str], Any]) -> Iterator[Row]:
    """Give the frames of a file that python-can reads; where it stops, the rest counts as unread."""
    try:
        reader = opener(str(source.path))
    except ImportError as error:
        raise FileError(
            Message(
                "{file} needs the package {package}, which is not installed",
                {"file": text(source.path), "package": text(error.name or "asammdf")},
            )
        ) from error
    except Exception as error:  # whatever a third-party reader makes of a damaged file
        raise FileError(
            Message(
                "{file} is damaged: {reason}",
                {"file": text(source.path), "reason": text(type(error).__name__)},
            )
        ) from error
    with reader:
        messages = iter(reader)
        while True:
            try:
                message = next(messages)
            except StopIteration:
                return
            except Exception:  # as above: what came before it is kept
                intake.unread()
                return
            row = _row(message, intake) if _is_sound(message) else None
            if row is None:
                intake.unread()
            else:
                yield row


def _is_sound(message: Any) -> bool:
    """Say whether time and identifier are what a frame can have; a damaged table may give anything."""
    time, ident = message.timestamp, message.arbitration_id
    if not isinstance(time, int | float) or not isinstance(ident, int):
        return False
    return abs(time) < MOST_SECONDS and 0 <= ident <= MOST_IDENT


def _row(message: Any, intake: Intake) -> Row:
    time = round(message.timestamp * 1e6)
    channel = intake.channel(str(message.channel if message.channel is not None else 1))
    if message.is_error_frame:
        return error_row(time, channel)
    if message.is_remote_frame:
        return remote_row(time, message.arbitration_id, channel)
    return data_row(
        time,
        message.arbitration_id,
        message.is_extended_id,
        bytes(message.data),
        channel,
        sent=not message.is_rx,
        long=message.is_fd,
    )
