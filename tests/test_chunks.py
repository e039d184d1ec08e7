"""Chunks: named by what is seen in them, the same bytes wherever they are made."""

import pickle
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from renderer.core.errors import BarcrossError
from renderer.video.chunks import (
    Batch,
    ChunkRenderer,
    Film,
    Job,
    batch_code,
    make_chunk,
    pack,
    unpack,
)
from renderer.video.drawing import digest_shape
from renderer.video.h264 import EncodedChunk
from renderer.video.render import Quality, build_film
from scenes.draw.paths import disc
from scenes.draw.shapes import FilledShape, draw
from tests.lessons import DARK, SHORT, make_lesson

SMALL = Quality(160, 90, Fraction(24))
ROUND = disc(900, 500, 90)


def film(text: str = SHORT, show: str = "play", quality: Quality = SMALL) -> Film:
    lesson = make_lesson(text)
    planned = next(planned for planned in lesson.segments() if planned.show == show)
    return build_film(planned, quality, DARK)


class Everything(frozenset[str]):
    """Knows every name, so that nothing is drawn."""

    def __contains__(self, name: object) -> bool:
        return True


def names(film: Film) -> list[str]:
    studio = ChunkRenderer(film)
    return [studio.make(chunk, Everything()).name for chunk in range(len(film.stretches()))]


def test_a_packed_chunk_comes_back() -> None:
    chunk = EncodedChunk(b"\0header", (b"first", b"", b"third"))
    assert unpack(pack(chunk)) == chunk


def test_a_chunk_is_the_same_whatever_was_made_before_it() -> None:
    whole = film()
    count = len(whole.stretches())
    assert count > 3
    forwards = ChunkRenderer(whole)
    expected = [forwards.make(chunk, ()) for chunk in range(count)]
    backwards = ChunkRenderer(pickle.loads(pickle.dumps(whole)))
    assert [backwards.make(chunk, ()) for chunk in reversed(range(count))] == expected[::-1]
    assert ChunkRenderer(whole).make(2, ()) == expected[2]


def test_a_known_chunk_is_not_drawn() -> None:
    studio = ChunkRenderer(film())
    made = studio.make(1, ())
    assert made.content is not None
    assert studio.make(1, {made.name}) == (made.name, None)


def test_only_chunks_whose_pictures_differ_are_named_anew() -> None:
    longer = SHORT.replace("bars: 2", "bars: 20")
    before = names(film(longer))
    after = names(film(longer.replace("harmony: {1: F#}", "harmony: {1: F#, 20: Gm}")))
    differ = [one != other for one, other in zip(before, after, strict=True)]
    assert differ == sorted(differ)
    assert 0 < sum(differ) < len(differ) / 2


def test_what_is_not_seen_changes_no_name() -> None:
    before = film()
    after = film(SHORT.replace("count_in: 1", "count_in: 1, level: -6"))
    assert names(before) == names(after)
    assert before.key() == after.key()


@pytest.mark.parametrize(
    "quality", [replace(SMALL, width=176), replace(SMALL, frames_per_second=Fraction(25))]
)
def test_size_and_rate_are_in_the_name(quality: Quality) -> None:
    assert not set(names(film())) & set(names(film(quality=quality)))


SHAPES: dict[str, Callable[[], FilledShape]] = {
    "plain": lambda: draw("#ffffff", ROUND),
    "moved": lambda: draw("#ffffff", ROUND + np.array([1e-9, 0])),
    "other colour": lambda: draw("#fffffe", ROUND),
    "thinner": lambda: draw("#ffffff", ROUND, opacity=0.5),
}


def test_a_shape_is_told_from_every_other() -> None:
    assert len({digest_shape(make()) for make in SHAPES.values()}) == len(SHAPES)
    assert all(digest_shape(make()) == digest_shape(make()) for make in SHAPES.values())


def test_a_worker_of_another_version_refuses() -> None:
    batch = Batch((film(),), frozenset(), batch_code((film(),)))
    assert make_chunk(batch, Job(0, 0)).content
    with pytest.raises(BarcrossError, match="another version"):
        make_chunk(replace(batch, code="0" * 40), Job(0, 0))
