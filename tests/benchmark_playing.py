"""Whether the page plays on for minutes: stalls, drift, sound that is lost, and the picture beside the sound.

    python -m tests.benchmark_playing --minutes 10

A made piece of clicks alone is played in a browser without a window. How the moments of pictures and of the sound are
found is said in tests/page_clocks.py. The sound is listened to on its way to the loudspeaker, sample by sample: each
click is noted when it begins. Clicks of one kind stand a whole number of samples apart, by arithmetic (96,000 from one
downbeat to the next at 120 quarters a minute); what they are further apart or nearer is sound that was held up or lost.
"""

import argparse
import os
import time
from base64 import b64encode
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from selenium.webdriver import ActionChains, Chrome, Keys

from tests.browsers import browser, served, until
from tests.page_clocks import Seen, drift, percentile, take, watch_clocks
from tests.page_hands import load

BAR = 96_000
"""Samples: four quarters at 120 quarters a minute."""
PIECE = """title: Long Weir
tempo: 120
meter: 4/4
pulse: 1/16
figures: {{weir: [5, 3, 3]}}
form:
  - section: Upper
    bars: {bars}
    harmony: {{1: Dm, 5: Bb}}
    plays: weir
click: {{every: beat, count_in: 0}}
sound: off
segments: [play]
"""
LISTENER = """
registerProcessor('clicks', class extends AudioWorkletProcessor {
  constructor() { super(); this.loud = -1e9; this.was = -1e9; }
  process([[left]]) {
    if (!left) return true;
    for (let at = 0; at < left.length; at++) {
      if (Math.abs(left[at]) < 0.01) continue;
      if (currentFrame + at - this.loud > 4800) this.port.postMessage(currentFrame + at);
      this.loud = currentFrame + at;
    }
    return true;
  }
});
"""
LISTEN = """
const done = arguments[1];
(async () => {
  const context = globalThis.context = new AudioContext({ sampleRate: 48000 });
  await context.audioWorklet.addModule(`data:text/javascript;base64,${arguments[0]}`);
  const node = new AudioWorkletNode(context, 'clicks');
  globalThis.clicks = [];
  node.port.onmessage = ({ data }) => clicks.push(data);
  const source = context.createMediaElementSource(document.getElementById('sound'));
  source.connect(node);
  source.connect(context.destination);
  await context.resume();
  done(true);
})();
"""
STARTED = """
const play = document.getElementById('play'), sound = document.getElementById('sound');
play.addEventListener('click', () => { globalThis.pressed = performance.now(); }, true);
sound.addEventListener('playing', () => { globalThis.sounds = performance.now() - pressed; });
"""


class Lost(NamedTuple):
    """Clicks that were heard, and samples that were held up or lost between them."""

    clicks: int
    samples: int


def lost(clicks: list[int]) -> Lost:
    """What was held up or lost between the downbeats; four clicks are a bar."""
    held = [abs(later - sooner - BAR) for sooner, later in pairwise(clicks[::4])]
    return Lost(len(clicks), sum(samples for samples in held if samples > 1))


def starts(driver: Chrome, places: int) -> list[float]:
    """Milliseconds from a press of Play to its sound, at several places."""
    driver.execute_script(STARTED)
    found = []
    for number in range(places):
        driver.execute_script("sounds = 0; barcross.player.go(arguments[0])", 5 + 11 * number)
        time.sleep(0.5)
        driver.find_element("id", "play").click()
        found.append(float(until(lambda: driver.execute_script("return sounds"), "sound")))
        time.sleep(1.0)
        ActionChains(driver).send_keys(Keys.SPACE).perform()
        time.sleep(0.3)
    return found


def plays(driver: Chrome, minutes: float) -> tuple[list[Seen], int, int]:
    """What is seen while it plays from its beginning; how often the sound waited; how many pictures were missing."""
    seen: list[Seen] = []
    driver.execute_script("barcross.player.go(0)")
    driver.find_element("id", "play").click()
    until(lambda: driver.execute_script("return barcross.player.startedAfter"), "sound")
    end = time.monotonic() + 60 * minutes
    waits = missed = 0
    while time.monotonic() < end:
        time.sleep(5)
        taken = take(driver)
        seen += taken.seen
        waits, missed = taken.waits, taken.missed
    return seen, waits, missed


def told(seen: list[Seen]) -> str:
    """How far pictures were before the sound, in milliseconds."""
    apart = [1000 * each.apart for each in seen]
    shares = (0.0, 0.05, 0.5, 0.95, 1.0)
    return ", ".join(f"{share:.0%} {percentile(apart, share):+.1f}" for share in shares)


def memory(process: int) -> str:
    """What a process holds, in MB."""
    rows = Path(f"/proc/{process}/status").read_text(encoding="utf-8").split("\n")
    return next(str(int(row.split()[1]) // 1024) for row in rows if row.startswith("VmRSS"))


def main() -> None:
    parser = argparse.ArgumentParser(description="Whether the page plays on for minutes.")
    parser.add_argument("--minutes", type=float, default=10)
    options = parser.parse_args()
    with TemporaryDirectory() as folder:
        path = Path(folder) / "weir.yaml"
        path.write_text(PIECE.format(bars=max(64, int(options.minutes * 30) + 16)), encoding="utf-8")
        with served(str(path)) as server, browser() as driver:
            driver.execute_cdp_cmd("Page.setBypassCSP", {"enabled": True})
            load(driver, server.address)
            time.sleep(8)
            print(f"load of the machine {os.getloadavg()[0]:.1f}, {os.cpu_count()} cores", flush=True)
            found = starts(driver, 6)
            print(f"Play to sound, ms: {', '.join(f'{each:.0f}' for each in found)}", flush=True)
            driver.set_script_timeout(20)
            driver.execute_async_script(LISTEN, b64encode(LISTENER.encode()).decode())
            watch_clocks(driver)
            seen, waits, missed = plays(driver, options.minutes)
            heard = lost(driver.execute_script("return clicks"))
            kept = [each for each in seen if each.in_time]
            length = seen[-1].heard - seen[0].heard
            print(
                f"played {length:.0f} s; the sound waited {waits} times; drift {1000 * drift(seen):+.1f} ms"
            )
            print(
                f"{heard.clicks} clicks heard of {int(length / 0.5) + 1}; sound held up or lost "
                f"{heard.samples / 48:.1f} ms, {heard.samples / 48_000 / length:.4%}"
            )
            print(
                f"pictures {len(seen)}, not there in time {missed}, refreshes kept {len(kept) / len(seen):.1%}"
            )
            print(f"picture before sound, ms, all: {told(seen)}")
            print(f"picture before sound, ms, where the machine kept up: {told(kept)}")
            print(f"the server holds {memory(server.process.pid)} MB; load {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
