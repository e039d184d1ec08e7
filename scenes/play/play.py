"""play: the music in real time: playhead, repetition, bar, harmony, and who keeps which clock.

Two equal rows of bars stand one under the other and never move. The playhead runs through one, then through the other;
the row that it has left is replaced while the other one plays. What has sounded is lit, up to the playhead and not
beyond.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from fractions import Fraction

from renderer.schedule.clicks import count_in_clicks
from renderer.schedule.model import Span
from renderer.schedule.play import PlaySchedule
from renderer.schedule.points import Pointed
from renderer.timeline.model import Bar, Beat, Harmony
from renderer.timeline.model import Mark as TeacherMark
from scenes.draw.fading import faded, part_texts
from scenes.draw.kept import LIMIT
from scenes.draw.look import REGULAR, SEMIBOLD, Look
from scenes.draw.paths import rectangle
from scenes.draw.segment import Moment, Picture
from scenes.draw.shapes import draw, draw_text, moved
from scenes.frame.foot import draw_veil
from scenes.frame.head import Count, fit_name
from scenes.frame.headed import HeadedSegment, Sentence
from scenes.play.ground import draw_chords, draw_ground, draw_marks_over, draw_present_bar
from scenes.play.head import PlayHead
from scenes.play.rows import MANY, PlayRow, choose_rows, lay_stage
from scenes.play.sides import SidesFoot, without_meter
from scenes.play.voice import Mark, PlayVoice, draw_landing_stroke, draw_mark
from scenes.row.line import Row
from scenes.row.mark_words import said_at

TURN, TURNED_LEAST = Fraction(1, 4), Fraction(1)
"""Seconds in which all else steps back from what is pointed at, and for which it does at least, so that nothing
flashes."""
STAYS, FADES = Fraction(1, 5), Fraction(3, 10)
"""Seconds that a finished row stays as it is, and in which the row after next takes its place."""
FADE_STEPS = 9
"""In so many steps: a row is large, and costs as much as 20 other frames each time."""
WAITING = 0.35
"""Opacity of the playhead that waits in the other row."""


class PlaySegment(HeadedSegment):
    """The repetitions of all voices in real time over the bars of the chosen stretches."""

    schedule: PlaySchedule

    def __init__(self, schedule: PlaySchedule, look: Look) -> None:
        super().__init__(schedule, look)
        timeline = schedule.timeline
        self._sounds_at: dict[tuple[int, int], Fraction] = {}
        self.harmony: tuple[Harmony, ...] = () if "harmony" in schedule.without else timeline.harmony
        self.voices = [PlayVoice(self, schedule, name) for name in timeline.voices or ("",)]
        stage = lay_stage(look, len(self.voices))
        self.rows = choose_rows(timeline, schedule.spans, stage.look)
        self.stage = stage if len(self.rows) > 1 else stage.alone()
        self.scale = self.stage.look.canvas.music_width / max(row.end - row.start for row in self.rows)
        self.longest_group = max(
            (g.written for r in timeline.repetitions for g in r.statement.groups), default=1
        )
        self._reached: tuple[Moment | None, int | None] = (None, None)
        self._current: tuple[Moment | None, int] = (None, 0)
        self.begins = [max(row.start, schedule.spans[row.span].start) for row in self.rows]
        """Where in each row the music begins, in ticks: after a bar that is only seen."""
        spans = (schedule.spans[row.span] for row in self.rows)
        self.starts = [self.seconds_of(span, at) for span, at in zip(spans, self.begins, strict=True)]
        self.ahead = self._beats_ahead()
        self.told = PlayHead(schedule, look, self.ahead)
        self.foot = SidesFoot(schedule, look, stacked=not look.canvas.legend)
        self.alone = without_meter(timeline)

    # When and where

    def _beats_ahead(self) -> list[Fraction]:
        """When the beats before the first downbeat fall, in seconds."""
        first = self.schedule.spans[0]
        bar = self.timeline.bar_at(max(0, first.start))
        downbeat = self.schedule.seconds_of(first, bar.at)
        return [click.seconds for click in count_in_clicks(self.timeline, bar, downbeat, downbeat)]

    def _now(self, moment: Moment) -> int | None:
        """The last tick that this frame has reached; None in the count-in. It is asked for several times a frame."""
        if self._reached[0] is not moment:
            self._reached = moment, self._find_now(moment)
        return self._reached[1]

    def _find_now(self, moment: Moment) -> int | None:
        span = self.schedule.span_at(moment.end)
        if not moment.reached(span.seconds):
            return None
        at = min(span.end - 1, int(self.schedule.position(moment.end)) + 1)
        while at > span.start and not moment.reached(self.seconds_of(span, at)):
            at -= 1
        return at

    def seconds_of(self, span: Span, at: int) -> Fraction:
        """When tick `at` of a span of the schedule sounds in the segment; asked for again and again while it does."""
        seconds = self._sounds_at.get((id(span), at))
        if seconds is None:
            if len(self._sounds_at) >= LIMIT:
                self._sounds_at.clear()
            seconds = self._sounds_at[id(span), at] = self.schedule.seconds_of(span, at)
        return seconds

    def row(self, index: int) -> Row:
        """A row where it stands, as for the lowest voice."""
        return self.keep(self.stage.row, self.rows[index], index % 2, self.scale, self.longest_group)

    def voice_row(self, index: int, voice: int) -> Row:
        """A row as for one of the voices."""
        return self.keep(self.stage.voice_row, self.row(index), voice)

    def current(self, moment: Moment) -> int:
        """The row in which the playhead is, by index."""
        if self._current[0] is not moment:
            first = max(0, bisect_right(self.starts, moment.seconds) - 1)
            near = self.starts[first : first + 2]
            index = max(0, first + sum(moment.reached(start) for start in near) - 1)
            self._current = moment, index
        return self._current[1]

    def position(self, moment: Moment, row: PlayRow) -> float:
        """Where the playhead is in its row, in ticks."""
        position = self.schedule.position(moment.seconds)
        return max(float(row.start), min(float(row.end), position))

    # The picture

    def music(self, moment: Moment) -> Picture:
        now, index = self._now(moment), self.current(moment)
        drawn = [*self._other(index, moment), *self._playing(index, moment, now)]
        if pointed := self._pointed(index, moment, now):
            drawn = [*part_texts(drawn, pointed, 2.0)[0], *pointed]
        if not self.footed:
            return drawn
        if len(self.voices) < MANY:
            drawn += self.legend(self.keep(self._kinds), self.canvas.marks)
        if "parts" in self.schedule.without:
            return drawn
        return drawn + self.foot.picture(moment)

    def _points(self, moment: Moment) -> list[tuple[Pointed, float]]:
        """What the picture turns to at a moment, and how far it has."""
        found = []
        for point in self.schedule.points:
            start, end = self.schedule.turning(point)
            end = max(end, start + TURNED_LEAST)
            if moment.reached(start) and not moment.reached(end):
                share = min(moment.share(start, start + TURN), 1 - moment.share(end - TURN, end))
                found.append((point, share))
        return found

    def _pointed(self, index: int, moment: Moment, now: int | None) -> Picture:
        """While what is pointed at sounds, all else steps back."""
        points = self._points(moment)
        if not points or now is None:
            return []
        drawn: Picture = [draw_veil(self.look, max(share for _, share in points))]
        for point, share in points:
            repetition = point.spot.repetition
            voice = next(n for n, each in enumerate(self.voices) if each.name == repetition.voice)
            for each in (index - 1, index, index + 1):
                if not 0 <= each < len(self.rows) or self.rows[each].span != self.rows[index].span:
                    continue
                own = self.voice_row(each, voice)
                if each in self._seen(index, moment) and own.shows(repetition.at, repetition.end):
                    x = own.x(self.position(moment, self.rows[index])) if each == index else own.left
                    x = own.right if each < index else x
                    lit = self.voices[voice].pointed(own, repetition, now, x, self.begins[each])
                    drawn += faded(lit, share)
        row = self.row(index)
        return [*drawn, *self._playhead(row, row.x(self.position(moment, self.rows[index])))]

    def _seen(self, index: int, moment: Moment) -> tuple[int, int]:
        """The two rows that are seen, by index: the one that plays, and the one before it until the next one comes."""
        left = self.starts[index] + STAYS
        stays = index and not moment.share(left, left + FADES)
        return index, index - 1 if stays else index + 1

    def _other(self, index: int, moment: Moment) -> Picture:
        """The row in which the playhead is not: the one before, then the next one, which waits."""
        following, last = index + 1, len(self.rows) - 1
        if index == 0:
            return self._resting(1, lit=False) if last else []
        left = self.starts[index] + STAYS
        share = moment.share(left, left + FADES)
        if not share or following > last:
            return self._resting(index - 1, lit=True)
        waiting: Picture = []
        if share == 1:
            waiting = self._waiting_playhead(following, moment)
            return [*self._resting(following, lit=False), *waiting]
        return self.keep(self._fading, index, int(share * FADE_STEPS))

    def _fading(self, index: int, step: int) -> Picture:
        """The row before the one that plays, some steps on its way to the one after it."""
        before, after = self._resting(index - 1, lit=True), self._resting(index + 1, lit=False)
        return _fade(before, after, step / FADE_STEPS)

    def _resting(self, index: int, lit: bool) -> Picture:
        """A row in which nothing moves, all of it lit or none of it."""
        return self.keep(self._draw_resting, index, lit)

    def _draw_resting(self, index: int, lit: bool) -> Picture:
        row = self.row(index)
        now, x = (row.end, row.right) if lit else (None, row.left)
        return [
            *self._ground(index),
            *self._marks_over(index, frozenset()),
            *self._chords(index, None),
            *self._bodies(index, now, x),
        ]

    def _playing(self, index: int, moment: Moment, now: int | None) -> Picture:
        """The row in which the playhead is."""
        row = self.row(index)
        if now is None:
            return [
                *self._resting(index, lit=False),
                *self._playhead(row, row.x(self.begins[index]), WAITING),
            ]
        now = max(row.start, min(now, row.end))
        x = row.x(self.position(moment, self.rows[index]))
        sounding = next((n for n, each in enumerate(self.harmony) if each.at <= now < each.end), None)
        beat = self.timeline.beat_at(min(now, row.end - 1))
        bar = self.timeline.bar_at(min(now, row.end - 1))
        drawn = [
            *self._ground(index),
            *self._marks_over(index, said_at(self.timeline.marks, now)),
            *self._chords(index, sounding),
            *self.keep(self._draw_present_bar, index, bar, beat),
            *self._bodies(index, now, x),
        ]
        since = self._just_sounded(index, now, moment)
        for number, voice in enumerate(self.voices):
            drawn += voice.swelling(self.voice_row(index, number), now, since)
        return drawn + self._playhead(row, x)

    def _just_sounded(self, index: int, now: int, moment: Moment) -> list[tuple[int, float]]:
        """The accents' ticks of the last moments, with the seconds since they sounded."""
        span, swell = self.schedule.span_at(moment.end), self.look.swell
        found = set()
        for voice in range(len(self.voices)):
            places = self.keep(self._mark_places, index, voice)
            for number in reversed(range(bisect_right(places, now))):
                since = moment.since(self.seconds_of(span, places[number]))
                if since >= swell:
                    break
                found.add((places[number], since))
        return sorted(found)

    # What stands still

    def _ground(self, index: int) -> Picture:
        return self.keep(self._draw_ground, index)

    def _draw_ground(self, index: int) -> Picture:
        """Sky, sections, line and posts of a row, with the voices' names beside it."""
        below = self.canvas.tall and index % 2 == 1
        drawn = draw_ground(self.row(index), self.timeline, self.harmony, self.alone, below)
        return drawn + self._voice_names(index) if len(self.voices) > 1 else drawn

    def _marks_over(self, index: int, said: frozenset[TeacherMark]) -> Picture:
        """The teacher's own words over a row; what is `said` stands out."""
        row = self.row(index)
        here = frozenset(mark for mark in said if row.shows(mark.at, mark.to))
        return self.keep(draw_marks_over, row, self.timeline.marks, self.timeline.sections, here)

    def _voice_names(self, index: int) -> Picture:
        """Each voice's name in the gutter, level with its hull; the first one's is the counter's."""
        look, drawn = self.look, []
        room = self.row(index).left - self.canvas.left - 16
        for number, voice in enumerate(self.voices):
            own = self.voice_row(index, number)
            weight = SEMIBOLD if number == 0 else REGULAR
            most = 2 if own.style.sail + own.style.hull > 80 else 1
            size, lines = fit_name(look, voice.name, 36.0, room, weight, most)
            if own.style.hull + own.style.sail < size * 0.8:
                continue
            first = own.hull_bottom - 4 - (len(lines) - 1) * size * 1.05
            for line, text in enumerate(lines):
                baseline = first + line * size * 1.05
                drawn.append(draw_text(text, self.canvas.left, baseline, size, look.figure_text, weight))
        return drawn

    def _chords(self, index: int, sounding: int | None) -> Picture:
        row = self.rows[index]
        held = (
            sounding is not None
            and self.harmony[sounding].at < row.end
            and self.harmony[sounding].end > row.start
        )
        return self.keep(self._draw_chords, index, sounding if held else None)

    def _draw_chords(self, index: int, sounding: int | None) -> Picture:
        baseline = self.row(index).top + self.stage.measures.lane * 0.82
        return draw_chords(self.row(index), self.harmony, sounding, self.stage.style.name, baseline)

    def _draw_present_bar(self, index: int, bar: Bar, present: Beat) -> Picture:
        return draw_present_bar(self.row(index), self.timeline.beats_in(bar), bar, present)

    # Vessels and their marks

    def _bodies(self, index: int, now: int | None, x: float) -> Picture:
        """All voices of a row, lit up to the playhead at pixel `x`."""
        drawn: Picture = []
        over: Picture = []
        for number, voice in enumerate(self.voices):
            own = self.voice_row(index, number)
            places = self.keep(self._mark_places, index, number)
            reached = 0 if now is None else bisect_right(places, now)
            lit = range(bisect_left(places, self.begins[index]), reached)
            strokes, points = self._marks_drawn(index, number, lit)
            drawn += self.keep(voice.draw_soft, own)
            if now is not None:
                drawn += voice.lit_vessels(own, now, x, self.begins[index])
            drawn += strokes
            drawn += voice.numbers(own, now, x, self.begins[index])
            over += points
        return drawn + over

    def _marks(self, index: int, voice: int) -> Sequence[Mark]:
        return sorted(self.voices[voice].marks(self.voice_row(index, voice)), key=lambda mark: mark.at)

    def _mark_places(self, index: int, voice: int) -> Sequence[int]:
        return [mark.at for mark in self.keep(self._marks, index, voice)]

    def _marks_drawn(self, index: int, voice: int, lit: range) -> tuple[Picture, Picture]:
        """A voice's landings' strokes, and all its other marks; those in `lit`, by their order, are lit."""
        strokes = self.keep(self._draw_marks, index, voice, lit, True)
        return strokes, self.keep(self._draw_marks, index, voice, lit, False)

    def _draw_marks(self, index: int, voice: int, lit: range, strokes: bool) -> Picture:
        own = self.voice_row(index, voice)
        drawn: Picture = []
        for order, mark in enumerate(self.keep(self._marks, index, voice)):
            if strokes and mark.kind == "landing":
                drawn += self.keep(draw_landing_stroke, own, mark, order in lit)
            elif not strokes:
                drawn += self.keep(draw_mark, own, mark, order in lit)
        return drawn

    def _kinds(self) -> frozenset[str]:
        """Which kinds of marks occur in the segment."""
        kinds: set[str] = set()
        for index in range(len(self.rows)):
            for voice in range(len(self.voices)):
                kinds |= {mark.kind for mark in self._marks(index, voice)}
        return frozenset(kinds)

    def _playhead(self, row: Row, x: float, opacity: float = 1.0) -> Picture:
        """An upright stroke from the chords' lane to the feet of the posts."""
        return [moved(shape, x) for shape in self.keep(self._draw_playhead, row, opacity)]

    def _draw_playhead(self, row: Row, opacity: float) -> Picture:
        """The playhead of a row, at the picture's left edge."""
        half, edge = self.look.width_playhead / 2, self.look.edge
        top = row.top + self.stage.measures.lane
        under = rectangle(-half - edge, top, half + edge, row.line)
        return [
            draw(self.look.ground, under, opacity=opacity),
            draw(self.look.ink, rectangle(-half, top, half, row.feet), opacity=opacity),
        ]

    def _waiting_playhead(self, index: int, moment: Moment) -> Picture:
        """In the last beat of a row the playhead waits at the start of the next one."""
        beat = self.timeline.beat_at(self.rows[index - 1].end - 1)
        span = self.schedule.spans[self.rows[index - 1].span]
        if not moment.reached(self.seconds_of(span, beat.at)):
            return []
        stands = self.row(index)
        return self.keep(self._playhead, stands, stands.x(self.begins[index]), WAITING)

    # The head

    def sentence(self, moment: Moment) -> Sentence:
        return self.told.sentence(moment, self._now(moment), self.begins[self.current(moment)])

    def counts(self, moment: Moment) -> Sequence[Count]:
        return self.told.counts(moment, self._now(moment), self.voices[0])


def _fade(before: Picture, after: Picture, share: float) -> Picture:
    """From one row to another in the same place: shapes fade over each other, texts one after the other."""
    drawn: Picture = []
    for shape in before:
        if shape.text is None:
            drawn.append(shape)
        elif share < 0.5:
            drawn.append(shape.placed(shape.points, 1 - 2 * share))
    for shape in after:
        opacity = share if shape.text is None else max(0.0, 2 * share - 1)
        if opacity:
            drawn.append(shape.placed(shape.points, opacity))
    return drawn
