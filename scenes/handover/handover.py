"""handover: close up, where one list ends and the next begins.

It is heard once, at tempo, and lit as far as it has sounded. Then braces tell what lies before the section's line and
what runs over it, is cut off there or falls silent, and the sum says why. The pulse on which the new list starts
stands on a plate. An accent that is one too many is a dashed sail, or where it meets the new figure's first accent, one
stroke with it.
"""

from collections.abc import Sequence
from fractions import Fraction

from renderer.schedule.handover import HandoverSchedule
from renderer.schedule.handover_words import place_text
from renderer.timeline.model import Repetition
from scenes.draw.fading import faded
from scenes.draw.look import Look
from scenes.draw.paths import disc, rectangle
from scenes.draw.segment import Moment, Picture, by_repetition
from scenes.draw.shapes import draw
from scenes.frame.counted import count_repetition, most_digits
from scenes.frame.head import Count
from scenes.frame.headed import HeadedSegment, Sentence
from scenes.frame.phrasing import colour_phrases
from scenes.handover.ground import HandoverGround
from scenes.handover.layout import lay_out, lay_row
from scenes.handover.names import draw_section_names, draw_vessel_name, which_text
from scenes.handover.told import HandoverTold
from scenes.handover.vessels import BEFORE, LineVessels
from scenes.row.close_row import CloseRow, draw_counts, draw_seam_in_vessel
from scenes.row.hits import accent_top, draw_inner_hits, inner_hits
from scenes.row.line import draw_rests, draw_soft_vessel
from scenes.row.marks import draw_landing_disc

UNDER_NAMES = 14.0
"""From the baseline of the sections' names down to the playhead, which passes under them."""


class HandoverSegment(HeadedSegment):
    """One handover of one voice."""

    schedule: HandoverSchedule

    def __init__(self, schedule: HandoverSchedule, look: Look) -> None:
        super().__init__(schedule, look)
        self.layout = lay_out(self.canvas)
        self.row = lay_row(schedule, look, self.layout)
        self.meeting = schedule.meeting
        self.own = [r for r in self.timeline.repetitions if r.voice == schedule.voice]
        self.vessels = LineVessels(self.row, self.meeting) if self.meeting else None
        self.meant = (self.meeting.last, self.meeting.first) if self.meeting else ()
        self.ground = HandoverGround(schedule, self.row, self.layout)
        self.told = HandoverTold(schedule, self.row, self.layout)
        self.landings = by_repetition(self.timeline.landings, schedule.voice)
        self.digits = most_digits(self.meant, schedule.numbers)

    # The head

    def sentence(self, moment: Moment) -> Sentence:
        schedule, look = self.schedule, self.look
        if self.meeting is None:
            return Sentence(self.timeline.title, colour_phrases(look, schedule.question))
        voice = f", {schedule.voice}" if schedule.several else ""
        small = f"{self.timeline.title}{voice}, {place_text(self.timeline, self.meeting)}"
        if moment.reached(schedule.answered):
            return Sentence(small, colour_phrases(look, schedule.answer), schedule.answered)
        return Sentence(small, colour_phrases(look, schedule.question))

    def counts(self, moment: Moment) -> Sequence[Count]:
        schedule, look = self.schedule, self.look
        if self.meeting is None or not moment.reached(schedule.span.seconds):
            return ()
        at = schedule.position(moment.end)
        bar = Count("bar", str(self._bar(at)), len(str(self.timeline.bars[-1].number)), look.meter_text)
        sounding = next((r for r in self.meant if r.at <= at < r.end), None)
        if sounding is None or self.canvas.tall:
            return (bar,)
        return count_repetition(look, sounding, schedule.numbers, self.digits), bar

    def real_end(self) -> Fraction | None:
        return self.schedule.ends if self.meeting else None

    def _bar(self, at: float) -> int:
        return self.timeline.bar_at(min(int(at), self.schedule.span.end - 1)).number

    # The music

    def music(self, moment: Moment) -> Picture:
        schedule, keep = self.schedule, self.keep
        if self.meeting is None or self.vessels is None:
            return keep(self._without)
        behind = self.vessels.crossed
        done = moment.reached(schedule.ends)
        playing = moment.reached(schedule.span.seconds) and not done
        x = self.row.x(schedule.position(moment.end)) if playing else self.row.left
        drawn: Picture = [*keep(self._sky)]
        drawn += keep(self.vessels.stroke) if behind else []
        drawn += keep(self._soft)
        if done:
            drawn += keep(self._lit)
        elif playing:
            drawn += [shape for each in self.meant for shape in self.vessels.lit(each, x)]
        drawn += [] if behind else keep(self.vessels.stroke)
        drawn += keep(self.ground.draw)
        drawn += keep(self._sections)
        drawn += self._one_too_many(moment)
        drawn += self._on_vessels(moment, done, playing)
        if playing:
            drawn += self._playhead(x)
        begun = schedule.seconds_at(self.meeting.handover.at)
        if begun is not None and moment.reached(begun):
            drawn += keep(self.ground.plate, min(1.0, moment.since(begun) / self.look.fade))
        return drawn + self._told(moment)

    def _sky(self) -> Picture:
        row = self.row
        return [draw(self.look.sky_one, rectangle(row.left, row.top, row.right, row.line))]

    def _sections(self) -> Picture:
        return draw_section_names(self.schedule, self.row, self.layout)

    def _near(self) -> list[Repetition]:
        margin = int(self.row.margin / self.row.scale) + 1
        start, end = self.row.start - margin, self.row.end + margin
        return [r for r in self.own if r.at < end and r.end > start]

    def _soft(self) -> Picture:
        near = self._near()
        drawn: Picture = [*draw_rests(self.row, near)]
        for repetition in near:
            if self.vessels and repetition in self.meant:
                drawn += self.vessels.soft(repetition)
            else:
                drawn += draw_soft_vessel(self.row, repetition)
        return drawn

    def _lit(self) -> Picture:
        """All that has been heard, up to where the music stopped."""
        if self.vessels is None:
            return []
        until = self.row.x(self.schedule.span.end)
        return [shape for each in self.meant for shape in self.vessels.lit(each, until)]

    def _on_vessels(self, moment: Moment, done: bool, playing: bool) -> Picture:
        """Counts, names and accents on what has sounded."""
        drawn: Picture = []
        at = self.schedule.span.end if done else self.schedule.position(moment.end) if playing else None
        for repetition in self.meant:
            if at is None or at < repetition.at:
                continue
            sounded = self._sounded(repetition, at)
            if done or at >= repetition.end:
                drawn += self.keep(self._counts, repetition, sounded, None, done)
            else:
                drawn += self._counts(repetition, sounded, self.row.x(at))
            drawn += self.keep(self._accents, repetition, sounded)
            if done or at > repetition.end:
                drawn += self.keep(self._name, repetition)
        return drawn

    def _sounded(self, repetition: Repetition, at: float) -> int:
        """How many ticks of a repetition have been reached, up to the end of the pulse that sounds."""
        pulse = repetition.statement.pulse
        pulses = max(1, -int(-(at - repetition.at) // pulse))
        return min(repetition.end - repetition.at, pulses * pulse)

    def _counts(self, repetition: Repetition, sounded: int, lit: float | None, done: bool = False) -> Picture:
        """The counts that have sounded, lit up to a pixel; the line dashed in a vessel that runs over it."""
        row, line = self.row, self.meeting.handover.line if self.meeting else 0
        stands = (line,) if repetition.end == line and repetition.statement.cut else ()
        close = CloseRow(row, repetition, others=stands)
        first = repetition.statement.pulse if done and self._is_shared(repetition) else 0
        drawn: Picture = [*draw_counts(close, sounded, lit, first)]
        if repetition.at < line < repetition.at + sounded:
            drawn += draw_seam_in_vessel(CloseRow(row, repetition, line))
        return drawn

    def _is_shared(self, repetition: Repetition) -> bool:
        """Whether the repetition's first count is drawn with the accent that it shares, once that is told."""
        meeting = self.meeting
        return meeting is not None and repetition is meeting.first and meeting.shared and meeting.one_too_many

    def _accents(self, repetition: Repetition, sounded: int) -> Picture:
        row, look, statement = self.row, self.look, repetition.statement
        drawn: Picture = []
        landed = {mark.at for mark in self.landings.get(repetition.number, []) if mark.sounds}
        heard = [hit for hit in inner_hits(statement) if hit < sounded]
        drawn += draw_inner_hits(row, repetition, heard, look.on_sail)
        for accent in statement.accents:
            x, y = row.x(repetition.at + accent), accent_top(row, statement, accent)
            if accent < sounded and row.left + 20 <= x <= row.right - 20:
                drawn += [draw(look.ground, disc(x, y, row.style.disc + look.edge))]
                drawn += [draw(look.ink, disc(x, y, row.style.disc))]
        for mark in self.landings.get(repetition.number, []):
            if mark.at in landed and mark.at < repetition.at + sounded and row.holds(mark.at):
                drawn += draw_landing_disc(row, mark)
        return drawn

    def _name(self, repetition: Repetition) -> Picture:
        """What a vessel is called: the old one by its place in its row too."""
        if self.meeting is None or repetition.end <= self.row.start:
            return []
        right, line = min(self.row.right, self.row.x(repetition.end)), self.meeting.handover.line
        if repetition.at < line:
            right = min(right, self.row.x(line) - BEFORE)
        taken = repetition is self.meeting.first and self.meeting.missed and self.meeting.on_line
        first = 1 if taken and len(repetition.statement.groups) > 1 else 0
        old = repetition is self.meeting.last
        which = which_text(repetition, self.schedule.numbers) if old else ""
        return draw_vessel_name(self.row, repetition, which, right, first)

    def _one_too_many(self, moment: Moment) -> Picture:
        """The accent that the line cuts off: dashed, or one with the new figure's first."""
        meeting, vessels = self.meeting, self.vessels
        if meeting is None or vessels is None or not meeting.missed:
            return []
        if not moment.reached(self.schedule.ends):
            return []
        one = meeting.shared and meeting.one_too_many
        told = self.keep(vessels.shared_sail) if one else self.keep(vessels.ghost)
        return faded(told, moment.since(self.schedule.ends) / self.look.fade)

    def _playhead(self, x: float) -> Picture:
        row, half = self.row, self.look.width_playhead / 2
        if not row.left + half < x < row.right - half:
            return []
        top = self.layout.names + UNDER_NAMES
        return [draw(self.look.ink, rectangle(x - half, top, x + half, row.line + row.style.post))]

    def _told(self, moment: Moment) -> Picture:
        schedule, fade = self.schedule, self.look.fade
        drawn: Picture = []
        if self.meeting and self.vessels and self.meeting.shared and moment.reached(schedule.ends):
            drawn += faded(self.keep(self.vessels.shared_disc), moment.since(schedule.ends) / fade)
        for index, seconds in enumerate(schedule.share_times):
            if moment.reached(seconds):
                drawn += self.keep(self.told.share, index, min(1.0, moment.since(seconds) / fade))
        if moment.reached(schedule.sum_time):
            drawn += self.keep(self.told.sum, min(1.0, moment.since(schedule.sum_time) / fade))
        return drawn

    def _without(self) -> Picture:
        """A piece in which nothing hands over: its first bars."""
        drawn: Picture = [*self._sky(), *self._soft()]
        return [*drawn, *self.ground.draw()]
