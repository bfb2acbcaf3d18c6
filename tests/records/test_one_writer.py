"""Writers take turns in the order of asking, and one who gives up waiting does not hold up the rest."""

from __future__ import annotations

import threading
import time

import pytest

from fanwright.records.engine import Turns


def test_turns_are_taken_in_order() -> None:
    turns, order = Turns(), list[int]()

    def write(number: int) -> None:
        with turns.turn():
            order.append(number)

    threads = [threading.Thread(target=write, args=(number,)) for number in range(20)]
    with turns.turn():
        for thread in threads:
            thread.start()
            time.sleep(0.005)
    for thread in threads:
        thread.join(timeout=5)
    assert order == list(range(20))


def test_never_two_at_once() -> None:
    turns, inside, most = Turns(), [0], [0]

    def write() -> None:
        for _ in range(50):
            with turns.turn():
                inside[0] += 1
                most[0] = max(most[0], inside[0])
                time.sleep(0)
                inside[0] -= 1

    threads = [threading.Thread(target=write) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=20)
    assert most == [1]


@pytest.mark.parametrize("given", [False, True])
def test_one_who_gives_up_holds_nobody_up(given: bool) -> None:
    turns = Turns()
    first = turns.turn()
    first.__enter__()
    waiting = turns._ask()
    assert waiting is not None
    if given:  # the turn was handed over at the very moment of giving up
        first.__exit__(None, None, None)
    turns._leave(waiting)
    if not given:
        first.__exit__(None, None, None)
    done = threading.Event()

    def write() -> None:
        with turns.turn():
            done.set()

    threading.Thread(target=write, daemon=True).start()
    assert done.wait(timeout=5)


def test_a_failed_write_hands_the_turn_on() -> None:
    turns = Turns()
    with pytest.raises(ValueError, match="x"), turns.turn():
        raise ValueError("x")
    with turns.turn():
        pass
