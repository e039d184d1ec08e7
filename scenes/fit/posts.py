"""The bars under the two rows of `fit`."""

from renderer.timeline.model import Timeline
from scenes.draw.look import CAPITAL, SEMIBOLD
from scenes.draw.paths import rectangle
from scenes.draw.segment import Picture
from scenes.draw.shapes import draw, draw_text
from scenes.draw.text import text_width
from scenes.row.close_row import CloseRow, draw_close_posts
from scenes.row.line import Row, draw_line, draw_post

POST_BELOW = 0.55
"""Opacity of the posts that run down to the foot of a tall picture."""


def draw_whole_posts(timeline: Timeline, row: Row, line: int) -> Picture:
    """Bars with as many numbers as there is room for; beats where they are not too close. The section ends at
    tick `line`."""
    look = row.look
    drawn: Picture = [draw_line(row)]
    bars = [bar for bar in timeline.bars if row.holds(bar.at) and bar.number > 0]
    beats = [beat for beat in timeline.beats_between(row.start, row.end) if beat.number > 1]
    if len(beats) * 14 < look.canvas.music_width:
        drawn += [draw_post(row, b.at, row.style.beat, look.width_beat - 1, look.meter_line) for b in beats]
    widest = text_width(str(bars[-1].number), row.style.bar, SEMIBOLD) + 20
    narrow = min(bar.end - bar.at for bar in bars) * row.scale
    every = next(step for step in (1, 2, 4, 8, 16, 32, 64, 128, 256, 10**6) if narrow * step >= widest)
    short = min(0.6 * row.style.post, row.style.post - row.style.bar * CAPITAL - 6)
    for index, bar in enumerate(bars):
        numbered = index % every == 0
        if numbered or narrow > 8:
            length = row.style.post if numbered else short
            drawn.append(draw_post(row, bar.at, length, look.width_post - 1, look.meter_line))
        x = row.x(bar.at) + 11
        if numbered and x + text_width(str(bar.number), row.style.bar, SEMIBOLD) <= look.canvas.right:
            number = draw_text(str(bar.number), x, row.feet - 1, row.style.bar, look.meter_text, SEMIBOLD)
            drawn.append(number)
    if row.end > timeline.end or row.end == line:
        drawn.append(draw_post(row, timeline.end, row.style.post, look.width_post - 1, look.meter_line))
    return drawn


def draw_end_posts(timeline: Timeline, close: CloseRow) -> Picture:
    """The line of what is enlarged with its posts; in a tall picture they run down to its foot."""
    row, look = close.row, close.row.look
    drawn = [*draw_close_posts(close, timeline.bars, timeline.beats)]
    if row.holds(timeline.end):
        drawn.append(draw_post(row, timeline.end, row.style.post, look.width_post, look.meter_line))
    if look.canvas.tall:
        for beat in timeline.beats_between(row.start, row.end):
            first = beat.number == 1
            width = look.width_post if first else look.width_beat
            x, top = row.x(beat.at), row.line + (row.style.post if first else row.style.beat)
            below = rectangle(x - width / 2, top, x + width / 2, look.canvas.height)
            drawn.append(draw(look.meter_line, below, opacity=POST_BELOW))
    return drawn
