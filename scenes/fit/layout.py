"""Where `fit` stands: the sum, the whole section on one row, its end enlarged, and the frame that joins the two.

On a wide canvas the lengths are told under the enlarged row, on a tall one over it.
"""

from dataclasses import dataclass, replace

from renderer.schedule.fit import FitSchedule
from scenes.draw.look import Canvas, Look
from scenes.row.line import Row

BEFORE, AFTER = 20, 8
"""How many pulses before the section's end and after it are enlarged, at least, on a wide canvas."""
BEFORE_NARROW, AFTER_NARROW = 14, 6
NARROW = 1300.0
"""Pixels: a canvas that is narrower has fewer pulses."""
MOST_ENLARGED = 48
"""Pulses that are enlarged at most."""
SUM_PLACE, WHOLE_PLACE, END_PLACE = 268.0, 306.0, 529.0
"""On a wide canvas: the sum's baseline, and the tops of the two rows' skies."""
LOW_PLACES = 210.0, 224.0, 384.0
"""The same on a slide."""
SUM_SHARE, WHOLE_SHARE, END_SHARE, SAIL_SHARE = 0.3073, 0.372, 0.545, 0.108
"""The same on a tall one, and the height of its sails, by the canvas's height."""


@dataclass(frozen=True)
class FitLayout:
    """Where all of it stands, in pixels."""

    sum_baseline: float
    whole: Row
    end: Row
    label: float
    """The baseline of the lengths that are told."""
    brace: float
    above: bool
    """Whether lengths are told over the enlarged row, and the sum's words under it."""

    @property
    def frame(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom of the frame round what is enlarged."""
        whole, end = self.whole, self.end
        return whole.x(end.start), whole.top - 8, whole.x(end.end), whole.feet + 10


def lay_fit(look: Look, schedule: FitSchedule) -> FitLayout:
    """Lay out a section's sum on a look's canvas."""
    canvas, longest = look.canvas, _longest_group(schedule)
    start, stop = enlarged_range(schedule, canvas)
    whole_style, end_style = look.row_whole, look.row_end
    higher = max(0.0, canvas.height - 1080)
    sum_place, whole_top, end_top = SUM_PLACE, WHOLE_PLACE, END_PLACE + 0.1 * higher
    if canvas.low < 1:
        sum_place, whole_top, end_top = LOW_PLACES
        whole_style = replace(whole_style.squeezed(0.8), post=whole_style.post)
        end_style = replace(end_style.squeezed(0.62), hull=46, post=66, number=38, bar=38)
    elif canvas.tall:
        sum_place, whole_top, end_top = (
            share * canvas.height for share in (SUM_SHARE, WHOLE_SHARE, END_SHARE)
        )
        whole_style = replace(whole_style.squeezed(1.2), bar=38.0)
        end_style = replace(end_style.squeezed(1.4), sail=SAIL_SHARE * canvas.height, bar=48.0, number=46.0)
    else:
        end_style = replace(end_style, sail=end_style.sail + 0.8 * higher)
    section, timeline = schedule.section, schedule.timeline
    after = timeline.bar_at(section.end).end if section.end < timeline.end else section.end
    first, last = min(section.at, start), max(after, stop)
    whole = Row(first, last, canvas.music_width / (last - first), whole_top, whole_style, look, longest)
    framed = look.on(replace(canvas, sky_left=canvas.music_left, sky_right=canvas.music_right))
    scale = canvas.music_width / (stop - start)
    end = Row(start, stop, scale, end_top, end_style, framed, longest)
    label, brace = (end.top - 44, end.top - 22) if canvas.tall else (end.feet + 88, end.feet + 26)
    if canvas.low < 1:
        label, brace = end.feet + 60, end.feet + 16
    return FitLayout(sum_place, whole, end, label, brace, canvas.tall)


def _longest_group(schedule: FitSchedule) -> int:
    """The longest group of the voice, in ticks."""
    own = (r for r in schedule.timeline.repetitions if r.voice == schedule.voice)
    return max((group.written for r in own for group in r.statement.groups), default=1)


def enlarged_range(schedule: FitSchedule, canvas: Canvas) -> tuple[int, int]:
    """The ticks that are enlarged: the section's end with all that fills what is left over, and what comes after."""
    pulse, line = schedule.pulse, schedule.section.end
    before, after = (BEFORE, AFTER) if canvas.width >= NARROW else (BEFORE_NARROW, AFTER_NARROW)
    first = min((part.at for part in schedule.parts[schedule.closing :]), default=line)
    before = max(before, -(-(line - first) // pulse) + 3)
    after = max(after, schedule.sum.over // pulse + 3)
    before = max(4, min(before, MOST_ENLARGED - after))
    return max(schedule.timeline.start, line - before * pulse), line + after * pulse
