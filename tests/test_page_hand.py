"""The page in a real browser, by hands that are quick, go astray, take something back, or have no mouse."""

import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest
from selenium.webdriver import ActionChains, Chrome, Keys
from selenium.webdriver.common.by import By
from wcag_contrast_ratio import rgb

from renderer.page.look import page_colours
from renderer.spec.model import ThemeSpec
from tests.browsers import CHROMIUM, DRIVER, Served, browser, prefer, served, set_window, until
from tests.page_hands import (
    LONGER,
    SLOWLY,
    bars_in,
    chord,
    cursor_after,
    freshly_loaded,
    go_to,
    hover,
    keys,
    page_of,
    place,
    press,
    script,
    seconds,
    text,
    told,
    undo,
    write,
)

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


@pytest.mark.parametrize("width", [1440, 420])
def test_a_way_to_land_is_written_at_once_and_undo_takes_it_back(
    driver: Chrome, spec: Path, width: int
) -> None:
    set_window(driver, width, 900)
    try:
        press(driver, "#tab-findings")
        first = "return document.querySelector('.ways button small')?.textContent"
        plays = until(lambda: driver.execute_script(first), "a way to land")
        press(driver, ".ways button")
        until(lambda: plays in spec.read_text(encoding="utf-8"), "it is in the file")
        until(
            lambda: (
                driver.execute_script("return document.getElementById('saved').textContent")
                == "written; undo takes it back"
            ),
            "the page says so",
        )
        undo(driver)
        until(lambda: spec.read_text(encoding="utf-8") == LONGER, "it is taken back in the file too")
        until(lambda: told(driver, "saved") == "taken back, in the file too", "the page says so")
        assert text(driver) == LONGER
        chord(driver, Keys.CONTROL, "Z")
        until(lambda: plays in spec.read_text(encoding="utf-8"), "it is in the file again")
        until(lambda: told(driver, "saved") == "written; undo takes it back", "the page says so again")
    finally:
        set_window(driver, 1440, 900)


def test_what_is_typed_is_not_written_when_a_way_to_land_is_taken_back(driver: Chrome, spec: Path) -> None:
    """Only what a button wrote at once goes out of the file at once: a text that holds more waits for Ctrl S."""
    press(driver, "#tab-findings")
    plays = until(
        lambda: script(driver, "return document.querySelector('.ways small')?.textContent"), "a way"
    )
    cursor_after(driver, "tempo: 137")
    keys(driver, " ")
    until(lambda: told(driver, "saved") == "not saved yet", "something is not saved")
    press(driver, ".ways button")
    until(lambda: plays in text(driver), "it is in the text")
    undo(driver)
    until(lambda: plays not in text(driver), "it is taken back")
    until(lambda: script(driver, "return barcross.seen.edition.text") == text(driver), "it is read")
    assert told(driver, "saved") == "not saved yet"
    assert spec.read_text(encoding="utf-8") == LONGER


def test_what_is_written_is_seen_though_another_way_comes_under_the_pointer(
    driver: Chrome, spec: Path
) -> None:
    both_cut = LONGER.replace("plays: on", "plays: weir")
    write(spec, both_cut)
    until(lambda: text(driver) == both_cut, "the page follows")
    press(driver, "#tab-findings")
    ways = "return [...document.querySelectorAll('.ways')].map((each) => each.childElementCount)"
    until(lambda: len(script(driver, ways)) == 2, "both sections are cut, and have ways to land")
    foreseen = "return document.body.classList.contains('foreseen')"
    drawn = "return document.getElementById('canvas').dataset.shown.startsWith(`${barcross.seen.edition.laid.number}:`)"
    until(lambda: script(driver, drawn), "its picture is there")
    hover(driver, ".ways button")
    until(lambda: script(driver, foreseen), "what the pointer goes to is shown")
    ActionChains(driver).click().perform()
    until(lambda: told(driver, "saved") == "written; undo takes it back", "it is written")
    until(lambda: len(script(driver, ways)) == 1, "the other section's ways have moved up")
    time.sleep(0.5)
    assert not script(driver, foreseen), "the pointer has not moved"
    heading = "return document.activeElement.textContent"
    assert script(driver, heading).startswith("The last repetition of "), "the focus is at what is cut next"
    keys(driver, Keys.TAB)
    until(lambda: script(driver, foreseen), "the next way is a step away, and shown")
    keys(driver, Keys.ENTER)
    until(lambda: script(driver, ways) == [], "all is written")
    assert script(driver, heading) == "How the sections add up"
    assert not script(driver, foreseen)


def test_a_way_to_land_is_shown_before_it_is_written(driver: Chrome, spec: Path) -> None:
    picture = "return document.getElementById('canvas').toDataURL()"
    go_to(driver, 2)
    press(driver, "#tab-findings")
    first = "return document.querySelector('.ways button small')?.textContent"
    plays = until(lambda: script(driver, first), "a way to land")
    before = script(driver, picture)
    script(driver, "document.querySelector('.ways button').focus()")
    until(lambda: script(driver, "return document.body.classList.contains('foreseen')"), "it is shown")
    assert script(driver, picture) != before
    to_come = "return [...document.querySelectorAll('#shown .tocome')].map((each) => each.textContent.trim())"
    assert plays in script(driver, to_come)
    assert place(driver) == (14, 4), "bar and beat are those of the picture"
    assert text(driver) == spec.read_text(encoding="utf-8") == LONGER, "nothing is written"
    keys(driver, Keys.TAB)
    script(driver, "document.activeElement.blur()")
    until(lambda: script(driver, picture) == before, "the picture is back")
    assert script(driver, to_come) == []
    assert place(driver) == (2, 1)


def test_a_number_of_bars_that_is_taken_back_is_not_saved(driver: Chrome, spec: Path) -> None:
    driver.execute_script(SLOWLY, "bars")
    press(driver, "#names [data-section='1']")
    hand = ActionChains(driver).send_keys(Keys.ARROW_UP, Keys.ESCAPE)
    hand.key_down(Keys.CONTROL).send_keys("s").key_up(Keys.CONTROL).perform()
    until(lambda: driver.execute_script("return document.querySelector('.stepper')") is None, "it has ended")
    until(lambda: driver.execute_script("return barcross.seen.facts.sections[1].bars") == 6, "as it was")
    until(lambda: told(driver, "saved") == "saved", "nothing to save")
    assert text(driver) == spec.read_text(encoding="utf-8") == LONGER
    assert driver.execute_script("return barcross.seen.both") is None


def test_what_is_typed_while_it_is_saved_is_no_change_elsewhere(driver: Chrome, spec: Path) -> None:
    driver.execute_script(SLOWLY, "save")
    cursor_after(driver, "title: ")
    hand = ActionChains(driver).send_keys("A ").key_down(Keys.CONTROL).send_keys("s").key_up(Keys.CONTROL)
    hand.pause(0.1).send_keys("wide ").perform()
    until(lambda: "title: A Weir" in spec.read_text(encoding="utf-8"), "saved")
    until(lambda: driver.execute_script("return barcross.seen.facts.title") == "A wide Weir", "shown")
    until(lambda: told(driver, "saved") == "not saved yet", "more has been typed")
    assert driver.execute_script("return barcross.seen.both") is None


def test_the_line_that_is_typed_on_stays_in_sight(driver: Chrome, spec: Path) -> None:
    """It is the last one that is seen when the mistakes rise over the text."""
    high = "return document.getElementById('sheet').clientHeight"
    before = driver.execute_script(high)
    line = "figures: {weir"
    above = before // 25 - 1 - LONGER[: LONGER.index(line)].count("\n")
    spec.write_text("# above\n" * above + LONGER, encoding="utf-8")
    until(lambda: "# above" in text(driver), "more lines")
    cursor_after(driver, line)
    keys(driver, "x")
    until(lambda: driver.execute_script(high) < before - 25, "the mistakes have risen")
    seen = """
    const { top, bottom } = barcross.text.cursor(), sheet = document.getElementById('sheet').getBoundingClientRect();
    return sheet.top <= top && bottom <= sheet.bottom
    """
    until(lambda: driver.execute_script(seen), "the cursor is seen")


@pytest.mark.parametrize(
    ("key", "typed", "answer"),
    [
        ("g", "99.9", "99.9: there is no bar 99. The last bar is 14."),
        ("g", "9.7", "9.7: bar 9 has beats 1 to 4."),
        ("g", "abc", "abc: this is not a bar. Write a bar (9), or a bar and beat (9.3)."),
        ("L", "12-9", "12-9: a range runs forwards. Write 9-12."),
        ("L", "-1 to -4", "-1 to -4: a range runs forwards. Write -4 to -1."),
        ("L", "-15", "-15: there is no bar -15. The last bar is 14."),
        ("L", "9-40", "9-40: there is no bar 40. The last bar is 14."),
        ("L", "abc", "abc: these are not bars. Write 9-12, or 9."),
    ],
)
def test_a_place_that_is_not_there_is_told(driver: Chrome, key: str, typed: str, answer: str) -> None:
    """Under the field, which stays; Esc leaves it, and one is where one was."""
    script(driver, "document.getElementById('slider').focus()")
    before = seconds(driver)
    keys(driver, key)
    keys(driver, typed, Keys.ENTER)
    until(lambda: told(driver, "asked-wrong") == answer, answer)
    field = driver.find_element(By.ID, "asked")
    assert field.accessible_name == ("Go to bar" if key == "g" else "Loop bars")
    assert field.get_attribute("aria-invalid") == "true"
    keys(driver, Keys.ESCAPE)
    until(lambda: script(driver, "return document.activeElement.id") == "slider", "the focus is back")
    assert seconds(driver) == before
    assert script(driver, "return barcross.player.loop") is None


def test_places_that_are_there_are_gone_to(driver: Chrome) -> None:
    for typed, there in (("9.3", (9, 3)), ("-1", (14, 1)), ("2", (2, 1))):
        keys(driver, "g")
        keys(driver, typed, Keys.ENTER)
        until(partial(lambda there: place(driver) == there, there), typed)
    keys(driver, "L")
    keys(driver, "9 to 40", Keys.ENTER)
    until(lambda: "there is no bar 40" in told(driver, "asked-wrong"), "why not")
    keys(driver, "9 to 12", Keys.ENTER)
    loop = until(lambda: script(driver, "return barcross.player.loop"), "a loop")
    assert bars_in(driver, loop) == [9, 10, 11, 12]
    keys(driver, "L")
    keys(driver, "-4 to -1", Keys.ENTER)
    last = [11, 12, 13, 14]
    until(lambda: bars_in(driver, script(driver, "return barcross.player.loop")) == last, "the last four")


def test_a_number_that_is_being_stepped_is_kept_when_a_button_writes(driver: Chrome, spec: Path) -> None:
    press(driver, "#tab-findings")
    first = "return document.querySelector('.ways button small')?.textContent"
    until(lambda: script(driver, first), "a way to land")
    script(driver, SLOWLY, "bars")
    press(driver, "#names [data-section='1']")
    keys(driver, Keys.ARROW_UP)
    press(driver, ".ways button")
    until(lambda: script(driver, "return barcross.seen.facts.sections[1].bars") == 7, "it is stepped")
    told_so = "The text has changed meanwhile. Press it again."
    until(
        lambda: told(driver, "alert") == told_so or told(driver, "status").startswith("written"), "an answer"
    )
    assert "bars: 7" in text(driver)
    assert spec.read_text(encoding="utf-8") == LONGER, "what is stepped is not saved by itself"


def test_what_has_just_been_typed_is_kept_when_a_button_writes(driver: Chrome, spec: Path) -> None:
    wrong = LONGER.replace("plays: weir", "plays: wier")
    spec.write_text(wrong, encoding="utf-8")
    until(lambda: driver.find_elements(By.CSS_SELECTOR, ".mistake .choices button"), "a mistake")
    cursor_after(driver, "title: ")
    script(
        driver,
        "document.execCommand('insertText', false, 'A ');document.querySelector('.mistake .choices button').click()",
    )
    until(lambda: text(driver) == LONGER.replace("title: ", "title: A "), "both are there")
    until(lambda: told(driver, "saved") == "not saved yet", "and neither is saved yet")
    assert spec.read_text(encoding="utf-8") == wrong


def test_a_mistake_is_seen_from_every_tab_and_stops_the_stepper(driver: Chrome, spec: Path) -> None:
    press(driver, "#tab-render")
    wrong = LONGER.replace("plays: weir", "plays: wier")
    spec.write_text(wrong, encoding="utf-8")
    seen = "return Boolean(document.querySelector('.mistake')?.offsetParent)"
    until(lambda: driver.execute_script(seen), "a mistake is seen")
    line = wrong.split("\n").index("    plays: wier") + 1
    press(driver, "#names [data-section='1']")
    assert told(driver, "alert") == f"Mend line {line} first."
    assert driver.find_elements(By.CSS_SELECTOR, ".stepper") == []
    set_window(driver, 420, 900)
    try:
        press(driver, "#tab-text")
        assert told(driver, "wrong").startswith(f"Line {line}: there is no figure wier.")
    finally:
        set_window(driver, 1440, 900)
    press(driver, "#tab-render")
    spec.write_text(LONGER, encoding="utf-8")
    until(lambda: driver.execute_script("return barcross.seen.edition.mistakes.length") == 0, "mended")
    assert driver.find_element(By.ID, "panel-render").is_displayed()


def test_in_a_narrow_window_a_wrong_field_says_why_under_the_sentence(tmp_path: Path) -> None:
    with served(folder=tmp_path) as server, browser() as driver:
        set_window(driver, 420, 900)
        driver.get(server.address)
        until(lambda: driver.execute_script("return document.body?.dataset.ready"), "the page is ready")
        keys(driver, "5 + x")
        wrong = "Groups: got 5 + x; groups are numbers, or hits drawn with x and points."
        mend = "Write 5 + 3 + 3, or X....x..x.."
        until(lambda: told(driver, "begin-wrong") == f"{wrong} {mend}", "why")
        box = driver.find_element(By.ID, "begin-wrong").rect
        assert box["y"] + box["height"] < 700
        assert [*tmp_path.iterdir()] == []


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
