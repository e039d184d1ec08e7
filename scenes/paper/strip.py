"""The whole piece to scale on one strip: chords, what is played, bars, the teacher's marks, who keeps what."""

from collections.abc import Iterator

from renderer.schedule.parts_sentences import place_text
from renderer.timeline.model import Harmony, Repetition, Timeline
from renderer.timeline.sides import clocks, find_changes, part_names
from scenes.draw.look import BOLD, REGULAR, SEMIBOLD
from scenes.draw.paths import Contour, clip_all, disc, hull, ring, sail, torn_hull
from scenes.draw.text import fit_size, shorten, text_width
from scenes.paper.frame import legend
from scenes.paper.print_look import FIGURE, FINE, HARMONY, METER, PEN, page_canvas, print_look
from scenes.paper.sheet import (
    BLACK,
    POINT,
    SECTION,
    SMALLEST,
    TINY,
    WHITE,
    Mark,
    Paper,
    chord,
    drawn_round,
    filled,
    label,
    paper_chord_width,
    rule,
)
from scenes.paper.vessels import bracket

NAMES = 250.0
"""Units before the music, for names."""
SAILS, HULL, POSTS = 92.0, 66.0, 66.0
PART_SAILS = 38.0
SAIL_LEAST = 5.0
TICK_LEAST = 9.0
CHORD = 44.0
MARK_ROWS = 3
VOICES_HEIGHT = 460.0
"""Units for all voices together."""


class Strip:
    """Where everything stands; `top` is the sections' baseline."""

    def __init__(self, timeline: Timeline, paper: Paper, top: float) -> None:
        self.timeline = timeline
        self.paper = paper
        self.top = top
        self.left = paper.left + NAMES
        self.scale = (paper.right - self.left) / (timeline.end - timeline.start)
        self.look = print_look(page_canvas(paper))

    def x(self, at: float) -> float:
        return self.left + (at - self.timeline.start) * self.scale


def draw_strip(timeline: Timeline, paper: Paper, top: float, bottom: float) -> tuple[list[Mark], float]:
    """The strip from a baseline on, its parts closer where they are many, and where it ends."""
    strip = Strip(timeline, paper, top)
    found: list[Mark] = [*_sections(strip)]
    lane = top + 44
    if timeline.harmony:
        found += [label("harmony", paper.left, lane + 54, TINY), *_harmony(strip, lane)]
    y = lane + 100
    for voice in timeline.voices or ("",):
        name = "played" if len(timeline.voices) <= 1 else voice
        share = min(1.0, VOICES_HEIGHT / (len(timeline.voices) or 1) / (SAILS + HULL + 10))
        sails, body = SAILS * share, HULL * share
        found.append(_named(strip, name, y + sails * 0.7, TINY, REGULAR))
        found += _played(strip, voice, y, sails, body)
        y += sails + body + 10
    line = y - 4
    found += _bars(strip, line)
    found.append(label("bar", paper.left, line + POSTS, TINY))
    y = line + POSTS + 14
    marks, y = _marks(strip, y)
    found += marks
    names = part_names(timeline)
    if names:
        room = (max(bottom, strip.paper.bottom - 120) if len(names) > 6 else bottom) - y - 90
        pitch = min(110.0, max(46.0, room / len(names)))
        share = min(1.0, pitch / 104)
        lines = [y + pitch * (number + 0.78) for number in range(len(names))]
        for section in timeline.sections[1:]:
            x = strip.x(section.at)
            found.append(rule(x, y, x, lines[-1] + 30 * share, FINE * 0.6))
        for name, at in zip(names, lines, strict=True):
            found += _part(strip, name, at, share)
        y = lines[-1] + 34 * share
    signs = _signs(strip)
    if signs:
        found += legend(signs, paper, strip.left, y + 52)
        y += 60
    return found, y


def draw_parts(timeline: Timeline, paper: Paper, top: float, pitch: float) -> tuple[list[Mark], float]:
    """The parts' lines alone with the numbers of the bars under them, and where they end."""
    strip = Strip(timeline, paper, top)
    share = min(1.0, pitch / 104)
    names = part_names(timeline)
    lines = [top + pitch * (number + 0.6) for number in range(len(names))]
    found: list[Mark] = []
    for name, at in zip(names, lines, strict=True):
        found += _part(strip, name, at, share, numbers=False)
    foot = lines[-1] + 70 * share
    found += _bar_numbers(strip, foot)
    return found, foot


def _named(strip: Strip, text: str, baseline: float, size: float, weight: int) -> Mark:
    room = NAMES - 20
    size = fit_size(text, size, TINY * 0.9, room, weight)
    return label(shorten(text, size, room, weight), strip.paper.left, baseline, size, weight)


def _sections(strip: Strip) -> Iterator[Mark]:
    sections = strip.timeline.sections
    for section, following in zip(sections, [*sections[1:], None], strict=True):
        x = strip.x(section.at) + 10
        end = strip.x(following.at) if following else strip.paper.right
        room = end - x - 10
        size = fit_size(section.name, SECTION, TINY, room, BOLD)
        text = shorten(section.name, size, room, BOLD)
        if room < 40 or (len(text) < 4 and text != section.name):
            continue
        yield label(text, x, strip.top, size, BOLD)
        x += text_width(text, size, BOLD) + 20
        bars = f"{section.bar_count} bar{'s' if section.bar_count > 1 else ''}"
        if x + text_width(bars, TINY) <= end - 8:
            yield label(bars, x, strip.top, TINY)


def _harmony(strip: Strip, y: float) -> Iterator[Mark]:
    """A line over the chords, each with its name; where they follow each other too fast for names, the row of chords
    that goes round, once."""
    fields = list(strip.timeline.harmony)
    while fields:
        count = _quick(strip, fields)
        quick, fields = fields[:count], fields[count:]
        left, right = strip.x(quick[0].at), strip.x(quick[-1].end) - 5
        yield rule(left, y, max(left + 2, right), y, PEN, HARMONY)
        dense = (quick[-1].end - quick[0].at) * strip.scale < 6 * len(quick)
        for field in () if dense else quick[1:]:
            yield rule(strip.x(field.at), y, strip.x(field.at), y + 16, PEN, HARMONY)
        for text in _chord_texts(strip, quick):
            names = [chord_marks(name) for name in text]
            size = min(CHORD, (right - left - 10) / max(1.0, sum(width for width, _ in names)))
            if size >= TINY:
                yield rule(left, y, left, y + 70, PEN, HARMONY)
                x = left + 12
                for width, name in names:
                    yield from chord(name, x, y + 54, size, HARMONY)
                    x += width * size
                break
        else:
            yield rule(left, y, left, y + 16, PEN, HARMONY)


def chord_marks(name: str) -> tuple[float, str]:
    """A chord's name and how wide it is at size 1."""
    return paper_chord_width(name, 1.0), name


def _quick(strip: Strip, fields: list[Harmony]) -> int:
    """How many chords from here on share one text: those of one length of which one has no room for its name."""
    length = fields[0].end - fields[0].at
    count = next((n for n, field in enumerate(fields) if field.end - field.at != length), len(fields))
    narrow = any(paper_chord_width(f.name, TINY) + 10 > length * strip.scale - 5 for f in fields[:count])
    return count if narrow and count > 1 else 1


def _chord_texts(strip: Strip, fields: list[Harmony]) -> Iterator[list[str]]:
    """What may be written over chords of one length: the row that goes round, with or without how fast."""
    names = [field.name for field in fields]
    period = next(
        n for n in range(1, len(names) + 1) if all(a == b for a, b in zip(names[n:], names, strict=False))
    )
    shown = [*(f"{name}, " for name in names[: period - 1]), names[period - 1]]
    bar = strip.timeline.bar_at(fields[0].at)
    if len(fields) > 1 and fields[0].end - fields[0].at == bar.end - bar.at:
        yield [*shown, "  a bar each"]
    yield shown


def _played(strip: Strip, voice: str, y: float, sails: float, body: float) -> Iterator[Mark]:
    """A hull a run of one figure with one sail a repetition, and its word."""
    base = y + sails
    runs: list[list[Repetition]] = []
    for repetition in strip.timeline.repetitions:
        if repetition.voice != voice:
            continue
        last = runs[-1][-1] if runs else None
        same = last is not None and last.end == repetition.at and not last.statement.cut
        if (
            same
            and last is not None
            and last.statement.figure == repetition.statement.figure
            and last.statement.figure
        ):
            runs[-1].append(repetition)
        else:
            runs.append([repetition])
    for run in runs:
        left, right = strip.x(run[0].at), strip.x(run[-1].end) - 3
        contours: list[Contour] = []
        for repetition in run:
            width = (repetition.end - repetition.at) * strip.scale - 2
            if width >= SAIL_LEAST:
                full = repetition.statement.length * strip.scale - 2
                whole = sail(strip.x(repetition.at), base, full, sails * 0.94)
                contours += clip_all([whole], strip.x(repetition.at), strip.x(repetition.at) + width)
        shape = torn_hull if run[-1].statement.cut else hull
        if right - left > 1:
            arguments = (left, right, base + 2, base + body)
            contours.append(
                shape(*arguments) if shape is torn_hull else hull(*arguments, min(18, (right - left) * 0.3))
            )
        if contours:
            yield drawn_round(contours, PEN * 0.9, FIGURE, WHITE, dashed=run[0].statement.figure is None)
        word = run[0].statement.figure or "tail"
        groups = strip.timeline.figure(word).groups if run[0].statement.figure else ()
        long = f"{word}, {' + '.join(map(str, groups))}" if 0 < len(groups) < 9 else word
        most, least = min(SMALLEST, body * 0.7), TINY * 0.85
        for text, size, margin in ((long, most, 18), (word, most, 18), (word, least, 5)):
            if size >= least and text_width(text, size, BOLD) <= right - left - 2 * margin:
                yield label(text, left + margin, base + body / 2 + size * 0.36, size, BOLD)
                break


def _bars(strip: Strip, line: float) -> Iterator[Mark]:
    """The line, a post a bar or a few, numbers at sections and between them, rings where it comes round."""
    timeline, look = strip.timeline, strip.look
    yield rule(strip.left, line, strip.paper.right, line, look.width_line)
    bars = [bar for bar in timeline.bars if bar.number > 0]
    narrowest = min((bar.end - bar.at for bar in bars), default=1) * strip.scale
    every = 1
    while narrowest * every < TICK_LEAST:
        every *= 2
    firsts = {section.first_bar_number for section in timeline.sections}
    yield from _bar_numbers(strip, line + POSTS)
    shown = len(firsts) * 6 < (strip.paper.right - strip.left)
    for bar in bars:
        first = bar.number in firsts and shown
        if first or (bar.number - 1) % every == 0:
            x = strip.x(bar.at)
            yield rule(x, line, x, line + (POSTS if first else 24), look.width_post if first else PEN, METER)
    for home in timeline.realignments:
        x = strip.x(home.at)
        if len(timeline.realignments) * 34 < strip.paper.right - strip.left:
            yield filled(WHITE, disc(x, line, 20))
            yield filled(BLACK, *ring(x, line, 18, 4), disc(x, line, 10))


def _bar_numbers(strip: Strip, baseline: float) -> Iterator[Mark]:
    """The numbers of the bars at which sections begin, in bold, and of some between them."""
    timeline = strip.timeline
    bars = [bar for bar in timeline.bars if bar.number > 0]
    narrowest = min((bar.end - bar.at for bar in bars), default=1) * strip.scale
    firsts = {section.first_bar_number for section in timeline.sections}
    taken: list[tuple[float, float]] = []
    spoken = [bar for bar in bars if bar.number in firsts]
    step = next(
        (n for n in (4, 8, 16, 32, 64, 128, 256, 512, 1024, 4096, 16384, 65536) if narrowest * n > 110), 4
    )
    between = [bar for bar in bars if (bar.number - 1) % step == 0 and bar.number not in firsts]
    for bar in [*spoken, *between]:
        first = bar.number in firsts
        text, weight = str(bar.number), BOLD if first else REGULAR
        x = strip.x(bar.at) + 9
        span = x - 6, x + text_width(text, SMALLEST, weight) + 12
        if span[1] > strip.paper.right + 8 or any(span[0] < b and span[1] > a for a, b in taken):
            continue
        taken.append(span)
        yield label(text, x, baseline, SMALLEST, weight)


def _marks(strip: Strip, y: float) -> tuple[list[Mark], float]:
    """The teacher's marks under the bars, each on the first level on which it meets no other."""
    marks = strip.timeline.marks
    found: list[Mark] = []
    ends: list[float] = []
    for mark in marks:
        left = strip.x(mark.at)
        right = max(left + 4, strip.x(mark.to) - 4)
        width = text_width(mark.text, TINY, SEMIBOLD)
        start = min(left, strip.paper.right - width)
        level = next((n for n, end in enumerate(ends) if start > end + 20), len(ends))
        if level >= MARK_ROWS:
            continue
        ends[level : level + 1] = [max(right, start + width)]
        top = y + 16 + 66 * level
        found += bracket(left, right, top, FINE)
        found.append(label(mark.text, max(start, strip.paper.left), top + 38, TINY, SEMIBOLD))
    if found:
        found.append(label("marks", strip.paper.left, y + 54, TINY))
    return found, y + 66 * len(ends) + (10 if ends else 0)


def _part(strip: Strip, part: str, line: float, share: float, numbers: bool = True) -> Iterator[Mark]:
    """Who keeps what: sails over the line, posts under it, dashes where it is silent; a stroke where it changes."""
    timeline = strip.timeline
    yield _named(strip, part, line, SMALLEST * 1.05, SEMIBOLD)
    for start, end, clock in clocks(timeline, part):
        left, right = strip.x(start), strip.x(end)
        if clock == "tacet":
            yield rule(left, line, right, line, FINE, dashed=True)
        elif clock == "meter":
            yield rule(left, line, right, line, 1.4 * PEN, METER)
            bars = [bar for bar in timeline.bars if start <= bar.at < end]
            every = max(1, round(TICK_LEAST * len(bars) / max(1.0, right - left) + 0.5))
            for bar in bars[::every]:
                yield rule(strip.x(bar.at), line, strip.x(bar.at), line + 24 * share, PEN, METER)
        else:
            yield from _part_sails(strip, part, line, share, start, end)
    changes = find_changes(timeline, [part])
    for number, change in enumerate(changes):
        x = strip.x(change.at)
        yield rule(x, line - 42 * share, x, line + 30 * share, 1.8 * POINT)
        yield filled(BLACK, disc(x, line, 11 * max(0.7, share)))
        text = place_text(timeline, change.at)
        width = text_width(text, TINY, SEMIBOLD)
        left = x + 14
        following = strip.x(changes[number + 1].at) if number + 1 < len(changes) else strip.paper.right + 8
        if numbers and share > 0.75 and left + width <= following:
            up = change.after == "meter" or change.after == "tacet"
            yield label(text, left, line - 14 if up else line + 34, TINY, SEMIBOLD)


def _part_sails(strip: Strip, part: str, line: float, share: float, start: int, end: int) -> Iterator[Mark]:
    contours: list[Contour] = []
    for side in strip.timeline.sides:
        if side.part != part or side.end <= start or side.at >= end:
            continue
        first, last = max(side.at, start), min(side.end, end)
        for repetition in strip.timeline.repetitions:
            if repetition.voice == side.side and first <= repetition.at < last:
                x, stop = strip.x(repetition.at), strip.x(min(repetition.end, last))
                full = repetition.statement.length * strip.scale - 2
                if stop - x >= SAIL_LEAST:
                    contours += clip_all([sail(x, line - 2, full, PART_SAILS * share)], x, stop)
    left, right = strip.x(start), strip.x(end)
    if contours:
        yield drawn_round(contours, FINE, FIGURE, WHITE)
    yield rule(left, line, right, line, 1.6 * PEN, FIGURE)


def _signs(strip: Strip) -> list[str]:
    timeline = strip.timeline
    names = part_names(timeline)
    kept = {clock for name in names for _, _, clock in clocks(timeline, name)}
    signs = [{"figure": "figure", "meter": "meter", "tacet": "silent"}[clock] for clock in sorted(kept)]
    if any(change.crosses for change in find_changes(timeline, names)):
        signs.append("changes sides")
    if timeline.realignments:
        signs.append("realignment")
    return signs
