"""The page in a real browser: it plays in time, in loops, slower; a recording is tapped."""

import json
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest
from selenium.webdriver import ActionChains, Chrome, Keys
from selenium.webdriver.common.by import By

from renderer.lesson.lesson import open_lesson
from tests.browsers import CHROMIUM, DRIVER, Served, browser, served, until
from tests.page_hands import (
    LONGER,
    freshly_loaded,
    go_to,
    keys,
    page_of,
    place,
    script,
    seconds,
    write,
)
from tests.performances import beats_between, drifting_bars, perform, write_take

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason="no Chromium here"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]


@pytest.fixture(scope="module")
def spec(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("lesson") / "weir.yaml"


@pytest.fixture(scope="module")
def page(spec: Path) -> Iterator[tuple[Chrome, Served]]:
    with page_of(spec) as page:
        yield page


@pytest.fixture
def driver(page: tuple[Chrome, Served], spec: Path) -> Iterator[Chrome]:
    with freshly_loaded(page, spec) as driver:
        yield driver


def test_it_plays_in_time_with_its_sound(driver: Chrome) -> None:
    """The frame that is seen is that of the sound's own clock: half a frame from it, however busy the machine."""
    until(lambda: script(driver, "return barcross.player.line"), "a line")
    driver.find_element(By.ID, "play").click()
    until(
        lambda: script(
            driver, "return !document.getElementById('sound').paused && barcross.player.startedAfter"
        ),
        "sound",
    )
    rows = script(
        driver,
        """const rows = [], sound = document.getElementById('sound'), { player } = barcross, done = arguments[0];
        return new Promise((end) => {
          const tick = () => {
            const frame = Number(document.getElementById('canvas').dataset.shown.split(':')[2]);
            rows.push([performance.now() / 1000, player.base + sound.currentTime, frame / 30, player.missed]);
            if (rows.length < 150) requestAnimationFrame(tick); else end(rows);
          };
          requestAnimationFrame(tick);
        })""",
    )
    apart = sorted(frame - (heard + 1 / 60) for _, heard, frame, _ in rows)
    assert abs(apart[len(apart) // 2]) <= 0.5 / 30 + 1 / 60
    assert apart[len(apart) // 20] >= -0.1
    assert apart[-len(apart) // 20 - 1] <= 0.1
    real, sound = rows[-1][0] - rows[10][0], rows[-1][1] - rows[10][1]
    assert sound == pytest.approx(real, abs=0.15), "the sound has run on without a stall"
    keys(driver, Keys.SPACE)
    until(lambda: script(driver, "return document.getElementById('sound').paused"), "silence")
    before = seconds(driver)
    time.sleep(0.2)
    assert seconds(driver) == before


def test_a_loop_comes_round_and_speed_keeps_the_place(driver: Chrome) -> None:
    go_to(driver, 6)
    keys(driver, "l")
    loop = until(lambda: script(driver, "return barcross.player.loop"), "a loop")
    bars = script(
        driver,
        "return barcross.player.line.beats.filter((row) => row[3] === 1).map((row) => [row[2], row[4]])",
    )
    assert [number for number, start in bars if loop["from"] <= start + 1e-3 < loop["to"]] == [5, 6, 7, 8]
    go_to(driver, 8, 4)
    keys(driver, Keys.SPACE)
    until(lambda: script(driver, "return barcross.player.round") == 1, "the second time round")
    assert place(driver)[0] in (5, 6)
    keys(driver, Keys.SPACE)
    keys(driver, "l")
    until(lambda: script(driver, "return barcross.player.loop") is None, "no loop")
    go_to(driver, 6, 2)
    keys(driver, "-")
    until(lambda: script(driver, "return barcross.seen.speed") == 95, "a little slower")
    until(lambda: place(driver) == (6, 2), "the same bar and beat")


def test_a_loop_is_dragged_along_the_posts(driver: Chrome) -> None:
    slider = driver.find_element(By.ID, "slider")
    starting = "line.beats.find((row) => row[2] === arguments[0])[4]"
    across = f"const {{ line }} = barcross.player; return {starting} / line.seconds"
    left, right = (script(driver, across, bar) for bar in (3, 5))
    wide, high = slider.size["width"], slider.size["height"]
    start = round((left - 0.5) * wide) + 4, high // 2 - 12
    drag = ActionChains(driver).move_to_element_with_offset(slider, *start).click_and_hold()
    drag.move_by_offset(round((right - left) * wide) + 6, 0).release().perform()
    loop = until(lambda: script(driver, "return barcross.player.loop"), "a loop")
    starts = "return barcross.player.line.beats.filter((row) => row[3] === 1).map((row) => [row[2], row[4]])"
    inside = [bar for bar, at in script(driver, starts) if loop["from"] <= at + 1e-3 < loop["to"]]
    assert inside == [3, 4, 5]


def test_downbeats_are_tapped_taken_back_and_written(driver: Chrome, spec: Path) -> None:
    """Each tap is moved to the attack next to it: beats of this take are 0.438 s apart, so not every one is near."""
    bars = drifting_bars(8, 4 * 60 / 137, 0.7)
    write_take(spec.with_name("take.wav"), perform(beats_between(bars, 4), float(bars[-1]) + 1))
    write(spec, LONGER + "recording: take.wav\nsync: {1: 0}\n")
    until(lambda: script(driver, "return barcross.seen.facts.recording"), "the recording is known")
    keys(driver, "d")
    until(lambda: script(driver, "return barcross.taps.facts?.attacks.length"), "it has been listened to")
    keys(driver, "t")
    until(lambda: script(driver, "return document.getElementById('sound').currentTime > 0.5"), "it is heard")
    for number in range(1, 4):
        keys(driver, "t")
        until(partial(script, driver, f"return barcross.taps.points.length === {number}"), "a point")
        time.sleep(0.6)
    attacks = script(driver, "return barcross.taps.facts.attacks")
    for point in script(driver, "return barcross.taps.points"):
        if point["moved"] is not None:
            assert min(abs(point["seconds"] - attack) for attack in attacks) < 0.001
    keys(driver, Keys.BACKSPACE)
    until(lambda: script(driver, "return barcross.taps.points.length") == 2, "the last one is taken back")
    keys(driver, "w")
    until(lambda: "sync: {1: 0}" not in spec.read_text(encoding="utf-8"), "they are written")
    written = open_lesson(spec).spec.sync
    assert [point.position.bar for point in written] == [1, 2]
    assert written[0].seconds < written[1].seconds


def test_ctrl_c_ends_it_within_a_second_while_it_plays(spec: Path) -> None:
    spec.write_text(LONGER, encoding="utf-8")
    with served(str(spec)) as server, browser() as driver:
        driver.get(server.address)
        until(lambda: driver.execute_script("return document.body?.dataset.ready"), "the page is ready")
        driver.find_element(By.ID, "play").click()
        until(lambda: script(driver, "return barcross.player.startedAfter"), "it plays")
        assert server.interrupt() < 1.0
        assert server.process.returncode == 0
        until(lambda: driver.find_element(By.ID, "alert").is_displayed(), "the page says so")
        assert (
            driver.find_element(By.ID, "alert").text
            == "barcross preview has ended. Start it again in the terminal."
        )
        assert json.dumps(script(driver, "return barcross.text.value")) == json.dumps(LONGER)
