"""form: the piece as a map on one strip to scale: sections and their bars, harmony, what is played.

Sections, bars and harmony stand there first, with a question over them. What is played comes in from left to right, for
some bars at tempo, the rest in a hurry; then the sentence tells what it comes to.
"""

from collections.abc import Sequence
from fractions import Fraction

from renderer.schedule.form import FormSchedule
from renderer.schedule.form_sentences import piece_line
from renderer.timeline.model import Mark
from scenes.draw.fading import clear_of, faded
from scenes.draw.look import REGULAR, Look
from scenes.draw.paths import clip_all, hull, rectangle
from scenes.draw.segment import Moment, Picture
from scenes.draw.shapes import FilledShape, across, draw, draw_text
from scenes.draw.text import text_width
from scenes.form.music import (
    draw_counts,
    draw_played,
    draw_strip_bars,
    draw_strip_sky,
    draw_voice_names,
    draw_word,
    post_every,
)
from scenes.form.strips import lay_strips
from scenes.frame.counted import count_bar
from scenes.frame.foot import draw_veil
from scenes.frame.head import Count
from scenes.frame.headed import HeadedSegment, Sentence
from scenes.frame.phrasing import colour_phrases
from scenes.row.line import draw_side_sign
from scenes.row.mark_words import draw_braces, said_at
from scenes.row.runs import SAIL_LEAST, Run, find_runs, fitting_word, run_contours
from scenes.row.spots import SpotPage

DIM = Fraction(2, 5)
"""Seconds in which all else steps back."""
MOST_GROUPS = 9
SIGN, ENTRY_GAP = 68.0, 52.0
"""Pixels that the sign in the legend takes, with the room after it, and from one entry to the next."""


class FormSegment(HeadedSegment):
    """The chosen sections of a piece on one strip, or on several."""

    schedule: FormSchedule

    def __init__(self, schedule: FormSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        timeline = schedule.timeline
        self.course, self.strips, self.voices = schedule.course, lay_strips(schedule, look), timeline.voices
        self.figures = [figure.name for figure in timeline.figures]
        self.runs = {
            (index, voice): find_runs(timeline, voice, strip.row.start, strip.row.end)
            for index, strip in enumerate(self.strips)
            for voice in self.voices
        }
        self.every = max(post_every(strip.row, timeline) for strip in self.strips)
        self.first_words = self._first_words()

    def _first_words(self) -> dict[Run, str]:
        """For the first run of each figure its name with its groups."""
        found: dict[str, tuple[int, Run]] = {}
        for runs in self.runs.values():
            for run in runs:
                if run.figure and run.kind == "whole" and run.at < found.get(run.figure, (run.at + 1,))[0]:
                    found[run.figure] = (run.at, run)
        words = {}
        for name, (_, run) in found.items():
            groups = self.timeline.figure(name).groups
            words[run] = f"{name}, {' + '.join(map(str, groups))}" if len(groups) > 1 else ""
        return words

    # The picture

    def music(self, moment: Moment) -> Picture:
        position, told = self.course.position(moment.seconds), moment.reached(self.schedule.answered)
        drawn: Picture = []
        for index in range(len(self.strips)):
            drawn += self.keep(self._draw_ground, index)
            drawn += self.keep(draw_counts, self.strips[index], told)
            drawn += self._played(index, position)
            drawn += self.keep(self._draw_bars, index)
            drawn += self._marks_under(index, position, told)
        if moment.reached(self.course.begins) and not moment.reached(self.course.real_end):
            drawn += self._playhead(position)
        drawn += self.keep(self._draw_legend) if self.footed else []
        return self._pointing(drawn, moment)

    def _pointing(self, drawn: Picture, moment: Moment) -> Picture:
        """All steps back but what the picture points at, one after another."""
        points = self.schedule.points
        index = sum(moment.reached(seconds) for seconds, _ in points) - 1
        if index < 0:
            return drawn
        since, until = points[index][0], self.schedule.answered
        share = moment.share(since, since + DIM)
        going = moment.share(until, until + DIM) if moment.reached(until) else 0.0
        if going >= 1:
            return drawn
        lit = self.keep(self._draw_point, index)
        leaving = self.keep(self._draw_point, index - 1) if index else []
        ground = clear_of(drawn, [*lit, *(leaving if share < 0.5 else [])])
        veil = (1.0 if index else share) * (1 - going)
        before = faded(leaving, 1 - 2 * share)
        shown = (2 * share - 1 if index else share) * (1 - going)
        return [*(drawn if going else ground), draw_veil(self.look, veil), *before, *faded(lit, shown)]

    def _draw_point(self, index: int) -> Picture:
        """A repetition's part of its strip, with what marks its place."""
        spot = self.schedule.points[index][1].spot
        repetition = spot.repetition
        number = self.voices.index(repetition.voice)
        drawn: Picture = []
        for order, strip in enumerate(self.strips):
            deck = strip.row.deck(number, len(self.voices))
            for run in self.runs[order, repetition.voice]:
                if not run.at <= repetition.at < run.end or not strip.row.shows(
                    repetition.at, repetition.end
                ):
                    continue
                left, right = strip.row.x(repetition.at), strip.row.x(repetition.end)
                shown = clip_all(run_contours(deck, run), max(left, deck.left), min(right, deck.right))
                drawn += [draw(self._colour(run), *shown)] if shown else []
        rows = [strip.row for strip in self.strips]
        held = next((strip for strip in self.strips if strip.row.holds(spot.at)), None)
        if held is None:
            return drawn
        below = held.row.style.post + held.spacing.drop
        page = SpotPage(self.timeline, rows, below, self.schedule.without, self.schedule.numbers)
        return [*drawn, *page.mark(spot, held.row)]

    def _marks_under(self, index: int, position: float, told: bool) -> Picture:
        """The teacher's own words: those where the music is stand out, at the end all of them."""
        own = [words.mark for words in self.strips[index].marks]
        return self.keep(self._draw_marks, index, frozenset(own) if told else said_at(own, position))

    def _draw_marks(self, index: int, said: frozenset[Mark]) -> Picture:
        strip = self.strips[index]
        return draw_braces(self.look, strip.marks, strip.braces, said)

    def _draw_ground(self, index: int) -> Picture:
        strip = self.strips[index]
        drawn = draw_strip_sky(strip, self.timeline.harmony)
        if len(self.voices) > 1:
            drawn += draw_voice_names(strip, self.voices, self.canvas.left)
        return drawn

    def _draw_bars(self, index: int) -> Picture:
        lowest = index == len(self.strips) - 1
        return draw_strip_bars(self.strips[index], self.timeline, self.every, lowest)

    def _played(self, index: int, position: float) -> Picture:
        row = self.strips[index].row
        if position <= row.start:
            return []
        if position >= row.end:
            return self.keep(self._draw_played, index, row.right)
        return self._draw_played(index, row.x(position))

    def _draw_played(self, index: int, until: float) -> Picture:
        row, drawn = self.strips[index].row, []
        for number, voice in enumerate(self.voices):
            deck, runs = row.deck(number, len(self.voices)), self.runs[index, voice]
            drawn += draw_played(deck, runs, [self._colour(run) for run in runs], until)
            for order in range(len(runs)):
                words = self.keep(self._draw_word, index, number, order)
                drawn += [word for word in words if across(word)[1] <= until]
        return drawn

    def _draw_word(self, index: int, number: int, order: int) -> Picture:
        run = self.runs[index, self.voices[number]][order]
        deck = self.strips[index].row.deck(number, len(self.voices))
        return draw_word(deck, run, self.first_words.get(run, ""))

    def _colour(self, run: Run) -> str:
        """A figure has one tone through the piece, a tail that of words."""
        order = self.figures.index(run.figure) if run.figure in self.figures else 0
        return self.look.sail(order + 1)

    def _playhead(self, position: float) -> Picture:
        row = next((s.row for s in self.strips if s.row.start <= position < s.row.end), None)
        if row is None:
            return []
        x, half, edge = row.x(position), self.look.width_playhead / 2, self.look.edge
        top = row.top + row.style.headroom - 8
        return [
            draw(self.look.ground, rectangle(x - half - edge, top, x + half + edge, row.line)),
            draw(self.look.ink, rectangle(x - half, top, x + half, row.feet)),
        ]

    def _draw_legend(self) -> Picture:
        """What a sail is, where there are any, and a post, where not every bar has one."""
        look, canvas, lowest = self.look, self.canvas, self.strips[-1].row
        if canvas.legend is None:
            free = not canvas.tall and lowest.feet + self.strips[-1].spacing.drop + SIGN < canvas.foot
            return self._name_unnamed(canvas.left, canvas.foot) if free else []
        told = []
        whole = [r.statement.length for runs in self.runs.values() for run in runs for r in run.repetitions]
        sails = bool(whole) and min(whole) * self.strips[0].row.scale - 3 >= SAIL_LEAST
        if sails:
            told.append("one sail is one repetition")
        if self.every > 1:
            told.append(f"a post every {self.every} bars")
        text, x = look.words.say("; ".join(told)), canvas.left + (SIGN if sails else 0)
        sign = draw_side_sign("figure", canvas.left, canvas.legend, look) if sails else []
        drawn = [*sign, draw_text(text, x, canvas.legend, look.size_least, look.mute)] if told else []
        x += text_width(text, look.size_least) + ENTRY_GAP if told else 0
        return drawn + self._name_unnamed(x, canvas.legend)

    def _name_unnamed(self, x: float, baseline: float) -> Picture:
        """The figures whose names have no room in any hull, each beside a hull of its tone."""
        look, drawn = self.look, list[FilledShape]()
        for run in self._unnamed():
            name = str(run.figure)
            groups = self.timeline.figure(name).groups
            wordings = [f"{name}, {' + '.join(map(str, groups))}"] if 1 < len(groups) <= MOST_GROUPS else []
            room = self.canvas.right - x - SIGN
            text = fitting_word([*wordings, name], look.size_least, room, REGULAR)
            if not text:
                break
            body = hull(x, x + SIGN - 16, baseline - 26, baseline + 2, 12)
            drawn.append(draw(self._colour(run), body))
            drawn.append(draw_text(text, x + SIGN, baseline, look.size_least, look.mute))
            x += SIGN + text_width(text, look.size_least) + ENTRY_GAP
        return drawn

    def _unnamed(self) -> list[Run]:
        """The first run of each figure whose whole name stands in no hull."""
        found: dict[str, Run] = {}
        named: set[str] = set()
        for (index, voice), runs in self.runs.items():
            for order, run in enumerate(runs):
                if run.figure is None:
                    continue
                found.setdefault(run.figure, run)
                words = self.keep(self._draw_word, index, self.voices.index(voice), order)
                if any(run.figure in (word.text or "") for word in words):
                    named.add(run.figure)
        return [run for name, run in found.items() if name not in named]

    # The head

    def sentence(self, moment: Moment) -> Sentence:
        schedule, small = self.schedule, piece_line(self.timeline)
        if moment.reached(schedule.answered):
            return Sentence(small, colour_phrases(self.look, schedule.answer), schedule.answered)
        for seconds, point in reversed(schedule.points):
            if moment.reached(seconds):
                return Sentence(small, colour_phrases(self.look, point.phrases), seconds)
        return Sentence(small, colour_phrases(self.look, schedule.question))

    def real_end(self) -> Fraction:
        return self.course.real_end

    def counts(self, moment: Moment) -> Sequence[Count]:
        return count_bar(self.look, self.timeline, self.course, moment)
