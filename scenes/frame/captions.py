"""A segment with captions: the words that are said stand in the foot in place of the sentence."""

from fractions import Fraction

from renderer.schedule.model import Caption
from renderer.schedule.say import SaidSchedule
from scenes.draw.look import Look
from scenes.draw.paths import rectangle
from scenes.draw.segment import Moment, Picture, Segment
from scenes.draw.shapes import FilledShape, draw, draw_text
from scenes.draw.text import shorten, text_width

ROOM = 1330
"""How wide a caption may be: the legend stands right of it."""
CAPTION_TOP, LINE_STEP = 951.0, 35.0


class CaptionedSegment(Segment):
    """Another segment's pictures, waiting where the words do, with the words."""

    def __init__(
        self, segment: Segment, schedule: SaidSchedule | None, captions: tuple[Caption, ...]
    ) -> None:
        super().__init__(schedule or segment.schedule, segment.look)
        self.segment, self.said, self.captions = segment, schedule, captions

    def picture(self, moment: Moment) -> Picture:
        inner = moment
        if self.said is not None:
            inner = Moment(self.said.inner_seconds(moment.seconds), moment.frame)
        caption = next(
            (c for c in self.captions if moment.reached(c.start) and not moment.reached(c.end)), None
        )
        if caption is None:
            return self.segment.picture(inner)
        opacity = _opacity(caption, moment, self.look, caption.end >= self.schedule.seconds)
        return [
            *self.segment.picture(inner),
            *self.keep((caption, opacity), draw_caption, self.look, caption.text, opacity),
        ]


def _opacity(caption: Caption, moment: Moment, look: Look, last: bool) -> float:
    """A caption fades in, and out unless the segment ends with it."""
    fade = Fraction(look.fade).limit_denominator(1000)
    coming = moment.share(caption.start, caption.start + fade)
    return coming if last else min(coming, 1 - moment.share(caption.end - fade, caption.end))


def draw_caption(look: Look, text: str, opacity: float) -> list[FilledShape]:
    """A caption in the foot, on one line or two, over what stands there."""
    lines = wrap(text, look.size_sentence, ROOM)
    size = look.size_sentence
    if len(lines) > 1:
        size = look.size_least
        lines = wrap(text, size, ROOM)
    if len(lines) > 2:
        lines = [lines[0], shorten(" ".join(lines[1:]), size, ROOM)]
    veil = draw(
        look.ground, rectangle(0, CAPTION_TOP, look.canvas.left + ROOM, look.canvas.width), opacity=opacity
    )
    first = look.canvas.foot - LINE_STEP * (len(lines) - 1)
    return [
        veil,
        *(
            draw_text(line, look.canvas.left, first + number * LINE_STEP, size, look.ink, opacity=opacity)
            for number, line in enumerate(lines)
        ),
    ]


def wrap(text: str, size: float, room: float) -> list[str]:
    """The text in lines no wider than `room`, broken at blanks."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and text_width(longer, size) > room:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines
