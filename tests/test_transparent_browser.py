"""A film without a ground in a real browser: over a coloured page, as if it had been drawn there, and with its sound.

Seen is a screenshot of the page, heard is what the browser's own decoder gives."""

import base64
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from selenium.webdriver import Chrome

from renderer.audio.coded import code_sound
from renderer.audio.opus import OPUS_CODER
from renderer.core.files import whole_file
from renderer.video.chunks import ChunkRenderer, unpack
from renderer.video.codings import VP9
from renderer.video.mp4 import count_samples, join_chunks
from tests.browsers import CHROMIUM, DRIVER, browser, set_window, until
from tests.test_opus import CLICKS, clicks
from tests.test_transparent import EDGE_DB, HEIGHT, RATE, WIDTH, decibels, drawn_over, film

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason="no Chromium here"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]
GROUND = (32, 96, 200)
PAGE = """<!doctype html><title>Film</title>
<style>html { background: rgb(32, 96, 200) } * { margin: 0 } video { display: block; width: 320px }</style>
<video muted preload=auto src="data:video/webm;base64,%s"></video>"""
SEEK = """const [seconds, done] = arguments, video = document.querySelector("video");
video.requestVideoFrameCallback((now, frame) => done(frame.mediaTime));
video.currentTime = seconds;"""
DECODE = """const done = arguments[0], source = document.querySelector("video").src;
fetch(source).then((got) => got.arrayBuffer())
  .then((bytes) => new OfflineAudioContext(2, 48000, 48000).decodeAudioData(bytes))
  .then((sound) => done([...Array(sound.numberOfChannels).keys()].map((n) => Array.from(sound.getChannelData(n)))))
  .catch((wrong) => done(String(wrong)));"""

PLAY = """const video = document.querySelector("video");
video.currentTime = 0; video.playbackRate = 4; video.play();"""


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chrome]:
    """The film's first two chunks, with clicks, on a coloured page."""
    folder: Path = tmp_path_factory.mktemp("film")
    renderer = ChunkRenderer(film(VP9))
    chunks = [unpack(renderer.make(number, ()).content or b"") for number in range(2)]
    count = film(VP9).stretches()[1].stop
    samples = count_samples(count, RATE)
    coded = code_sound(OPUS_CODER, clicks(samples), samples)
    with whole_file(folder / "film.webm") as file:
        join_chunks(file, chunks, WIDTH, HEIGHT, RATE, count, coded, coding=VP9)
    content = base64.b64encode((folder / "film.webm").read_bytes()).decode()
    (folder / "page.html").write_text(PAGE % content, encoding="utf-8")
    with browser() as driver:
        set_window(driver, WIDTH, HEIGHT)
        driver.get((folder / "page.html").as_uri())
        state = "return document.querySelector('video').readyState"
        until(lambda: driver.execute_script(state) == 4, "the film is loaded")
        yield driver


def test_the_ground_shows_through_and_what_is_drawn_covers_it(page: Chrome) -> None:
    under = np.full((HEIGHT, WIDTH, 3), GROUND, float)
    last = film(VP9).stretches()[1].stop - 1
    for index in (last, 7):
        shown = page.execute_async_script(SEEK, (index + 0.5) / float(RATE))
        assert shown == pytest.approx(index / float(RATE), abs=0.001)
        seen = np.asarray(Image.open(BytesIO(page.get_screenshot_as_png())).convert("RGB"), float)
        drawn = drawn_over(index, under)
        bare = (drawn == under).all(axis=2)
        assert 0.2 < bare.mean() < 0.95
        assert seen.shape == drawn.shape
        assert decibels(seen, drawn, ~bare) > EDGE_DB[VP9]
        assert np.median(np.abs(seen - under)[bare]) == 0
        assert np.abs(seen - under)[bare].max() < 10, "beside an edge, where VP9 leaves something of its own"


def test_the_browser_hears_each_click_where_it_is(page: Chrome) -> None:
    """It leaves out a delay in whole milliseconds, 7 for 6.5: all comes 24 samples early, and the first 24 are cut."""
    heard = page.execute_async_script(DECODE)
    assert not isinstance(heard, str), heard
    left_right = np.array(heard)
    count = count_samples(film(VP9).stretches()[1].stop, RATE)
    assert left_right.shape[0] == 2
    assert count - 24 <= left_right.shape[1] <= count
    for at, channel in CLICKS[1:]:
        loud = np.flatnonzero(np.abs(left_right[channel][at - 300 : at + 300]) > 0.25)
        assert -24 <= loud[0] - 300 <= 0
        assert np.abs(left_right[1 - channel][at - 300 : at + 300]).max() < 1e-3


def test_it_plays_to_its_end_with_its_sound(page: Chrome) -> None:
    page.execute_script(PLAY)
    until(lambda: page.execute_script("return document.querySelector('video').ended"), "it has played")
    seconds, sound = page.execute_script(
        "const video = document.querySelector('video'); return [video.duration, video.webkitAudioDecodedByteCount]"
    )
    assert seconds == pytest.approx(film(VP9).stretches()[1].stop / float(RATE), abs=0.01)
    assert sound > 0
