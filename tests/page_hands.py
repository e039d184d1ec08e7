"""What tests do on the page in a browser, and what they read there."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from selenium.webdriver import ActionChains, Chrome, Keys
from selenium.webdriver.common.actions.action_builder import ActionBuilder

from tests.browsers import Served, browser, served, until
from tests.lessons import SHORT

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


@contextmanager
def page_of(spec: Path, text: str = LONGER) -> Iterator[tuple[Chrome, Served]]:
    """A spec's page, and a browser for it."""
    spec.write_text(text, encoding="utf-8")
    with served(str(spec)) as server, browser() as driver:
        yield driver, server


@contextmanager
def freshly_loaded(page: tuple[Chrome, Served], spec: Path, text: str = LONGER) -> Iterator[Chrome]:
    """The page, loaded with a text; at the end nothing has gone wrong in it."""
    driver, server = page
    spec.write_text(text, encoding="utf-8")
    load(driver, server.address, text)
    yield driver
    driver.execute_script("barcross.player.stop(); barcross.text.set(barcross.seen.file.text)")
    log = driver.get_log("browser")  # type: ignore[no-untyped-call]
    wrong = [entry["message"] for entry in log if entry["level"] == "SEVERE"]
    assert [message for message in wrong if "status of 4" not in message] == []


def load(driver: Chrome, address: str, text: str | None = None) -> None:
    """Load the page; with a text, until it shows that."""
    driver.get("about:blank")
    driver.get(address)
    ready = "return document.body?.dataset.ready && (arguments[0] === null || barcross.text.value === arguments[0])"
    until(lambda: driver.execute_script(ready, text), "the page is ready")


def script(driver: Chrome, words: str, *arguments: Any) -> Any:
    """What a script returns."""
    return driver.execute_script(words, *arguments)


def seconds(driver: Chrome) -> float:
    """Where one is."""
    return float(script(driver, "return barcross.player.seconds"))


def place(driver: Chrome) -> tuple[int, int]:
    """Bar and beat, as the page says."""
    told = script(
        driver, "return [...document.querySelectorAll('#place-words b')].map((each) => each.textContent)"
    )
    return int(told[0]), int(told[-1])


def shown(driver: Chrome) -> str:
    """Which picture is seen: edition, segment, frame."""
    return str(script(driver, "return document.getElementById('canvas').dataset.shown"))


def told(driver: Chrome, name: str) -> str:
    """What an element says."""
    return str(script(driver, "return document.getElementById(arguments[0]).innerText", name))


def text(driver: Chrome) -> str:
    """The spec's text on the page."""
    return str(script(driver, "return barcross.text.value"))


def keys(driver: Chrome, *pressed: str) -> None:
    """Press keys, one after another."""
    ActionChains(driver).send_keys(*pressed).perform()


def chord(driver: Chrome, held: str, key: str) -> None:
    """Press a key while another is held."""
    ActionChains(driver).key_down(held).send_keys(key).key_up(held).perform()


def press(driver: Chrome, what: str) -> None:
    """Press something that may be drawn anew at any moment."""
    script(driver, "document.querySelector(arguments[0]).click()", what)


def hover(driver: Chrome, what: str) -> None:
    """Move the pointer to something that may be drawn anew at any moment."""
    box = script(driver, "return document.querySelector(arguments[0]).getBoundingClientRect().toJSON()", what)
    pointer = ActionBuilder(driver)
    x, y = int(box["x"] + box["width"] / 2), int(box["y"] + box["height"] / 2)
    pointer.pointer_action.move_to_location(x, y)  # type: ignore[no-untyped-call]
    pointer.perform()


def undo(driver: Chrome) -> None:
    """Ctrl Z."""
    chord(driver, Keys.CONTROL, "z")


def go_to(driver: Chrome, bar: int, beat: int = 1) -> None:
    """Go to a beat, and wait until it is shown."""
    find = "barcross.player.line.beats.find((row) => row[2] === arguments[0] && row[3] === arguments[1])[4]"
    script(driver, f"barcross.player.go({find})", bar, beat)
    frame = "String(barcross.player.frameOf(barcross.player.seconds))"
    drawn = f"return document.getElementById('canvas').dataset.shown.split(':')[2] === {frame}"
    until(lambda: place(driver) == (bar, beat) and script(driver, drawn), f"bar {bar}, beat {beat} is shown")


def bars_in(driver: Chrome, loop: dict[str, float]) -> list[int]:
    """The bars that begin in a loop."""
    starts = "return barcross.player.line.beats.filter((row) => row[3] === 1).map((row) => [row[2], row[4]])"
    return [bar for bar, at in script(driver, starts) if loop["from"] <= at + 1e-3 < loop["to"]]


def cursor_after(driver: Chrome, words: str) -> None:
    """Put the cursor into the text."""
    place = text(driver).index(words) + len(words)
    script(
        driver,
        "const { area } = barcross.text; area.focus(); area.setSelectionRange(arguments[0], arguments[0])",
        place,
    )


def write(spec: Path, words: str) -> None:
    """Save as many editors do: beside it, then in its place."""
    beside = spec.with_suffix(".part")
    beside.write_text(words, encoding="utf-8")
    beside.replace(spec)
