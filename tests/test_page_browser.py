"""The page in a real browser: it shows, follows the file, says what is wrong, and writes."""

import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest
from selenium.webdriver import Chrome, Keys
from selenium.webdriver.common.by import By

from renderer.lesson.lesson import open_lesson
from tests.browsers import CHROMIUM, DRIVER, Served, until
from tests.page_hands import (
    LONGER,
    chord,
    freshly_loaded,
    go_to,
    keys,
    page_of,
    place,
    script,
    shown,
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
    before = "return document.getElementById('posts').dataset.before"
    until(lambda: script(driver, before) == "15", "a dashed line where the section ended: after 8 and 6 bars")
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


def test_a_text_from_a_spec_is_shown_as_text(driver: Chrome, spec: Path) -> None:
    bad = '"<img src=x><b>Upper</b>"'
    write(spec, LONGER.replace("section: Upper", f"section: {bad}"))
    until(lambda: "<b>Upper</b>" in driver.find_element(By.ID, "names").text, "the name is shown")
    assert (
        script(driver, "return document.querySelectorAll('#names img, #shown img, #panels img').length") == 0
    )
    assert driver.title == "Weir"
