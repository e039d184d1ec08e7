"""A file that is read on the page in a real browser: dropped or chosen, seen, heard, taken, refused, stopped."""

import base64
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import pytest
from click.testing import CliRunner
from selenium.webdriver import Chrome, Keys
from selenium.webdriver.common.by import By

from renderer.command import main
from tests.browsers import CHROMIUM, DRIVER, browser, prefer, served, set_window, until
from tests.lessons import SHORT
from tests.midi_files import figure_of_eleven
from tests.page_client import drawing
from tests.page_hands import keys, load, press, script, text, told

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason="no Chromium here"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]
DROP = """
const [name, coded] = arguments;
const bytes = Uint8Array.from(atob(coded), (mark) => mark.charCodeAt(0));
const held = new DataTransfer();
held.items.add(new File([bytes], name));
for (const kind of ["dragover", "drop"]) {
  const event = new DragEvent(kind, { dataTransfer: held, bubbles: true, cancelable: true });
  document.getElementById("over").dispatchEvent(event);
}
"""
SHOWN = """
const all = [...document.querySelectorAll(".reading canvas")];
return all.length === arguments[0] && all.every((one) => one.dataset.shown);
"""
COLOURS = """
return [...document.querySelectorAll(".reading canvas")].map((canvas) => {
  const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
  const seen = new Set();
  for (let i = 0; i < data.length; i += 4) seen.add(data[i] << 16 | data[i + 1] << 8 | data[i + 2]);
  return seen.size;
});
"""
CHOSEN = "return document.querySelector('.reading[aria-checked=true] b').textContent"
WEIR = figure_of_eleven(more=2)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Chrome]:
    with browser() as driver:
        yield driver


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """A page's address and its empty folder, for tests that begin no lesson."""
    folder = tmp_path_factory.mktemp("shared")
    with served(folder=folder) as server:
        yield server.address, folder


@contextmanager
def begun(chromium: Chrome, address: str) -> Iterator[Chrome]:
    """A page that begins a lesson; at the end nothing has gone wrong in it."""
    set_window(chromium, 1440, 900)
    load(chromium, address)
    yield chromium
    chromium.get("about:blank")
    log = chromium.get_log("browser")  # type: ignore[no-untyped-call]
    wrong = [entry["message"] for entry in log if entry["level"] == "SEVERE"]
    let_go = ("status of 4", "WebSocket", "ERR_INCOMPLETE_CHUNKED_ENCODING")
    assert [message for message in wrong if not any(words in message for words in let_go)] == []


@pytest.fixture
def page(chromium: Chrome, tmp_path: Path) -> Iterator[Chrome]:
    """A page that begins a lesson in an empty folder."""
    folder = tmp_path / "page"
    folder.mkdir()
    with served(folder=folder) as server, begun(chromium, server.address) as driver:
        yield driver


@pytest.fixture
def reader(chromium: Chrome, shared: tuple[str, Path]) -> Iterator[Chrome]:
    """The page that is shared."""
    with begun(chromium, shared[0]) as driver:
        yield driver


def drop(driver: Chrome, data: bytes, name: str = "weir.mid") -> None:
    script(driver, DROP, name, base64.b64encode(data).decode())


def readings(driver: Chrome, count: int) -> None:
    until(lambda: script(driver, SHOWN, count), f"{count} readings are shown")


def by_command(folder: Path, *options: str) -> bytes:
    """What the command writes."""
    (folder / "weir.mid").write_bytes(WEIR)
    asked = ["new", str(folder / "own"), "--from", str(folder / "weir.mid"), *options]
    assert CliRunner().invoke(main, asked, catch_exceptions=False).exit_code == 0
    return (folder / "own.yaml").read_bytes()


def test_a_dropped_file_is_seen_heard_and_taken(page: Chrome, tmp_path: Path) -> None:
    drop(page, WEIR)
    until(lambda: script(page, "return document.querySelector('#readings select')"), "parts")
    part = "document.querySelector('#readings select')"
    script(page, f"{part}.value = 'Marimba'; {part}.dispatchEvent(new Event('change'))")
    readings(page, 3)
    assert script(page, CHOSEN) == "5 + 3 + 3"
    assert min(script(page, COLOURS)) > 30, "each reading is a picture, not its ground alone"
    before = text(page)
    press(page, ".reading:nth-child(2)")
    until(lambda: text(page) != before, "the text of the other reading")
    assert "figure A: [3, 3, 5]" in text(page)
    page.find_element(By.ID, "hear").click()  # a browser lets sound begin only by a hand
    heard = "const sound = document.getElementById('sound'); return !sound.paused && sound.currentTime > 0.3"
    until(lambda: script(page, heard), "the sound has begun")
    press(page, "#hear")
    until(lambda: script(page, "return document.getElementById('sound').paused"), "silence")
    folder = tmp_path / "page"
    assert [*folder.iterdir()] == []
    press(page, "#readings [type=submit]")
    until(
        lambda: script(page, "return barcross.seen.file && !document.body.classList.contains('begins')"),
        "it is written",
    )
    (path,) = folder.iterdir()
    assert path.name == "weir.yaml"
    assert path.read_bytes() == by_command(tmp_path, "--part", "Marimba", "--reading", "2")
    assert told(page, "saved") == "saved"


def test_no_mouse_is_needed(page: Chrome, tmp_path: Path) -> None:
    script(
        page,
        """
        window.asked = 0;
        document.querySelector(".drop input").addEventListener("click", (event) => {
          event.preventDefault();
          window.asked += 1;
        });""",
    )
    script(page, "document.activeElement.blur()")
    keys(page, "o")
    assert script(page, "return window.asked") == 1
    (tmp_path / "weir.mid").write_bytes(figure_of_eleven())
    page.find_element(By.CSS_SELECTOR, ".drop input").send_keys(str(tmp_path / "weir.mid"))
    readings(page, 3)
    focused = "return document.activeElement.getAttribute('aria-checked') === 'true'"
    assert script(page, focused)
    heads = "return [...document.querySelectorAll('#readings .columns b')].map((each) => each.textContent)"
    assert script(page, heads) == ["Found", "Left out"], "no column for what is not there"
    keys(page, Keys.ARROW_DOWN)
    until(lambda: script(page, CHOSEN) == "3 + 3 + 5", "the second reading")
    keys(page, Keys.ARROW_UP, Keys.ARROW_UP)
    until(lambda: script(page, CHOSEN) == "3 + 5 + 3", "round to the last one")
    assert script(page, focused)
    softly = page.find_element(By.CSS_SELECTOR, "#readings .softly")
    assert softly.text == "Turn the volume down first."
    keys(page, Keys.SPACE)
    until(lambda: script(page, "return !document.getElementById('sound').paused"), "it is heard")
    until(lambda: not softly.is_displayed(), "it has been heard")
    until(lambda: "figure A: [3, 5, 3]" in text(page), "its text")
    keys(page, Keys.ENTER)
    until(lambda: (tmp_path / "page" / "weir.yaml").exists(), "it is written")
    until(lambda: script(page, "return document.activeElement.id") == "play", "Play has the focus")
    assert script(page, "return document.getElementById('sound').paused")


def test_what_cannot_be_read_is_told_and_the_sentence_stays(reader: Chrome, shared: tuple[str, Path]) -> None:
    script(reader, "document.querySelector('[aria-label=Meter]').value = '7/8'")
    drop(reader, b"MThd damaged", "<b>weir.mid")
    until(lambda: script(reader, "return document.getElementById('reading-wrong')"), "it is told")
    assert told(reader, "reading-wrong") == (
        "<b>weir.mid: this MIDI file is damaged, or not whole. Save it again."
    )
    assert script(reader, "return document.activeElement.textContent").startswith("Choose another file")
    keys(reader, Keys.ESCAPE)
    until(lambda: script(reader, "return document.querySelector('#begin .sentence')"), "the sentence")
    assert script(reader, "return document.querySelector('[aria-label=Meter]').value") == "7/8"
    drop(reader, figure_of_eleven(tempo=False))
    until(
        lambda: script(reader, "return document.activeElement.matches('#readings input')"),
        "a tempo is asked for",
    )
    keys(reader, "84", Keys.ENTER)
    readings(reader, 3)
    assert "tempo: 84\n" in text(reader)
    assert [*shared[1].iterdir()] == []


@pytest.mark.skipif(not Path("/proc").exists(), reason="processes are looked for in /proc")
def test_a_reading_is_stopped_and_leaves_no_process(reader: Chrome, shared: tuple[str, Path]) -> None:
    others = {*drawing("reading_process")}
    drop(reader, figure_of_eleven(bars=4000))
    until(lambda: {*drawing("reading_process")} - others, "a process reads it")
    started = time.monotonic()
    answered = "return fetch('state').then((answer) => answer.ok)"
    assert script(reader, answered)
    assert time.monotonic() - started < 5, "the page answers while a file is read"
    keys(reader, Keys.ESCAPE)
    until(lambda: script(reader, "return document.querySelector('#begin .sentence')"), "the sentence")
    until(lambda: not {*drawing("reading_process")} - others, "no process is left")
    assert [*shared[1].iterdir()] == []


def test_readings_have_names_and_room_at_every_width(reader: Chrome) -> None:
    prefer(reader, "prefers-reduced-motion", "reduce")
    drop(reader, WEIR)
    until(lambda: script(reader, "return document.querySelectorAll('.reading').length > 1"), "readings")
    for width in (1440, 1000, 420):
        set_window(reader, width, 900)
        until(partial(script, reader, f"return innerWidth === {width}"), "the width")
        assert script(reader, "return document.documentElement.scrollWidth") <= width
        outside = """
        return [...document.querySelectorAll("#readings *:not(option)")].filter((one) => {
          const box = one.getBoundingClientRect();
          return !one.classList.contains("unseen") && box.width && (box.left < -1 || box.right > innerWidth + 1);
        }).map((one) => one.outerHTML.slice(0, 80));"""
        assert script(reader, outside) == []
        covered = """
        const own = document.getElementById("readings").getBoundingClientRect();
        const text = document.getElementById("words").getBoundingClientRect();
        return text.width > 0 && text.left < own.right - 1 && text.top < own.bottom && own.top < text.bottom;"""
        assert not script(reader, covered), "the text is not covered"
    nameless = script(
        reader,
        """
        const own = ["button", "input:not(.unseen)", "select", "[role]"].map((kind) => `#readings ${kind}`);
        return [...document.querySelectorAll(own.join())]
          .filter((one) => !(one.getAttribute("aria-label") || one.textContent).trim()).map((one) => one.outerHTML);""",
    )
    assert nameless == []
    assert script(
        reader, "return document.querySelector('[role=radiogroup]').getAttribute('aria-label')"
    ) == ("Readings, the surest first")
    assert (
        script(
            reader,
            "return [...document.querySelectorAll('[role=radio]')].filter((one) => one.tabIndex === 0).length",
        )
        == 1
    )
    assert script(reader, "return document.getAnimations().length") == 0
    prefer(reader, "prefers-reduced-motion", "no-preference")


def test_a_page_goes_on_with_the_lesson_that_another_one_has_begun(page: Chrome, tmp_path: Path) -> None:
    script(
        page,
        """
        const asked = JSON.stringify({ text: arguments[0], name: "lock" });
        fetch("take", { method: "POST", headers: { "Content-Type": "application/json" }, body: asked });""",
        SHORT,
    )
    until(lambda: text(page) == SHORT and told(page, "name") == "lock.yaml", "the other's lesson")
    assert not script(page, "return document.body.matches('.begins, .reads')")
    assert [path.name for path in (tmp_path / "page").iterdir()] == ["lock.yaml"]
