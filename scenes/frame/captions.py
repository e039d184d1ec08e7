"""A segment with captions: the words that are said stand in the head in place of the sentence."""

from fractions import Fraction
from itertools import pairwise

from renderer.schedule.model import Caption
from renderer.schedule.say import SaidSchedule
from scenes.draw.look import Look
from scenes.draw.paths import rectangle
from scenes.draw.segment import Moment, Picture, Segment
from scenes.draw.shapes import draw
from scenes.frame.head import draw_head, fits_head, sentence_of
from scenes.frame.headed import HeadedSegment, Sentence

MOST_TURNS = 6


class CaptionedSegment(Segment):
    """Another segment's pictures, waiting where the words do, with the words."""

    def __init__(
        self, segment: Segment, schedule: SaidSchedule | None, captions: tuple[Caption, ...]
    ) -> None:
        super().__init__(schedule or segment.schedule, segment.look)
        self.segment, self.said = segment, schedule
        self.captions = [turn for caption in captions for turn in take_turns(segment.look, caption)]

    def picture(self, moment: Moment) -> Picture:
        inner = moment
        if self.said is not None:
            inner = Moment(self.said.inner_seconds(moment.seconds), moment.frame)
        caption = next(
            (c for c in self.captions if moment.reached(c.start) and not moment.reached(c.end)), None
        )
        if caption is None:
            return self.segment.picture(inner)
        sentence = Sentence("", tuple(sentence_of(self.look, caption.text)))
        opacity = _opacity(caption, moment, self.look, caption.end >= self.schedule.seconds)
        if isinstance(self.segment, HeadedSegment):
            return [*self.segment.music(inner), *self.segment.head(inner, sentence, opacity)]
        head = draw(
            self.look.ground, rectangle(0, 0, self.canvas.width, self.canvas.stage_top - 6), opacity=opacity
        )
        words = draw_head(self.look, "", sentence.words, opacity=opacity)
        return [*self.segment.picture(inner), head, *words]


def _opacity(caption: Caption, moment: Moment, look: Look, last: bool) -> float:
    """A caption fades in, and out unless the segment ends with it."""
    fade = Fraction(look.fade).limit_denominator(1000)
    coming = moment.share(caption.start, caption.start + fade)
    return coming if last else min(coming, 1 - moment.share(caption.end - fade, caption.end))


def take_turns(look: Look, caption: Caption) -> list[Caption]:
    """A caption that is too long for the head, in several turns of about as many words, each as long as its share."""
    words = caption.text.split()
    for count in range(1, MOST_TURNS + 1):
        edges = [round(len(words) * number / count) for number in range(count + 1)]
        texts = [" ".join(words[start:end]) for start, end in pairwise(edges)]
        if all(texts) and all(fits_head(look, text) for text in texts):
            break
    length = caption.end - caption.start
    times = [caption.start + length * Fraction(edge, max(1, len(words))) for edge in edges]
    return [
        Caption(start, end, text) for (start, end), text in zip(pairwise(times), texts, strict=True) if text
    ]
