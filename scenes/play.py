"""play: the music in real time: playhead, bar and beat, repetition, harmony, and who keeps which clock.

Two rows of bars stand on each other: the one that sounds, large, and the next one, low and soft. While the
last beat of a row sounds the two exchange their heights, so the next row is in place on its downbeat and the
old one can be read to its end; during the first beat after that the old row closes and the one after next
opens. The rows' heights always add up to the same, so nothing can overlap.

What has sounded is lit, pulse by pulse: a pulse's cell lights up in the frame nearest to its time.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Hashable
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from renderer.clicks import count_in_clicks
from renderer.schedule import PlaySchedule, Span, row_breaks
from renderer.timeline import Bar, Beat, Timeline
from scenes.drawing import draw, draw_fade, draw_text
from scenes.frame import ABSENT, draw_counter, draw_legend, draw_title
from scenes.look import (
    MUSIC_LEFT,
    MUSIC_RIGHT,
    REGULAR,
    SEMIBOLD,
    STAGE_TOP,
    WIDTH,
    Look,
    RowStyle,
    blend,
    glide,
)
from scenes.paths import clip_all, disc, rectangle
from scenes.play_voice import PlayVoice
from scenes.row import Row, draw_ground, draw_post, make_rows
from scenes.segment import Moment, Picture, Segment
from scenes.sides import SidesFoot
from scenes.sky import draw_names, draw_sky, names_fit
from scenes.stage import Stage

NOW_HEIGHT, NEXT_HEIGHT = 540.0, 216.0
"""From one row's top to the next, for the row that sounds and the one after it."""
LONGEST_ROW, MOST_ROW = Fraction(4), Fraction(12)
"""In whole notes, as a rule and where the tempo is fast."""
SHORTEST_ROW = Fraction(2)
"""Seconds: a row turns no more often."""
TURN_LEAST, TURN_MOST = Fraction(4, 5), Fraction(9, 10)
VEILED = 0.6
"""A row that has closed this far can't be seen any more, before its type would stand in its shapes."""


class Turn(NamedTuple):
    """When a row gives way to the next: the exchange of heights ends on `downbeat`, the closing on
    `closed`."""

    start: Fraction
    downbeat: Fraction
    closed: Fraction


class PlaySegment(Segment):
    """The repetitions of all voices in real time over the bars of the chosen sections."""

    schedule: PlaySchedule

    def __init__(self, timeline: Timeline, schedule: PlaySchedule, look: Look) -> None:
        super().__init__(timeline, schedule, look)
        self.voices = [PlayVoice(self, schedule, name) for name in timeline.voices or ("",)]
        self.breaks = choose_play_rows(timeline, schedule.spans, look)
        self.scale = (MUSIC_RIGHT - MUSIC_LEFT) / max(end - start for start, end in self.breaks)
        self.longest_group = max(
            (g.written for r in timeline.repetitions for g in r.statement.groups), default=1
        )
        self.turns = self._find_turns()
        self.ahead = self._beats_ahead()
        self.foot = SidesFoot(timeline, schedule, look)

    def picture(self, moment: Moment) -> Picture:
        now = self._now(moment)
        drawn: Picture = []
        for index, row, opening in self.rows_at(moment):
            drawn += self._draw_row(row, index, moment, now)
            if opening < 1:
                veil = rectangle(0, row.top - 2, WIDTH, row.feet + 2)
                drawn.append(draw(self.look.ground, veil, opacity=min(1.0, (1 - opening) / VEILED)))
        drawn += self._head(now, moment)
        if "parts" in self.schedule.without:
            return drawn + self.keep("legend", draw_legend, self.look)
        return drawn + self.foot.picture(moment)

    def _beats_ahead(self) -> list[Fraction]:
        """When the beats before the first downbeat fall, in seconds."""
        first = self.schedule.spans[0]
        bar = self.timeline.bar_at(max(0, first.start))
        downbeat = self.schedule.seconds_of(self.timeline, first, bar.at)
        return [click.seconds for click in count_in_clicks(self.timeline, bar, downbeat, downbeat)]

    def _now(self, moment: Moment) -> int | None:
        """The last tick that this frame has reached; None in the count-in."""
        span = self.schedule.span_at(moment.seconds + moment.frame / 2)
        if not moment.reached(span.seconds):
            return None
        at = min(span.end - 1, int(self._position(moment, moment.frame / 2)) + 1)
        while at > span.start and not moment.reached(self.schedule.seconds_of(self.timeline, span, at)):
            at -= 1
        return at

    def _position(self, moment: Moment, later: Fraction = Fraction(0)) -> float:
        return self.schedule.position(self.timeline, moment.seconds + later)

    # The two rows and how they give way to each other

    def _find_turns(self) -> list[Turn]:
        turns = []
        for (start, end), (following, _) in pairwise(self.breaks):
            span = next(s for s in self.schedule.spans if s.start <= following < s.end)
            downbeat = self.schedule.seconds_of(self.timeline, span, following)
            row_seconds = self.timeline.seconds(end) - self.timeline.seconds(start)
            length = min(max(self.schedule.beat, TURN_LEAST), TURN_MOST, row_seconds / 3)
            turns.append(Turn(downbeat - length, downbeat, downbeat + length))
        return turns

    def rows_at(self, moment: Moment) -> list[tuple[int, Row, float]]:
        """The rows to be seen, from the top down: index, row, and how far it is open (1: all of it is there).

        A row's share is 0 when closed, 1 as the next row, 2 as the one that sounds; the shares add up to 3.
        """
        current = bisect_right([turn.closed for turn in self.turns], moment.seconds)
        shares = {current: 2.0, current + 1: 1.0}
        if current < len(self.turns):
            turn = self.turns[current]
            exchange = glide(moment.share(turn.start, turn.downbeat))
            closing = glide(moment.share(turn.downbeat, turn.closed))
            shares = {current: 2.0 - exchange - closing, current + 1: 1.0 + exchange, current + 2: closing}
        top, stack = float(STAGE_TOP), []
        for index, share in shares.items():
            if index < len(self.breaks) and share > 1 - VEILED:
                start, end = self.breaks[index]
                row = Row(
                    start, end, self.scale, top, _style(self.look, share), self.look, self.longest_group
                )
                stack.append((index, row, min(1.0, share)))
            top += NEXT_HEIGHT * min(1.0, share) + (NOW_HEIGHT - NEXT_HEIGHT) * max(0.0, share - 1)
        return stack

    def _draw_row(self, row: Row, index: int, moment: Moment, now: int | None) -> Picture:
        timeline, key = self.timeline, (index, row.top, row.style)
        drawn = [*self.keep(("sky", *key), self._sky, row)]
        drawn += self.keep(("posts", *key), draw_ground, row, timeline.bars, timeline.beats)
        sounds = now is not None and row.start <= now < row.end
        if sounds and now is not None:
            drawn += self._present_bar(row, key, now)
        for number in reversed(range(len(self.voices))):
            deck = row.deck(number, len(self.voices))
            drawn += self.voices[number].picture(deck, (number, *key), now, moment)
        for number, voice in enumerate(self.voices):
            deck = row.deck(number, len(self.voices))
            drawn += voice.landings_on_the_line(deck, (number, *key), now)
        if sounds and now is not None:
            drawn += self._playhead(row, moment)
        return drawn

    def _sky(self, row: Row) -> Picture:
        harmony = () if "harmony" in self.schedule.without else self.timeline.harmony
        return [*draw_sky(row, harmony), *draw_names(row, harmony, ())]

    # What moves with the time

    def _present_bar(self, row: Row, key: tuple[Hashable, ...], now: int) -> Picture:
        """The bar that sounds shows its beats; the beat that sounds stands out."""
        beat, bar = self.timeline.beat_at(now), self.timeline.bar_at(now)
        return self.keep(("bar", beat, *key), self._draw_present_bar, row, bar, beat)

    def _draw_present_bar(self, row: Row, bar: Bar, present: Beat) -> Picture:
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
        position = max(float(row.start), min(float(row.end), self._position(moment)))
        x = row.x(position)
        beat = self.timeline.beat_at(int(position))
        tail = max(row.left, x - (beat.end - beat.at) * row.scale)
        trail = rectangle(tail, row.top, x, row.line - self.look.width_line / 2)
        radius = 12.0
        edge = clip_all([disc(x, row.line, radius + self.look.edge)], row.left, row.right)
        stroke = rectangle(
            x - self.look.width_playhead / 2, row.top, x + self.look.width_playhead / 2, row.line
        )
        drawn: Picture = []
        if x - tail > 1:
            drawn.append(draw_fade(trail, look.ink, x - (beat.end - beat.at) * row.scale, x, 0.28))
        return [
            *drawn,
            draw(
                look.ground,
                rectangle(
                    x - self.look.width_playhead / 2 - 2,
                    row.base - row.style.sail,
                    x + self.look.width_playhead / 2 + 2,
                    row.line,
                ),
            ),
            draw(look.ink, stroke),
            draw(look.ground, *edge),
            draw(look.ink, *clip_all([disc(x, row.line, radius)], row.left, row.right)),
        ]

    def _head(self, now: int | None, moment: Moment) -> Picture:
        timeline = self.timeline
        if now is None:
            span = self.schedule.spans[0]
            section = timeline.sections[timeline.bar_at(span.start).section].name
            to_come = len(self.ahead) - bisect_left(self.ahead, moment.seconds + moment.frame / 2)
            beats = len(timeline.bar_at(max(0, span.start)).meter.beats)
            entries = [("repetition", ABSENT), ("bar", ABSENT), ("beat", str(beats - to_come % beats))]
        else:
            bar, beat = timeline.bar_at(now), timeline.beat_at(now)
            section = timeline.sections[bar.section].name
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
    if share >= 1:
        return blend(look.row_next, look.row_now, share - 1)
    return look.row_next.squeezed(share)


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
    """The seconds of the shortest row that is followed by another."""
    return min(
        (timeline.seconds(end) - timeline.seconds(start) for start, end in breaks[:-1]), default=SHORTEST_ROW
    )


class Play(Stage):
    """The segment as a Manim scene: `manim scenes/play.py Play`."""

    show = "play"
    segment_type = PlaySegment
