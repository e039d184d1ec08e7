"""What stands on a strip of `form`: harmony, what is played, bars."""

from collections.abc import Collection, Sequence
from itertools import pairwise

from renderer.timeline.model import Harmony, Timeline
from scenes.draw.chords import chord_width, draw_chord
from scenes.draw.look import CAPITAL, REGULAR, SEMIBOLD
from scenes.draw.paths import clip_all, rectangle
from scenes.draw.segment import Picture
from scenes.draw.shapes import across, draw, draw_text
from scenes.draw.text import musical, shorten, text_width
from scenes.form.strips import Strip
from scenes.frame.head import fit_name
from scenes.row.lane import CHORD_GAP, chord_rooms
from scenes.row.line import Row, draw_line, draw_post
from scenes.row.runs import Run, fitting_word, gap_dashes, run_contours, run_word
from scenes.row.sky import draw_sky

SECTION_CUT = 10.0
"""Pixels cut out of sky and line left of a section's first downbeat."""
NARROW = 100.0
"""Neighbouring chords with less room than this are told together, where one of them has too little."""
BETWEEN = 16.0
"""Pixels between the names of chords that have no room of their own."""
POST_LEAST, PHRASE = 26.0, 4
"""Posts closer than so many pixels are left out; of so many bars one has a longer post."""
WORD_LEAST = 26.0
"""Lower hulls, of several voices, have no word."""
FOOT_GAP, FOOT_OPACITY = 30.0, 0.55
"""Under the lowest strip of a tall picture posts run down to its foot."""


def draw_strip_sky(strip: Strip, harmony: Sequence[Harmony]) -> Picture:
    """The harmonies and the sections' names over them."""
    row, look = strip.row, strip.row.look
    chords, crowded = _draw_chords(strip, harmony)
    drawn: Picture = [
        *draw_sky(row, harmony, seam_top=row.line),
        *_draw_seams(row, harmony, crowded),
        *chords,
    ]
    for name in strip.names:
        if name.begins:
            if name.x > row.x(row.start) + 1:
                cut = rectangle(name.x - SECTION_CUT, row.top, name.x, row.line + look.width_line)
                drawn.append(draw(look.ground, cut))
            stem = rectangle(name.x - 1.5, strip.stem_top(name), name.x + 1.5, row.top)
            drawn.append(draw(look.line, stem))
        colour = look.ink if name.begins else look.mute
        if name.text:
            drawn.append(draw_text(name.text, name.left, strip.baseline(name), name.size, colour, SEMIBOLD))
    return drawn


def _draw_seams(row: Row, harmony: Sequence[Harmony], crowded: Collection[int]) -> Picture:
    """Where the harmony changes; the seams are thinner where they are close, and begin under names that they would
    cross (`crowded`, in ticks)."""
    changes = [field.at for field in harmony[1:] if row.holds(field.at)]
    closest = (
        min((b - a for a, b in pairwise([row.start, *changes, row.end]) if b > a), default=0) * row.scale
    )
    half = min(row.look.width_seam, closest / 5) / 2
    seams = [
        rectangle(
            row.x(at) - half,
            row.top + (row.style.headroom if at in crowded else 0),
            row.x(at) + half,
            row.line,
        )
        for at in changes
    ]
    return [draw(row.look.seam, *seams)] if seams else []


def draw_counts(strip: Strip, told: bool) -> Picture:
    """How many bars each section has; they stand out when the sentence tells them."""
    look = strip.row.look
    colour, weight = (look.meter_text, SEMIBOLD) if told else (look.mute, REGULAR)
    return [
        draw_text(name.bars, *strip.bars_place(name), look.size_least, colour, weight)
        for name in strip.names
        if name.bars
    ]


def _draw_chords(strip: Strip, harmony: Sequence[Harmony]) -> tuple[Picture, set[int]]:
    """The chords' names over their fields; where most of several in a row have no room, the first of them and an
    ellipsis.
    Also the changes of harmony that these stand over, in ticks."""
    row = strip.row
    rooms = chord_rooms(row, harmony)
    starts = {name.section.at for name in strip.names}
    most, least = row.style.name, row.look.size_least
    fitting = [room / chord_width(field.name, 1.0) for field, _, room in rooms]
    size = min([most, *(share for share in fitting if share >= least)])
    baseline = row.top + size * CAPITAL + (row.style.headroom - size * CAPITAL) * 0.3
    drawn: Picture = []
    crowded: set[int] = set()
    index = 0
    while index < len(rooms):
        last = index
        while (
            last < len(rooms)
            and rooms[last][2] < NARROW
            and (last == index or rooms[last][0].at not in starts)
        ):
            last += 1
        if 2 * sum(share < size for share in fitting[index:last]) > last - index:
            names = _draw_crowd(row, rooms[index:last], baseline, size)
            end = across(names[-1])[1] if names else 0.0
            crowded |= {field.at for field, x, _ in rooms[index + 1 : last] if x - CHORD_GAP < end}
            drawn += names
            index = last
            continue
        field, x, _ = rooms[index]
        if fitting[index] >= size:
            drawn.append(draw_chord(field.name, x, baseline, size, row.look.harmony))
        else:
            drawn += _draw_crowd(row, rooms[index : index + 1], baseline, size)
        index += 1
    return drawn, crowded


def _draw_crowd(
    row: Row, rooms: Sequence[tuple[Harmony, float, float]], baseline: float, size: float
) -> Picture:
    """Chords without room of their own: the first ones side by side over the fields of all."""
    x, end = rooms[0][1], rooms[-1][1] + rooms[-1][2]
    names = [field.name for field, _, _ in rooms]
    dots = text_width("…", size, SEMIBOLD)
    if len(names) == 1:
        text = shorten(musical(names[0]), size, end - x, SEMIBOLD)
        return [draw_text(text, x, baseline, size, row.look.harmony, SEMIBOLD)] if len(text) > 2 else []
    drawn: Picture = []
    for name in dict.fromkeys(names):
        width = chord_width(name, size)
        if x + width + BETWEEN + dots > end:
            break
        drawn.append(draw_chord(name, x, baseline, size, row.look.harmony))
        x += width + BETWEEN
    return [*drawn, draw_text("…", x, baseline, size, row.look.harmony, SEMIBOLD)] if drawn else []


def post_every(row: Row, timeline: Timeline) -> int:
    """Of how many bars one has a post: all of them where there is room."""
    bars = [bar for bar in timeline.bars if row.holds(bar.at)]
    closest = min(((bar.end - bar.at) * row.scale for bar in bars), default=POST_LEAST)
    every = 1
    while closest * every < POST_LEAST:
        every *= 2
    return every


def draw_strip_bars(strip: Strip, timeline: Timeline, every: int, lowest: bool) -> Picture:
    """The line with its bars, those numbered where a section begins, and the last one where there is room."""
    row, look, style = strip.row, strip.row.look, strip.row.style
    canvas = look.canvas
    drawn: Picture = [draw_line(row)]
    firsts = {name.section.first_bar_number for name in strip.names if name.begins}
    for bar in timeline.bars:
        if not row.holds(bar.at) or bar.number in firsts:
            continue
        section = timeline.sections[bar.section_index]
        if (bar.number - section.first_bar_number) % every == 0:
            phrase = (bar.number - section.first_bar_number) % (PHRASE * every) == 0
            length = style.beat * (1.9 if phrase else 1.0)
            drawn.append(draw_post(row, bar.at, length, look.width_beat, look.meter_line))
    free = [canvas.left, canvas.left]
    edges = [*(name.x for name in strip.names[1:]), canvas.right + 6]
    for name, edge in zip(strip.names, edges, strict=True):
        at = max(name.section.at, row.start)
        text = str(timeline.bar_at(max(0, at)).number)
        width, x = text_width(text, style.bar, SEMIBOLD), row.x(at) + 12
        levels = (0, 1) if strip.spacing.drop else (0,)
        end = [edge - 6, canvas.right]
        level = next((n for n in levels if x >= free[n] and x + width <= end[n]), None)
        drop = (level or 0) * strip.spacing.drop
        drawn.append(draw_post(row, at, style.post + drop, look.width_post + 2, look.meter_line))
        if level is not None:
            drawn.append(draw_text(text, x, row.feet + drop - 1, style.bar, look.meter_text, SEMIBOLD))
            free[level] = x + width + 16
        if lowest and canvas.tall:
            top = row.feet + drop + FOOT_GAP
            upright = rectangle(x - 15, top, x - 9, canvas.height)
            drawn.append(draw(look.meter_line, upright, opacity=FOOT_OPACITY))
    return drawn + _draw_last_number(strip, timeline, every, free[0])


def _draw_last_number(strip: Strip, timeline: Timeline, every: int, free: float) -> Picture:
    """The last bar's number where that bar begins, if it has a post there."""
    row, look = strip.row, strip.row.look
    last = timeline.bar_at(row.end - 1)
    first = timeline.sections[last.section_index].first_bar_number
    text, x = str(last.number), row.x(last.at) + 8
    if last.number == first or (last.number - first) % every or last.number < 1:
        return []
    if x < free + 12 or x + text_width(text, look.size_least) > look.canvas.right:
        return []
    return [draw_text(text, x, row.feet - 1, look.size_least, look.meter_line)]


# What is played


def draw_played(row: Row, runs: Sequence[Run], colours: Sequence[str], until: float) -> Picture:
    """The hulls of one voice as far as the music has come."""
    look, drawn = row.look, []
    dashes = clip_all(gap_dashes(row, runs), row.left, until)
    if dashes:
        drawn.append(draw(look.line, *dashes))
    for run, colour in zip(runs, colours, strict=True):
        bodies = [(run_contours(row, run), colour)]
        if run.figure is None:
            bodies.append((run_contours(row, run, look.width_line), look.ground))
        for contours, paint in bodies:
            shown = clip_all(contours, row.left, until)
            if shown:
                drawn.append(draw(paint, *shown))
    return drawn


def draw_word(row: Row, run: Run, first: str) -> Picture:
    """What is played in a hull: the figure by its name, with its groups (`first`) where it is played first."""
    look = row.look
    if row.style.hull < WORD_LEAST:
        return []
    left, right = max(row.x(run.at), row.x(row.start)), min(row.x(run.end), row.x(row.end) + row.margin)
    right = min(right, look.canvas.right)
    margin = 9 if right - left < 110 else 18
    room = right - left - 2 * margin
    words = [*([first] if first else []), *map(look.words.say, run_word(run))]
    fitting = ((word, size) for word in words for size in (row.style.number, look.size_least))
    fits = ((word, size) for word, size in fitting if text_width(word, size, SEMIBOLD) <= room)
    word, size = next(fits, (fitting_word(words, look.size_least, room), look.size_least))
    if not word:
        return []
    baseline = row.hull_bottom - (row.style.hull - size * CAPITAL) / 2
    colour = look.ink if run.figure is None else look.on_sail
    return [draw_text(word, left + margin, baseline, size, colour, SEMIBOLD)]


def draw_voice_names(strip: Strip, voices: Sequence[str], canvas_left: float) -> Picture:
    """Each voice's name in the gutter, level with its hull."""
    row, drawn = strip.row, []
    room = row.left - canvas_left - 16
    for number, voice in enumerate(voices):
        deck = row.deck(number, len(voices))
        height = deck.style.hull + deck.style.sail
        size, lines = fit_name(row.look, voice, max(34.0, min(40.0, height)), room)
        if height < size * 0.8:
            continue
        baseline = deck.hull_bottom - max(0.0, (deck.style.hull - size * CAPITAL) / 2)
        drawn.append(draw_text(lines[0], canvas_left, baseline, size, row.look.figure_text, SEMIBOLD))
    return drawn
