"""crossings: close up, the repetition that begins in one harmony and ends in another, its rhythm unbroken.

The vessel is counted through. On the crossing's own pulse the new sky has just opened from the seam on and the
lozenge has come down; the counting goes on. Then braces tell how much of it lies in either harmony, and all but the
repetition that is meant steps back. From one crossing to the next the picture glides sideways.
"""

from dataclasses import replace
from fractions import Fraction

from renderer.schedule.crossings import CloseUp, CrossingsSchedule
from renderer.schedule.model import HOLD
from renderer.schedule.wording import NO_CROSSING, crossing_answer, crossing_question
from renderer.timeline.model import Landing, Repetition
from scenes.crossings.harmonies import OPENING, CloseUpHarmonies
from scenes.draw.look import SEMIBOLD, Look, RowStyle, arrive, glide
from scenes.draw.paths import disc, rectangle
from scenes.draw.segment import Moment, Picture, by_repetition, move_seconds
from scenes.draw.shapes import Words, across, draw, moved
from scenes.draw.text import musical
from scenes.frame.foot import draw_veil
from scenes.frame.head import sentence_of
from scenes.frame.headed import HeadedSegment, Sentence
from scenes.row.close_row import CloseRow, draw_close_posts, draw_counts, draw_seam_in_vessel, draw_shares
from scenes.row.line import Row, draw_rests, draw_soft_vessel, draw_vessel
from scenes.row.marks import draw_crossing, draw_landing, draw_masthead
from scenes.row.sky import draw_sky

LEAST_PULSES, MOST_PULSES, NEIGHBOURS = 24, 40, 4
"""How many pulses the picture is wide, and how many it shows beside the counted ones."""
TALL_PULSES = 17
"""As the first, on a canvas that is not wide."""
NEIGHBOUR = 0.6
"""The opacity of what stands beside the repetition that is meant."""
EDGE_PULSES = 5
"""A seam stands no nearer to the picture's edge."""
ROOM_ABOVE = 12.0
"""From the stage's top to the sky's."""
DROP = 70.0
"""Pixels from above which the lozenge comes down."""
SLIDE_GAP = 48
"""Pixels between a close-up that leaves and the one that comes."""
TEXT_EDGE = 40.0
"""Pixels over which a text that slides out of the frame fades."""
DIM = Fraction(2, 5)
"""Seconds in which all but what is meant steps back."""
TALL_STRETCH, LOW_STRETCH = 1.32, 0.6
"""How much higher the close-up is in a tall picture, and how much lower on a slide."""
LEGEND_ROOM = 0.1
"""By how much it is lower on a canvas on which long names and the marks stand closer."""
SLOW_STRETCH = 900.0
"""On a canvas that is somewhat higher than wide, so many pixels more would stretch the close-up by its own height."""
POST_BELOW, BELOW = 0.55, 1480.0
"""The opacity of the posts that run down to the foot of a tall picture, and where they go on."""


class CrossingsSegment(HeadedSegment):
    """The chosen crossings of one voice, one after another."""

    schedule: CrossingsSchedule

    def __init__(self, schedule: CrossingsSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        self.repetitions = [each for each in self.timeline.repetitions if each.voice == schedule.voice]
        self.crossings = by_repetition(self.timeline.crossings, schedule.voice)
        self.landings = by_repetition(self.timeline.landings, schedule.voice)
        self.longest = max((g.written for r in self.repetitions for g in r.statement.groups), default=1)
        self.width = self._width()
        self.style = _close_style(look)
        self.rows = [self._row(close_up) for close_up in schedule.close_ups]
        self.harmonies = CloseUpHarmonies(self.timeline, look, self.keep, schedule.close_ups, self.rows)

    def music(self, moment: Moment) -> Picture:
        if not self.schedule.close_ups:
            return self.keep(self._without)
        index = self._index(moment)
        move, drawn = self._move(index, moment), self._panel(index, moment)
        if move:
            slide = self.canvas.width + SLIDE_GAP
            coming = self._slid(self._panel(index + 1, moment), slide * (1 - glide(move)))
            drawn = [*self._slid(drawn, -slide * glide(move)), *coming, *self.keep(self._masks)]
        return drawn + self.legend(self.keep(self._marks_there), self.canvas.marks[-1:])

    def sentence(self, moment: Moment) -> Sentence:
        """What there is to hear; when the shares have been told, what was heard."""
        look, title = self.look, self.timeline.title
        if not self.schedule.close_ups:
            words = sentence_of(look, NO_CROSSING)
            return Sentence(title, tuple(words))
        index = self._index(moment)
        if self._move(index, moment) > 0.5:
            index += 1
        close_up = self.schedule.close_ups[index]
        crossing = close_up.crossing
        bar = self.timeline.bar_at(crossing.at).number
        slower = "" if close_up.slowness == 1 else ", counted more slowly"
        small = f"{title}, bar {bar}{slower}"
        if moment.reached(close_up.sentence):
            before, meant = crossing_answer(crossing, close_up.repetition)
            since = close_up.sentence
        else:
            shown = crossing._replace(before=musical(crossing.before), after=musical(crossing.after))
            before, meant = crossing_question(shown)
            since = close_up.seconds
        words = [Words(before, look.ink, SEMIBOLD), Words(meant, look.figure_text, SEMIBOLD)]
        return Sentence(small, tuple(words), since)

    def _index(self, moment: Moment) -> int:
        return sum(1 for each in self.schedule.close_ups[1:] if moment.reached(each.seconds))

    def _marks_there(self) -> frozenset[str]:
        """The kinds of marks that the close-ups show."""
        landed = any(
            mark.sounds and mark.repetition_number == each.repetition.number
            for each in self.schedule.close_ups
            for mark in self.landings.get(each.repetition.number, [])
        )
        return frozenset({"crossing", "landing"} if landed else {"crossing"})

    # Where a close-up lies

    def _width(self) -> int:
        """The picture's width in ticks, one for all close-ups."""
        close_ups = self.schedule.close_ups
        pulse = min((each.repetition.statement.pulse for each in close_ups), default=0)
        if not pulse:
            return self.timeline.bars[min(len(self.timeline.bars), 2) - 1].end - self.timeline.start
        widest = max(each.last - each.first for each in close_ups) // pulse + NEIGHBOURS
        return min(MOST_PULSES, max(self._least_pulses, widest)) * pulse

    @property
    def _least_pulses(self) -> int:
        return LEAST_PULSES if self.canvas.width > 1.25 * self.canvas.height else TALL_PULSES

    def _row(self, close_up: CloseUp) -> Row:
        """The counted pulses in the middle, unless that puts the seam too near to an edge."""
        seam, edge = close_up.crossing.at, EDGE_PULSES * self.width // self._least_pulses
        start = (close_up.first + close_up.last - self.width) // 2
        start = max(seam + edge - self.width, min(seam - edge, start))
        row = self._row_from(start)
        return replace(row, longest_bow=max(8.0, close_up.repetition.statement.pulse * row.scale / 2))

    def _row_from(self, start: int) -> Row:
        scale = (self.canvas.music_right - self.canvas.music_left) / self.width
        return Row(
            start,
            start + self.width,
            scale,
            self.canvas.stage_top + ROOM_ABOVE,
            self.style,
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
        row, close_up = self.rows[index], self.schedule.close_ups[index]
        drawn: Picture = [*self.keep(self.harmonies.sky, index)]
        drawn += self.harmonies.cover(index, moment)
        drawn += self.keep(self._neighbours, row, close_up.repetition)
        counted = self._counted(close_up, moment)
        others = tuple(c.at for c in self.crossings[close_up.repetition.number] if c != close_up.crossing)
        close = CloseRow(row, close_up.repetition, close_up.crossing.at, others)
        drawn += self.keep(self._posts, close)
        dim = moment.share(close_up.sentence, close_up.sentence + DIM)
        if dim:
            drawn += self.keep(self._veil, dim)
        drawn += self.harmonies.names(index, moment)
        drawn += self._vessel(close_up, row, moment)
        if counted:
            drawn += self._counts(close, counted, self._lit(close_up, row, moment))
        drawn += self._marks(index, moment)
        drawn += self._playhead(close_up, row, moment)
        for number, seconds in enumerate(close_up.braces):
            if moment.reached(seconds):
                opacity = min(1.0, moment.since(seconds) / self.look.fade)
                drawn += self.keep(self._draw_shares, close, index, number, opacity)
        return drawn

    def _posts(self, close: CloseRow) -> Picture:
        """The line with its posts; in a tall picture they go on down to its foot."""
        drawn: Picture = [*draw_close_posts(close, self.timeline.bars, self.timeline.beats)]
        if self.canvas.tall:
            for beat in self.timeline.beats:
                x, half = close.row.x(beat.at), (4.0 if beat.number == 1 else 2.0)
                if close.row.holds(beat.at):
                    post = rectangle(x - half, BELOW, x + half, self.canvas.height)
                    drawn.append(draw(self.look.meter_line, post, opacity=POST_BELOW))
        return drawn

    def _veil(self, dim: float) -> Picture:
        return [draw_veil(self.look, dim)]

    def _draw_shares(self, close: CloseRow, index: int, number: int, opacity: float) -> Picture:
        shares = self._shares(self.schedule.close_ups[index])
        return [*draw_shares(close, shares[number], number, opacity)]

    def _neighbours(self, row: Row, meant: Repetition) -> Picture:
        near = self._near(row)
        drawn: Picture = [*draw_rests(row, near)]
        for repetition in near:
            if repetition != meant:
                drawn += draw_vessel(row, repetition, self.look.sail_soft, opacity=NEIGHBOUR)
        return drawn

    def _lit(self, close_up: CloseUp, row: Row, moment: Moment) -> float | None:
        """Up to which pixel the repetition that is meant has sounded; None where that is all of it."""
        position = close_up.position(self.timeline, moment.seconds)
        if moment.seconds >= close_up.seconds_of(self.timeline, close_up.stop):
            return None
        if position >= close_up.repetition.end:
            return None
        return row.x(position) if moment.reached(close_up.start_seconds) else row.left

    def _vessel(self, close_up: CloseUp, row: Row, moment: Moment) -> Picture:
        """The repetition that is meant, lit as far as it has sounded."""
        repetition, colour = close_up.repetition, self.look.sail_one
        lit = self._lit(close_up, row, moment)
        if lit is None:
            return self.keep(draw_vessel, row, repetition, colour)
        drawn = [*self.keep(draw_soft_vessel, row, repetition)]
        return drawn + draw_vessel(row, repetition, colour, lit) if lit > row.left else drawn

    def _counts(self, close: CloseRow, counted: int, lit: float | None) -> Picture:
        if lit is None:
            return self.keep(draw_counts, close, counted)
        return draw_counts(close, counted, lit)

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
            if mark:
                drawn += self.keep(self._landing, row, mark, group.written, min(1.0, 4 - 3 * swell))
            else:
                drawn += self.keep(draw_masthead, row, repetition, group.at, group.written, swell)
        for crossing in self.crossings.get(repetition.number, []):
            turns = close_up.seconds_of(timeline, max(crossing.at, close_up.start))
            share = arrive(moment.share(max(close_up.seconds, turns - OPENING), turns))
            if share and row.left + 20 < row.x(crossing.at) < row.right - 20:
                drawn += self.keep(self._lozenge, index, crossing.at, share)
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

    def _masks(self) -> Picture:
        """The ground beside the sky, over what slides out there."""
        canvas = self.canvas
        sides = ((-1.0, canvas.sky_left), (canvas.sky_right, canvas.width + 1))
        return [
            draw(self.look.ground, rectangle(a, canvas.stage_top - 4, b, canvas.height))
            for a, b in sides
            if b > a + 1
        ]

    def _without(self) -> Picture:
        """A piece without a crossing: its first bars, and that nothing crosses."""
        row, look, timeline = self._row_from(self.timeline.start), self.look, self.timeline
        near = self._near(row)
        drawn: Picture = [*draw_sky(row, timeline.harmony), *draw_rests(row, near)]
        for repetition in near:
            drawn += draw_vessel(row, repetition, look.sail(repetition.number))
        drawn += draw_close_posts(CloseRow(row), timeline.bars, timeline.beats)
        return drawn

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


def _close_style(look: Look) -> RowStyle:
    """The close-up's measures: taller on a tall canvas."""
    style, canvas = look.row_close, look.canvas
    narrow = LEGEND_ROOM if canvas.legend is None else 0.0
    stretch = (
        TALL_STRETCH if canvas.tall else min(TALL_STRETCH, 1 + (canvas.height - 1080) / SLOW_STRETCH) - narrow
    )
    upright = {name: getattr(style, name) * stretch for name in ("headroom", "sail", "hull")}
    if canvas.low < 1:
        names = ("headroom", "sail", "hull", "post", "beat")
        upright = {name: getattr(style, name) * LOW_STRETCH for name in names}
    if not canvas.tall:
        return replace(style, **upright)
    return replace(style, **upright, number=52, bar=50, disc=18)
