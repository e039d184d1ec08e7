"""The practice card: one page to play from."""

from collections.abc import Iterator
from fractions import Fraction

from renderer.core.note_values import pulse_word
from renderer.paper.counting import groups_said, syllables
from renderer.paper.facts import groups_text
from renderer.paper.practice import Practice, PracticeBar, make_practice
from renderer.schedule.wording import number_word
from renderer.timeline.model import Timeline
from scenes.draw.look import BOLD, REGULAR, SEMIBOLD, RowStyle
from scenes.draw.paths import disc, rectangle
from scenes.draw.text import fit_size, text_width
from scenes.paper.frame import footer, title_marks
from scenes.paper.panels import draw_panel, lay_panels
from scenes.paper.print_look import FINE, METER, PEN, page_canvas, print_look
from scenes.paper.sheet import (
    BLACK,
    HEAD,
    MARGIN,
    POINT,
    SMALLEST,
    TINY,
    WHITE,
    Mark,
    Outline,
    Paper,
    Sheet,
    drawn_round,
    filled,
    fitted,
    label,
    rule,
)
from scenes.paper.vessels import draw_repetition, draw_tops, figure_sign, meter_sign
from scenes.row.line import Row

PANEL, LOW = 0.62, 0.42
"""How low the figure's picture is, and that of a bar of which there are many pulses."""
BARS, CLAPS, LADDER = 110.0, 1130.0, 1600.0
"""From the left: the bars, what is clapped, the ladder."""
STEPS = (
    ("figure", "{counts}", "", "–", "meter", "the beat"),
    ("figure", "{counts}", "figure", "{accents}", "meter", "the beat"),
    ("meter", "{beats}", "figure", "the accents", "", "–"),
    ("figure", "{counts}", "meter", "the beat", "", "–"),
)
"""What is said, clapped, stepped, each with the side that it belongs to."""


def practice_sheets(timeline: Timeline, file: str, paper: Paper) -> list[Sheet]:
    """The card as one page; none if no figure is played whole."""
    card = make_practice(timeline)
    if card is None:
        return []
    figure = card.figure
    width = paper.right - paper.left
    about = f"{figure.name}, {groups_text(figure)} in {pulse_word(figure.pulse)} over {card.bars[0].bar.meter.text}"
    if len(figure.groups) > 9:
        about = (
            f"{figure.name}, {figure.pulses} {pulse_word(figure.pulse)} over {card.bars[0].bar.meter.text}"
        )
    marks, y = title_marks(paper, timeline.title, "practice card", MARGIN + 90, 26 * POINT, width * 0.66)
    taken = max(mark.x + mark.width for mark in marks if not isinstance(mark, Outline))
    marks.append(fitted(about, paper.right, y, SMALLEST, max(400.0, paper.right - taken - 40), SEMIBOLD, 1.0))
    marks.append(rule(paper.left, y + 36, paper.right, y + 36, 1.2 * POINT))
    bar = card.bars[0].bar
    panel = lay_panels(timeline, (figure,), paper, PANEL)[0][0]._replace(bar=bar)
    panel = panel._replace(scale=width / float(panel.pulses))
    marks += [*draw_panel(timeline, panel, paper.left, y + 50, paper, sums=False)]
    y += 50 + 40 + panel.sail + 84 + 110
    marks += _against(timeline, card, paper, y + 60)
    y += 60 + 90 + 4 * 78 + 80
    marks += _bars(timeline, card, paper, y)
    marks += _ladder(card, paper, y)
    claps = (clap for each in card.bars for clap in each.claps)
    example = next((clap for clap in claps if clap.text[-1:] in "e&a"), None)
    key = "bold: one starts"
    if example:
        key = f"{example.text}: the {example.text.lstrip('0123456789')} of beat {example.text.rstrip('e&a')}; {key}"
    return [Sheet(paper, (*marks, *footer(paper, file, key)))]


def _against(timeline: Timeline, card: Practice, paper: Paper, y: float) -> Iterator[Mark]:
    """What is said, clapped and stepped against what, one after another."""
    yield label("What against what", paper.left, y, HEAD, BOLD)
    note = "one after another, each until it runs by itself"
    yield label(note, paper.left + text_width("What against what", HEAD, BOLD) + 28, y, SMALLEST)
    columns = (paper.left + 110, paper.left + 950, paper.left + 1490)
    y += 72
    for text, x in zip(("say", "clap", "step"), columns, strict=True):
        yield label(text, x, y, SMALLEST)
    y += 22
    yield rule(paper.left, y, paper.right, y, FINE * 1.4)
    starts = set()
    at = 1
    for group in card.figure.groups:
        starts.add(at)
        at += group
    every = set(card.figure.accents) == starts
    said = groups_said(card.figure.groups)
    pulse = card.first.statement.pulse
    beats = " ".join(text for _, text in syllables(timeline, card.bars[0].bar, pulse)[:8]) + " …"
    texts = {
        "counts": said if len(said) < 60 else "the counts of each group",
        "beats": beats,
        "accents": "the accents: every 1" if every else "the accents",
    }
    for number, row in enumerate(STEPS, start=1):
        baseline = y + 54
        yield label(str(number), paper.left + 12, baseline, SMALLEST * 1.1, BOLD)
        for index, x in enumerate(columns):
            side, text = row[2 * index], row[2 * index + 1].format(**texts)
            if side:
                yield figure_sign(x, baseline) if side == "figure" else meter_sign(x, baseline)
            room = (columns[index + 1] if index < 2 else paper.right) - x - 90
            yield fitted(text, x + (70 if side else 0), baseline, SMALLEST, room)
        y += 78
        yield rule(paper.left, y, paper.right, y, FINE * 0.8)


def _bars(timeline: Timeline, card: Practice, paper: Paper, y: float) -> Iterator[Mark]:
    """A bar a row with what is clapped in it, the last one ending where the first begins again."""
    first = card.bars[0].bar.number
    count = len(card.bars)
    title = f"The first {number_word(count)} bars" if count > 1 else "One bar"
    note = ""
    if card.home:
        title = f"{number_word(count, capital=True)} bar{'s' if count > 1 else ''}, then home"
        note = f"bar {card.home} begins like bar {first}"
    yield label(title, paper.left, y, HEAD, BOLD)
    x = paper.left + text_width(title, HEAD, BOLD) + 28
    yield fitted(note, x, y, SMALLEST, paper.left + CLAPS - x - 40)
    yield label("clap on", paper.left + CLAPS, y, SMALLEST)
    pitch = min(142.0, (paper.bottom - 60 - y - 40) / count)
    longest = max(each.bar.end - each.bar.at for each in card.bars)
    left, right = paper.left + BARS - 24, paper.left + CLAPS - 40
    canvas = page_canvas(paper, left, right, 24)
    scale = (right - left - 48) / longest
    written = max(group.written for row in card.repetitions for group in row.statement.groups)
    sail = max(12.0, pitch - 34 - 34 - 14)
    style = RowStyle(12, sail, 22, 34, 30, 0, 0, 0, 0)
    top = y + 30
    for each in card.bars:
        row = Row(each.bar.at, each.bar.end, scale, top, style, print_look(canvas), written)
        yield from _bar(timeline, card, each, row)
        yield label(str(each.bar.number), paper.left + 56, row.line - 2, SMALLEST, BOLD, anchor=1.0)
        yield from _claps(each, paper.left + CLAPS, paper.left + LADDER - 40, row.line - 2)
        top += pitch
    for beat in timeline.beats_in(card.bars[-1].bar):
        place = row.x(beat.at)
        if row.scale * (beat.end - beat.at) > 40:
            yield label(str(beat.number), place + 8, row.line + 48, TINY, SEMIBOLD)


def _bar(timeline: Timeline, card: Practice, each: PracticeBar, row: Row) -> Iterator[Mark]:
    for repetition in card.repetitions:
        if row.shows(repetition.at, repetition.end):
            yield from draw_repetition(row, repetition, tinted=False, pen=PEN * 0.8)
    yield rule(row.left, row.line, row.right, row.line, POINT)
    for beat in timeline.beats_in(each.bar):
        x = row.x(beat.at)
        yield rule(
            x, row.line, x, row.line + _post(beat.number), 1.2 * POINT if beat.number == 1 else PEN, METER
        )
    x = row.x(row.end)
    yield rule(x, row.line, x, row.line + 34, 1.2 * POINT, METER)
    for repetition in card.repetitions:
        if row.shows(repetition.at, repetition.end):
            yield from draw_tops(row, repetition, 7.0)
    for clap in each.claps:
        if clap.at == each.bar.at:
            yield rule(row.x(clap.at), row.line - 40, row.x(clap.at), row.line + 34, 2 * POINT)
            yield filled(BLACK, disc(row.x(clap.at), row.line, 9))


def _post(number: int) -> float:
    return 34.0 if number == 1 else 24.0


def _claps(each: PracticeBar, left: float, right: float, baseline: float) -> Iterator[Mark]:
    """The accents of a bar as they are counted, in columns; smaller where they are many."""
    if not each.claps:
        yield label("–", left, baseline, SMALLEST)
        return
    step = min(92.0, (right - left) / len(each.claps))
    widest = max(text_width(clap.text, 1.0, BOLD) for clap in each.claps)
    size = min(SMALLEST, (step - 8) / widest)
    if size < TINY * 0.7:
        yield fitted(f"{len(each.claps)} accents", left, baseline, SMALLEST, right - left)
        return
    for index, clap in enumerate(each.claps):
        yield label(clap.text, left + index * step, baseline, size, BOLD if clap.starts else REGULAR)


def _ladder(card: Practice, paper: Paper, y: float) -> Iterator[Mark]:
    """Tempi from half to full, from below, with boxes to tick."""
    left, right = paper.left + LADDER, paper.right
    yield label("Tempo ladder", left, y, HEAD, BOLD)
    sign = card.unit in (Fraction(1, 4), Fraction(3, 8))
    unit = "beats a minute, rounded;"
    yield label(unit, left, y + 62, TINY)
    yield label("tick each clean round", left, y + 106, TINY)
    top, bottom = y + 140, paper.bottom - 60
    pitch = (bottom - top) / len(card.ladder)
    yield rule(left, top, left, bottom, 1.2 * POINT)
    yield rule(right, top, right, bottom, 1.2 * POINT)
    for index, rung in enumerate(card.ladder):
        foot = top + (index + 1) * pitch
        yield rule(left, foot, right, foot, 1.2 * POINT)
        box = min(62.0, pitch * 0.32)
        baseline = foot - box - 36
        x = left + 18
        if sign:
            yield filled(
                BLACK, disc(x + 7, baseline - 6, 8), rectangle(x + 12, baseline - 42, x + 15, baseline - 6)
            )
            if card.unit == Fraction(3, 8):
                yield filled(BLACK, disc(x + 24, baseline - 6, 4))
            x += 34
        size = fit_size(str(rung.beats), HEAD * 1.1, TINY, 140, BOLD)
        yield label(str(rung.beats), x, baseline, size, BOLD)
        yield label(f"{rung.share} %", right - 12, baseline, TINY, anchor=1.0)
        for place in range(4):
            start = left + 18 + place * (right - left - 30) / 4
            yield drawn_round([rectangle(start, foot - box - 16, start + box, foot - 16)], FINE, BLACK, WHITE)
