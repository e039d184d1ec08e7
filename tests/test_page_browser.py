"""The page in a real browser: it shows, plays in time, follows the file, writes, and can be used without a mouse."""

import json
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver import ActionChains, Chrome, Keys
from selenium.webdriver.common.by import By
from wcag_contrast_ratio import rgb

from renderer.lesson.lesson import open_lesson
from renderer.page.look import page_colours
from renderer.spec.model import ThemeSpec
from tests.browsers import CHROMIUM, DRIVER, Served, browser, prefer, served, set_window, until
from tests.lessons import SHORT
from tests.performances import beats_between, drifting_bars, perform, write_take

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason="no Chromium here"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]
LONGER = SHORT.replace("bars: 3", "bars: 8").replace("bars: 2", "bars: 6")


@pytest.fixture(scope="module")
def spec(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("lesson") / "weir.yaml"


@pytest.fixture(scope="module")
def page(spec: Path) -> Iterator[tuple[Chrome, Served]]:
    spec.write_text(LONGER, encoding="utf-8")
    with served(str(spec)) as server, browser() as driver:
        yield driver, server


@pytest.fixture
def driver(page: tuple[Chrome, Served], spec: Path) -> Iterator[Chrome]:
    """The page, freshly loaded; at the end nothing has gone wrong in it."""
    driver, server = page
    spec.write_text(LONGER, encoding="utf-8")
    driver.get("about:blank")
    driver.get(server.address)
    until(lambda: driver.execute_script("return document.body?.dataset.ready"), "the page is ready")
    yield driver
    driver.execute_script("barcross.player.stop(); barcross.text.set(barcross.seen.file.text)")
    log = driver.get_log("browser")  # type: ignore[no-untyped-call]
    wrong = [entry["message"] for entry in log if entry["level"] == "SEVERE"]
    assert [message for message in wrong if "status of 4" not in message] == []


def script(driver: Chrome, text: str, *arguments: Any) -> Any:
    return driver.execute_script(text, *arguments)


def seconds(driver: Chrome) -> float:
    return float(script(driver, "return barcross.player.seconds"))


def place(driver: Chrome) -> tuple[int, int]:
    """Bar and beat, as the page says."""
    told = script(
        driver, "return [...document.querySelectorAll('#place-words b')].map((each) => each.textContent)"
    )
    return int(told[0]), int(told[-1])


def keys(driver: Chrome, *pressed: str) -> None:
    ActionChains(driver).send_keys(*pressed).perform()


def chord(driver: Chrome, held: str, key: str) -> None:
    ActionChains(driver).key_down(held).send_keys(key).key_up(held).perform()


def go_to(driver: Chrome, bar: int, beat: int = 1) -> None:
    find = "barcross.player.line.beats.find((row) => row[2] === arguments[0] && row[3] === arguments[1])[4]"
    script(driver, f"barcross.player.go({find})", bar, beat)
    frame = "String(barcross.player.frameOf(barcross.player.seconds))"
    drawn = f"return document.getElementById('canvas').dataset.shown.split(':')[2] === {frame}"
    until(lambda: place(driver) == (bar, beat) and script(driver, drawn), f"bar {bar}, beat {beat} is shown")


def write(spec: Path, text: str) -> None:
    """Save as many editors do: beside it, then in its place."""
    beside = spec.with_suffix(".part")
    beside.write_text(text, encoding="utf-8")
    beside.replace(spec)


def shown(driver: Chrome) -> str:
    return str(script(driver, "return document.getElementById('canvas').dataset.shown"))


def test_it_opens_with_the_picture_the_line_and_the_text(driver: Chrome, spec: Path) -> None:
    lesson = open_lesson(spec)
    assert driver.title == "Weir"
    names = [each.text for each in driver.find_elements(By.CSS_SELECTOR, "#strip button span")]
    assert names == [planned.show for planned in lesson.segments()]
    assert script(driver, "return document.getElementById('words').value") == LONGER
    rows = driver.find_elements(By.CSS_SELECTOR, "#panel-repetitions button.row")
    assert len(rows) == len(lesson.timeline.repetitions)
    pixels = script(
        driver,
        "const c = document.getElementById('canvas');"
        "const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;"
        "const seen = new Set(); for (let i = 0; i < d.length; i += 4) seen.add(d[i] << 16 | d[i + 1] << 8 | d[i + 2]);"
        "return seen.size",
    )
    assert pixels > 50, "a picture has more colours than its ground"


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


def test_keys_go_by_beats_bars_frames_and_segments(driver: Chrome) -> None:
    go_to(driver, 2, 3)
    keys(driver, Keys.ARROW_RIGHT)
    until(lambda: place(driver) == (2, 4), "a beat on")
    keys(driver, Keys.ARROW_RIGHT)
    until(lambda: place(driver) == (3, 1), "a beat on")
    chord(driver, Keys.SHIFT, Keys.ARROW_LEFT)
    until(lambda: place(driver) == (2, 1), "a bar back")
    before = seconds(driver)
    chord(driver, Keys.CONTROL, Keys.ARROW_RIGHT)
    until(lambda: seconds(driver) > before, "a frame on")
    assert 0 < seconds(driver) - before <= 1.5 / 30
    keys(driver, Keys.END)
    until(lambda: seconds(driver) == script(driver, "return barcross.player.line.seconds"), "the end")
    keys(driver, Keys.HOME)
    until(lambda: seconds(driver) == 0, "the beginning")
    keys(driver, "[")
    until(lambda: script(driver, "return barcross.seen.segment") == 2, "the segment before")
    keys(driver, "]")
    until(lambda: script(driver, "return barcross.seen.segment") == 3, "the segment after")


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


def test_it_follows_twenty_saves_and_keeps_the_place(driver: Chrome, spec: Path) -> None:
    """Bars before the place come and go; one stays in bar 3 of the second section, on its second beat."""

    def follows(tempo: int, bars: int) -> bool:
        return bool(
            script(driver, "return barcross.seen.facts.tempo") == str(tempo)
            and place(driver) == (bars + 3, 2)
        )

    go_to(driver, 8 + 3, 2)
    for number in range(20):
        bars = 8 + number % 4
        tempo = 137 + number
        write(spec, LONGER.replace("bars: 8", f"bars: {bars}").replace("tempo: 137", f"tempo: {tempo}"))
        until(partial(follows, tempo, bars), f"save {number}")
    assert shown(driver).split(":")[0] == str(script(driver, "return barcross.seen.facts.number"))
    assert script(driver, "return document.getElementById('words').value") == spec.read_text(encoding="utf-8")


def test_a_mistake_dims_the_picture_and_a_button_mends_it(driver: Chrome, spec: Path) -> None:
    go_to(driver, 4)
    before = shown(driver)
    write(spec, LONGER.replace("plays: weir", "plays: wier"))
    row = until(lambda: driver.find_elements(By.CSS_SELECTOR, ".mistake"), "a mistake")[0]
    line = LONGER.split("\n").index("    plays: weir") + 1
    assert row.find_element(By.CSS_SELECTOR, ".at").text == str(line)
    assert "there is no figure wier." in row.text
    assert shown(driver) == before, "the last good picture stays"
    assert "dimmed" in script(driver, "return document.body.className")
    assert driver.find_element(By.ID, "before").is_displayed()
    assert driver.find_element(By.CSS_SELECTOR, "#shown .wrong mark").text == "wier"
    driver.find_element(By.CSS_SELECTOR, ".mistake .choices button").click()
    until(lambda: spec.read_text(encoding="utf-8") == LONGER, "the word is written")
    until(lambda: not driver.find_element(By.ID, "before").is_displayed(), "the picture is back")
    assert place(driver) == (4, 1)


def test_a_text_typed_is_shown_saved_and_taken_back(driver: Chrome, spec: Path) -> None:
    words = driver.find_element(By.ID, "words")
    script(
        driver,
        "const [area] = arguments, at = area.value.indexOf('137'); area.focus(); area.setSelectionRange(at, at + 3)",
        words,
    )
    keys(driver, "90")
    until(lambda: script(driver, "return barcross.seen.facts.tempo") == "90", "the draft is shown")
    assert driver.find_element(By.ID, "saved").text == "not saved yet"
    assert spec.read_text(encoding="utf-8") == LONGER
    chord(driver, Keys.CONTROL, "s")
    until(lambda: "tempo: 90" in spec.read_text(encoding="utf-8"), "saved")
    until(lambda: driver.find_element(By.ID, "saved").text == "saved", "the page says so")
    chord(driver, Keys.CONTROL, "z")
    until(
        lambda: script(driver, "return arguments[0].value", words) != spec.read_text(encoding="utf-8"), "undo"
    )
    for _ in range(3):
        if script(driver, "return arguments[0].value", words) == LONGER:
            break
        chord(driver, Keys.CONTROL, "z")
    assert script(driver, "return arguments[0].value", words) == LONGER


def test_what_was_changed_elsewhere_is_not_overwritten(driver: Chrome, spec: Path) -> None:
    script(driver, "document.getElementById('words').focus()")
    script(driver, "document.getElementById('words').setSelectionRange(0, 0)")
    keys(driver, "# mine")
    theirs = LONGER.replace("tempo: 137", "tempo: 100")
    write(spec, theirs)
    until(lambda: driver.find_element(By.ID, "saved").text == "changed elsewhere", "it is told")
    assert (
        driver.find_element(By.ID, "alert").text
        == "weir.yaml was changed elsewhere. Nothing is overwritten. Choose below what to keep, then save."
    )
    chord(driver, Keys.CONTROL, "s")
    time.sleep(0.2)
    assert spec.read_text(encoding="utf-8") == theirs
    told = until(lambda: driver.find_elements(By.CSS_SELECTOR, "#panel-both legend"), "both texts")
    assert [each.text.split(", ")[1] for each in told] == ["only you changed it", "only the file changed it"]
    driver.find_element(By.XPATH, "//button[text()='Use these lines']").click()
    until(lambda: driver.find_element(By.ID, "saved").text == "not saved yet", "one text")
    chord(driver, Keys.CONTROL, "s")
    until(lambda: spec.read_text(encoding="utf-8") == "# mine" + theirs, "both changes are saved")


def test_a_bar_count_is_stepped_in_the_picture(driver: Chrome, spec: Path) -> None:
    driver.find_element(By.CSS_SELECTOR, "#names [data-section='1']").click()
    keys(driver, Keys.ARROW_UP, Keys.ARROW_UP)
    until(lambda: script(driver, "return barcross.seen.facts.sections[1].bars") == 8, "all follows")
    changed = LONGER.replace("bars: 6", "bars: 8")
    assert script(driver, "return document.getElementById('words').value") == changed
    assert spec.read_text(encoding="utf-8") == LONGER
    keys(driver, Keys.ESCAPE)
    until(lambda: script(driver, "return document.getElementById('words').value") == LONGER, "back")
    until(lambda: script(driver, "return barcross.seen.facts.sections[1].bars") == 6, "all follows back")


def test_in_the_forms_picture_a_bar_count_can_be_pressed(driver: Chrome, spec: Path) -> None:
    write(spec, LONGER.replace("[figure, spread, play]", "[form, play]"))
    until(lambda: script(driver, "return barcross.seen.facts.segments[0].show") == "form", "a form")
    keys(driver, "1")
    counts = until(lambda: driver.find_elements(By.CSS_SELECTOR, ".count"), "counts in the picture")
    assert [each.accessible_name for each in counts] == [
        "Upper has 8 bars: change it",
        "Lower has 6 bars: change it",
    ]
    counts[0].click()
    keys(driver, Keys.ARROW_DOWN)
    until(lambda: script(driver, "return barcross.seen.facts.sections[0].bars") == 7, "all follows")
    told = until(lambda: driver.find_elements(By.CSS_SELECTOR, "#panel-findings .facts b"), "before and now")
    assert "112" in [each.text for each in told], "7 bars of 16 sixteenths"
    keys(driver, Keys.ESCAPE)
    until(lambda: script(driver, "return barcross.seen.facts.sections[0].bars") == 8, "all follows back")


def test_the_text_is_coloured_by_what_it_means(driver: Chrome, spec: Path) -> None:
    kinds = script(
        driver,
        "const kinds = {}; for (const each of document.querySelectorAll('#shown span'))"
        " (kinds[each.className] ??= []).push(each.textContent); return kinds",
    )
    assert {"Dm", "Bb", "F#"} <= set(kinds["harmony"])
    assert {"weir", "on"} <= set(kinds["figure"])
    assert {"137", "4/4", "1/16", "8", "6"} <= set(kinds["number"])
    assert {"title", "tempo", "form"} <= set(kinds["key"])
    lines = script(
        driver, "return [...document.querySelectorAll('#shown > div')].map((each) => each.textContent)"
    )
    assert [line.strip("\u200b") for line in lines] == LONGER.split("\n")


def test_it_can_be_used_without_a_mouse(driver: Chrome) -> None:
    """Tab goes in the order in which things are seen, nothing is a trap, and what has focus shows it."""
    script(driver, "document.activeElement.blur()")
    reached = []
    for _ in range(40):
        keys(driver, Keys.TAB)
        found = script(
            driver,
            "const e = document.activeElement, { section, segment } = e.dataset, style = getComputedStyle(e);"
            "return [e.id || section || segment || e.className || e.tagName, style.outlineStyle, style.outlineWidth]",
        )
        reached.append(found[0])
        if found[0] == "BODY":
            continue  # the browser's own buttons, between the last and the first
        assert found[1] != "none", found
        assert found[1] == "auto" or float(found[2].removesuffix("px")) >= 2, found
    order = [
        reached.index(name)
        for name in ("slider", "play", "slower", "faster", "loop", "words", "tab-repetitions")
    ]
    assert order == sorted(order)


def test_every_control_has_a_name_for_a_screen_reader(driver: Chrome) -> None:
    """As the browser's own accessibility tree has them (WCAG 2.2, 4.1.2)."""
    nodes = driver.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
    roles: dict[str, list[str]] = {}
    for node in nodes:
        if not node.get("ignored"):
            roles.setdefault(node["role"]["value"], []).append(node.get("name", {}).get("value", ""))
    for role in ("button", "tab", "slider", "textbox", "main", "region", "navigation", "image", "link"):
        assert roles.get(role), role
        assert all(name.strip() for name in roles[role]), (role, roles[role])
    assert "The spec's text" in roles["textbox"]
    go_to(driver, 3, 2)
    value = script(driver, "return document.getElementById('slider').getAttribute('aria-valuetext')")
    assert value.startswith("bar 3, beat 2, repetition ")


def test_nothing_moves_that_need_not_when_less_motion_is_preferred(driver: Chrome) -> None:
    seconds = "parseFloat(getComputedStyle(e).transitionDuration)"
    moving = f"return [...document.querySelectorAll('*')].filter((e) => {seconds} > 0).length"
    assert script(driver, moving) > 0
    prefer(driver, "prefers-reduced-motion", "reduce")
    assert script(driver, moving) == 0
    prefer(driver, "prefers-reduced-motion", "")


@pytest.mark.parametrize("width", [1440, 1000, 420])
def test_at_every_width_all_is_there_and_nothing_lies_beside_the_window(driver: Chrome, width: int) -> None:
    set_window(driver, width, 900)
    try:
        time.sleep(0.3)
        assert script(driver, "return document.documentElement.scrollWidth") <= width
        for name in ("canvas", "posts", "play", "tabs"):
            box = script(driver, "return document.getElementById(arguments[0]).getBoundingClientRect()", name)
            assert box["left"] >= 0, name
            assert box["right"] <= width + 0.5, name
            assert box["width"] > 40, name
        small = script(
            driver,
            "return [...document.querySelectorAll('button')].filter((e) => e.offsetParent)"
            ".filter((e) => e.getBoundingClientRect().height < 24).map((e) => e.outerHTML)",
        )
        assert small == [], "a target has at least 24 pixels (WCAG 2.2, 2.5.8)"
        tabs = [each for each in driver.find_elements(By.CSS_SELECTOR, "#tabs button") if each.is_displayed()]
        assert all(each.rect["x"] + each.rect["width"] <= width for each in tabs)
        if width == 420:
            script(driver, "document.getElementById('tab-more').click()")
            driver.find_element(By.XPATH, "//div[@id='panel-more']//button[text()='Render']").click()
            assert driver.find_element(By.ID, "panel-render").is_displayed()
    finally:
        set_window(driver, 1440, 900)


def test_words_are_read_on_both_themes_grounds() -> None:
    """WCAG 2.2, 1.4.3: text 4.5 to 1, by the library wcag-contrast-ratio."""
    themes = page_colours(ThemeSpec())
    for theme in ("dark", "light"):
        colours = {
            name: tuple(int(text[i : i + 2], 16) / 255 for i in (1, 3, 5))
            for name, text in themes[theme].items()
        }
        for name in ("ink", "mute", "comment", "figure_text", "meter_text", "harmony"):
            for ground in ("ground", "sky_one"):
                assert rgb(colours[name], colours[ground]) >= 4.5, (theme, name, ground)
        for name in ("line", "meter_line"):
            assert rgb(colours[name], colours["ground"]) >= 3, (theme, name)


def test_a_text_from_a_spec_is_shown_as_text(driver: Chrome, spec: Path) -> None:
    bad = '"<img src=x><b>Upper</b>"'
    write(spec, LONGER.replace("section: Upper", f"section: {bad}"))
    until(lambda: "<b>Upper</b>" in driver.find_element(By.ID, "names").text, "the name is shown")
    assert (
        script(driver, "return document.querySelectorAll('#names img, #shown img, #panels img').length") == 0
    )
    assert driver.title == "Weir"


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
