"""A segment with a head: what every show draws, the music, the sentence over it and the counter, apart."""

from abc import abstractmethod
from collections.abc import Collection, Sequence
from fractions import Fraction
from typing import NamedTuple

from scenes.draw.segment import Moment, Picture, Segment
from scenes.draw.shapes import Words
from scenes.frame.foot import draw_legend
from scenes.frame.head import Count, counter_width, draw_counter, draw_head
from scenes.frame.phrasing import say_stretches

COUNTER_FADE = Fraction(1, 2)
"""Seconds in which the counter goes where time stops being real."""


class Sentence(NamedTuple):
    """What the head says: a small line and the sentence under it, which comes in from `since` on."""

    small: str
    words: tuple[Words, ...]
    since: Fraction = Fraction(0)


class HeadedSegment(Segment):
    """One segment in one look: the music with its foot, and the head over it, but for what the schedule leaves out."""

    @abstractmethod
    def music(self, moment: Moment) -> Picture:
        """All but the head, in the order in which it is painted."""

    @abstractmethod
    def sentence(self, moment: Moment) -> Sentence:
        """What the head says at a moment."""

    def said(self, moment: Moment) -> Sentence:
        """What the head says at a moment, in the words of the spec."""
        small, stretches, since = self.sentence(moment)
        return Sentence(self.look.words.say(small), say_stretches(self.look, stretches), since)

    def counts(self, moment: Moment) -> Sequence[Count]:
        """What the counter shows; nothing where time isn't real."""
        return ()

    def real_end(self) -> Fraction | None:
        """When time stops being real and the counter fades; None where it shows what it counts all the time."""
        return None

    @property
    def footed(self) -> bool:
        """Whether the foot is drawn."""
        return "foot" not in self.schedule.without

    def legend(self, marks: Collection[str], lines: tuple[float, ...] = ()) -> Picture:
        """The foot: what these marks mean; on these lines where the canvas has no legend."""
        return self.keep(draw_legend, self.look, frozenset(marks), lines) if self.footed else []

    def picture(self, moment: Moment) -> Picture:
        """The shapes at a moment in the order in which they are painted."""
        untitled = "title" in self.schedule.without
        sentence = Sentence("", ()) if untitled else self.said(moment)
        return [*self.music(moment), *self.head(moment, sentence)]

    def head(self, moment: Moment, sentence: Sentence, opacity: float = 1.0) -> Picture:
        """A sentence, which fades in, and the counter."""
        look, (counts, stands) = self.look, self._counter(moment)
        if sentence.since:
            fade = Fraction(look.fade).limit_denominator(1000)
            opacity *= moment.share(sentence.since, sentence.since + fade)
        beside = self.keep(counter_width, look, counts)
        drawn = self.keep(draw_head, look, sentence.small, sentence.words, beside, opacity)
        if not counts or "counter" in self.schedule.without:
            return drawn
        return [*drawn, *self.keep(draw_counter, look, counts, stands)]

    def _counter(self, moment: Moment) -> tuple[tuple[Count, ...], float]:
        """What the counter shows and its opacity: after the end its last numbers fade."""
        end = self.real_end()
        if end is None or not moment.reached(end):
            return self._said_counts(moment), 1.0
        stands = 1 - moment.share(end, end + COUNTER_FADE)
        last = Moment(end - moment.frame, moment.frame)
        return (self._said_counts(last), stands) if stands else ((), 0.0)

    def _said_counts(self, moment: Moment) -> tuple[Count, ...]:
        """The counter in the words of the spec."""
        say = self.look.words.say
        return tuple(count._replace(word=say(count.word)) for count in self.counts(moment))
