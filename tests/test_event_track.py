"""A track as strokes: rendered part by part it is the same as rendered whole."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from renderer.audio.event_track import LET_GO, EventTrack, SoundEvent, in_order

SOUND = np.linspace(1, 0.1, 1_000, dtype=np.float32)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 3_000), st.integers(1, 1_000), st.booleans()), max_size=12),
    st.lists(st.integers(0, 4_000), max_size=6),
)
def test_parts_put_together_are_the_whole(events: list[tuple[int, int, bool]], cuts: list[int]) -> None:
    track = in_order(4_000, (SoundEvent(at, length, SOUND, 0.5, let_go) for at, length, let_go in events))
    edges = [0, *sorted(cuts), 4_000]
    parts = [track.part(low, high) for low, high in itertools.pairwise(edges)]
    assert np.array_equal(np.concatenate(parts), track.whole())


def test_they_add_up_and_fade_where_they_are_let_go() -> None:
    track = in_order(
        2_000, [SoundEvent(500, 1_000, SOUND), SoundEvent(0, 600, SOUND, 2.0, let_go=True)]
    ).whole()
    assert np.array_equal(track[: 600 - LET_GO], 2 * SOUND[: 600 - LET_GO])
    assert abs(track[599] - SOUND[99]) < 1e-6
    assert np.array_equal(track[600:1_500], SOUND[100:])
    assert not track[1_500:].any()


def test_one_shorter_than_its_fade_is_the_fades_end() -> None:
    short = in_order(300, [SoundEvent(10, 50, SOUND, let_go=True)]).whole()
    assert abs(short[59]) < 1e-6
    assert 0 < short[10] < SOUND[0] / 2


def test_strokes_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="in order"):
        EventTrack(10, (SoundEvent(5, 1, SOUND), SoundEvent(2, 1, SOUND)))
