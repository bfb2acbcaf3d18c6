"""The one exception tree.

FanwrightError
├── InputError          what a person or a file gave cannot be used; carries every mistake found
│   ├── QuantityError   a typed quantity cannot be read
│   ├── FileError       a file cannot be read or written
│   ├── NotThere        there is no bay visit or upload of that name
│   ├── Closed          a bay visit is signed and takes nothing more
│   ├── OtherBody       a key was sent before with something else under it
│   ├── Damaged         an upload is not what was said; it begins anew
│   └── ChildFailed     a child process was stopped or fell over
├── OutOfRange          a law was asked for something outside its stated range
└── DataError           the program's own data files (catalogue, limits, presets) contradict themselves
"""

from __future__ import annotations

from collections.abc import Iterable

from fanwright.words import Message


class FanwrightError(Exception):
    """Root of everything the program raises on purpose.

    Args:
        messages: One message, or all mistakes found, each a sentence of its own.
    """

    def __init__(self, messages: Message | Iterable[Message]) -> None:
        self.messages: tuple[Message, ...] = (messages,) if isinstance(messages, Message) else tuple(messages)
        super().__init__("; ".join(message.template for message in self.messages))


class InputError(FanwrightError):
    """What a person or a file gave cannot be used."""


class QuantityError(InputError):
    """A typed quantity cannot be read."""


class FileError(InputError):
    """A file cannot be read or written."""


class OutOfRange(FanwrightError):
    """A law was asked for something outside its stated range."""


class DataError(FanwrightError):
    """The program's own data files contradict themselves."""
