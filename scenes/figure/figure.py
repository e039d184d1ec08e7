"""figure: the groups one by one, counted over their bar, then their accents, then their sum and where the next one
starts.

First pass: the figure is lit as the count runs through it, and what is left of the bar shows how the next one begins.
Second pass: the accents' mastheads appear. Then the sum, and what is left of the bar. With a staff each group's notes
come with its term, so a number and what is written for it are seen as one; in a further pass the figure is counted once
more, and a disc runs along under the notes: they are read in time.
"""

from fractions import Fraction
from itertools import accumulate

from renderer.core.note_values import pulse_word
from renderer.schedule.figure import FigureSchedule, figure_answer, figure_question
from renderer.timeline.model import Landing, Repetition
from renderer.timeline.statements import decimal_text, state_figure
from scenes.draw.look import BOLD, SEMIBOLD, Look, arrive
from scenes.draw.paths import brace, disc, rectangle
from scenes.draw.segment import Moment, Picture
from scenes.draw.shapes import FilledShape, Words, draw, draw_text, draw_words
from scenes.draw.sum_lines import draw_sum
from scenes.draw.text import text_width
from scenes.figure.counts import FigureCounts
from scenes.figure.layout import FigureLayout, lay_figure
from scenes.figure.posts import FigurePosts
from scenes.figure.staff import draw_pointer, draw_staff_group, draw_staff_lines
from scenes.frame.head import break_words
from scenes.frame.headed import HeadedSegment, Sentence
from scenes.frame.phrasing import colour_phrases
from scenes.row.hits import accent_top, draw_inner_hits, has_room, inner_hits
from scenes.row.line import draw_soft_vessel, draw_vessel
from scenes.row.sky import draw_sky

GROUP_NUMBER, GROUP_NUMBER_TALL = 168.0, 230.0
"""The largest size of the numbers in the sails."""
NUMBER_WIDTH, NUMBER_HEIGHT, NUMBER_LOW = 0.48, 0.78, 0.5
"""How much of its sail's width a number takes at most, its size by the sail's height, also under accents' discs."""
NEXT_SIZE, NEXT_RISE = 56.0, 40.0


class FigureSegment(HeadedSegment):
    """One statement of one figure over its bar, and how the next one begins."""

    schedule: FigureSchedule

    def __init__(self, schedule: FigureSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        figure = self.figure = schedule.figure
        self.layout: FigureLayout = lay_figure(look, schedule)
        self.row, self.unit = self.layout.row, self.layout.unit
        self.step = self.row.scale * self.unit
        self.starts = [0, *accumulate(figure.groups)][:-1]
        self.statement = state_figure(figure, self.unit)
        self.repetition = Repetition("", 1, 0, 1, 0, 0, self.statement)
        beats = [length / figure.pulse for length in schedule.bar.meter.beats]
        self.posts = FigurePosts(self.row, self.unit, beats, self.layout.staff is not None)
        stroked = frozenset(self.row.x(landing.at) for landing in self._landings())
        self.hull_counts = FigureCounts(self.row, self.unit, figure, self.statement, stroked)
        self.inner = inner_hits(self.statement) if has_room(self.row, self.statement) else ()
        self.passes = [
            start
            for start in (schedule.count_start, schedule.accent_start, schedule.staff_start)
            if start is not None
        ]

    # The head

    def sentence(self, moment: Moment) -> Sentence:
        look, schedule = self.look, self.schedule
        small = f"{self.figure.name}, a figure in {pulse_word(self.figure.pulse)}"
        if not moment.reached(schedule.answer_start):
            return Sentence(small, colour_phrases(look, figure_question(self.figure)))
        answer = figure_answer(schedule.against, schedule.is_followed)
        return Sentence(small, colour_phrases(look, answer), schedule.answer_start)

    # The picture

    def music(self, moment: Moment) -> Picture:
        drawn = [*self.keep(draw_sky, self.row, ())]
        drawn += self._followers(moment)
        drawn += self._vessel(moment)
        drawn += self.keep(self.posts.draw)
        drawn += self._marks(moment)
        drawn += self._playhead(moment)
        drawn += self._sums(moment)
        drawn += self._staff(moment)
        drawn += self._tempo(moment)
        return drawn + self.legend(self._kinds(), self.canvas.marks[-1:])

    def _kinds(self) -> frozenset[str]:
        """Which marks occur."""
        accents = self.statement.accents
        landed = {landing.at for landing in self._landings()}
        kinds = {"landing"} if landed else set()
        kinds |= {"accent"} if set(accents) - landed else set()
        return frozenset(kinds | ({"hit"} if set(self.inner) - set(accents) else set()))

    def _counted(self, start: Fraction, moment: Moment) -> int:
        """How many pulses of a pass have sounded."""
        if not moment.reached(start):
            return 0
        return min(self.figure.pulses, -int(-(moment.end - start) // self.schedule.pulse))

    def _reached_x(self, moment: Moment) -> float:
        """Up to which pixel the first pass has come."""
        pulses = (moment.seconds - self.schedule.count_start) / self.schedule.pulse
        return self.row.x(float(max(Fraction(0), pulses) * self.unit))

    def _risen(self, pulse: int, moment: Moment) -> float:
        """How far a statement has come that starts at a pulse of the first pass: over the half pulse before it."""
        sounds = self.schedule.count_start + pulse * self.schedule.pulse
        if moment.reached(sounds):
            return 1.0
        return arrive(moment.share(sounds - self.schedule.pulse / 2, sounds))

    # The vessel

    def _vessel(self, moment: Moment) -> Picture:
        counted, x = self._counted(self.schedule.count_start, moment), self._reached_x(moment)
        end = self.row.x(self.repetition.end)
        drawn: Picture = []
        if x >= end:
            drawn += self.keep(draw_vessel, self.row, self.repetition, self.look.sail_one)
            drawn += self.keep(self.hull_counts.first, self.figure.pulses)
        else:
            drawn += self.keep(draw_soft_vessel, self.row, self.repetition)
            if counted:
                drawn += draw_vessel(self.row, self.repetition, self.look.sail_one, until=x)
                drawn += self.keep(self.hull_counts.first, counted - 1)
                drawn += self.hull_counts.one(counted - 1, x)
        for index, (start, length) in enumerate(zip(self.starts, self.figure.groups, strict=True)):
            sounds = self.schedule.count_start + (start + length) * self.schedule.pulse
            if moment.reached(sounds):
                opacity = min(1.0, 0.35 + moment.since(sounds) / 0.15)
                drawn += self.keep(self._group_number, index, opacity)
        return drawn

    def _group_number(self, index: int, opacity: float) -> Picture:
        length = self.figure.groups[index]
        width, text, row = length * self.step, str(length), self.row
        most = GROUP_NUMBER_TALL if self.canvas.tall else GROUP_NUMBER
        height = row.base - row.mast(length * self.unit)
        start, end = self.starts[index] * self.unit, (self.starts[index] + length) * self.unit
        high = NUMBER_LOW if any(start < accent < end for accent in self.statement.accents) else NUMBER_HEIGHT
        size = min(most, NUMBER_WIDTH * width / text_width(text, 1, BOLD), high * height)
        left = min(34.0, 0.1 * width + 8)
        if size < self.look.size_least or text_width(text, size, BOLD) + left >= 0.8 * width:
            return []
        x, baseline = row.x(start) + left, row.base - min(46.0, 0.3 * size)
        return [draw_text(text, x, baseline, size, self.look.on_sail, BOLD, opacity=opacity)]

    # What follows

    def _followers(self, moment: Moment) -> Picture:
        """The statements after it, soft, up to the row's end; outlines where the piece never plays two in a row."""
        drawn: Picture = []
        start, number = self.figure.pulses, 2
        while start * self.unit < self.row.end + self.row.margin / self.row.scale:
            share = self._risen(start, moment)
            if share:
                drawn += self.keep(self._follower, number, share)
            start, number = start + self.figure.pulses, number + 1
        return drawn

    def _follower(self, number: int, opacity: float) -> Picture:
        row, look = self.row, self.look
        at = (number - 1) * self.figure.pulses * self.unit
        kind = self.statement if self.schedule.is_followed else self.statement._replace(kind="tail")
        repetition = Repetition("", number, 0, 1, 0, at, kind)
        drawn = draw_soft_vessel(row, repetition, opacity)
        if number > 2:
            return drawn
        width = self.figure.groups[0] * self.step
        left = min(30.0, 0.08 * width)
        x, room = row.x(at) + left, min(0.86 * width - left, self.canvas.right - row.x(at) - left)
        colour = look.on_soft if self.schedule.is_followed else look.figure_text
        words = ("next", look.words.say("next, if it went on"))
        for text in words[:: 1 if self.schedule.is_followed else -1]:
            if text_width(text, NEXT_SIZE, SEMIBOLD) <= room:
                baseline = row.base - NEXT_RISE
                drawn.append(draw_text(text, x, baseline, NEXT_SIZE, colour, SEMIBOLD, opacity=opacity))
                break
        return drawn

    # Marks

    def _landings(self) -> list[Landing]:
        """The accents that fall on a downbeat of the row."""
        downbeats = {at * self.unit: bar for at, bar, beat in self.posts.places() if beat == 1}
        accents = enumerate(self.statement.accents, start=1)
        return [Landing("", 1, n, at, downbeats[Fraction(at)], True) for n, at in accents if at in downbeats]

    def _marks(self, moment: Moment) -> Picture:
        """The hits inside groups that the first pass has reached, and the accents that the second one has."""
        hits = self._counted(self.schedule.count_start, moment) * self.unit
        reached = tuple(hit for hit in self.inner if hit < hits)
        drawn = self.keep(draw_inner_hits, self.row, self.repetition, reached, self.look.on_sail)
        again = self._counted(self.schedule.accent_start, moment) * self.unit
        landed = {landing.at for landing in self._landings()}
        for accent in self.statement.accents:
            if accent >= again:
                continue
            since = moment.since(self.schedule.accent_start + accent // self.unit * self.schedule.pulse)
            swell = 1 + (1 - arrive(since / self.look.swell)) / 3
            opacity = min(1.0, 0.35 + since / 0.15)
            drawn = [*drawn, *self.keep(self._accent, accent, accent in landed, swell, opacity)]
        return drawn

    def _accent(self, accent: int, landed: bool, swell: float, opacity: float) -> Picture:
        """An accent's disc; on a downbeat with the stroke that joins it to the post, and a disc on the line."""
        row, look = self.row, self.look
        x, top = row.x(accent), accent_top(row, self.statement, accent)
        drawn: Picture = []
        if landed:
            half = look.width_post / 2 + 1
            drawn += [
                draw(
                    look.ground,
                    rectangle(x - half - look.edge, top, x + half + look.edge, row.line),
                    opacity=opacity,
                ),
                draw(look.ink, rectangle(x - half, top, x + half, row.feet), opacity=opacity),
            ]
            drawn += _disc(look, x, row.line, row.style.disc, opacity)
        return drawn + _disc(look, x, top, row.style.disc * swell, opacity)

    def _playhead(self, moment: Moment) -> Picture:
        """An upright stroke where the count is."""
        for start in self.passes:
            since = (moment.seconds - start) / self.schedule.pulse
            if 0 <= since < min(self.schedule.against.shown, Fraction(self.row.end, self.unit)):
                row, half, edge = self.row, self.look.width_playhead / 2, self.look.edge
                x, top = row.x(float(since * self.unit)), row.base - row.style.sail - 34
                under = rectangle(x - half - edge, top, x + half + edge, row.line)
                stroke = rectangle(x - half, top, x + half, row.feet)
                return [draw(self.look.ground, under), draw(self.look.ink, stroke)]
        return []

    # Sum and staff

    def _sums(self, moment: Moment) -> Picture:
        """The sum, term by term, under the figure's brace; then what is left of the bar."""
        schedule, drawn = self.schedule, list[FilledShape]()
        for placed in self.layout.sum:
            start = schedule.term_starts[placed.term.after]
            if moment.reached(start):
                opacity = min(1.0, 0.35 + moment.since(start) / self.look.fade)
                where = (placed.x, placed.baseline, placed.size)
                drawn += self.keep(draw_sum, placed.term.words, *where, opacity, placed.tight)
        for number, start in enumerate((schedule.term_starts[0], schedule.answer_start)):
            if moment.reached(start) and number < len(self.layout.braces):
                opacity = min(1.0, 0.35 + moment.since(start) / self.look.fade)
                drawn += self.keep(self._brace, number, opacity)
        rest = self.layout.rest
        if rest and moment.reached(schedule.answer_start):
            opacity = min(1.0, 0.35 + moment.since(schedule.answer_start) / self.look.fade)
            where = (rest.x, rest.baseline, rest.size)
            drawn += self.keep(draw_sum, rest.words, *where, opacity, rest.tight)
        return drawn

    def _brace(self, number: int, opacity: float) -> Picture:
        it, width = self.layout.braces[number], self.look.width_line + 1
        outline = brace(it.left, it.right, it.y, width, 20, self.layout.above)
        return [draw(it.colour, *outline, opacity=opacity)] if it.right - it.left > 2 * width else []

    def _staff(self, moment: Moment) -> Picture:
        """The notes of the groups whose terms have come; in the last pass the disc under the one that sounds."""
        staff, schedule = self.layout.staff, self.schedule
        if staff is None:
            return []
        drawn: Picture = []
        for index, start in enumerate(schedule.term_starts[:-1]):
            if not moment.reached(start):
                continue
            opacity = min(1.0, 0.35 + moment.since(start) / self.look.fade)
            if not index:
                drawn += self.keep(self._staff_lines, opacity)
            drawn += self.keep(self._staff_group, index, opacity)
        if schedule.staff_start is not None:
            since = (moment.seconds - schedule.staff_start) / schedule.pulse
            if 0 <= since < self.figure.pulses:
                drawn += draw_pointer(staff, self.look, float(since))
        return drawn

    def _staff_lines(self, opacity: float) -> Picture:
        staff = self.layout.staff
        return draw_staff_lines(staff, self.look, opacity) if staff else []

    def _staff_group(self, index: int, opacity: float) -> Picture:
        staff = self.layout.staff
        return draw_staff_group(staff, self.look, index, opacity) if staff else []

    def _tempo(self, moment: Moment) -> Picture:
        """While it is counted: at which tempo, where that is not the piece's."""
        schedule = self.schedule
        if schedule.quarters == schedule.piece_quarters or moment.reached(schedule.term_starts[0]):
            return []
        return self.keep(self._draw_tempo)

    def _draw_tempo(self) -> Picture:
        canvas, look = self.canvas, self.look
        heard, written = _tempo_text(self.schedule.quarters), _tempo_text(self.schedule.piece_quarters)
        words = [
            Words(look.words.say(f"Counted at {heard} quarters a minute"), look.meter_text, SEMIBOLD),
            Words(look.words.say(f"; the piece runs at {written}."), look.mute),
        ]
        size = look.size_sentence
        lines = break_words(words, size, canvas.right - canvas.left, 2)
        first = self.layout.sum[0].baseline - (len(lines) - 1) * size * 1.2 * (1 if self.layout.above else 0)
        if self.layout.staff is not None and not self.layout.above:
            first = self.row.feet + 60
        return [
            shape
            for number, line in enumerate(lines)
            for shape in draw_words(line, canvas.left, first + number * size * 1.2, size)
        ]


def _disc(look: Look, x: float, y: float, radius: float, opacity: float) -> Picture:
    return [
        draw(look.ground, disc(x, y, radius + look.edge), opacity=opacity),
        draw(look.ink, disc(x, y, radius), opacity=opacity),
    ]


def _tempo_text(quarters: Fraction) -> str:
    """A tempo as a musician says it, to a tenth."""
    rounded = Fraction(round(quarters * 10), 10)
    return decimal_text(rounded) if rounded == quarters else f"about {decimal_text(rounded)}"
