"""When the page's picture and its sound are seen and heard, by the browser's own clocks.

*Sound*: the clock of the `audio` element, `currentTime`, plus where in the segment its stream begins. *Picture*: the
frame that has been drawn, whose time is its number over 30. A frame that is drawn before one refresh of the screen is
on it from that refresh on. So the sound's clock is read in the refresh's own callback, and taken back by as much as
the callback is late after the refresh (the callback's argument says when that was, on the clock of `performance.now`).
How busy the machine is does not come into it, except where it skips a refresh or draws later than one: then nothing
was there to be seen in time, and the row says so.
"""

from typing import Any, NamedTuple

from selenium.webdriver import Chrome

FRAMES_PER_SECOND = 30
WATCH = """
const { player } = barcross, sound = document.getElementById('sound'), canvas = document.getElementById('canvas');
const clocks = globalThis.clocks = { rows: [], waits: 0, began: null };
const draw = player.shown;
player.shown = (frame, head) => {
  draw(frame, head);
  const { run, base } = player;
  if (!run || sound.paused) return;
  const drawn = performance.now(), last = clocks.refresh;
  const index = Number(canvas.dataset.shown.split(':')[2]);
  requestAnimationFrame((refresh) => {
    clocks.refresh = refresh;
    if (player.run !== run || !last || player.round) return;
    const late = performance.now() - refresh;
    clocks.rows.push([refresh / 1000, base + sound.currentTime - late / 1000, index, refresh - last, refresh - drawn]);
  });
};
sound.addEventListener('playing', () => { clocks.began ??= performance.now(); });
sound.addEventListener('waiting', () => { if (clocks.began) clocks.waits += 1; });
"""
TAKE = "const { rows, waits } = clocks; clocks.rows = []; return [rows, waits, barcross.player.missed]"
REFRESH = 1 / 60
LONGEST_REFRESH = 1.5 * REFRESH


class Seen(NamedTuple):
    """A picture as it came on the screen: when, and what the sound's clock said then, in seconds of the segment."""

    at: float
    heard: float
    frame: int
    refresh: float
    """Milliseconds since the refresh before."""
    ahead: float
    """Milliseconds from when it had been drawn to when it came on the screen; below 0 it was late."""

    @property
    def apart(self) -> float:
        """Seconds by which the picture was before the sound."""
        return self.frame / FRAMES_PER_SECOND - self.heard

    @property
    def in_time(self) -> bool:
        """Whether the machine kept up: no refresh was skipped, and the picture was drawn just before its own."""
        return self.refresh <= 1000 * LONGEST_REFRESH and 0 <= self.ahead <= 1000 * LONGEST_REFRESH


class Taken(NamedTuple):
    """What has been seen since the last time; in all, how often the sound has waited and pictures were missing."""

    seen: list[Seen]
    waits: int
    missed: int


def watch_clocks(driver: Chrome) -> None:
    """From now on note when pictures are seen."""
    driver.execute_script(WATCH)


def take(driver: Chrome) -> Taken:
    """What has been noted, and forget it."""
    rows: list[Any]
    rows, waits, missed = driver.execute_script(TAKE)
    return Taken([Seen(*row) for row in rows], waits, missed)


def percentile(values: list[float], share: float) -> float:
    """The value below which a share of them lies."""
    return sorted(values)[min(len(values) - 1, int(share * len(values)))]


def drift(seen: list[Seen]) -> float:
    """Seconds by which the sound has gone ahead of real time from the first tenth of what was seen to the last."""
    lags = [each.heard - each.at for each in seen]
    tenth = max(1, len(lags) // 10)
    return percentile(lags[-tenth:], 0.5) - percentile(lags[:tenth], 0.5)
