"""The worksheet: the tasks with room to write, and the same filled in on a last page, for the teacher."""

from collections.abc import Iterator, Sequence

from renderer.core.names import listed
from renderer.paper.counting import pulse_words
from renderer.paper.worksheet import CountOn, Keepers, Offsets, Starts, Sum, Turn, Worksheet, make_worksheet
from renderer.timeline.model import Timeline
from renderer.timeline.sides import part_names
from scenes.draw.look import BOLD, REGULAR, SEMIBOLD, RowStyle
from scenes.draw.paths import rectangle
from scenes.draw.text import musical, text_width
from scenes.paper.counting_tasks import draw_count_on, draw_starts
from scenes.paper.flow import INDENT, Flow
from scenes.paper.frame import header, numbered, title_marks
from scenes.paper.print_look import FINE, METER, PEN, page_canvas, print_look
from scenes.paper.sheet import (
    BLACK,
    HEAD,
    MARGIN,
    POINT,
    SMALLEST,
    TEXT,
    TINY,
    Label,
    Mark,
    Paper,
    Sheet,
    chord,
    drawn_round,
    fitted,
    label,
    paper_chord_width,
    rule,
)
from scenes.paper.strip import draw_parts
from scenes.paper.vessels import draw_repetition, draw_turn
from scenes.row.line import Row

GAP = 64.0
"""Between two tasks."""


def worksheet_sheets(timeline: Timeline, file: str, paper: Paper) -> list[Sheet]:
    """The pages to write on, and the answers on a last one; none if there is nothing to ask."""
    sheet = make_worksheet(timeline)
    if sheet.empty:
        return []
    width = paper.right - paper.left
    marks, y = title_marks(paper, timeline.title, "worksheet", MARGIN + 90, 26 * POINT, width - 880)
    for text, start, end in (("Name", 840.0, 190.0), ("Date", 160.0, 0.0)):
        x = paper.right - start
        marks.append(label(text, x, y, SMALLEST))
        marks.append(rule(x + text_width(text, SMALLEST) + 14, y + 6, paper.right - end, y + 6, FINE))
    marks.append(rule(paper.left, y + 36, paper.right, y + 36, 1.2 * POINT))
    flow = Flow(paper, marks, y + 120, timeline.title, "Worksheet")
    _tasks(timeline, sheet, flow, answers=False)
    heads = f"{timeline.title}: worksheet", "Answers, for the teacher"
    key = Flow(paper, header(paper, *heads), paper.top + 50, *heads)
    _tasks(timeline, sheet, key, answers=True)
    sheets = numbered([Sheet(paper, tuple(page)) for page in flow.pages], file)
    return [*sheets, *numbered([Sheet(paper, tuple(page)) for page in key.pages], file, "answers")]


def _tasks(timeline: Timeline, sheet: Worksheet, flow: Flow, answers: bool) -> None:
    number = 0
    for task in (sheet.count_on, sheet.starts, sheet.sums, sheet.offsets, sheet.turns, sheet.keepers):
        if not task:
            continue
        number += 1
        if isinstance(task, CountOn):
            draw_count_on(flow, number, task, answers)
        elif isinstance(task, Starts):
            number += draw_starts(timeline, flow, number, task, answers)
        elif isinstance(task, Offsets):
            _offsets(timeline, flow, number, task, answers)
        elif isinstance(task, Keepers):
            _keepers(timeline, flow, number, task, answers)
        elif isinstance(task[0], Sum):
            _sums(timeline, flow, number, sheet.sums, answers)
        else:
            _turns(timeline, flow, number, sheet.turns, answers)
        flow.y += GAP


def _sums(timeline: Timeline, flow: Flow, number: int, sums: Sequence[Sum], answers: bool) -> None:
    if answers:
        text: list[tuple[str, int]] = []
        for each in sums:
            left = f" + {each.left}" if each.left else ""
            end = f", and {each.end}" if each.end and each.left else ""
            text += [
                (f"{each.title}: {each.bars} × {each.per_bar} = ", REGULAR),
                (f"{each.total} = {each.whole} × {each.figure.pulses}{left}", BOLD),
                (f"{end}. ", REGULAR),
            ]
        flow.task(number, text, 0)
        return
    flow.task(number, [("How many are left over?", BOLD), (" Fill in the sums.", REGULAR)], 220)
    paper = flow.paper
    for each in sums:
        flow.room(210)
        top = flow.y + 20
        baseline = top + 78
        flow.put(
            fitted(f"{each.title}, {each.figure.name}", paper.left + INDENT, baseline, TEXT, 470, SEMIBOLD)
        )
        x = paper.left + INDENT + 860
        bars = "bar" if each.bars == 1 else "bars"
        flow.put(label(f"{each.bars} {bars} of {each.per_bar} =", x - 20, baseline, TEXT, anchor=1.0))
        unit = pulse_words(timeline, int(each.figure.pulse * timeline.grid))
        for under, after in ((unit, "="), ("whole ones", f"× {each.figure.pulses}  +"), ("left over", "")):
            flow.put(drawn_round([rectangle(x, top, x + 210, top + 120)], PEN))
            flow.put(label(under, x + 105, top + 166, TINY, anchor=0.5))
            if after:
                flow.put(label(after, x + 226, baseline, TEXT))
                x += 226 + text_width(after, TEXT) + 22
        flow.y += 220


def _offsets(timeline: Timeline, flow: Flow, number: int, task: Offsets, answers: bool) -> None:
    name, size = task.figure.name, task.figure.pulses
    if answers:
        text = [(f"{', '.join(task.offsets)}.", BOLD)]
        if task.home:
            text += [
                (" Number ", REGULAR),
                (task.home[0], BOLD),
                (" starts on the downbeat of bar ", REGULAR),
            ]
            text += [(f"{task.home[1]}.", BOLD)]
        flow.task(number, text, 0)
        return
    unit = pulse_words(timeline, int(task.figure.pulse * timeline.grid))
    add = f"Add {size}; from {task.per_bar} on, take {task.per_bar} away."
    if size > task.per_bar:
        add = f"Add {size}; from {task.per_bar} on, take {task.per_bar} away, as often as you can."
    text = [
        ("Fill in the offsets", BOLD),
        (
            f" of {name} {task.numbers[0]} to {task.numbers[-1]}: how many {unit} after its bar’s downbeat "
            f"each one starts. {add}",
            REGULAR,
        ),
    ]
    flow.task(number, text, 300)
    paper, count = flow.paper, len(task.offsets)
    step = (paper.right - paper.left + 10) / max(count, 12)
    top = flow.y + 46
    for index, (which, offset) in enumerate(zip(task.numbers, task.offsets, strict=True)):
        x = paper.left + index * step
        flow.put(label(which, x + (step - 10) / 2, top - 16, SMALLEST, SEMIBOLD, anchor=0.5))
        flow.put(drawn_round([rectangle(x, top, x + step - 10, top + 100)], PEN))
        if index < 3:
            flow.put(label(offset, x + (step - 10) / 2, top + 66, TEXT, BOLD, anchor=0.5))
    flow.y = top + 150
    if task.home:
        flow.y += 20
        said = "Which one is the first to start on a downbeat again?   Number ……………   in bar ……………"
        flow.put(fitted(said, paper.left + INDENT, flow.y, TEXT, paper.right - paper.left - INDENT))


def _turns(timeline: Timeline, flow: Flow, number: int, turns: Sequence[Turn], answers: bool) -> None:
    figure = timeline.figure(str(turns[0].repetition.statement.figure))
    if answers:
        text: list[tuple[str, int]] = []
        for each in turns:
            chords = f"{musical(each.crossing.before)} to {musical(each.crossing.after)}"
            text.append((f"{figure.name} {each.repetition.counted}, {chords} at {each.place}: ", REGULAR))
            text.append((f"{each.before} + {each.after}. ", BOLD))
        flow.task(number, text, 0)
        return
    unit = pulse_words(timeline, int(figure.pulse * timeline.grid))
    text = [
        ("The chord turns, the rhythm runs on.", BOLD),
        (f" How many {unit} of each {figure.name} come before the turn, how many after?", REGULAR),
    ]
    flow.task(number, text, 560)
    paper = flow.paper
    width = (paper.right - paper.left - 2 * 90) / 3
    for index, each in enumerate(turns):
        left = paper.left + index * (width + 90)
        row = each.repetition
        scale = (width - 20) / (row.end - row.at)
        style = RowStyle(110, 170, 66, 80, 30, SMALLEST, SMALLEST, 0, 8)
        look = print_look(page_canvas(paper, left, left + width, 10))
        written = max(group.written for group in row.statement.groups)
        line = Row(row.at, row.end, scale, flow.y, style, look, written)
        flow.put(*draw_repetition(line, row, tinted=False), *_pulses(line, each))
        x = line.x(each.crossing.at)
        flow.put(rule(x, line.top + 10, x, line.hull_top, PEN, dashed=True))
        flow.put(*draw_turn(line, each.crossing.at))
        before, after = each.crossing.before, each.crossing.after
        flow.put(*_turned(before, x - 12, x - left + 8, line.top + 60, 1.0))
        flow.put(*_turned(after, x + 12, left + width - x, line.top + 60, 0.0))
        flow.put(rule(line.left, line.line, line.right, line.line, POINT))
        for beat in timeline.beats_between(row.at, row.end):
            place = line.x(beat.at)
            flow.put(rule(place, line.line, place, line.line + 30, PEN, METER))
        flow.put(rule(x, line.line, x, line.line + 66, 1.4 * POINT, METER))
        wide = text_width(each.place, TINY, SEMIBOLD)
        flow.put(label(each.place, min(x + 12, line.right - wide), line.line + 66, TINY, SEMIBOLD))
        top = line.line + 110
        for shift, after_text in ((60.0, "+"), (220.0, f"= {figure.pulses}")):
            flow.put(drawn_round([rectangle(left + shift, top, left + shift + 100, top + 96)], PEN))
            flow.put(label(after_text, left + shift + 120, top + 64, TEXT))
    flow.y += 590


def _turned(name: str, x: float, room: float, baseline: float, anchor: float) -> list[Label]:
    """A chord's name beside the turn, smaller where it is long, then cut off."""
    size = min(HEAD, room / paper_chord_width(name, 1.0))
    if size >= TINY:
        return chord(name, x, baseline, size, BLACK, anchor)
    return [fitted(musical(name), x, baseline, TINY, room, SEMIBOLD, anchor)]


def _pulses(row: Row, turn: Turn) -> Iterator[Mark]:
    statement = turn.repetition.statement
    for into in range(statement.pulse, statement.sounding_length, statement.pulse):
        x = row.x(turn.repetition.at + into)
        if statement.pulse * row.scale > 8:
            begins = any(group.at == into for group in statement.groups)
            yield rule(x, row.hull_top, x, row.hull_bottom if begins else row.hull_top + 26, FINE)


def _keepers(timeline: Timeline, flow: Flow, number: int, task: Keepers, answers: bool) -> None:
    who = listed(task.figure, "and")
    if answers:
        text: list[tuple[str, int]] = []
        if task.begins:
            text += [("Nobody keeps the meter from bar ", REGULAR), (task.begins, BOLD)]
            text += [(" to bar ", REGULAR), (task.last, BOLD)] if task.last else [(" on", REGULAR)]
            text.append((". ", REGULAR))
        if who:
            text += [("All the time at the figure: ", REGULAR), (f"{who}.", BOLD)]
        flow.task(number, text, 0)
        return
    names = part_names(timeline)
    pitch = max(60.0, min(100.0, 700 / len(names)))
    height = pitch * len(names) + 190
    text = [
        ("Who keeps the meter?", BOLD),
        (" It hangs below its line, the figure stands above it.", REGULAR),
    ]
    flow.task(number, text, height)
    marks, end = draw_parts(timeline, flow.paper, flow.y + 20, pitch)
    flow.put(*marks)
    flow.y = end + 80
    asked = []
    if task.begins:
        asked.append(f"Nobody keeps the meter from bar …………{' to bar …………' if task.last else ' on'}.")
    if who:
        asked.append("All the time at the figure: ……………………………")
    room = flow.paper.right - flow.paper.left - INDENT
    flow.put(fitted("  ".join(asked), flow.paper.left + INDENT, flow.y, TEXT, room))
