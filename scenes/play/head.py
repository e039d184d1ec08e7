"""What the head of `play` says: the section, what is pointed at, and the counter."""

from bisect import bisect_left
from collections.abc import Sequence
from fractions import Fraction

from renderer.core.names import bars_from
from renderer.schedule.pace import reading_seconds
from renderer.schedule.phrases import Phrases, text_of
from renderer.schedule.play import PlaySchedule
from scenes.draw.kept import Kept
from scenes.draw.look import Look
from scenes.draw.segment import Moment
from scenes.frame.counted import count_repetition
from scenes.frame.head import Count, sentence_of
from scenes.frame.headed import Sentence
from scenes.frame.phrasing import colour_phrases
from scenes.play.voice import PlayVoice


class PlayHead:
    """The sentence and the counter at a moment. `ahead`: when the beats before the first downbeat fall, in seconds."""

    def __init__(self, schedule: PlaySchedule, look: Look, ahead: Sequence[Fraction]) -> None:
        self.schedule = schedule
        self.timeline = schedule.timeline
        self.look = look
        self.ahead = ahead
        self.keep = Kept()

    def sentence(self, moment: Moment, now: int | None, begins: int) -> Sentence:
        """The section that sounds at tick `now`, before the music that of tick `begins`; what is pointed at."""
        bar = self.timeline.bar_at(begins if now is None else now)
        plain = self.keep(self._section_sentence, bar.section_index)
        told = [(self.schedule.turning(point)[0], point) for point in self.schedule.points]
        told = [(seconds, point) for seconds, point in told if moment.reached(seconds)]
        if told:
            since, point = max(told, key=lambda entry: entry[0])
            if not moment.reached(since + reading_seconds(text_of(point.phrases), self.timeline.words)):
                whole = point.phrases if self.look.canvas.legend is not None else _first_words(point.phrases)
                return Sentence(plain.small, colour_phrases(self.look, whole), since)
        return plain

    def _section_sentence(self, index: int) -> Sentence:
        """What the head says in a section while nothing is pointed at."""
        section = self.timeline.sections[index]
        bars = bars_from(section.first_bar_number, section.last_bar_number)
        return Sentence(f"{section.name}, {bars}", tuple(sentence_of(self.look, self.timeline.title)))

    def counts(self, moment: Moment, now: int | None, voice: PlayVoice) -> Sequence[Count]:
        """The bar, and the repetition of a voice, at tick `now`; before the music the beat that is counted in."""
        look = self.look
        if now is None:
            to_come = len(self.ahead) - bisect_left(self.ahead, moment.end)
            bar = self.timeline.bar_at(max(0, self.schedule.spans[0].start))
            beats = len(bar.meter.beats)
            return (Count("beat", str(beats - to_come % beats), 1, look.meter_text),) if self.ahead else ()
        bar = self.timeline.bar_at(now)
        digits = len(str(self.timeline.bars[-1].number))
        counts = [Count("bar", str(bar.number), digits, look.meter_text)]
        repetition = voice.sounding(now)
        if repetition and not self.look.canvas.tall:
            name = voice.name if len(self.timeline.voices) > 1 else ""
            counts.insert(0, count_repetition(look, repetition, self.schedule.numbers, voice.digits, name))
        return counts


def _first_words(phrases: Phrases) -> Phrases:
    """What a sentence begins with, where there is room for no more: up to what it speaks of."""
    first = next((n for n, phrase in enumerate(phrases) if phrase.role != "plain"), 0)
    return phrases[: first + 1]
