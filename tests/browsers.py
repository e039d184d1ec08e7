"""Debian's Chromium without a window, and the page's command beside it."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from shutil import which
from typing import Any

from selenium.webdriver import Chrome, ChromeOptions
from selenium.webdriver.chrome.service import Service

ROOT = Path(__file__).parent.parent
CHROMIUM, DRIVER = which("chromium"), which("chromedriver")
QUIET = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--mute-audio",
    "--disable-dev-shm-usage",
    "--hide-scrollbars",
)
PATIENCE = 25.0
"""Seconds after which what should happen on the page has not happened."""


@contextmanager
def browser() -> Iterator[Chrome]:
    """A browser. `webdriver`'s own download of browsers is never asked for."""
    options = ChromeOptions()
    options.binary_location = CHROMIUM or ""
    for option in QUIET:
        options.add_argument(option)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = Chrome(options=options, service=Service(DRIVER))
    try:
        set_window(driver, 1440, 900)
        yield driver
    finally:
        driver.quit()


def set_window(driver: Chrome, width: int, height: int) -> None:
    """A window of so many CSS pixels."""
    size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)


def prefer(driver: Chrome, name: str, value: str) -> None:
    """What the system says that its user prefers, as `prefers-reduced-motion`: `reduce`."""
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [{"name": name, "value": value}]})


def until(happened: Callable[[], Any], what: str, patience: float = PATIENCE) -> Any:
    """Wait for something to become true, and return it."""
    end = time.monotonic() + patience
    while time.monotonic() < end:
        found = happened()
        if found:
            return found
        time.sleep(0.02)
    raise AssertionError(f"{what}: not within {patience} s")


class Served:
    """The page's command, running."""

    def __init__(self, process: "subprocess.Popen[str]", address: str) -> None:
        self.process = process
        self.address = address

    def interrupt(self) -> float:
        """Press Ctrl-C; the seconds until it has ended."""
        started = time.monotonic()
        self.process.send_signal(signal.SIGINT)
        self.process.wait(timeout=10)
        return time.monotonic() - started


@contextmanager
def served(*arguments: str, folder: Path | None = None) -> Iterator[Served]:
    """`barcross preview` with these arguments, in a folder and without a browser of its own."""
    paths = os.pathsep.join([str(ROOT), str(ROOT / "assets" / "entry")])
    command = [sys.executable, "-m", "barcross", "preview", "--no-browser", *arguments]
    process = subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=folder,
        env={**os.environ, "PYTHONPATH": paths},
    )
    try:
        assert process.stdout is not None
        yield Served(process, process.stdout.readline().strip())
    finally:
        if process.poll() is None:
            process.kill()
        process.communicate()
