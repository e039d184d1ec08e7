"""Ticks as text for the timeline's tables: fractions of a whole note, bar, beat, offset, seconds."""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction

from renderer.report.wholes import Wholes, whole_texts
from renderer.timeline.bars import meter_beats
from renderer.timeline.model import Timeline

MOST_TICKS_A_ROW = 8
"""A piece with fewer ticks to a beat or repetition has all its ticks put into text in one go, which is faster."""


Texts = Mapping[int, str] | Sequence[str]


class BeatTexts(dict[int, str]):
    """Ticks from a bar's downbeat -> the place in felt beats from 1, exact: `7/2` is half way through beat 3."""

    def __init__(self, starts: tuple[int, ...]) -> None:
        """`starts` are those of a bar's beats, and its length, in ticks."""
        super().__init__()
        self._starts = starts

    def __missing__(self, offset: int) -> str:
        number = min(bisect_right(self._starts, offset), len(self._starts) - 1)
        start, end = self._starts[number - 1], self._starts[number]
        text = self[offset] = str(number + Fraction(offset - start, end - start))
        return text


class OffsetTexts(dict[int, str]):
    """Ticks from a bar's downbeat -> `beat` and `offset` (in pulses), as members of a JSON object."""

    def __init__(self, beats: BeatTexts, pulse: int) -> None:
        super().__init__()
        self._beats, self._pulse = beats, pulse

    def __missing__(self, offset: int) -> str:
        text = f'"beat": "{self._beats[offset]}", "offset": "{pulses_text(offset, self._pulse)}"'
        self[offset] = text
        return text


class PlaceTexts:
    """Ticks as fractions of a whole note, as bar, beat and seconds, in text, for one timeline."""

    def __init__(self, timeline: Timeline, ticks: Callable[[Timeline], Iterable[int]]) -> None:
        """`ticks` are the places that will be asked for."""
        self._timeline = timeline
        self.wholes: Texts = Wholes(timeline.grid)
        """By tick."""
        self.seconds: Texts
        """By tick."""
        end, start = timeline.end, timeline.start
        if end - start <= MOST_TICKS_A_ROW * (len(timeline.beats) + len(timeline.repetitions)):
            # All ticks in a list, those below 0 at its end, where an index below 0 finds them.
            stretches = range(end + 1), range(start, 0)
            self.wholes = [text for places in stretches for text in whole_texts(places, timeline.grid)]
            self.seconds = [repr(each) for places in stretches for each in timeline.clock.floats(places)]
        else:
            rising = sorted(set(ticks(timeline)))
            self.seconds = dict(zip(rising, map(repr, timeline.clock.floats(rising)), strict=True))
        meters = {id(bar.meter): bar.meter for bar in timeline.bars}
        self._by_meter = {key: BeatTexts(meter_beats(meter, timeline.grid)) for key, meter in meters.items()}
        self._meters = [id(bar.meter) for bar in timeline.bars]
        self._rows: dict[int, str] = {}

    @property
    def beats(self) -> list[BeatTexts]:
        """The beats of each bar, by its index."""
        return [self._by_meter[meter] for meter in self._meters]

    def offsets(self, pulse: int) -> list[OffsetTexts]:
        """The beats and offsets of each bar, by its index, in a pulse of so many ticks."""
        texts = {meter: OffsetTexts(beats, pulse) for meter, beats in self._by_meter.items()}
        return [texts[meter] for meter in self._meters]

    def bar_and_beat(self, at: int) -> str:
        """`bar` and `beat` of a tick, as members of a JSON object."""
        bar = self._timeline.bar_at(at)
        full_at = bar.end - meter_beats(bar.meter, self._timeline.grid)[-1] if bar.number == 0 else bar.at
        return f'"bar": {bar.number}, "beat": "{self._by_meter[id(bar.meter)][at - full_at]}"'

    def row(self, at: int) -> str:
        """`bar`, `beat` and `seconds` of a tick, as members of a JSON object."""
        text = self._rows.get(at)
        if text is None:
            text = self._rows[at] = f'{self.bar_and_beat(at)}, "seconds": {self.seconds[at]}'
        return text


def pulses_text(ticks: int, pulse: int) -> str:
    """Ticks in pulses, an exact fraction."""
    return str(Fraction(ticks, pulse)) if ticks % pulse else str(ticks // pulse)
