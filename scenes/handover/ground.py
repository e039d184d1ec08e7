"""What lies under the line of a handover: posts, what is counted under them, the bars' names, and the plate under the
pulse on which the new list starts."""

from typing import NamedTuple

from renderer.schedule.handover import HandoverSchedule
from renderer.schedule.handover_words import beat_start, syllable
from scenes.draw.fading import meet
from scenes.draw.look import BOLD, CAPITAL, REGULAR, SEMIBOLD
from scenes.draw.paths import rectangle
from scenes.draw.segment import Picture
from scenes.draw.shapes import draw, draw_text
from scenes.draw.text import text_width
from scenes.handover.layout import HandoverLayout
from scenes.row.line import Row, draw_line, draw_post

PLATE, PLATE_TOP, PLATE_FOOT, PLATE_HALF = 64.0, 44.0, 110.0, 33.0
"""The plate: its type size, its top and foot below the line, half its width at least."""
LEAST_PULSE = 36.0
"""Pixels: where pulses are narrower only the beats are counted."""
SHORT_POST = 18.0
BELOW, POST_BELOW = 60.0, 0.55
"""In a tall picture posts go on from so far below its text, at this opacity."""


class Spoken(NamedTuple):
    """What is counted at a tick: `on` a felt beat or between two."""

    at: int
    text: str
    on: bool


class HandoverGround:
    """The line with what hangs from it."""

    def __init__(self, schedule: HandoverSchedule, row: Row, layout: HandoverLayout) -> None:
        self.schedule, self.row, self.layout, self.look = schedule, row, layout, row.look
        self.timeline = schedule.timeline
        self.plate_at = schedule.meeting.handover.at if schedule.meeting else None
        self.plate_text = (
            syllable(self.timeline, self.plate_at, schedule.pulse) if self.plate_at is not None else ""
        )

    def draw(self) -> Picture:
        """Posts and what is counted under them, all but the place of the new start."""
        row, look = self.row, self.look
        drawn: Picture = [draw_line(row)]
        starts = {beat.at for beat in self.timeline.beats}
        step = row.scale * self.schedule.pulse
        if step >= 8:
            first = self._first_pulse()
            pulses = (at for at in range(first, row.end + 1, self.schedule.pulse) if at not in starts)
            drawn += [draw_post(row, at, SHORT_POST, look.width_pulse, look.meter_line) for at in pulses]
        for beat in self.timeline.beats:
            if row.holds(beat.at):
                width = look.width_post if beat.number == 1 else look.width_beat
                drawn.append(draw_post(row, beat.at, row.style.beat, width, look.meter_line))
                if self.look.canvas.tall:
                    x, half = row.x(beat.at), width / 2
                    top = look.canvas.bottom + BELOW
                    post = rectangle(x - half, top, x + half, look.canvas.height)
                    drawn.append(draw(look.meter_line, post, opacity=POST_BELOW))
        return [*drawn, *self._words(), *self._bars()]

    def plate(self, opacity: float) -> Picture:
        """Where the new list starts: its post, and what is counted there on a plate."""
        row, look, at = self.row, self.look, self.plate_at
        if at is None or not row.holds(at):
            return []
        box = self._plate_box()
        foot = box[1] if self.plate_text else row.line + row.style.post
        x = row.x(at)
        drawn = [draw(look.sail_two, rectangle(x - 3, row.line + 2, x + 3, foot), opacity=opacity)]
        if self.plate_text:
            baseline = (box[1] + box[3] + PLATE * CAPITAL) / 2
            middle = (box[0] + box[2]) / 2
            drawn += [
                draw(look.ink, rectangle(*box), opacity=opacity),
                draw_text(self.plate_text, middle, baseline, PLATE, look.ground, BOLD, 0.5, opacity),
            ]
        return drawn

    def _plate_box(self) -> tuple[float, float, float, float]:
        half = max(PLATE_HALF, text_width(self.plate_text, PLATE, BOLD) / 2 + 12)
        x = self.row.x(self.plate_at or 0)
        x = max(self.look.canvas.left + half, min(x, self.look.canvas.right - half))
        return x - half, self.row.line + PLATE_TOP, x + half, self.row.line + PLATE_FOOT

    def _first_pulse(self) -> int:
        """The first tick of the row that is whole pulses from its beat."""
        row, pulse = self.row, self.schedule.pulse
        _, _, start, _ = beat_start(self.timeline, max(row.start, self.timeline.start))
        return start - (start - row.start) // pulse * pulse

    def _spoken(self) -> list[Spoken]:
        """All that may be counted in the row, the beats first."""
        row, pulse, timeline = self.row, self.schedule.pulse, self.timeline
        beats = [Spoken(b.at, str(b.number), True) for b in timeline.beats if row.holds(b.at)]
        if row.scale * pulse < LEAST_PULSE:
            return beats
        starts = {beat.at for beat in beats}
        inside = range(max(self._first_pulse(), timeline.start), min(row.end, timeline.bars[-1].end), pulse)
        between = (Spoken(at, syllable(timeline, at, pulse), False) for at in inside if at not in starts)
        return [*beats, *(each for each in between if each.text and each.text not in "0123456789")]

    def _words(self) -> Picture:
        """What is counted, as far as it keeps clear of what comes before it, and of the plate."""
        row, look = self.row, self.look
        size = max(look.size_least, min(44.0, 0.72 * row.scale * self.schedule.pulse))
        baseline = row.line + self.layout.spoken
        shown = self.plate_at is not None and row.holds(self.plate_at) and bool(self.plate_text)
        taken = [self._plate_box()] if shown else []
        drawn: Picture = []
        for spoken in self._spoken():
            weight = BOLD if spoken.on else REGULAR
            width, x = text_width(spoken.text, size, weight), row.x(spoken.at)
            box = (x - width / 2, baseline - size * CAPITAL, x + width / 2, baseline + 10)
            inside = look.canvas.left <= box[0] and box[2] <= look.canvas.right
            if not inside or any(meet(box, other, 4) for other in taken):
                continue
            taken.append(box)
            drawn.append(draw_text(spoken.text, x, baseline, size, look.meter_text, weight, 0.5))
        return drawn

    def _bars(self) -> Picture:
        row, look, size = self.row, self.look, self.row.style.bar
        drawn: Picture = []
        free = look.canvas.left
        for bar in self.timeline.bars:
            x = max(row.x(bar.at) - 6, free)
            text = look.words.say(f"bar {bar.number}")
            end = x + text_width(text, size, SEMIBOLD)
            if row.holds(bar.at) and x <= row.x(bar.at) + 1 and end <= look.canvas.right:
                baseline = row.line + self.layout.bars
                drawn.append(draw_text(text, x, baseline, size, look.meter_text, SEMIBOLD))
                free = end + 24
        return drawn
