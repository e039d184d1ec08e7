"""All bars of a piece, in rows that fill the pages: what is played over them, chords above, offsets below."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from renderer.paper.bar_rows import BarRow, bars_a_row, bars_said, lay_bars
from renderer.paper.counting import pulses_of
from renderer.report.table import section_names
from renderer.timeline.model import Harmony, Repetition, Timeline
from renderer.timeline.sides import find_nobody, part_names
from scenes.draw.look import BOLD, CAPITAL, SEMIBOLD, RowStyle
from scenes.draw.segment import by_repetition
from scenes.draw.text import musical, shorten, text_width
from scenes.paper.frame import head, header, legend
from scenes.paper.print_look import FINE, HARMONY, PEN, SIDE, page_canvas, print_look
from scenes.paper.sheet import (
    HEAD,
    MILLIMETRE,
    POINT,
    SECTION,
    SMALLEST,
    TINY,
    Label,
    Mark,
    Paper,
    Sheet,
    chord,
    label,
    paper_chord_width,
    rule,
)
from scenes.paper.vessels import (
    draw_gaps,
    draw_home,
    draw_landed,
    draw_line_and_posts,
    draw_number_in_hull,
    draw_repetition,
    draw_tops,
    draw_turn,
)
from scenes.row.line import Row

LOWEST, HIGHEST = 20 * MILLIMETRE, 34 * MILLIMETRE
"""How far apart rows of one voice are."""
VOICE = 9 * MILLIMETRE
"""What every further voice takes."""
NAME = 66.0
"""What a section's name takes."""
LANE, AIR = 76.0, 14.0
FINE_PULSE = 1.2 * MILLIMETRE
"""Where a pulse is narrower, there are no offsets, no accents' dots, no beats."""
HEADS = 96.0
CHORD_SIZE = HEAD


class RowPlace(NamedTuple):
    """A row on a page, its top without its section's name, and how tall it is."""

    row: BarRow
    top: float
    pitch: float


def place_rows(rows: Sequence[BarRow], paper: Paper, voices: int) -> list[list[RowPlace]]:
    """The rows on as few pages as hold them, as far apart as fills these."""
    low, high = LOWEST + VOICE * (voices - 1), HIGHEST + VOICE * (voices - 1)
    fewest = len(_pages(rows, paper, low))
    for _ in range(24):
        middle = (low + high) / 2
        low, high = (middle, high) if len(_pages(rows, paper, middle)) <= fewest else (low, middle)
    return _pages(rows, paper, low)


def _pages(rows: Sequence[BarRow], paper: Paper, pitch: float) -> list[list[RowPlace]]:
    pages: list[list[RowPlace]] = [[]]
    y, bottom = paper.top + HEADS, paper.bottom - 60
    for row in rows:
        name = NAME if row.section else 0.0
        if pages[-1] and y + name + pitch > bottom:
            pages.append([])
            y = paper.top + HEADS
        pages[-1].append(RowPlace(row, y + name, pitch))
        y += name + pitch
    return pages


def chords_fit(timeline: Timeline, count: int, paper: Paper) -> bool:
    """Whether all chords' names have room at the least size in rows of so many bars."""
    rows = lay_bars(timeline, count)
    width = paper.right - paper.left - 2 * SIDE
    scale = width / max(row.end - row.start for row in rows)
    return all(
        paper_chord_width(field.name, TINY) + 22 <= (field.end - field.at) * scale
        for field in timeline.harmony
    )


def bar_pages(timeline: Timeline, paper: Paper) -> Iterator[Sheet]:
    """The pages with all bars."""
    count = bars_a_row(timeline)
    least = (count + 1) // 2
    while count > least and not chords_fit(timeline, count, paper):
        count -= 1
    rows = lay_bars(timeline, count)
    voices = max(1, len(timeline.voices))
    drawer = BarDrawer(timeline, rows, paper)
    bars = timeline.bars[-1].number
    last = rows[-1].bars[-1].number
    for number, page in enumerate(place_rows(rows, paper, voices)):
        first, end = page[0].row.bars[0].number, page[-1].row.bars[-1].number
        what = (
            f"All {bars} bars"
            if (first, end) in ((0, bars), (1, bars))
            else f"Bars {first} to {end} of {bars}"
        )
        marks = header(paper, timeline.title, "1 bar" if bars == 1 else what)
        note = drawer.note if not number else ""
        if last < bars and not number:
            note = f"only the first {last} bars are drawn"
        marks += head("The figures over the bars", note, paper, paper.top + 44)
        signs: set[str] = set()
        for place in page:
            marks += drawer.draw(place, signs)
        marks += legend(signs, paper, paper.left, paper.bottom - 6)
        yield Sheet(paper, tuple(marks))


class BarDrawer:
    """Draws rows of a piece; what is looked up by repetition is looked up once."""

    def __init__(self, timeline: Timeline, rows: Sequence[BarRow], paper: Paper) -> None:
        self.timeline = timeline
        self.paper = paper
        width = paper.right - paper.left - 2 * SIDE
        self.scale = width / max(row.end - row.start for row in rows)
        self.look = print_look(page_canvas(paper, margin=SIDE))
        written = (group.written for row in timeline.repetitions for group in row.statement.groups)
        self.longest = max(written, default=1)
        self.crossings = {v: by_repetition(timeline.crossings, v) for v in timeline.voices}
        self.landings = {v: by_repetition(timeline.landings, v) for v in timeline.voices}
        self.homes = {v: by_repetition(timeline.realignments, v) for v in timeline.voices}
        names, spans = part_names(timeline), [(timeline.start, timeline.end)]
        nobody = find_nobody(timeline, names, spans)
        self.dashed = [(stretch.start, stretch.end) for stretch in nobody if stretch.clock == "meter"]
        pulses = [row.statement.pulse for row in timeline.repetitions]
        self.fine = bool(pulses) and min(pulses) * self.scale < FINE_PULSE
        self.titles = dict(zip(map(id, timeline.sections), section_names(timeline), strict=True))

    @property
    def note(self) -> str:
        """What an offset means, by the first that is drawn."""
        if self.fine or len(self.timeline.voices) != 1:
            return ""
        for row in self.timeline.repetitions:
            if row.offset:
                offset = pulses_of(row.offset, row.statement.pulse)
                return f"+{offset}: starts {offset} {self._unit(row)} after its bar’s downbeat"
        return ""

    def _unit(self, repetition: Repetition) -> str:
        from renderer.paper.counting import pulse_words

        one = repetition.offset == repetition.statement.pulse
        return pulse_words(self.timeline, repetition.statement.pulse, 1 if one else 2)

    def row(self, place: RowPlace) -> Row:
        """The row of the films that lies there."""
        pitch = place.pitch
        hull = min(60.0, max(40.0, 0.17 * pitch))
        post = min(100.0, max(64.0, 0.29 * pitch))
        lane = LANE if self.timeline.harmony else 18.0
        style = RowStyle(
            headroom=lane,
            sail=max(10.0, pitch - AIR - lane - hull - post - 8),
            hull=hull,
            post=post,
            beat=min(24.0, post / 3),
            number=SMALLEST,
            bar=SMALLEST,
            name=CHORD_SIZE,
            disc=0.0 if self.fine else 6.0,
        )
        start, end = place.row.start, place.row.end
        return Row(start, end, self.scale, place.top, style, self.look, self.longest)

    def draw(self, place: RowPlace, signs: set[str]) -> Iterator[Mark]:
        """All that stands in a row; what needs a legend goes into `signs`."""
        timeline, row = self.timeline, self.row(place)
        if place.row.section:
            yield from self._name(place)
        yield from draw_chords(row, timeline.harmony, self.paper)
        ground = self._ground(row, place)
        taken = [_box(mark) for mark in ground if isinstance(mark, Label)]
        yield from ground
        if any(start < row.end and end > row.start for start, end in self.dashed):
            signs.add("nobody")
        decks = len(timeline.voices)
        for number, voice in enumerate(timeline.voices):
            inside = [r for r in timeline.repetitions if r.voice == voice and row.shows(r.at, r.end)]
            deck = row.deck(number, decks) if decks > 1 else row
            yield from self._voice(deck, voice, inside, signs)
            if decks == 1 and not self.fine:
                yield from draw_offsets(row, inside, taken)

    def _ground(self, row: Row, place: RowPlace) -> list[Mark]:
        beats = () if self.fine else self.timeline.beats_between(row.start, row.end)
        narrow = min(bar.end - bar.at for bar in place.row.bars) * self.scale
        every = 1
        while narrow * every < text_width(str(place.row.bars[-1].number), SMALLEST, BOLD) + 16:
            every *= 2
        found = draw_line_and_posts(row, place.row.bars, beats, self.dashed, every)
        if row.end == self.timeline.end:
            x = row.x(row.end)
            found.append(rule(x, row.line, x, row.feet, 1.4 * POINT, self.look.meter_line))
        return found

    def _name(self, place: RowPlace) -> Iterator[Mark]:
        section = place.row.section
        if section is None:
            return
        x, baseline = self.paper.left + SIDE, place.top - 18
        text = shorten(self.titles[id(section)], SECTION, 1400, BOLD)
        yield label(text, x, baseline, SECTION, BOLD)
        yield label(bars_said(section), x + text_width(text, SECTION, BOLD) + 24, baseline, SMALLEST)

    def _voice(self, row: Row, voice: str, inside: Sequence[Repetition], signs: set[str]) -> Iterator[Mark]:
        crossings, landings, homes = self.crossings[voice], self.landings[voice], self.homes[voice]
        yield from draw_gaps(row, inside)
        for repetition in inside:
            yield from draw_repetition(row, repetition, repetition.number % 2 == 0)
            if repetition.statement.cut and row.holds(repetition.end - 1):
                signs.add("cut")
            if repetition.statement.kind == "tail":
                signs.add("tail")
        for repetition in inside:
            turns = [c for c in crossings.get(repetition.number, ()) if row.holds(c.at)]
            for crossing in turns:
                yield rule(
                    row.x(crossing.at), row.top + 10, row.x(crossing.at), row.hull_top, FINE, HARMONY, True
                )
            if row.style.disc:
                yield from draw_tops(row, repetition, max(5.0, row.style.disc))
            marked = [row.x(crossing.at) for crossing in turns]
            for landing in landings.get(repetition.number, ()):
                if row.holds(landing.at):
                    group = repetition.statement.group_at(landing.at - repetition.at)
                    yield from draw_landed(row, landing, group.written)
                    signs.add("landing" if landing.sounds else "missed")
                    if landing.at < repetition.end:
                        marked.append(row.x(landing.at))
            for crossing in turns:
                yield from draw_turn(row, crossing.at)
                signs.add("crossing")
            for home in homes.get(repetition.number, ()):
                if row.holds(home.at):
                    yield from draw_home(row, home)
                    signs.add("realignment")
            yield from draw_number_in_hull(row, repetition, marked)


def draw_chords(row: Row, harmony: Sequence[Harmony], paper: Paper) -> Iterator[Mark]:
    """A line over the chords from turn to turn, each with its name; one that runs on stands in parentheses."""
    for field in harmony:
        if not row.shows(field.at, field.end):
            continue
        begins = row.holds(field.at)
        left = row.x(field.at) if begins else row.x(row.start)
        right = row.x(min(field.end, row.end)) - 8
        yield rule(left, row.top, max(right, left + 4), row.top, PEN, HARMONY)
        if begins:
            yield rule(left, row.top, left, row.top + 60, PEN, HARMONY)
        room = right - left - 12
        size = CHORD_SIZE
        width = paper_chord_width(field.name, 1.0) + (0 if begins else 0.66)
        size = min(size, max(TINY, room / width))
        if width * size > room:
            text = shorten(musical(field.name), size, room, SEMIBOLD)
            if len(text) > 1:
                yield label(text, left + 12, row.top + 52, size, SEMIBOLD, colour=HARMONY)
            continue
        x = left + 12
        if not begins:
            yield label("(", x, row.top + 52, size, colour=HARMONY)
            x += text_width("(", size)
        named = chord(field.name, x, row.top + 52, size, HARMONY)
        yield from named
        if not begins:
            yield label(")", named[-1].x + named[-1].width, row.top + 52, size, colour=HARMONY)


Box = tuple[float, float, float, float]


def _box(mark: Label) -> Box:
    return mark.x - 5, mark.baseline - mark.size * CAPITAL - 4, mark.x + mark.width + 5, mark.baseline + 6


def _meets(box: Box, taken: Sequence[Box]) -> bool:
    return any(
        box[0] < right and left < box[2] and box[1] < bottom and top < box[3]
        for left, top, right, bottom in taken
    )


def draw_offsets(row: Row, inside: Sequence[Repetition], taken: list[Box]) -> Iterator[Mark]:
    """Where each repetition starts: a tick under the line and how many pulses that is after the downbeat."""
    posts = [taken_box[0] - 4 for taken_box in taken]
    for repetition in inside:
        if not row.holds(repetition.at) or not repetition.offset:
            continue
        x = row.x(repetition.at)
        yield rule(x, row.line, x, row.line + 34, FINE)
        text = f"+{pulses_of(repetition.offset, repetition.statement.pulse)}"
        width = text_width(text, TINY)
        for start in (x + 5, x - 5 - width):
            mark = Label(text, start, row.line + 52, TINY)
            crosses = any(start - 4 < post < start + width + 4 for post in posts)
            inside_row = row.left - 4 <= start and start + width <= row.right + 4
            if not crosses and inside_row and not _meets(_box(mark), taken):
                taken.append(_box(mark))
                yield mark
                break
