"""The page in a real browser, used by hands that are quick, go astray, or want to take something back."""

from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest
from selenium.webdriver import ActionChains, Chrome, Keys
from selenium.webdriver.common.by import By

from tests.browsers import CHROMIUM, DRIVER, browser, served, set_window, until
from tests.lessons import SHORT

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason="no Chromium here"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]
LONGER = SHORT.replace("bars: 3", "bars: 8").replace("bars: 2", "bars: 6")
SLOWLY = """
const quick = window.fetch;
window.fetch = async (name, ...rest) => {
  const answer = await quick(name, ...rest);
  if (String(name).startsWith(arguments[0])) await new Promise((done) => setTimeout(done, 400));
  return answer;
};
"""
"""Answers of one kind come 0.4 s late."""


@pytest.fixture(scope="module")
def spec(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("lesson") / "weir.yaml"


@pytest.fixture(scope="module")
def page(spec: Path) -> Iterator[tuple[Chrome, str]]:
    spec.write_text(LONGER, encoding="utf-8")
    with served(str(spec)) as server, browser() as driver:
        yield driver, server.address


@pytest.fixture
def driver(page: tuple[Chrome, str], spec: Path) -> Iterator[Chrome]:
    """The page, freshly loaded."""
    driver, address = page
    spec.write_text(LONGER, encoding="utf-8")
    driver.get("about:blank")
    driver.get(address)
    ready = "return document.body?.dataset.ready && barcross.text.value === arguments[0]"
    until(lambda: driver.execute_script(ready, LONGER), "the page is ready")
    yield driver
    driver.execute_script("barcross.text.set(barcross.seen.file.text)")


def keys(driver: Chrome, *pressed: str) -> None:
    ActionChains(driver).send_keys(*pressed).perform()


def press(driver: Chrome, what: str) -> None:
    """Press something that may be drawn anew at any moment."""
    driver.execute_script("document.querySelector(arguments[0]).click()", what)


def told(driver: Chrome, name: str) -> str:
    return str(driver.find_element(By.ID, name).text)


def text(driver: Chrome) -> str:
    return str(driver.execute_script("return barcross.text.value"))


def cursor_after(driver: Chrome, words: str) -> None:
    place = text(driver).index(words) + len(words)
    driver.execute_script(
        "const { area } = barcross.text; area.focus(); area.setSelectionRange(arguments[0], arguments[0])",
        place,
    )


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
        ActionChains(driver).key_down(Keys.CONTROL).send_keys("z").key_up(Keys.CONTROL).perform()
        until(lambda: text(driver) == LONGER, "it is taken back")
    finally:
        set_window(driver, 1440, 900)


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
        ("L", "9-40", "9-40: there is no bar 40. The last bar is 14."),
        ("L", "abc", "abc: these are not bars. Write 9-12, or 9."),
    ],
)
def test_a_place_that_is_not_there_is_told(driver: Chrome, key: str, typed: str, answer: str) -> None:
    driver.execute_script("window.prompt = () => arguments[0]; document.activeElement.blur()", typed)
    keys(driver, key)
    until(lambda: told(driver, "alert") == answer, answer)
    assert driver.execute_script("return barcross.player.loop") is None


def test_places_that_are_there_are_gone_to(driver: Chrome) -> None:
    place = "[...document.querySelectorAll('#place-words b')].map((each) => each.textContent)"
    for typed, bar, beat in (("9.3", "9", "3"), ("-1", "14", "1"), ("2", "2", "1")):
        driver.execute_script("window.prompt = () => arguments[0]; document.activeElement.blur()", typed)
        keys(driver, "g")
        there = f"const told = {place}; return told.join('.') === arguments[0]"
        until(partial(driver.execute_script, there, f"{bar}.{beat}"), typed)
    driver.execute_script("window.prompt = () => '9 to 12'")
    keys(driver, "L")
    loop = until(lambda: driver.execute_script("return barcross.player.loop"), "a loop")
    starts = "return barcross.player.line.beats.filter((row) => row[3] === 1).map((row) => [row[2], row[4]])"
    inside = [bar for bar, at in driver.execute_script(starts) if loop["from"] <= at + 1e-3 < loop["to"]]
    assert inside == [9, 10, 11, 12]


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
