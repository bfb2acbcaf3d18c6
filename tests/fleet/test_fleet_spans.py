"""Arithmetic of stretches against sets of whole seconds."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from fanwright.fleet.spans import DAY_US, Spans, by_day, common, union, without

PAIRS = st.lists(st.tuples(st.integers(-30, 60), st.integers(0, 25)).map(lambda p: (p[0], p[0] + p[1])))


def seconds(spans: Spans) -> set[int]:
    return {second for start, end in spans.pairs() for second in range(start, end)}


@given(PAIRS, PAIRS)
def test_union_is_the_union_of_sets(one: list[tuple[int, int]], other: list[tuple[int, int]]) -> None:
    found = union(Spans.of(one), Spans.of(other))
    assert seconds(found) == seconds(Spans.of(one)) | seconds(Spans.of(other))
    assert found.total_us == len(seconds(found))
    pairs = found.pairs()
    assert all(before[1] < after[0] for before, after in pairwise(pairs))


@given(PAIRS, PAIRS)
def test_common_and_without_share_every_stretch_out(
    one: list[tuple[int, int]], other: list[tuple[int, int]]
) -> None:
    many, disjoint = Spans.of(one), union(Spans.of(other))
    inside, of_inside = common(many, disjoint)
    outside, of_outside = without(many, disjoint)
    for place, (start, end) in enumerate(one):
        mine = set(range(start, end))
        assert seconds(inside.where(of_inside == place)) == mine & seconds(disjoint)
        assert seconds(outside.where(of_outside == place)) == mine - seconds(disjoint)


@given(st.lists(st.tuples(st.integers(-3, 5), st.integers(0, 3 * 24)), min_size=1))
def test_days_are_cut_at_midnight(drawn: list[tuple[int, int]]) -> None:
    hour = DAY_US // 24
    many = Spans.of([(first * 7 * hour, (first * 7 + long) * hour) for first, long in drawn])
    pieces, of, day = by_day(many)
    assert pieces.total_us == many.total_us
    for (start, end), at, place in zip(pieces.pairs(), day.tolist(), of.tolist(), strict=True):
        assert at * DAY_US <= start <= end <= (at + 1) * DAY_US
        assert many.start_us[place] <= start <= end <= many.end_us[place]
