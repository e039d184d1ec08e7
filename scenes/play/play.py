"""play: the music in real time: playhead, bar and beat, repetition, harmony, and who keeps which clock.

Two rows of bars stand on each other: the one that sounds, large, and the next one, low and soft. While the
last beat of a row sounds the two exchange their heights, so the next row is in place on its downbeat and the
old one can be read to its end; during the first beat after that the old row closes and the one after next
opens. The rows' heights always add up to the same, so nothing can overlap.

What has sounded is lit, pulse by pulse: a pulse's cell lights up in the frame nearest to its time.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Hashable, Iterator
from fractions import Fraction
from itertools import chain, pairwise
from typing import NamedTuple

from renderer.schedule.clicks import count_in_clicks
from renderer.schedule.model import Span
from renderer.schedule.play import PlaySchedule
from renderer.schedule.spans import row_breaks
from renderer.timeline.model import Bar, Beat, Timeline
from scenes.draw.blending import Blend
from scenes.draw.look import REGULAR, SEMIBOLD, Look, RowStyle, blend, glide
from scenes.draw.paths import clip_all, disc, rectangle
from scenes.draw.segment import Moment, Picture, Segment
from scenes.draw.shapes import FilledShape, draw, draw_fade, draw_text
from scenes.frame.head_and_foot import ABSENT, draw_counter, draw_legend, draw_title
from scenes.frame.sides import SidesFoot
from scenes.play.voice import PlayVoice
from scenes.row.line import Row, draw_ground, draw_post, make_rows
from scenes.row.sky import draw_names, draw_sky, names_fit
from scenes.stage import Stage

NOW_HEIGHT, NEXT_HEIGHT = 540.0, 216.0
"""From one row's top to the next, for the row that sounds and the one after it."""
LONGEST_ROW, MOST_ROW = Fraction(4), Fraction(12)
"""In whole notes, as a rule and where the tempo is fast."""
SHORTEST_ROW = Fraction(2)
"""Seconds: a row turns no more often."""
TURN_LEAST, TURN_MOST = Fraction(7, 10), Fraction(9, 10)
VEILED = 0.6
"""A row that has closed this far can't be seen any more, before its type would stand in its shapes."""
NOW, NEXT, CLOSED = 2.0, 1.0, 1 - VEILED
"""A row's share of the room: as the one that sounds, as the next one, and when it is just gone."""
TIMES = 1000
"""So many ticks' times are kept: those of a row or two."""
BLENDS = 16
"""So many ways from pose to pose are kept: those of one frame and the next few."""


class Turn(NamedTuple):
    """When a row gives way to the next: the exchange of heights ends on `downbeat`, the closing on
    `closed`."""

    start: Fraction
    downbeat: Fraction
    closed: Fraction


class PlaySegment(Segment):
    """The repetitions of all voices in real time over the bars of the chosen sections."""

    schedule: PlaySchedule

    def __init__(self, schedule: PlaySchedule, look: Look) -> None:
        super().__init__(schedule, look)
        timeline = schedule.timeline
        self.harmony = () if "harmony" in schedule.without else timeline.harmony
        self.voices = [PlayVoice(self, schedule, name) for name in timeline.voices or ("",)]
        self.breaks = choose_play_rows(timeline, schedule.spans, look)
        self.scale = (look.canvas.music_right - look.canvas.music_left) / max(
            end - start for start, end in self.breaks
        )
        self.longest_group = max(
            (g.written for r in timeline.repetitions for g in r.statement.groups), default=1
        )
        self.turns = self._find_turns()
        self.reaches = self._find_reaches()
        self._seconds: dict[tuple[int, int], Fraction] = {}
        self._poses: dict[tuple[int, float], Row] = {}
        self._blends: dict[tuple[int, float, float, int | None], Blend] = {}
        self.ahead = self._beats_ahead()
        self.foot = SidesFoot(schedule, look)

    def picture(self, moment: Moment) -> Picture:
        now = self._now(moment)
        drawn: Picture = []
        for index, row, share in self.rows_at(moment):
            drawn += self._standing(index, row, share, now)
            if now is not None and row.start <= now < row.end:
                drawn += self._moving(row, moment, now)
            if share < NEXT:
                veil = rectangle(0, row.top - 2, self.canvas.width, row.feet + 2)
                drawn.append(draw(self.look.ground, veil, opacity=min(1.0, (1 - share) / VEILED)))
        drawn += self._head(now, moment)
        if "parts" in self.schedule.without:
            return drawn + self.keep("legend", draw_legend, self.look)
        return drawn + self.foot.picture(moment)

    def _beats_ahead(self) -> list[Fraction]:
        """When the beats before the first downbeat fall, in seconds."""
        first = self.schedule.spans[0]
        bar = self.timeline.bar_at(max(0, first.start))
        downbeat = self.schedule.seconds_of(first, bar.at)
        return [click.seconds for click in count_in_clicks(self.timeline, bar, downbeat, downbeat)]

    def _now(self, moment: Moment) -> int | None:
        """The last tick that this frame has reached; None in the count-in."""
        span = self.schedule.span_at(moment.end)
        if not moment.reached(span.seconds):
            return None
        at = min(span.end - 1, int(self.schedule.position(moment.end)) + 1)
        while at > span.start and not moment.reached(self.seconds_of(span, at)):
            at -= 1
        return at

    def seconds_of(self, span: Span, at: int) -> Fraction:
        """When tick `at` of a span sounds in the segment; asked for again and again while it does."""
        key = (span.start, at)
        if key not in self._seconds:
            if len(self._seconds) >= TIMES:
                self._seconds.clear()
            self._seconds[key] = self.schedule.seconds_of(span, at)
        return self._seconds[key]

    # The two rows and how they give way to each other

    def _find_turns(self) -> list[Turn]:
        turns = []
        for (start, end), (following, _) in pairwise(self.breaks):
            span = next(s for s in self.schedule.spans if s.start <= following < s.end)
            downbeat = self.schedule.seconds_of(span, following)
            row_seconds = self.timeline.seconds(end) - self.timeline.seconds(start)
            length = min(max(self.schedule.beat, TURN_LEAST), TURN_MOST, row_seconds / 3)
            turns.append(Turn(downbeat - length, downbeat, downbeat + length))
        return turns

    def rows_at(self, moment: Moment) -> list[tuple[int, Row, float]]:
        """The rows to be seen, from the top down: index, row, and its share, 0 when closed, 1 as the next row, 2 as
        the one that sounds; the shares add up to 3."""
        current = bisect_right([turn.closed for turn in self.turns], moment.seconds)
        turn = self.turns[current] if current < len(self.turns) else None
        if turn is None or moment.seconds <= turn.start:
            resting = zip((current, current + 1), (NOW, NEXT), strict=True)
            return [(i, self._pose(i, share), share) for i, share in resting if i < len(self.breaks)]
        exchange = glide(moment.share(turn.start, turn.downbeat))
        closing = glide(moment.share(turn.downbeat, turn.closed))
        shares = {current: NOW - exchange - closing, current + 1: NEXT + exchange, current + 2: closing}
        top, stack = float(self.canvas.stage_top), []
        for index, share in shares.items():
            if index < len(self.breaks) and share > CLOSED:
                stack.append((index, self._row(index, share, top), share))
            top += _height(share)
        return stack

    def _row(self, index: int, share: float, top: float) -> Row:
        start, end = self.breaks[index]
        return Row(start, end, self.scale, top, _style(self.look, share), self.look, self.longest_group)

    def _pose(self, index: int, share: float) -> Row:
        """A row where it rests, as the one that sounds or as the next, or where it is just gone."""
        key = (index, share)
        if key not in self._poses:
            top = self.canvas.stage_top + (_height(NOW) if share == NEXT else 0.0)
            self._poses[key] = self._row(index, share, top)
        return self._poses[key]

    def _standing(self, index: int, row: Row, share: float, now: int | None) -> Picture:
        """A row without what moves with the time: at rest, or on the way from one pose to another."""
        reached = self._reached(index, now)
        if row is self._poses.get((index, share)):
            return self._posed(index, share, reached)
        low, high = (CLOSED, NEXT) if share < NEXT else (NEXT, NOW) if share < NOW else (NOW, NOW)
        blend = self._blend(index, low, high, reached)
        way = (share - low) / (high - low) if low < high else 0.0
        here, there = self._pose(index, low).top, self._pose(index, high).top
        return blend.at(way, row.top - (here + (there - here) * way))

    def _reached(self, index: int, now: int | None) -> int | None:
        """The last tick that makes a difference in a row; None before the first."""
        first, last = self.reaches[index]
        return None if now is None or now < first else min(now, last)

    def _find_reaches(self) -> list[tuple[int, int]]:
        """For each row from when until when anything in it lights up, in ticks: a repetition may begin before the row
        and end after it."""
        reaches = []
        for start, end in self.breaks:
            within = [
                voice.repetitions[number]
                for voice in self.voices
                for number in range(*voice.in_row(start, end))
            ]
            first, last = (
                min((r.at for r in within), default=start),
                max((r.end for r in within), default=end),
            )
            reaches.append((min(start, first), max(end, last)))
        return reaches

    def _blend(self, index: int, low: float, high: float, reached: int | None) -> Blend:
        key = (index, low, high, reached)
        if key not in self._blends:
            if len(self._blends) >= BLENDS:
                self._blends.clear()
            first, second = (self._parts(index, share, reached) for share in (low, high))
            levels = tuple(self._pose(index, share).levels for share in (low, high))
            self._blends[key] = Blend(first, second, (levels[0], levels[1]))
        return self._blends[key]

    def _posed(self, index: int, share: float, reached: int | None) -> Picture:
        return self.keep(("row", index, share, reached), self._draw_posed, index, share, reached)

    def _draw_posed(self, index: int, share: float, reached: int | None) -> Iterator[FilledShape]:
        return chain.from_iterable(self._parts(index, share, reached).values())

    def _parts(self, index: int, share: float, now: int | None) -> dict[Hashable, Picture]:
        """A row in a pose, in the order in which it is painted."""
        timeline, pose, row = self.timeline, (index, share), self._pose(index, share)
        parts: dict[Hashable, Picture] = {
            "sky": self.keep(("sky", pose), draw_sky, row, self.harmony),
            "names": self.keep(("names", pose), draw_names, row, self.harmony, ()),
            "ground": self.keep(("ground", pose), draw_ground, row, timeline.bars, timeline.beats),
        }
        if now is not None and row.start <= now < row.end:
            beat, bar = timeline.beat_at(now), timeline.bar_at(now)
            parts["bar"] = self.keep(("bar", beat, pose), self._draw_present_bar, row, bar, beat)
        decks = [row.deck(number, len(self.voices)) for number in range(len(self.voices))]
        for voice, deck in reversed(list(zip(self.voices, decks, strict=True))):
            parts |= voice.parts(deck, pose, now)
        for voice, deck in zip(self.voices, decks, strict=True):
            parts |= voice.landings_on_the_line(deck, pose, now)
        return parts

    # What moves with the time

    def _moving(self, row: Row, moment: Moment, now: int) -> Picture:
        span = self.schedule.span_at(moment.end)
        drawn: Picture = []
        for number, voice in enumerate(self.voices):
            deck = row.deck(number, len(self.voices))
            drawn += voice.swelling(deck, now, lambda at: moment.since(self.seconds_of(span, at)))
        return drawn + self._playhead(row, moment)

    def _draw_present_bar(self, row: Row, bar: Bar, present: Beat) -> Picture:
        """The bar that sounds shows its beats; the beat that sounds stands out."""
        look = self.look
        drawn: Picture = []
        room = min(1.0, max(0.0, (row.style.post - 84) / 22))
        for beat in self.timeline.beats_in(bar):
            sounds = beat == present
            colour = look.ink if sounds else look.meter_text
            baseline = row.line + row.style.post * 0.53
            weight = SEMIBOLD if sounds else REGULAR
            x = row.x(beat.at) + 12
            if room:
                drawn.append(
                    draw_text(
                        str(beat.number), x, baseline, self.look.size_sentence, colour, weight, opacity=room
                    )
                )
            if sounds:
                length = row.style.beat if beat.number > 1 else row.style.post
                drawn.append(
                    draw_post(
                        row,
                        beat.at,
                        length,
                        self.look.width_beat if beat.number > 1 else self.look.width_post,
                        look.ink,
                    )
                )
        return drawn

    def _playhead(self, row: Row, moment: Moment) -> Picture:
        """An upright stroke with a disc on the line and a fading trail, one beat long."""
        look = self.look
        position = max(float(row.start), min(float(row.end), self.schedule.position(moment.seconds)))
        x, line = row.x(position), row.line
        beat = self.timeline.beat_at(int(position))
        foot = x - (beat.end - beat.at) * row.scale
        tail, half = max(row.left, foot), look.width_playhead / 2
        drawn: Picture = []
        if x - tail > 1:
            trail = rectangle(tail, row.top, x, line - look.width_line / 2)
            drawn.append(draw_fade(trail, look.ink, foot, x, 0.28))
        edge = rectangle(x - half - 2, row.base - row.style.sail, x + half + 2, line)
        stroke = rectangle(x - half, row.top, x + half, line)
        for colour, upright, radius in ((look.ground, edge, 12.0 + look.edge), (look.ink, stroke, 12.0)):
            drawn.append(draw(colour, upright, *clip_all([disc(x, line, radius)], row.left, row.right)))
        return drawn

    def _head(self, now: int | None, moment: Moment) -> Picture:
        timeline = self.timeline
        if now is None:
            span = self.schedule.spans[0]
            section = timeline.sections[timeline.bar_at(span.start).section_index].name
            to_come = len(self.ahead) - bisect_left(self.ahead, moment.end)
            beats = len(timeline.bar_at(max(0, span.start)).meter.beats)
            entries = [("repetition", ABSENT), ("bar", ABSENT), ("beat", str(beats - to_come % beats))]
        else:
            bar, beat = timeline.bar_at(now), timeline.beat_at(now)
            section = timeline.sections[bar.section_index].name
            repetition = self.voices[0].sounding(now)
            number = str(repetition.number) if repetition else ABSENT
            entries = [("repetition", number), ("bar", str(bar.number)), ("beat", str(beat.number))]
        return self.keep(("head", section, *entries), self._draw_head, section, entries)

    def _draw_head(self, section: str, entries: list[tuple[str, str]]) -> Picture:
        most = len(self.voices[0].repetitions)
        digits = {"repetition": len(str(most)), "bar": len(str(self.timeline.bars[-1].number)), "beat": 1}
        counter = [(word, number, digits[word]) for word, number in entries]
        return [*draw_title(self.look, self.timeline.title, section), *draw_counter(self.look, counter)]


def _style(look: Look, share: float) -> RowStyle:
    """A row's measures by its share: all upright lengths shrink while it opens or closes, type does not."""
    if share >= NEXT:
        return blend(look.row_next, look.row_now, share - NEXT)
    return look.row_next.squeezed(share)


def _height(share: float) -> float:
    """From a row's top to the next one's."""
    return NEXT_HEIGHT * min(NEXT, share) + (NOW_HEIGHT - NEXT_HEIGHT) * max(0.0, share - NEXT)


def choose_play_rows(timeline: Timeline, spans: tuple[Span, ...], look: Look) -> list[tuple[int, int]]:
    """Rows of whole bars on which the harmonies' names fit; more bars where the tempo is fast, for no row is shorter
    than two seconds unless its section is."""
    longest = LONGEST_ROW
    breaks = row_breaks(timeline, spans, longest)
    while _shortest(timeline, breaks) < SHORTEST_ROW and longest < MOST_ROW:
        longest *= 2
        breaks = row_breaks(timeline, spans, longest)
    while longest > 1 and not all(
        names_fit(row, timeline.harmony) for row in make_rows(breaks, look.row_next, look)
    ):
        longest = longest * 3 / 4
        fewer = row_breaks(timeline, spans, longest)
        if _shortest(timeline, fewer) < SHORTEST_ROW:
            break
        breaks = fewer
    return breaks


def _shortest(timeline: Timeline, breaks: list[tuple[int, int]]) -> Fraction:
    """The seconds of the shortest row that is followed by another and isn't a section's only one."""
    whole = {(section.at, section.end) for section in timeline.sections}
    return min(
        (
            timeline.seconds(end) - timeline.seconds(start)
            for start, end in breaks[:-1]
            if (start, end) not in whole
        ),
        default=SHORTEST_ROW,
    )


class Play(Stage):
    """The segment as a Manim scene: `manim scenes/play/play.py Play`."""

    show = "play"
    segment_type = PlaySegment
