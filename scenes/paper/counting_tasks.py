"""The worksheet's tasks on the bars themselves: count on, write the starts, circle what lands."""

from collections.abc import Iterator, Sequence

from renderer.core.names import listed
from renderer.paper.counting import groups_said, syllables
from renderer.paper.worksheet import CountOn, Starts
from renderer.schedule.wording import number_word
from renderer.timeline.model import Timeline
from scenes.draw.look import BOLD, REGULAR, SEMIBOLD, RowStyle
from scenes.draw.paths import disc, rectangle, sail
from scenes.draw.segment import by_repetition
from scenes.draw.text import fit_size, text_width
from scenes.paper.flow import INDENT, Flow
from scenes.paper.print_look import FIGURE, FINE, METER, PEN, SIDE, page_canvas, print_look
from scenes.paper.sheet import (
    HEAD,
    POINT,
    SMALLEST,
    TEXT,
    TINY,
    WHITE,
    Mark,
    drawn_round,
    fitted,
    label,
    rule,
)
from scenes.paper.vessels import draw_number_in_hull, draw_repetition, draw_tops
from scenes.row.line import Row

BARS_A_ROW = 4
DOTS = (3.0, 6.0)


def draw_count_on(flow: Flow, number: int, task: CountOn, answers: bool) -> None:
    paper, name = flow.paper, task.figure.name
    said = groups_said(task.figure.groups)
    what = (
        f" Write {said} in the boxes, over and over." if len(said) < 70 else " Write the counts in the boxes."
    )
    text = [
        ("Count on.", BOLD),
        (f"{what} Circle every 1 that starts a new {name}. The first {name} is done.", REGULAR),
    ]
    height, sails = (62.0, 0.0) if answers else (86.0, 100.0)
    pitch = height + (96 if answers else 176)
    rows = [task.bars[at : at + 2] for at in range(0, len(task.bars), 2)]
    flow.task(number, [("Count on.", BOLD)] if answers else text, sails + pitch * len(rows))
    cell = (paper.right - paper.left) / max((row[-1].end - row[0].at) // task.pulse for row in rows)
    size = min(TEXT, cell * 0.8)
    flow.y += sails + 10
    first = 0.0
    for row in rows:
        start, top = row[0].at, flow.y
        line = top + height
        flow.put(rule(paper.left, line, paper.left + (row[-1].end - start) // task.pulse * cell, line, POINT))
        for each in task.cells:
            if not start <= each.at < row[-1].end:
                continue
            x = paper.left + (each.at - start) // task.pulse * cell
            flow.put(drawn_round([rectangle(x, top, x + cell, line)], FINE))
            middle, baseline = x + cell / 2, top + height / 2 + size * 0.34
            if each.given or answers:
                weight = BOLD if each.number == "1" else REGULAR
                flow.put(label(each.number, middle, baseline, size, weight, anchor=0.5))
            if each.begins and (answers or each.given):
                flow.put(drawn_round([disc(middle, top + height / 2, min(34.0, height / 2 - 2))], PEN))
            if each.given and not answers:
                first = max(first, x + cell)
            weight = BOLD if each.strong else REGULAR
            flow.put(rule(x, line, x, line + (44 if each.strong else 22), PEN, METER))
            if text_width(each.beat, size) < cell - 4:
                flow.put(label(each.beat, middle, line + 52, size, weight, anchor=0.5))
        for bar in row:
            x = paper.left + (bar.at - start) // task.pulse * cell
            flow.put(rule(x, line, x, line + 92, 1.4 * POINT, METER))
            if not answers:
                flow.put(label(f"bar {bar.number}", x + 10, line + 94, TINY, SEMIBOLD))
        if not answers and row is rows[0]:
            at, scale, contours = 0, cell, []
            for group in task.figure.groups:
                if paper.left + at * scale < first - 1:
                    tall = 96 * (0.3 + 0.7 * group / max(task.figure.groups))
                    contours.append(sail(paper.left + at * scale, top - 3, group * scale, tall))
                at += group
            right = paper.left + (row[-1].end - start) // task.pulse * cell
            if paper.left + at * scale <= right + 1:
                flow.put(drawn_round(contours, PEN, FIGURE, WHITE))
        flow.y += pitch


def draw_starts(timeline: Timeline, flow: Flow, number: int, task: Starts, answers: bool) -> int:
    """Two tasks on the same rows; how many numbers it took beside the first."""
    paper = flow.paper
    bars = number_word(len(task.bars))
    syllable = any("of" in text for row in task.answers for text in row)
    where = "the beat, or the part of it" if not syllable else "the beat, or the e, & or a of it"
    first = [
        ("Write the start of each repetition under its bar:", BOLD),
        (f" {where}. Bar {task.bars[0].number} is done. Some lines stay empty.", REGULAR),
    ]
    second = [
        ("Circle the accents that land on a downbeat", BOLD),
        (" (the dots at the tops, right above a bar’s first line). ", REGULAR),
        (f"How many are there in these {bars} bars? ………………", REGULAR),
    ]
    asked = bool(task.landings) and any(row.statement.accents for row in task.repetitions)
    pitch = 400.0 if answers else 500.0
    if answers:
        flow.task(number, [("The start of each repetition", BOLD)], pitch)
        if asked:
            one = len(task.landings) == 1
            on = listed([str(landing.bar_number) for landing in task.landings], "and")
            many = number_word(len(task.landings), capital=True)
            said = f"{many} accent lands: bar {on}." if one else f"{many} accents land: bars {on}."
            x = paper.left + (paper.right - paper.left) / 2
            flow.put(label(str(number + 1), x, flow.y - 34, HEAD, BOLD))
            flow.put(fitted(said, x + INDENT, flow.y - 34, TEXT, paper.right - x - INDENT, BOLD))
    else:
        flow.task(number, first, pitch + (120 if asked else 0))
        flow.y += 30
        if asked:
            flow.task(number + 1, second, pitch)
    rows = [task.bars[at : at + BARS_A_ROW] for at in range(0, len(task.bars), BARS_A_ROW)]
    width = paper.right - paper.left - 2 * SIDE
    scale = width / max(row[-1].end - row[0].at for row in rows)
    look = print_look(page_canvas(paper, margin=SIDE))
    longest = max(group.written for r in task.repetitions for group in r.statement.groups)
    sails = 120.0 if answers else 180.0
    style = RowStyle(30, sails, 54, 190 if not answers else 150, 20, SMALLEST, SMALLEST, 0, 7)
    landings = by_repetition(task.landings, task.repetitions[0].voice)
    for index, row_bars in enumerate(rows):
        flow.room(pitch - 40)
        row = Row(row_bars[0].at, row_bars[-1].end, scale, flow.y, style, look, longest)
        for repetition in task.repetitions:
            if not row.shows(repetition.at, repetition.end):
                continue
            flow.put(*draw_repetition(row, repetition, tinted=False))
            flow.put(*draw_tops(row, repetition, 6.0))
            shown = answers or (index == 0 and repetition.at < task.bars[0].end)
            if shown:
                flow.put(*draw_number_in_hull(row, repetition, ()))
            for landing in landings.get(repetition.number, ()) if answers else ():
                if row.holds(landing.at):
                    group = repetition.statement.group_at(landing.at - repetition.at)
                    flow.put(drawn_round([disc(row.x(landing.at), row.mast(group.written), 20)], PEN * 1.2))
        flow.put(rule(row.left, row.line, row.right, row.line, POINT))
        for bar in row_bars:
            answer = task.answers[task.bars.index(bar)]
            flow.put(*_answer_bar(timeline, row, task, bar.number, answer, answers or bar is task.bars[0]))
        x = row.x(row.end)
        flow.put(rule(x, row.line, x, row.feet, 1.4 * POINT, METER))
        flow.y += pitch
    flow.y -= 40
    return 1 if asked else 0


def _answer_bar(
    timeline: Timeline, row: Row, task: Starts, number: int, answer: Sequence[str], filled_in: bool
) -> Iterator[Mark]:
    """A bar's post, its beats counted, its number, and the lines to write on."""
    bar = next(bar for bar in task.bars if bar.number == number)
    x, end = row.x(bar.at), row.x(bar.end)
    yield rule(x, row.line, x, row.feet, 1.4 * POINT, METER)
    step = task.pulse * row.scale
    beats = {beat.at for beat in timeline.beats_in(bar)}
    taken = x
    for at, text in syllables(timeline, bar, task.pulse):
        place, strong = row.x(at), at in beats
        yield rule(place, row.line, place, row.line + (26 if strong else 14), PEN, METER)
        weight = BOLD if strong else REGULAR
        wide = text_width(text, TINY, weight)
        left = place + max(2.0, (step - wide) / 2)
        if (strong or step > 22) and left >= taken and left + wide <= end:
            yield label(text, left, row.line + 56, TINY, weight)
            taken = left + wide + 2
    yield label(str(number), x + 10, row.feet, SMALLEST, SEMIBOLD)
    left = x + 24 + text_width("000", SMALLEST)
    room = (end - left) / task.lines
    for index in range(task.lines):
        start = left + index * room
        yield rule(start + 6, row.feet + 4, start + room - 14, row.feet + 4, PEN)._replace(dash=DOTS)
        if filled_in and index < len(answer):
            text = answer[index]
            size = fit_size(text, SMALLEST, TINY * 0.8, room - 16, SEMIBOLD)
            yield label(text, start + room / 2 - 4, row.feet - 8, size, SEMIBOLD, anchor=0.5)
