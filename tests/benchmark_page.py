"""How long the page takes: from a saved file to pixels, from a press of Play to sound, beside a cold `barcross still`.

    python -m tests.benchmark_page [SPEC] [--saves N]

The clock starts when the changed file has been put in its place and stops in the browser's frame that shows the new
picture. Changes go in turn through tempo, bars, harmony and theme.
"""

import argparse
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from shutil import copytree
from statistics import median
from tempfile import TemporaryDirectory

from selenium.webdriver import ActionChains, Chrome, Keys

from tests.browsers import ROOT, browser, served, until
from tests.lessons import EXAMPLE

WATCH = """
globalThis.painted = [];
new MutationObserver(() => requestAnimationFrame(() => {
  painted.push([document.getElementById('canvas').dataset.shown, performance.timeOrigin + performance.now()]);
})).observe(document.getElementById('canvas'), { attributes: true, attributeFilter: ['data-shown'] });
"""
FIRST_BARS, FIRST_TEMPO = "bars: 12", "tempo: 112"


def changes(text: str) -> list[Callable[[int], str]]:
    """A kind of change each, made of its number."""
    return [
        lambda n: text.replace(FIRST_TEMPO, f"tempo: {112 + n}", 1),
        lambda n: text.replace(FIRST_BARS, f"bars: {12 + n % 3 + 1}", 1),
        lambda n: text.replace("{1: Em, 5: G", f"{{1: Em, {4 + n % 3}: G", 1).replace(
            FIRST_TEMPO, f"tempo: {113 + n}"
        ),
        lambda n: text + ("theme: light\n" if n % 2 else "theme: dark\n") + "#" * n,
    ]


def painted(driver: Chrome, before: int) -> float:
    """When the first picture of another edition than `before` was seen, in seconds since 1970."""
    find = "return painted.find(([shown]) => Number(shown.split(':')[0]) > arguments[0])?.[1]"
    return float(until(lambda: driver.execute_script(find, before), "the new picture")) / 1000


def saves(driver: Chrome, path: Path, count: int) -> list[float]:
    """Seconds from each save to its picture."""
    text = path.read_text(encoding="utf-8")
    kinds = changes(text)
    found = []
    for number in range(count):
        before = int(driver.execute_script("painted.length = 0; return barcross.seen.facts.number"))
        beside = path.with_suffix(".part")
        beside.write_text(kinds[number % len(kinds)](number + 1), encoding="utf-8")
        started = time.time()
        beside.replace(path)
        found.append(painted(driver, before) - started)
        time.sleep(0.4)
    path.write_text(text, encoding="utf-8")
    return found


def looks(driver: Chrome) -> list[float]:
    """Seconds from a key to the picture of a segment that has not been seen."""
    found = []
    for number in range(1, int(driver.execute_script("return barcross.seen.facts.segments.length"))):
        driver.execute_script(
            WATCH.replace(
                "new MutationObserver", "globalThis.asked = performance.now(); new MutationObserver"
            )
        )
        ActionChains(driver).send_keys(str(number)).perform()
        shown = until(
            lambda: driver.execute_script("return painted[0]?.[1] - performance.timeOrigin - asked"),
            "a segment",
        )
        found.append(float(shown) / 1000)
        time.sleep(0.5)
    return found


def plays(driver: Chrome, places: int) -> list[float]:
    """Seconds from a press of Play to its sound, at several places of the last segment."""
    found = []
    ActionChains(driver).send_keys(
        Keys.END, str(driver.execute_script("return barcross.seen.facts.segments.length"))
    ).perform()
    time.sleep(2)
    for number in range(places):
        driver.execute_script(f"barcross.player.startedAfter = 0; barcross.player.go({3 + 7 * number})")
        time.sleep(0.3)
        ActionChains(driver).send_keys(Keys.SPACE).perform()
        found.append(
            float(until(lambda: driver.execute_script("return barcross.player.startedAfter"), "sound")) / 1000
        )
        time.sleep(1.0)
        ActionChains(driver).send_keys(Keys.SPACE).perform()
        time.sleep(0.2)
    return found


def cold_still(path: Path, folder: Path) -> float:
    """Seconds for one still from the command line."""
    paths = os.pathsep.join([str(ROOT), str(ROOT / "assets" / "entry")])
    command = [
        sys.executable,
        "-m",
        "barcross",
        "still",
        str(path),
        "play@5",
        "--size",
        "960x540",
        "--out",
        str(folder),
    ]
    started = time.monotonic()
    subprocess.run(
        [*command, "--overwrite"],
        check=True,
        env={**os.environ, "PYTHONPATH": paths},
        stdout=subprocess.DEVNULL,
    )
    return time.monotonic() - started


def told(name: str, seconds: list[float]) -> str:
    """A line of figures."""
    return f"{name}: median {median(seconds) * 1000:.0f} ms, most {max(seconds) * 1000:.0f} ms, of {len(seconds)}"


def main() -> None:
    parser = argparse.ArgumentParser(description="Delays of the page.")
    parser.add_argument("spec", nargs="?", type=Path, default=EXAMPLE)
    parser.add_argument("--saves", type=int, default=20)
    options = parser.parse_args()
    with TemporaryDirectory() as name:
        folder = Path(name) / "lesson"
        copytree(options.spec.parent, folder)
        path = folder / options.spec.name
        with served(str(path)) as server, browser() as driver:
            driver.get(server.address)
            until(lambda: driver.execute_script("return document.body?.dataset.ready"), "the page")
            time.sleep(3)
            driver.execute_script(WATCH)
            driver.execute_script("barcross.player.go(barcross.player.line.seconds / 2)")
            time.sleep(0.5)
            saved = saves(driver, path, options.saves)
            print(told("save to pixels", saved), flush=True)
            print(told("key to the pixels of a segment not yet seen", looks(driver)), flush=True)
            print(told("Play to sound", plays(driver, 6)), flush=True)
        cold = [cold_still(path, folder / "out") for _ in range(3)]
        print(told("cold still", cold))
        print(f"a cold still takes {median(cold) / median(saved):.0f} times as long as the page after a save")


if __name__ == "__main__":
    main()
