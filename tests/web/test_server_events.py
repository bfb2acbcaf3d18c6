"""The live stream: the newest version of each changed visit, pings, an end with the session or the server."""

from __future__ import annotations

import asyncio
import threading

from fanwright.web.events import MOST_OF_ONE, MOST_STREAMS, Events


async def yes() -> bool:
    return True


async def no() -> bool:
    return False


def test_a_change_is_told_from_any_thread_and_the_newest_counts() -> None:
    async def listen() -> list[bytes]:
        events = Events()
        stream = events.stream("1", yes)
        heard = [await anext(stream)]

        def change() -> None:
            for number, version in ((7, 3), (7, 5), (7, 4), (9, 1)):
                events.publish(number, version)

        thread = threading.Thread(target=change)
        thread.start()
        thread.join()
        heard += [await anext(stream), await anext(stream)]
        await stream.aclose()
        return heard

    first, *told = asyncio.run(asyncio.wait_for(listen(), 5))
    assert first.startswith(b"retry: 3000\n")
    assert told == [
        b'event: bay\ndata: {"number":7,"version":5}\n\n',
        b'event: bay\ndata: {"number":9,"version":1}\n\n',
    ]


def test_a_quiet_stream_is_kept_alive_while_the_session_holds() -> None:
    async def listen() -> tuple[bytes, list[bytes]]:
        events = Events(ping_s=0.01)
        held, ended = events.stream("1", yes), events.stream("2", no)
        await anext(held)
        ping = await anext(held)
        await held.aclose()
        return ping, [line async for line in ended]

    ping, lines = asyncio.run(asyncio.wait_for(listen(), 5))
    assert ping == b": ping\n\n"
    assert len(lines) == 1, "nothing more once the session is over"


def test_closing_ends_every_stream_at_once() -> None:
    async def listen() -> int:
        events = Events()
        streams = [events.stream(str(number), yes) for number in range(3)]
        for stream in streams:
            await anext(stream)
        events.close()
        assert not events.room_for("new")
        return sum([len([line async for line in stream]) for stream in streams])

    assert asyncio.run(asyncio.wait_for(listen(), 5)) == 0


def test_streams_have_a_limit_for_each_and_for_all() -> None:
    async def fill() -> tuple[bool, bool, bool]:
        events, streams = Events(), []
        for _ in range(MOST_OF_ONE):
            streams.append(events.stream("one", yes))
            await anext(streams[-1])
        one, other = events.room_for("one"), events.room_for("other")
        for number in range(MOST_STREAMS - MOST_OF_ONE):
            streams.append(events.stream(str(number), yes))
            await anext(streams[-1])
        full = events.room_for("other")
        for stream in streams:
            await stream.aclose()
        assert events.room_for("one"), "room again once they have gone"
        return one, other, full

    assert asyncio.run(asyncio.wait_for(fill(), 5)) == (False, True, False)


def test_a_listener_that_went_away_is_no_trouble() -> None:
    events = Events()

    async def leave() -> None:
        stream = events.stream("1", yes)
        await anext(stream)
        await stream.aclose()

    asyncio.run(leave())
    events.publish(1, 1)
    events.close()
