"""form: the piece as a map: a row a section, its bars, where the harmony changes, and what is played.

Few sections have their names over their rows; where there are many, or long ones, the names stand in the rows and the
pages turn.
"""

from bisect import bisect_right
from fractions import Fraction

from renderer.schedule.form import NAMED_ROWS, FormRow, FormSchedule
from renderer.timeline.model import Harmony
from scenes.draw.look import CAPITAL, REGULAR, SEMIBOLD, Look, glide
from scenes.draw.paths import clip_all, rectangle
from scenes.draw.segment import Moment, Picture, Segment, move_seconds
from scenes.draw.shapes import FilledShape, draw, draw_text, moved
from scenes.draw.text import fit_size, musical, shorten, text_width
from scenes.draw.wording import count_of
from scenes.form.words import describe_piece, form_sentence, section_sentence
from scenes.frame.head_and_foot import draw_counter, draw_legend, draw_sentence, draw_title
from scenes.row.line import Row, draw_post
from scenes.row.runs import Run, find_runs, fitting_word, gap_dashes, run_contours, run_word
from scenes.row.sky import NAME_GAP, draw_sky

NAMED_PITCH, CLOSE_PITCH = 254.0, 146.0
"""From one row's top to the next."""
NAME_HEIGHT = 64.0
"""What a section's name takes over its row."""
POSTS_SHARE, SKY_SHARE = 0.3, 0.6
"""By which share of a row's step its posts, then its sky are complete."""
BEAT_LEAST = 14.0
"""Beats closer than this have no posts."""
WORD_LEAST = 26.0
"""Lower hulls, of several voices, have no word."""
TIGHT = 110.0
"""Hulls narrower than this keep less room round their word."""
FADE_WIDTH = 60.0
"""A name is all there once the front has passed its beginning by so much."""


class FormSegment(Segment):
    """The chosen sections of a piece, row by row."""

    schedule: FormSchedule

    def __init__(self, schedule: FormSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        rows = [row for page in schedule.pages for row in page.rows]
        self.scale = (look.canvas.music_right - look.canvas.music_left) / max(
            row.end - row.start for row in rows
        )
        self.style = look.row_form if schedule.named else look.row_form_close
        timeline = schedule.timeline
        self.voices = timeline.voices
        self.move = move_seconds(look, schedule.beat)
        self.figures = [figure.name for figure in timeline.figures]
        self.runs = {
            (row.section, voice): find_runs(timeline, voice, row.section.at, row.section.end)
            for row in rows
            for voice in self.voices
        }

    def picture(self, moment: Moment) -> Picture:
        pages = self.schedule.pages
        index = max(0, bisect_right([page.seconds for page in pages], moment.seconds) - 1)
        page, veil = pages[index], 0.0
        if index + 1 < len(pages):
            turn = pages[index + 1].seconds
            veil = glide(moment.share(turn - self.move, turn))
        drawn: Picture = []
        for number, form_row in enumerate(page.rows):
            drawn += self._draw_row(form_row, number, moment)
        if veil:
            rest = rectangle(0, self.canvas.stage_top - 8, self.canvas.width, self.canvas.stage_bottom + 8)
            drawn.append(draw(self.look.ground, rest, opacity=veil))
        drawn += self.keep(self._head, index)
        return [*drawn, *self._counter(moment), *self._sentence(moment)]

    # A row

    def row(self, form_row: FormRow, number: int) -> Row:
        """The row, `number` (from 0) on its page."""
        top = self.canvas.stage_top + number * CLOSE_PITCH
        if self.schedule.named:
            missing = NAMED_ROWS - len(self.schedule.pages[0].rows)
            top = self.canvas.stage_top + (number + missing * 0.4) * NAMED_PITCH + NAME_HEIGHT
        return Row(form_row.start, form_row.end, self.scale, top, self.style, self.look, 1)

    def _draw_row(self, form_row: FormRow, number: int, moment: Moment) -> Picture:
        row = self.row(form_row, number)
        share = moment.share(form_row.seconds, form_row.seconds + self.schedule.step)
        drawn: Picture = []
        if self.schedule.named:
            drawn += self.keep(self._name, form_row, row)
        if not share:
            return drawn
        width = row.right - row.left
        fronts = [
            row.left + width * glide(min(1.0, max(0.0, (share - start) / (end - start))))
            for start, end in ((0.0, POSTS_SHARE), (POSTS_SHARE, SKY_SHARE), (SKY_SHARE, 1.0))
        ]
        drawn += self.keep(self._sky, row, form_row, fronts[1])
        drawn += self.keep(self._runs, row, form_row, fronts[2])
        drawn += self.keep(self._posts, row, form_row, fronts[0])
        return drawn

    def _name(self, form_row: FormRow, row: Row) -> Picture:
        """A section's name and its bars, over its row."""
        look, section = self.look, form_row.section
        bars = count_of(section.bar_count, "bar")
        if not form_row.begins:
            first = self.timeline.bar_at(form_row.start).number
            last = self.timeline.bar_at(form_row.end - 1).number
            bars = f"bars {first}–{last}" if first < last else f"bar {first}"
        baseline = row.top - 16
        room = look.canvas.music_right - look.canvas.left - text_width(bars, look.size_sentence) - NAME_GAP
        name = shorten(section.name, look.size_title, room, SEMIBOLD)
        colour = look.ink if form_row.begins else look.mute
        x = look.canvas.left + text_width(name, look.size_title, SEMIBOLD) + NAME_GAP
        return [
            draw_text(name, look.canvas.left, baseline, look.size_title, colour, SEMIBOLD),
            draw_text(bars, x, baseline, look.size_sentence, look.meter_text, REGULAR),
        ]

    def _posts(self, row: Row, form_row: FormRow, until: float) -> Picture:
        """The line with the posts of bars and beats, as far as it is drawn; as many bars numbered as have room."""
        look, style = self.look, self.style
        half = look.width_line / 2
        drawn: Picture = [draw(look.line, rectangle(row.left, row.line - half, until, row.line + half))]
        beats = [beat for beat in self.timeline.beats_between(row.start, row.end) if beat.number > 1]
        closest = min(((beat.end - beat.at) * row.scale for beat in beats), default=0.0)
        if closest >= BEAT_LEAST:
            drawn += [
                draw_post(row, beat.at, style.beat, look.width_beat, look.meter_line)
                for beat in beats
                if row.x(beat.at) <= until
            ]
        bars = [bar for bar in self.timeline.bars if row.start <= bar.at < row.end]
        every = self._number_every(row, [bar.at for bar in bars], str(bars[-1].number))
        for index, bar in enumerate(bars):
            x = row.x(bar.at)
            if x > until:
                break
            numbered = index % every == 0
            length = style.post if numbered else style.post * 0.55
            drawn.append(draw_post(row, bar.at, length, look.width_post, look.meter_line))
            if numbered:
                text = draw_text(str(bar.number), x + 12, row.feet - 1, style.bar, look.meter_text, SEMIBOLD)
                drawn.append(moved(text, 0, _passed(until, x)))
        return drawn

    def _number_every(self, row: Row, starts: list[int], widest: str) -> int:
        room = text_width(widest, self.style.bar, SEMIBOLD) + 22
        ends = [*starts[1:], row.end]
        closest = min((b - a) * row.scale for a, b in zip(starts, ends, strict=True))
        every = 1
        while closest * every < room and every < len(starts):
            every *= 2
        return every

    def _sky(self, row: Row, form_row: FormRow, until: float) -> Picture:
        """The harmonies' fields and names, as far as they are opened."""
        if until <= row.left:
            return []
        drawn = [*draw_sky(row, self.timeline.harmony, until)]
        for x, name in self._names(row, form_row):
            if x < until:
                drawn.append(moved(name, 0, _passed(until, x)))
        return drawn

    def _names(self, row: Row, form_row: FormRow) -> list[tuple[float, FilledShape]]:
        """The harmonies' names at the left of their fields, and first the section's where it does not stand over
        the row, each with where it begins."""
        look, size = self.look, self.style.name
        baseline = row.top + size * CAPITAL + 13
        fields = [field for field in self.timeline.harmony if row.shows(field.at, field.end)]
        found: list[tuple[float, FilledShape]] = []
        title = "" if self.schedule.named else form_row.section.name
        if title and not form_row.begins:
            title = ""
        places = [self._field(row, field) for field in fields] or [(row.x(row.start), row.right, "")]
        for index, (start, limit, written) in enumerate(places):
            x, name = start, musical(written)
            if title and index == 0:
                least = text_width(name, look.size_least, SEMIBOLD) + NAME_GAP if name else 0.0
                room = limit - x - min(least, (limit - x) * 0.6)
                text = shorten(title, look.size_least, room, SEMIBOLD)
                if len(text) > 1 or text == title:
                    found.append((x, draw_text(text, x, baseline, look.size_least, look.ink, SEMIBOLD)))
                    x += text_width(text, look.size_least, SEMIBOLD) + NAME_GAP
            if not name:
                continue
            fitted = fit_size(name, size, look.size_least, limit - x, SEMIBOLD)
            name = shorten(name, fitted, limit - x, SEMIBOLD)
            if name != "…" or written == "…":
                found.append((x, draw_text(name, x, baseline, fitted, look.harmony, SEMIBOLD)))
        return found

    def _field(self, row: Row, field: Harmony) -> tuple[float, float, str]:
        """Where a harmony's name may stand in a row, from and up to, and the name."""
        seam = field.at >= row.start and field is not self.timeline.harmony[0]
        start = row.x(max(field.at, row.start)) + (15 if seam else 0)
        return start, (row.right if field.end >= row.end else row.x(field.end)) - 6, field.name

    # What is played

    def _runs(self, row: Row, form_row: FormRow, until: float) -> Picture:
        """The hulls of a row as far as they are drawn, each with its word."""
        if until <= row.left:
            return []
        look, drawn = self.look, []
        for number, voice in enumerate(self.voices):
            deck, runs = row.deck(number, len(self.voices)), self.runs[form_row.section, voice]
            dashes = clip_all(gap_dashes(deck, runs), row.left, until)
            if dashes:
                drawn.append(draw(look.line, *dashes))
            for run in runs:
                if row.shows(run.at, run.end):
                    drawn += self._run(deck, run, until)
        return drawn

    def _run(self, row: Row, run: Run, until: float) -> Picture:
        bodies = [(run_contours(row, run), self._colour(run))]
        if run.figure is None:
            bodies.append((run_contours(row, run, self.look.width_line), self.look.ground))
        drawn: Picture = []
        for contours, colour in bodies:
            shown = clip_all(contours, row.left, until)
            if shown:
                drawn.append(draw(colour, *shown))
        return drawn + self._word(row, run, until)

    def _colour(self, run: Run) -> str:
        """A figure has one tone through the piece, a tail that of words."""
        order = self.figures.index(run.figure) if run.figure in self.figures else 0
        return self.look.sail(order + 1)

    def _word(self, row: Row, run: Run, until: float) -> Picture:
        look, size = self.look, self.style.number
        if row.style.hull < WORD_LEAST:
            return []
        left, right = max(row.x(run.at), row.x(row.start)), min(row.x(run.end), row.x(row.end) + row.margin)
        tight = right - left < TIGHT
        x, limit = left + (9 if tight else 12), right - (9 if tight else 16)
        words = run_word(run)
        if run.at < row.start and not run.came_on:
            words = [f"{run.figure} runs on", *words[-1:]]
        word = fitting_word(words, size, limit - x)
        if not word or until <= x:
            return []
        baseline = row.hull_bottom - (row.style.hull - size * CAPITAL) / 2
        colour = look.ink if run.figure is None else look.on_sail
        return [draw_text(word, x, baseline, size, colour, SEMIBOLD, opacity=_passed(until, x))]

    # Words

    def _head(self, index: int) -> Picture:
        page = self.schedule.pages[index]
        second = describe_piece(self.timeline)
        if len(self.schedule.pages) > 1:
            first = self.timeline.bar_at(page.rows[0].start).number
            last = self.timeline.bar_at(page.rows[-1].end - 1).number
            second = f"bars {first}–{last} of {self.timeline.bars[-1].number}"
        return [*draw_title(self.look, self.timeline.title, second), *draw_legend(self.look)]

    def _last(self, moment: Moment) -> FormRow | None:
        """The last row that has begun."""
        rows = [row for page in self.schedule.pages for row in page.rows if moment.reached(row.seconds)]
        return rows[-1] if rows else None

    def _counter(self, moment: Moment) -> Picture:
        """Where the row that unfolds begins, and once it is complete where it ends."""
        row = self._last(moment)
        at = self.schedule.pages[0].rows[0].start
        if row is not None:
            at = row.end - 1 if moment.reached(row.seconds + self.schedule.step) else row.start
        beat = self.timeline.beat_at(at)
        digits = len(str(self.timeline.bars[-1].number))
        entries = ("bar", str(beat.bar_number), digits), ("beat", str(beat.number), 1)
        return self.keep(draw_counter, self.look, entries)

    def _sentence(self, moment: Moment) -> Picture:
        """What the section that unfolds is made of; at the end what the piece is."""
        row = self._last(moment)
        if row is None:
            return []
        if moment.reached(self.schedule.summary):
            return self.keep(self._draw_sentence, None, self._faded(moment, self.schedule.summary))
        if not row.begins:
            rows = [r for page in self.schedule.pages for r in page.rows if r.section is row.section]
            return self.keep(self._draw_sentence, rows[0], 1.0)
        return self.keep(self._draw_sentence, row, self._faded(moment, row.seconds))

    def _faded(self, moment: Moment, since: Fraction) -> float:
        return min(1.0, moment.since(since) / self.look.fade)

    def _draw_sentence(self, row: FormRow | None, opacity: float) -> Picture:
        if row is None:
            sections = list(dict.fromkeys(row.section for page in self.schedule.pages for row in page.rows))
            voice = next(iter(self.voices), "")
            words = form_sentence(self.look, self.timeline, voice, sections)
            return [*draw_sentence(self.look, words, opacity)]
        words = section_sentence(self.look, self.timeline, row.section)
        return [*draw_sentence(self.look, words, opacity)]


def _passed(front: float, x: float) -> float:
    """How much of what begins at `x` is there, 0 to 1, when the front is that far."""
    return min(1.0, max(0.0, (front - x) / FADE_WIDTH))
