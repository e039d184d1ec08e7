"""What the page plays: the films' own sound, from any place, in loops that are exact, slower at the same pitch."""

import io
import wave
from fractions import Fraction
from itertools import islice
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.loudness import Samples, Sound
from renderer.audio.placed import MarkedSound
from renderer.audio.slow_down import slow_part
from renderer.core.time_grid import seconds_to_sample_index
from renderer.mix.stems import segment_master
from renderer.page.editions import Laid, read_edition
from renderer.page.heard import CEILING, SEAM, coded, pieces, wav_head
from renderer.page.shown import SOFT_GAIN, ShownSegments
from tests.lessons import SHORT
from tests.page_client import page_client
from tests.performances import beats_between, drifting_bars, perform, write_take

PLAY = 3


@pytest.fixture(scope="module")
def laid() -> Laid:
    edition = read_edition(SHORT, Path("weir.yaml"))
    assert edition.laid is not None
    return edition.laid


def joined(sound: Sound, start: int, loop: tuple[int, int] | None, count: int) -> NDArray[np.float32]:
    """So many samples of a stream."""
    parts: list[NDArray[np.float32]] = []
    for piece in pieces(sound, start, loop):
        parts.append(piece)
        if sum(map(len, parts)) >= count:
            break
    return np.concatenate(parts)[:count]


def test_the_stream_is_the_films_sound_from_any_sample(laid: Laid) -> None:
    shown = ShownSegments().get(laid, PLAY, Fraction(1))
    film = segment_master(laid.lesson, laid.lesson.segments()[PLAY - 1].schedule)
    mixed = shown.mix()
    assert mixed.lufs == film.lufs
    start = 54_321
    np.testing.assert_array_equal(joined(shown.heard(), start, None, 10**9), film.mix[start:])


def test_before_its_loudness_is_known_it_is_heard_softly(laid: Laid) -> None:
    shown = ShownSegments().get(laid, PLAY, Fraction(1))
    soft = np.concatenate(list(pieces(shown.heard(), 0)))
    whole = shown.mix().mix
    assert 0 < np.abs(soft).max() <= np.abs(whole).max()


@pytest.mark.parametrize(
    ("start", "loop"), [(0, (30_000, 90_007)), (50_000, (30_000, 90_007)), (95_000, (7, 300))]
)
def test_a_loop_comes_round_on_its_sample(start: int, loop: tuple[int, int]) -> None:
    """What is heard is sample `first + (n mod length)` for ever, but for the seam's 5 ms."""
    sound = np.random.default_rng(1).uniform(-0.5, 0.5, (100_000, 2)).astype(np.float32)
    first, last = loop
    heard = joined(sound, start, loop, 300_000)
    begin = start if start < last else first
    places = begin + np.arange(len(heard))
    expected = np.where(places < last, places, first + (places - last) % (last - first))
    kept = expected < last - SEAM
    np.testing.assert_array_equal(heard[kept], sound[expected[kept]])
    assert (~kept).sum() <= (len(heard) // (last - first) + 1) * SEAM


def test_a_seam_fades_over_into_what_comes_before_the_loop() -> None:
    """A tone whose loop is a whole number of its periods goes through the seam as if there were none."""
    period = 480
    tone = np.sin(2 * np.pi * np.arange(96_000) / period).astype(np.float32)
    sound = np.stack([tone, tone], axis=1)
    heard = joined(sound, 4_800, (4_800, 4_800 + 20 * period), 60_000)
    np.testing.assert_allclose(heard[:, 0], tone[:60_000], atol=2e-4)


def test_any_reader_takes_the_stream_for_wav(laid: Laid, tmp_path: Path) -> None:
    """Python's own `wave` is the reference."""
    sound = np.zeros((4_800, 2), np.float32)
    sound[100] = 0.5, -0.25
    sound[200] = 2.0, -2.0
    stream = wav_head(len(sound)) + b"".join(map(coded, pieces(sound, 0)))
    with wave.open(io.BytesIO(stream)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (2, 2, SAMPLES_PER_SECOND)
        assert file.getnframes() == len(sound)
        samples = np.frombuffer(file.readframes(len(sound)), "<i2").reshape(-1, 2)
    assert samples[100].tolist() == [round(0.5 * 32767), round(-0.25 * 32767)]
    assert abs(samples[200]).max() == round(float(CEILING) * 32767), (
        "nothing is louder than a finished mix may be"
    )


@pytest.mark.parametrize("per_cent", [25, 50, 100])
def test_slower_clicks_stand_on_their_sample_and_are_as_clean(laid: Laid, per_cent: int) -> None:
    """Each click at a speed s comes at its time divided by s, and its first milliseconds are those of full speed."""
    segments = ShownSegments()
    full, slow = (segments.get(laid, PLAY, Fraction(share, 100)) for share in (100, per_cent))
    clicks = [clicks for shown in (full, slow) for clicks in [shown.schedule.clicks]]
    assert len(clicks[0]) == len(clicks[1])
    stems = [shown.mix().sources[0] for shown in (full, slow)]
    for before, after in islice(zip(*clicks, strict=True), 12):
        assert after.seconds == before.seconds * 100 / per_cent
        at = [seconds_to_sample_index(each.seconds, SAMPLES_PER_SECOND) for each in (before, after)]
        attacks = [stem.part(place, place + 960) for stem, place in zip(stems, at, strict=True)]
        np.testing.assert_allclose(attacks[0], attacks[1], atol=1e-6)


def test_a_recording_is_slowed_where_one_listens(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Never all of it, and its loudness is found without it."""
    bars = drifting_bars(5, 4 * 60 / 137, 0.7)
    write_take(tmp_path / "take.wav", perform(beats_between(bars, 4), float(bars[-1]) + 1))
    text = SHORT + "recording: take.wav\nsync: {1: 0.7}\n"
    edition = read_edition(text, tmp_path / "weir.yaml")
    assert edition.laid is not None
    made: list[int] = []

    def counted(sound: MarkedSound, start: int, end: int, length: int) -> Samples:
        made.append(length)
        return slow_part(sound, start, end, length)

    monkeypatch.setattr("renderer.audio.slowed.slow_part", counted)
    monkeypatch.delattr("renderer.audio.slowed.SlowedSound.__getitem__")
    shown = ShownSegments().get(edition.laid, PLAY, Fraction(1, 4))
    shown.open_recording()
    start = shown.sample_count // 2
    heard = shown.heard()[start : start + SAMPLES_PER_SECOND]
    assert np.abs(heard).max() > 0.001
    assert sum(made) < shown.sample_count / 3
    shown.prepare()
    assert shown.gain != SOFT_GAIN


def test_what_is_long_is_about_as_loud_as_if_it_were_mixed(
    laid: Laid, monkeypatch: pytest.MonkeyPatch
) -> None:
    mixed, other = (ShownSegments().get(laid, PLAY, Fraction(1)) for _ in range(2))
    mixed.prepare()
    monkeypatch.setattr("renderer.page.shown.MIXED_SECONDS", 0)
    other.prepare()
    assert other.gain == pytest.approx(mixed.gain, rel=0.3)
    assert other.heard().gain == other.gain


def test_the_server_sends_it_in_pieces(tmp_path: Path) -> None:
    path = tmp_path / "weir.yaml"
    path.write_text(
        SHORT.replace("bars: 3", "bars: 1")
        .replace("2.3: Bb", "1.3: Bb")
        .replace(", parts: {drum: {3: figure}}", "")
        .replace("    parts: {drum: {3: figure}}\n", ""),
        encoding="utf-8",
    )
    with page_client(path) as client:
        state = client.get("state").json()
        assert state["mistakes"] == []
        seconds = state["laid"]["segments"][2]["seconds"]
        start = round((seconds - 1) * SAMPLES_PER_SECOND)
        answer = client.get(f"sound?laid={state['laid']['number']}&segment=3&start={start}")
    assert answer.headers["content-type"] == "audio/wav"
    with wave.open(io.BytesIO(answer.content)) as file:
        assert file.getnframes() == pytest.approx(SAMPLES_PER_SECOND, abs=2)
