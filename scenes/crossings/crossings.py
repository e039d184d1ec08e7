"""crossings: close up, the repetition that begins in one harmony and ends in another, its rhythm unbroken.

The vessel is counted through. On the crossing's own pulse the new sky has just opened from the seam on and the
lozenge has come down; the counting goes on. Then braces tell how much of it lies in either harmony. From one crossing
to the next the picture glides sideways.
"""

from fractions import Fraction

from renderer.schedule.crossings import CloseUp, CrossingsSchedule
from renderer.schedule.model import HOLD
from renderer.timeline.model import Harmony, Landing, Repetition
from scenes.draw.look import BOLD, CAPITAL, SEMIBOLD, Look, arrive, glide
from scenes.draw.paths import disc, rectangle
from scenes.draw.segment import Moment, Picture, Segment, by_repetition, move_seconds
from scenes.draw.shapes import Words, across, draw, draw_text, moved
from scenes.draw.text import fit_size, musical, text_width, wrap
from scenes.draw.wording import crossing_sentence, crossing_start
from scenes.frame.head_and_foot import ABSENT, draw_counter, draw_legend, draw_sentence, draw_title
from scenes.row.close_row import CloseRow, draw_close_posts, draw_counts, draw_seam_in_vessel, draw_shares
from scenes.row.line import Row, draw_rests, draw_vessel
from scenes.row.marks import draw_crossing, draw_landing, draw_masthead
from scenes.row.sky import draw_sky

LEAST_PULSES, MOST_PULSES, NEIGHBOURS = 24, 40, 4
"""How many pulses the picture is wide, and how many it shows beside the counted ones."""
EDGE_PULSES = 5
"""A seam stands no nearer to the picture's edge."""
NAME_ZONE = 150.0
"""From the sky's top: the seams that are not meant begin under the names."""
OPENING = Fraction(3, 5)
"""Seconds in which the new sky opens."""
DROP = 70.0
"""Pixels from above which the lozenge comes down."""
SLIDE_GAP = 48
"""Pixels between a close-up that leaves and the one that comes."""
"""Pixels from one close-up to the next."""
VEIL, VEIL_RISE, STILL, VEIL_BOTTOM = 0.88, 0.3, 0.22, 950.0
"""How dim the picture is while it slides, the shares of the move in which it becomes so and in which it does not slide
yet or any more, and how far down."""
TEXT_EDGE = 40.0
"""Pixels over which a text that slides out of the frame fades."""


class CrossingsSegment(Segment):
    """The chosen crossings of one voice, one after another."""

    schedule: CrossingsSchedule

    def __init__(self, schedule: CrossingsSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        self.repetitions = [each for each in self.timeline.repetitions if each.voice == schedule.voice]
        self.crossings = by_repetition(self.timeline.crossings, schedule.voice)
        self.landings = by_repetition(self.timeline.landings, schedule.voice)
        self.longest = max((g.written for r in self.repetitions for g in r.statement.groups), default=1)
        self.width = self._width()
        self.rows = [self._row(close_up) for close_up in schedule.close_ups]

    def picture(self, moment: Moment) -> Picture:
        close_ups = self.schedule.close_ups
        if not close_ups:
            return self.keep("none", self._without)
        index = sum(1 for each in close_ups[1:] if moment.reached(each.seconds))
        move, drawn = self._move(index, moment), self._panel(index, moment)
        share = glide((move - STILL) / (1 - 2 * STILL))
        if move:
            slide = self.canvas.right - self.canvas.left + SLIDE_GAP
            coming = self._slid(self._panel(index + 1, moment), slide * (1 - share))
            drawn = [
                *self._slid(drawn, -slide * share),
                *coming,
                *self.keep("masks", self._masks),
                *self._veil(move),
            ]
        told = index + (share > 0.5)
        drawn += self.keep(("head", told), self._head, close_ups[told])
        drawn += self._counter(close_ups[told], moment)
        return drawn + self._sentence(close_ups[index], share, moment)

    # Where a close-up lies

    def _width(self) -> int:
        """The picture's width in ticks, one for all close-ups."""
        close_ups = self.schedule.close_ups
        pulse = min((each.repetition.statement.pulse for each in close_ups), default=0)
        if not pulse:
            return self.timeline.bars[min(len(self.timeline.bars), 2) - 1].end - self.timeline.start
        widest = max(each.last - each.first for each in close_ups) // pulse + NEIGHBOURS
        return min(MOST_PULSES, max(LEAST_PULSES, widest)) * pulse

    def _row(self, close_up: CloseUp) -> Row:
        """The counted pulses in the middle, unless that puts the seam too near to an edge."""
        seam, edge = close_up.crossing.at, EDGE_PULSES * self.width // LEAST_PULSES
        start = (close_up.first + close_up.last - self.width) // 2
        start = max(seam + edge - self.width, min(seam - edge, start))
        return self._row_from(start)

    def _row_from(self, start: int) -> Row:
        scale = (self.canvas.music_right - self.canvas.music_left) / self.width
        return Row(
            start,
            start + self.width,
            scale,
            self.canvas.stage_top,
            self.look.row_close,
            self.look,
            self.longest,
        )

    def _near(self, row: Row) -> list[Repetition]:
        """The repetitions that are seen in a row or its margins."""
        margin = int(self.width / 50) + 1
        return [r for r in self.repetitions if r.at < row.end + margin and r.end > row.start - margin]

    def _move(self, index: int, moment: Moment) -> float:
        """How much of the move to the close-up after `index` has passed; it ends when that one stands."""
        if index + 1 == len(self.schedule.close_ups):
            return 0.0
        arrival = self.schedule.close_ups[index + 1].seconds
        return moment.share(arrival - move_seconds(self.look, HOLD), arrival)

    # One close-up

    def _panel(self, index: int, moment: Moment) -> Picture:
        timeline, row, close_up = self.timeline, self.rows[index], self.schedule.close_ups[index]
        drawn: Picture = [*self.keep(("sky", index), self._sky, row, close_up)]
        drawn += self._opening(index, moment)
        drawn += self.keep(("vessels", index), self._vessels, row, close_up.repetition)
        counted = self._counted(close_up, moment)
        others = tuple(c.at for c in self.crossings[close_up.repetition.number] if c != close_up.crossing)
        close = CloseRow(row, close_up.repetition, close_up.crossing.at, others)
        if counted:
            drawn += self.keep(("counts", index, counted), draw_counts, close, counted)
        drawn += self.keep(("posts", index), draw_close_posts, close, timeline.bars, timeline.beats)
        drawn += self._marks(index, moment)
        drawn += self._playhead(close_up, row, moment)
        for number, seconds in enumerate(close_up.braces):
            if moment.reached(seconds):
                opacity = min(1.0, moment.since(seconds) / self.look.fade)
                key = ("shares", index, number, opacity)
                drawn += self.keep(key, draw_shares, close, self._shares(close_up)[number], number, opacity)
        return drawn

    def _sky(self, row: Row, close_up: CloseUp) -> Picture:
        """All fields of the row as they will be, with the small names of those that are not meant."""
        look, harmony = self.look, self.timeline.harmony
        drawn: Picture = [*draw_sky(row, harmony, seam_top=row.top + NAME_ZONE)]
        seam = row.x(close_up.crossing.at)
        lines = self._names(row, close_up)
        taken = [
            (seam - 40 - max(text_width(t, s, BOLD) for t, s in lines[0]), seam),
            (seam, seam + 40 + max(text_width(t, s, BOLD) for t, s in lines[1])),
        ]
        for field in harmony:
            left = max(row.left, row.x(field.at))
            x, stop = left + 15, min(row.right, row.x(field.end)) - 8
            name = musical(field.name)
            if not row.shows(field.at, field.end) or close_up.crossing.at in (field.at, field.end):
                continue
            width = text_width(name, look.size_least, SEMIBOLD)
            if x + width <= stop and all(x + width < start - 16 or x > end + 16 for start, end in taken):
                baseline = row.top + 34 + look.size_least * CAPITAL
                drawn.append(draw_text(name, x, baseline, look.size_least, look.harmony, SEMIBOLD))
        return drawn

    def _opening(self, index: int, moment: Moment) -> Picture:
        """What the first harmony still covers; its name, and the new one's as it comes."""
        row, close_up, look = self.rows[index], self.schedule.close_ups[index], self.look
        turns = close_up.seconds_of(self.timeline, close_up.crossing.at)
        share = glide(moment.share(max(close_up.seconds, turns - OPENING), turns))
        seam = row.x(close_up.crossing.at)
        drawn: Picture = []
        if share < 1:
            edge = seam + share * (row.right - seam) - (0 if share else look.width_seam)
            cover = rectangle(edge, row.top, row.right, row.line)
            drawn.append(draw(self._colour_before(close_up), cover))
        if share:
            half = (look.width_seam + 2) / 2
            drawn.append(
                draw(look.seam, rectangle(seam - half, row.top, seam + half, row.line), opacity=share)
            )
        before, after = self._names(row, close_up)
        drawn += self.keep(("before", index), self._big, before, row, seam - 40, 1.0, 1.0)
        if share > 0.5:
            opacity = 2 * share - 1
            drawn += self.keep(("after", index, opacity), self._big, after, row, seam + 40, 0.0, opacity)
        return drawn

    def _colour_before(self, close_up: CloseUp) -> str:
        fields: tuple[Harmony, ...] = self.timeline.harmony
        number = next(n for n, field in enumerate(fields) if field.end == close_up.crossing.at)
        return self.look.sky_two if number % 2 else self.look.sky_one

    def _names(self, row: Row, close_up: CloseUp) -> tuple[list[tuple[str, float]], list[tuple[str, float]]]:
        """The two harmonies' names in lines with their sizes: as large as their places allow."""
        seam, crossing = row.x(close_up.crossing.at), close_up.crossing
        rooms = (seam - 40 - row.left - 24, row.right - 24 - seam - 40)
        before, after = (
            self._lines(musical(name), room)
            for name, room in zip((crossing.before, crossing.after), rooms, strict=True)
        )
        return before, after

    def _lines(self, name: str, room: float) -> list[tuple[str, float]]:
        look = self.look
        size = fit_size(name, look.size_close, look.size_sentence, room, BOLD)
        return [(line, size) for line in wrap(name, size, room, BOLD)]

    def _big(
        self, lines: list[tuple[str, float]], row: Row, x: float, anchor: float, opacity: float
    ) -> Picture:
        size = lines[0][1]
        first = row.top + 34 + (self.look.size_close if len(lines) == 1 else size) * CAPITAL
        return [
            draw_text(text, x, first + n * size * 1.12, size, self.look.harmony, BOLD, anchor, opacity)
            for n, (text, _) in enumerate(lines)
        ]

    def _vessels(self, row: Row, meant: Repetition) -> Picture:
        near = self._near(row)
        drawn: Picture = [*draw_rests(row, near)]
        for repetition in near:
            colour = self.look.sail_one if repetition == meant else self.look.sail_soft
            drawn += draw_vessel(row, repetition, colour)
        return drawn

    def _counted(self, close_up: CloseUp, moment: Moment) -> int:
        """How many ticks of the repetition have sounded, up to the end of the pulse that sounds."""
        if not moment.reached(close_up.seconds_of(self.timeline, close_up.first)):
            return 0
        statement = close_up.repetition.statement
        position = close_up.position(self.timeline, moment.end)
        into = max(0, -int(-(position - close_up.repetition.at) // statement.pulse))
        return min(close_up.last - close_up.repetition.at, max(1, into) * statement.pulse)

    def _marks(self, index: int, moment: Moment) -> Picture:
        """Mastheads and landings that have sounded, and the lozenge on its way down and in its place."""
        row, close_up = self.rows[index], self.schedule.close_ups[index]
        repetition, timeline, look = close_up.repetition, self.timeline, self.look
        drawn: Picture = []
        landings = {mark.at: mark for mark in self.landings.get(repetition.number, []) if mark.sounds}
        accents = set(repetition.statement.accents)
        for group in repetition.statement.groups:
            at = repetition.at + group.at
            if group.at not in accents or not row.left + 14 < row.x(at) < row.right - 14:
                continue
            sounds = close_up.seconds_of(timeline, max(at, close_up.start))
            if not moment.reached(sounds):
                continue
            swell = 1 + (1 - arrive(moment.since(sounds) / look.swell)) / 3
            mark = landings.get(at)
            key, length = ("mast", index, at, swell), group.written
            if mark:
                drawn += self.keep(key, self._landing, row, mark, length, min(1.0, 4 - 3 * swell))
            else:
                drawn += self.keep(key, draw_masthead, row, repetition, group.at, length, swell)
        for crossing in self.crossings.get(repetition.number, []):
            turns = close_up.seconds_of(timeline, max(crossing.at, close_up.start))
            share = arrive(moment.share(max(close_up.seconds, turns - OPENING), turns))
            if share and row.left + 20 < row.x(crossing.at) < row.right - 20:
                key = ("lozenge", index, crossing.at, share)
                drawn += self.keep(key, self._lozenge, index, crossing.at, share)
        return drawn

    def _landing(self, row: Row, mark: Landing, length: int, opacity: float) -> Picture:
        return [*draw_landing(row, mark, length, opacity)]

    def _lozenge(self, index: int, at: int, share: float) -> Picture:
        row, close_up = self.rows[index], self.schedule.close_ups[index]
        crossing = close_up.crossing._replace(at=at)
        drawn: Picture = [*draw_seam_in_vessel(CloseRow(row, close_up.repetition, at))] if share == 1 else []
        return [*drawn, *draw_crossing(row, crossing, share, DROP * (1 - share))]

    def _playhead(self, close_up: CloseUp, row: Row, moment: Moment) -> Picture:
        """A disc that glides along the line while the music runs."""
        stop = close_up.seconds_of(self.timeline, close_up.stop)
        if not moment.reached(close_up.start_seconds) or moment.seconds >= stop:
            return []
        x = row.x(close_up.position(self.timeline, moment.seconds))
        if not row.left + 16 < x < row.right - 16:
            return []
        return [
            draw(self.look.ground, disc(x, row.line, 13 + self.look.edge)),
            draw(self.look.ink, disc(x, row.line, 13)),
        ]

    def _shares(self, close_up: CloseUp) -> tuple[tuple[int, int, str], tuple[int, int, str]]:
        """The stretches of the repetition in the harmonies before and after the change, with their names."""
        repetition, crossing = close_up.repetition, close_up.crossing
        seams = [repetition.at, *(c.at for c in self.crossings[repetition.number]), repetition.end]
        place = seams.index(crossing.at, 1)
        return (
            (seams[place - 1], crossing.at, musical(crossing.before)),
            (crossing.at, seams[place + 1], musical(crossing.after)),
        )

    # What stands round it

    def _head(self, close_up: CloseUp) -> Picture:
        section = self.timeline.sections[self.timeline.bar_at(close_up.crossing.at).section_index].name
        second = f"{section}, crossing {close_up.number} of {self.schedule.count}"
        return [*draw_title(self.look, self.timeline.title, second), *draw_legend(self.look)]

    def _counter(self, close_up: CloseUp, moment: Moment) -> Picture:
        instant = moment.end
        digits = len(str(self.timeline.bars[-1].number))
        number = len(str(self.repetitions[-1].number))
        if not moment.reached(close_up.start_seconds):
            entries = [("repetition", ABSENT, number), ("bar", ABSENT, digits), ("beat", ABSENT, 1)]
        else:
            at = min(close_up.stop - 1, int(close_up.position(self.timeline, instant)))
            if moment.reached(close_up.braces[0]):
                at = close_up.crossing.at
            beat = self.timeline.beat_at(at)
            sounds = next((r for r in reversed(self.repetitions) if r.at <= at), None)
            shown = str(sounds.number) if sounds and at < sounds.end else ABSENT
            entries = [
                ("repetition", shown, number),
                ("bar", str(beat.bar_number), digits),
                ("beat", str(beat.number), 1),
            ]
        return self.keep(("counter", *entries), draw_counter, self.look, entries)

    def _sentence(self, close_up: CloseUp, share: float, moment: Moment) -> Picture:
        """What there is to hear, and when its shares are told, what was heard."""
        told = moment.reached(close_up.sentence)
        since = moment.since(close_up.sentence) if told else moment.since(close_up.seconds)
        first = close_up is self.schedule.close_ups[0] and not told
        opacity = max(0.0, (1.0 if first else min(1.0, since / self.look.fade)) - 2 * share)
        write = crossing_sentence if told else crossing_start
        words = write(self.look, close_up.crossing, close_up.repetition)
        return self.keep(
            ("sentence", close_up.number, told, opacity), draw_sentence, self.look, words, opacity
        )

    def _veil(self, move: float) -> Picture:
        """What slides is dim: sails that pass by fast would flash, as WCAG 2.3.1 has it."""
        opacity = VEIL * min(1.0, move / VEIL_RISE, (1 - move) / VEIL_RISE)
        shade = rectangle(0, self.canvas.stage_top - 4, self.canvas.width, VEIL_BOTTOM)
        return [draw(self.look.ground, shade, opacity=opacity)] if opacity > 0 else []

    def _masks(self) -> Picture:
        """The ground beside the frame, over what slides out there."""
        sides: tuple[tuple[float, float], ...] = (
            (0, self.canvas.left),
            (self.canvas.right, self.canvas.width),
        )
        return [
            draw(self.look.ground, rectangle(a, self.canvas.stage_top - 4, b, self.canvas.height))
            for a, b in sides
        ]

    def _without(self) -> Picture:
        """A piece without a crossing: its first bars, and that nothing crosses."""
        row, look, timeline = self._row_from(self.timeline.start), self.look, self.timeline
        near = self._near(row)
        drawn: Picture = [*draw_sky(row, timeline.harmony), *draw_rests(row, near)]
        for repetition in near:
            drawn += draw_vessel(row, repetition, look.sail(repetition.number))
        drawn += draw_close_posts(CloseRow(row), timeline.bars, timeline.beats)
        drawn += draw_title(look, timeline.title, "no crossing")
        words = [Words("No harmony change falls inside a repetition.", look.ink)]
        return [*drawn, *draw_legend(look), *draw_sentence(look, words)]

    def _slid(self, shapes: Picture, shift: float) -> Picture:
        """Shapes on their way to the side; texts fade before they leave the frame, what is out of it is left out."""
        canvas = self.canvas
        slid: Picture = []
        for shape in shapes:
            left, right = (x + shift for x in across(shape))
            inside = min(left - canvas.left, canvas.right - right)
            if right < 0 or left > canvas.width or (shape.text is not None and inside <= 0):
                continue
            slid.append(moved(shape, shift, min(1.0, inside / TEXT_EDGE) if shape.text is not None else 1.0))
        return slid
