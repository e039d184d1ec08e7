"""Which bars stand in which row of `play`, and what a row measures: two equal rows that never move."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from renderer.schedule.model import Span
from renderer.timeline.model import Bar, Harmony, Timeline
from scenes.draw.chords import chord_width
from scenes.draw.look import BOLD, Canvas, Look, RowStyle
from scenes.row.line import Row

BAR_WIDTH = 400.0
"""Pixels that a bar of four quarters has at least, before tempo and names are looked at."""
MOST_BARS = 4
SHORTEST, LONGEST = Fraction(4), Fraction(10)
"""Seconds that a row lasts as a rule; it may get half as many bars, or twice as many, to do so."""
LEAST_SECONDS = Fraction(2)
"""No row is shorter, but one that is a span's only one."""
CHORD_MOST, CHORD_LEAST, CHORD_GAP = 52.0, 34.0, 15.0
"""Type sizes of the chords' names, and pixels from a seam to its name."""
NAME_ROOM = 36.0
"""Over the sky, for the sections' names."""
LOW_NAME_ROOM = 44.0
"""What they take on a slide, where all else is lower."""
SIDES_AIR, NAME_RISE, NAME_AIR = 24.0, 9.0, 7.0
GUTTER = 180.0
"""Left of the music, for the names of several voices."""


class Measures(NamedTuple):
    """What the rows of so many voices measure on a canvas of 1080: upright lengths from the top down."""

    lane: float
    """For the chords' names."""
    air: float
    sail: float
    hull: float
    apart: float
    """Between the hull of one voice and the sails of the next."""
    post: float


MEASURES = {
    1: Measures(60, 14, 140, 50, 0, 56),
    2: Measures(60, 14, 48, 40, 12, 56),
    3: Measures(54, 10, 32, 36, 8, 50),
    4: Measures(46, 2, 23, 32, 5, 44),
}
VOICES_ROOM = 232.0
"""Pixels for the hulls of more voices than four."""
PITCH, MANY_PITCH = 366.0, 394.0
"""From one row to the next on a wide canvas, of one voice or two, and of more."""
MANY = 3
"""From so many voices on there are neither mastheads nor a legend."""


class PlayRow(NamedTuple):
    """One row of bars, in ticks, and the span that it belongs to, by index."""

    span: int
    start: int
    end: int


def choose_rows(timeline: Timeline, spans: Sequence[Span], look: Look) -> list[PlayRow]:
    """Rows of whole bars: as many bars as last 4 to 10 s and leave room for the chords' names. They run on over
    section lines; only where the music jumps a new row begins."""
    width = look.canvas.music_width
    longest = Fraction(max(1, min(MOST_BARS, int(width // BAR_WIDTH))))
    rows = _deal(timeline, spans, longest)
    if _typical_seconds(timeline, rows) < SHORTEST:
        longest *= 2
        while _typical_seconds(timeline, _deal(timeline, spans, longest)) < LEAST_SECONDS and longest < 64:
            longest *= 2
    while longest > 1 and _typical_seconds(timeline, _deal(timeline, spans, longest)) > LONGEST:
        longest /= 2
    while longest > 1 and not _names_fit(timeline, _deal(timeline, spans, longest), width):
        if _typical_seconds(timeline, _deal(timeline, spans, longest / 2)) < LEAST_SECONDS:
            break
        longest /= 2
    return _deal(timeline, spans, longest)


def _deal(timeline: Timeline, spans: Sequence[Span], longest: Fraction) -> list[PlayRow]:
    """Whole bars dealt out to rows of at most `longest` whole notes, or of one bar; a pick-up goes with bar 1. A last
    row that would be gone at once shares the bars of the one before it."""
    rows = []
    most = longest * timeline.grid
    for index, span in enumerate(spans):
        bars = [bar for bar in timeline.bars if bar.at < span.end and bar.end > span.seen]
        groups: list[list[Bar]] = []
        for bar in bars:
            start = groups[-1][0].at if groups else 0
            if groups and (bar.end - max(start, span.seen) <= most or groups[-1][-1].number < 1):
                groups[-1].append(bar)
            else:
                groups.append([bar])
        if (
            len(groups) > 1
            and timeline.seconds(span.end) - timeline.seconds(groups[-1][0].at) < LEAST_SECONDS
        ):
            both = groups[-2] + groups[-1]
            groups[-2:] = [both[: (len(both) + 1) // 2], both[(len(both) + 1) // 2 :]]
        starts = [max(span.seen, group[0].at) for group in groups]
        rows += [PlayRow(index, start, end) for start, end in pairwise([*starts, span.end])]
    return rows


def _typical_seconds(timeline: Timeline, rows: Sequence[PlayRow]) -> Fraction:
    """The seconds of the shortest row that is followed by another one."""
    lengths = [timeline.seconds(row.end) - timeline.seconds(row.start) for row in rows]
    followed = [
        length for length, row, later in zip(lengths, rows, rows[1:], strict=False) if row.span == later.span
    ]
    return min(followed or lengths)


def _names_fit(timeline: Timeline, rows: Sequence[PlayRow], width: float) -> bool:
    scale = width / max(row.end - row.start for row in rows)
    return all(chord_size(timeline.harmony, row.start, row.end, scale) >= CHORD_LEAST for row in rows)


def chord_size(
    harmony: Sequence[Harmony], start: int, end: int, scale: float, most: float = CHORD_MOST
) -> float:
    """The one size at which all chords of a row have room for their names, bold as they are while they sound; it may
    be less than can be read."""
    room = [
        ((min(each.end, end) - max(each.at, start)) * scale - CHORD_GAP - 6)
        / chord_width(each.name, 1.0, BOLD)
        for each in harmony
        if each.at < end and each.end > start
    ]
    return min([most, *room])


class Stage(NamedTuple):
    """Where the two rows stand on a canvas."""

    tops: tuple[float, float]
    """The tops of their skies."""
    look: Look
    """The look whose canvas has the music beside the gutter."""
    style: RowStyle
    """A row of one voice, the sky's headroom as for all of them."""
    measures: Measures
    voice_count: int

    def alone(self) -> "Stage":
        """The same for one row: it stands in the middle."""
        middle = sum(self.tops) / 2
        return self._replace(tops=(middle, middle))

    def row(self, row: PlayRow, slot: int, scale: float, longest_group: int) -> Row:
        """A row of bars in one of the two places, as for the lowest voice."""
        return Row(row.start, row.end, scale, self.tops[slot], self.style, self.look, longest_group)

    def voice_row(self, row: Row, number: int) -> Row:
        """The same row for one of the voices, by index from the top: its hulls lie over those of the later ones."""
        unit = self.measures.sail + row.look.gap + self.measures.hull + self.measures.apart
        return replace(row, lift=(self.voice_count - 1 - number) * unit)


def lay_stage(look: Look, voice_count: int) -> Stage:
    """Two equal rows, one under the other."""
    canvas = look.canvas
    pitch = _pitch(canvas, voice_count)
    usual = PITCH if voice_count < MANY else MANY_PITCH
    stretch = pitch / usual
    if canvas.low < 1:
        stretch = (pitch - LOW_NAME_ROOM) / (usual - LOW_NAME_ROOM)
    measures = _measures(voice_count)
    sizes = min(stretch, 1.2)
    measures = Measures(*(length * stretch for length in measures))
    unit = measures.sail + look.gap + measures.hull + measures.apart
    style = RowStyle(
        headroom=measures.lane + measures.air + (voice_count - 1) * unit,
        sail=measures.sail,
        hull=measures.hull,
        post=measures.post,
        beat=24 * stretch,
        number=min(42.0, max(34.0, measures.hull * 0.76)) if measures.hull >= 27 else 34.0,
        bar=max(34.0, 42 * sizes) if voice_count < 3 else 38.0,
        name=CHORD_MOST * sizes,
        disc=10 * sizes if voice_count == 1 else 7.0 if voice_count == 2 else 0.0,
    )
    if voice_count > 1:
        gutter = min(GUTTER, canvas.music_width / 5)
        look = look.on(
            replace(
                canvas,
                sky_left=canvas.left + gutter,
                music_left=canvas.left + gutter + canvas.sky_right - canvas.music_right,
            )
        )
    first = canvas.stage_top + NAME_ROOM + _air(canvas) - (8 if voice_count >= MANY else 0)
    return Stage((first, first + pitch), look, style, measures, voice_count)


def _pitch(canvas: Canvas, voice_count: int) -> float:
    """From one row to the next; many voices take the legend's room too."""
    pitch = (canvas.stage_bottom - canvas.stage_top - _air(canvas)) / 2 - 5
    many = voice_count >= MANY and canvas.legend is not None and canvas.low == 1
    return pitch * MANY_PITCH / PITCH if many else pitch


def _air(canvas: Canvas) -> float:
    """Between who keeps what and the section's name, where the one stands over the other."""
    return SIDES_AIR if canvas.tall else 0.0


def name_rise(canvas: Canvas) -> float:
    """From a section's name down to the sky."""
    return NAME_RISE + (NAME_AIR if canvas.tall else 0.0)


def _measures(voice_count: int) -> Measures:
    if voice_count in MEASURES:
        return MEASURES[voice_count]
    if voice_count < 1:
        return MEASURES[1]
    four = MEASURES[4]
    share = VOICES_ROOM / voice_count
    return four._replace(sail=0.0, hull=share - 6.0, apart=3.0)
