"""Write the pressure trace that a logger would have taken on a truck with named faults."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fanwright.desk.shop import Shop, open_shop
from fanwright.errors import InputError
from fanwright.quantities import read
from fanwright.words import Message, count, text

if TYPE_CHECKING:
    from fanwright.virtual.story import Story

LOOSE_PLUG = "plug_comes_and_goes"
MOST_CYCLES = 200
SHUT_AFTER_S, OPEN_BEFORE_S = 0.5, 3.0


@dataclass(frozen=True)
class Wanted:
    """What is to be simulated, as typed.

    Args:
        truck: A preset's name or a visit file.
        faults: ``fault:severity`` with a severity from 0 to 1 [-], or a fault alone for the worst.
        supply: Air in the reservoirs, gauge.
        cycles: How often air is sent [-].
        sent: How long each time.
        cut_off: How long it is cut off after each.
        hold: How long the drive is shut off in the first cycle; empty for not at all.
        rate: Rows in a second.
        noise: Standard deviation of the noise.
        division: Step the gauges are read to.
        seed: Seed of the noise [-].
    """

    truck: str
    faults: tuple[str, ...] = ()
    supply: str = "120 psi"
    cycles: int = 3
    sent: str = "3 s"
    cut_off: str = "4 s"
    hold: str = ""
    rate: str = "100 Hz"
    noise: str = "0.2 psi"
    division: str = "0.1 psi"
    seed: int = 0


@dataclass(frozen=True)
class Simulated:
    """A trace that was written.

    Args:
        path: The file.
        rows: How many rows it has [-].
        shop: The shop.
    """

    path: Path
    rows: int
    shop: Shop


def simulate_trace(wanted: Wanted, path: Path, shop_file: Path | None = None) -> Simulated:
    """Simulate a truck and write what a logger would have written.

    Args:
        wanted: What is to be simulated.
        path: The file to write.
        shop_file: The shop's own data, or None.

    Returns:
        What was written.

    Raises:
        InputError: Every mistake of what was given.
        FileError: The file cannot be written.
    """
    from fanwright.virtual.faults import with_faults, with_loose_plug
    from fanwright.virtual.logger import Logger, simulate_trace, write_csv

    mistakes: list[Message] = []
    shop = open_shop(shop_file, path)
    circuit = _tried(mistakes, lambda: _circuit(wanted, shop))
    faults = _faults(wanted.faults, mistakes)
    loose = faults.pop(LOOSE_PLUG, 0.0)
    story = _tried(mistakes, lambda: _story(wanted))
    logger = _tried(mistakes, lambda: _logger(Logger, wanted))
    circuit = _tried(mistakes, lambda: with_faults(circuit or _any_circuit(), faults))
    if story is not None and loose:
        story = _tried(mistakes, lambda: with_loose_plug(story, loose, wanted.seed))
    if mistakes:
        raise InputError(mistakes)
    trace = simulate_trace(circuit, story, logger)
    write_csv(trace, path)
    return Simulated(path, int(trace.time_s.size), shop)


def _tried(mistakes: list[Message], work: Any) -> Any:
    try:
        return work()
    except InputError as error:
        mistakes += error.messages
        return None


def _circuit(wanted: Wanted, shop: Shop) -> Any:
    from fanwright.desk.trace import find_truck
    from fanwright.virtual.circuit import circuit_of

    if not wanted.truck:
        raise InputError(Message("--truck is missing: name the preset or the visit file that is simulated"))
    return circuit_of(find_truck(wanted.truck, shop), read(wanted.supply, "pressure").si)


def _any_circuit() -> Any:
    """Give a circuit on which faults can be tried where the truck is not known."""
    from fanwright.truck.loader import presets
    from fanwright.virtual.circuit import circuit_of

    return circuit_of(next(iter(presets().values())))


def _faults(typed: Sequence[str], mistakes: list[Message]) -> dict[str, float]:
    """Read ``exhaust_blocked:0.7``; a fault alone is there in full."""
    found: dict[str, float] = {}
    for part in typed:
        name, _, severity = part.strip().partition(":")
        try:
            found[name.strip()] = float(severity) if severity else 1.0
        except ValueError:
            mistakes.append(
                Message(
                    "--fault: «{part}» is not of the form {form}, with a severity from 0 to 1",
                    {"part": text(part), "form": text("exhaust_blocked:0.7")},
                )
            )
    return found


def _story(wanted: Wanted) -> Story:
    """Send air so many times; in the first the drive may be shut off once it stands full."""
    from fanwright.virtual.story import Story

    mistakes: list[Message] = []
    times = [
        _tried(mistakes, lambda each=each: read(each, "time").si) for each in (wanted.sent, wanted.cut_off)
    ]
    hold = _tried(mistakes, lambda: read(wanted.hold, "time").si) if wanted.hold else 0.0
    if not 1 <= wanted.cycles <= MOST_CYCLES:
        mistakes.append(
            Message(
                "--cycles is {given}; from 1 to {most} can be simulated",
                {"given": count(wanted.cycles), "most": count(MOST_CYCLES)},
            )
        )
    if mistakes:
        raise InputError(mistakes)
    on_s, off_s = times
    extra = hold + OPEN_BEFORE_S if hold else 0.0
    sent, start = [], 1.0
    for number in range(wanted.cycles):
        end = start + on_s + (extra if number == 0 else 0.0)
        sent.append((start, end))
        start = end + off_s
    shut = ((1.0 + on_s, 1.0 + on_s + hold),) if hold else ()
    return Story(start, tuple(sent), shut=shut, settle_s=2.0)


def _logger(kind: Any, wanted: Wanted) -> Any:
    mistakes: list[Message] = []
    read_as = (("rate", "frequency"), ("noise", "pressure"), ("division", "pressure"))
    values = [_tried(mistakes, lambda a=a, d=d: read(getattr(wanted, a), d).si) for a, d in read_as]
    if mistakes:
        raise InputError(mistakes)
    return kind(values[0], values[1], values[2], seed=wanted.seed)
