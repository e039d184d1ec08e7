"""The timeline as a table to read: a block a section, a line a repetition, with what happens in it."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction

from renderer.core.names import counted
from renderer.report.wholes import Wholes
from renderer.timeline.bars import meter_beats
from renderer.timeline.model import Crossing, Mark, Repetition, Section, Statement, Timeline

HEADINGS = ("no", "figure", "count", "bar.beat", "offset", "plays", "time", "what happens")
RIGHT = ("no", "count", "offset", "time")
"""Columns of numbers, whose ends stand under each other."""

Key = tuple[str, int]
"""A repetition: its voice and number."""


def timeline_listing(timeline: Timeline) -> list[str]:
    """The repetitions as lines of text, voice by voice inside each section."""
    notes = _notes(timeline)
    several = len({repetition.statement.pulse for repetition in timeline.repetitions}) > 1
    rows: dict[tuple[int, str], list[tuple[str, ...]]] = defaultdict(list)
    for repetition in timeline.repetitions:
        row = _row(timeline, repetition, notes.get((repetition.voice, repetition.number), ()), several)
        rows[repetition.section_index, repetition.voice].append(row)
    widths = _widths(row for block in rows.values() for row in block)
    length = Wholes(timeline.grid)[timeline.end]
    seconds = clock_text(timeline.seconds(timeline.end))
    bars = counted(timeline.bars[-1].number, "bar")
    lines = [f"{timeline.title}: {bars}, {length} whole notes, {seconds}"]
    for index, (section, name) in enumerate(zip(timeline.sections, section_names(timeline), strict=True)):
        start = clock_text(timeline.seconds(section.at))
        lines += ["", f"{name}, {bars_text(section)}, from {start}"]
        lines += [
            f"  {mark_text(timeline, mark)}" for mark in timeline.marks if _begins_in(mark, section, index)
        ]
        for voice in timeline.voices:
            block = rows.get((index, voice))
            if block is None:
                continue
            if len(timeline.voices) > 1:
                lines.append(f"  {voice}")
            lines += [_line(row, widths) for row in (HEADINGS, *block)]
    return lines


def section_names(timeline: Timeline) -> list[str]:
    """The name of each section, with the pass's number where there are several: `Opening (2)`."""
    several = {section.name for section in timeline.sections if section.pass_number > 1}
    return [
        f"{section.name} ({section.pass_number})" if section.name in several else section.name
        for section in timeline.sections
    ]


def bars_text(section: Section) -> str:
    """`bars 25-32`, or `bar 25`."""
    last = section.last_bar_number
    return f"bar {last}" if section.bar_count == 1 else f"bars {section.first_bar_number}-{last}"


def mark_text(timeline: Timeline, mark: Mark) -> str:
    """A mark with where it stands: `bars 17-20: brass alone`, `9.3: strings enter`."""
    if mark.bar_count > 1:
        return f"bars {mark.bar_number}-{mark.bar_number + mark.bar_count - 1}: {mark.text}"
    bar = timeline.bars[mark.bar_number - timeline.bars[0].number]
    return (
        f"bar {bar.number}: {mark.text}"
        if mark.at == bar.at
        else f"{place_text(timeline, mark.at)}: {mark.text}"
    )


def _begins_in(mark: Mark, section: Section, index: int) -> bool:
    """Whether a mark begins in a section; the pick-up goes with the first one."""
    return mark.at < section.end and (mark.at >= section.at or not index)


def clock_text(seconds: Fraction) -> str:
    """Seconds as `m:ss.sss`, to the nearest millisecond.

    >>> clock_text(Fraction(1141242, 10000)), clock_text(Fraction(-1, 2))
    ('1:54.124', '-0:00.500')
    """
    thousandths = round(abs(seconds) * 1000)
    minutes, rest = divmod(thousandths, 60_000)
    return f"{'-' if seconds < 0 else ''}{minutes}:{rest // 1000:02}.{rest % 1000:03}"


def place_text(timeline: Timeline, at: int) -> str:
    """A place as positions are written, `9.3` or `9.3.2`; off the pulse with a fraction of the beat."""
    bar, beat = timeline.bar_at(at), timeline.beat_at(at)
    number, start, end = beat.number, beat.at, beat.end
    if at < start:  # in the beat that a pick-up begins in the middle of
        beats = meter_beats(bar.meter, timeline.grid)
        starts = [bar.end - beats[-1] + beat for beat in beats]
        number = bisect_right(starts, at)
        start, end = starts[number - 1], starts[number]
    text = f"{bar.number}.{number}"
    rest = at - start
    if not rest:
        return text
    if timeline.pulse and rest % timeline.pulse == 0:
        return f"{text}.{rest // timeline.pulse + 1}"
    return f"{text} + {Fraction(rest, end - start)}"


def _offset_text(timeline: Timeline, repetition: Repetition, several: bool) -> str:
    """How many of its pulses after its bar's downbeat a repetition starts; with the pulse where there are `several`."""
    pulse = repetition.statement.pulse
    count = str(Fraction(repetition.offset, pulse))
    return f"{count} x {timeline.whole(pulse)}" if several and repetition.offset else count


def _row(timeline: Timeline, repetition: Repetition, notes: Iterable[str], several: bool) -> tuple[str, ...]:
    statement = repetition.statement
    return (
        str(repetition.number),
        statement.figure or "tail",
        "" if repetition.counted is None else str(repetition.counted),
        place_text(timeline, repetition.at),
        _offset_text(timeline, repetition, several),
        groups_text(statement),
        clock_text(timeline.seconds(repetition.at)),
        "; ".join([*_shortened(statement), *notes]),
    )


def groups_text(statement: Statement) -> str:
    """The groups that sound, in pulses: `5+3+2`."""
    return "+".join(str(Fraction(group.length, statement.pulse)) for group in statement.groups)


def _shortened(statement: Statement) -> Iterator[str]:
    if statement.sounding_length < statement.length:
        played, length = (
            Fraction(ticks, statement.pulse) for ticks in (statement.sounding_length, statement.length)
        )
        yield f"{'cut to' if statement.cut else 'first'} {played} of {length}"


def _notes(timeline: Timeline) -> Mapping[Key, list[str]]:
    """What happens in each repetition, in words."""
    notes: dict[Key, list[str]] = defaultdict(list)
    for realignment in timeline.realignments:
        text = "starts on a section's downbeat again" if realignment.full else "starts on a downbeat again"
        notes[realignment.voice, realignment.repetition_number].append(text)
    for row in timeline.handovers:
        if row.over > 0:
            notes[row.voice, row.first_number].append(f"{row.before or 'the tail'} has run past the line")
    for crossing in timeline.crossings:
        notes[crossing.voice, crossing.repetition_number].append(_crossing_text(crossing))
    for landing in timeline.landings:
        if landing.accent_number > 1 or not landing.sounds:
            verb = "lands" if landing.sounds else "would land"
            text = f"accent {landing.accent_number} {verb} on bar {landing.bar_number}"
            notes[landing.voice, landing.repetition_number].append(text)
    return notes


def _crossing_text(crossing: Crossing) -> str:
    where = "at" if crossing.into_group == 0 else "in"
    return f"{crossing.before} to {crossing.after} {where} group {crossing.group_number}"


def _widths(rows: Iterable[tuple[str, ...]]) -> list[int]:
    widths = [len(heading) for heading in HEADINGS]
    for row in rows:
        widths = [max(width, len(cell)) for width, cell in zip(widths, row, strict=True)]
    return widths


def _line(row: tuple[str, ...], widths: list[int]) -> str:
    cells = (
        cell.rjust(width) if heading in RIGHT else cell.ljust(width)
        for heading, cell, width in zip(HEADINGS, row, widths, strict=True)
    )
    return ("  " + "  ".join(cells)).rstrip()
