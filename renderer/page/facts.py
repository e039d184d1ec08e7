"""What the page says of a lesson beside its picture, as values that JSON can hold. Times are seconds of a segment."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from fractions import Fraction
from functools import lru_cache
from typing import Any

from renderer.core.names import counted
from renderer.lesson.lesson import Lesson, Planned
from renderer.page.changes import with_plays
from renderer.page.editions import Edition, Laid
from renderer.page.look import page_colours
from renderer.reading.load import parse
from renderer.report.section_advice import describe, ways_offered
from renderer.report.table import place_text, section_names
from renderer.schedule.model import Schedule
from renderer.schedule.play import PlaySchedule
from renderer.timeline.model import Repetition, Timeline
from renderer.timeline.statements import decimal_text

MOST_ROWS = 4000
"""Rows of a table that a browser is sent."""
MOST_FINDINGS = 200

Facts = dict[str, Any]


def edition_facts(edition: Edition, name: str) -> Facts:
    """What the page shows of an edition at once."""
    laid = edition.laid
    return {
        "edition": edition.number,
        "name": name,
        "text": edition.text,
        "mistakes": [asdict(mistake) for mistake in edition.mistakes],
        "laid": laid_facts(laid) if laid else None,
    }


@lru_cache(maxsize=4)
def laid_facts(laid: Laid) -> Facts:
    """What the page shows of a lesson; the lines of its segments come by themselves."""
    lesson, timeline = laid.lesson, laid.lesson.timeline
    return {
        "number": laid.number,
        "title": timeline.title,
        "theme": lesson.spec.theme.name,
        "colours": page_colours(lesson.spec.theme),
        "tempo": decimal_text(timeline.tempo[0].quarters),
        "recording": lesson.spec.recording,
        "segments": [segment_facts(planned) for planned in lesson.segments()],
        "sections": [*section_facts(laid)],
        "repetitions": [*repetition_facts(timeline)][:MOST_ROWS],
        "voices": timeline.voices,
    }


def segment_facts(planned: Planned) -> Facts:
    """A segment in the strip."""
    schedule = planned.schedule
    return {
        "number": planned.number,
        "show": planned.show,
        "seconds": float(schedule.seconds),
        "cover": float(_cover(schedule)),
    }


def _cover(schedule: Schedule) -> Fraction:
    """The moment that stands for a segment: where it has unfolded, or in the middle of what runs in real time."""
    if isinstance(schedule, PlaySchedule):
        return schedule.seconds / 2
    return schedule.seconds - Fraction(1, 10)


def section_facts(laid: Laid) -> Iterator[Facts]:
    """The form: name, bars, and whether their number is written where it can be stepped."""
    timeline = laid.lesson.timeline
    names = section_names(timeline)
    for index, (section, one) in enumerate(zip(timeline.sections, laid.plan.layout.passes, strict=True)):
        path = one.spec.path
        bars = laid.lesson.spec.form[path[1]].bar_count if isinstance(path[1], int) else None
        yield {
            "name": names[index],
            "bars": section.bar_count,
            "first": section.first_bar_number,
            "entry": path[1] if bars == section.bar_count else None,
        }


def repetition_facts(timeline: Timeline) -> Iterator[Facts]:
    """The table of repetitions: where each starts and what happens in it."""
    notes = _notes(timeline)
    for row in timeline.repetitions:
        statement = row.statement
        yield {
            "voice": row.voice,
            "no": row.counted,
            "number": row.number,
            "name": statement.figure or "tail",
            "at": place_text(timeline, row.at),
            "bar": row.bar_number,
            "offset": str(Fraction(row.offset, statement.pulse)),
            "notes": [*_cut_note(row), *notes.get((row.voice, row.number), ())],
        }


def _cut_note(row: Repetition) -> Iterator[tuple[str, str]]:
    statement = row.statement
    if statement.sounding_length < statement.length:
        played, whole = (
            Fraction(ticks, statement.pulse) for ticks in (statement.sounding_length, statement.length)
        )
        yield "cut", f"{'cut to' if statement.cut else 'first'} {played} of {whole}"


def _notes(timeline: Timeline) -> Mapping[tuple[str, int], list[tuple[str, str]]]:
    """What happens in each repetition: a kind, which has a sign in the pictures, and words."""
    notes: dict[tuple[str, int], list[tuple[str, str]]] = defaultdict(list)
    for again in timeline.realignments:
        notes[again.voice, again.repetition_number].append(("back", f"back on bar {again.bar_number}"))
    for crossing in timeline.crossings:
        text = f"{crossing.before} to {crossing.after}"
        notes[crossing.voice, crossing.repetition_number].append(("crossing", text))
    for landing in timeline.landings:
        if landing.accent_number > 1 and landing.sounds:
            text = f"accent {landing.accent_number} on bar {landing.bar_number}"
            notes[landing.voice, landing.repetition_number].append(("landing", text))
    return notes


def line_facts(schedule: Schedule) -> Facts:
    """What stands on a segment's line: steps, beats, repetitions, harmonies, each with its time."""
    timeline = schedule.timeline
    beats: list[tuple[int, int, int, int, float]] = []
    for bar in timeline.bars:
        section = timeline.sections[bar.section_index]
        for beat in timeline.beats_in(bar):
            seconds = schedule.seconds_at(beat.at)
            if seconds is not None:
                into = bar.number - section.first_bar_number + 1
                beats.append((bar.section_index, into, bar.number, beat.number, round(float(seconds), 5)))
    sails = []
    for index, row in enumerate(timeline.repetitions[:MOST_ROWS]):
        start = schedule.seconds_at(row.at)
        if start is not None:
            end = schedule.seconds_at(row.end)
            length = timeline.seconds(row.end) - timeline.seconds(row.at)
            until = end if end is not None and end > start else min(schedule.seconds, start + length)
            kind = "tail" if row.statement.figure is None else "cut" if row.statement.cut else ""
            sails.append((index, round(float(start), 5), round(float(until), 5), kind))
    changes = ((harmony.name, schedule.seconds_at(harmony.at)) for harmony in timeline.harmony)
    return {
        "seconds": float(schedule.seconds),
        "real": isinstance(schedule, PlaySchedule),
        "steps": [(step.name, round(float(step.seconds), 5)) for step in schedule.steps],
        "beats": beats,
        "sails": sails,
        "harmonies": [(name, round(float(seconds), 5)) for name, seconds in changes if seconds is not None],
    }


def finding_facts(laid: Laid, text: str) -> Facts:
    """What `check` tells, and the ways to land, each with the text that it would make."""
    lines = describe(laid.plan, laid.lesson.timeline)
    return {"lines": lines[:MOST_FINDINGS], "ways": [*_ways(laid, text)]}


def _ways(laid: Laid, text: str) -> Iterator[Facts]:
    """Only ways whose text can be read again."""
    for offered in ways_offered(laid.plan, laid.lesson.timeline):
        changed = with_plays(text, offered.path, offered.voice, offered.way.plays, offered.way.figures)
        if changed is not None and _can_be_read(changed):
            yield {
                "section": offered.section,
                "voice": offered.voice,
                "words": offered.way.text,
                "plays": offered.way.plays,
                "text": changed,
            }


def _can_be_read(text: str) -> bool:
    from renderer.core.errors import BarcrossError

    try:
        parse(text, "")
    except BarcrossError:
        return False
    return True


def compared(before: Lesson, now: Lesson, index: int) -> list[tuple[str, str, str]]:
    """What another number of bars of a section changes: what, before, now."""
    rows = []
    for lesson in (before, now):
        timeline = lesson.timeline
        section = timeline.sections[index]
        inside = [row for row in timeline.repetitions if row.section_index == index]
        ended = [row for row in timeline.repetitions if row.end == section.end and row.statement.cut]
        cut = "not cut"
        if ended:
            statement = ended[-1].statement
            left, whole = (
                Fraction(n, statement.pulse) for n in (statement.sounding_length, statement.length)
            )
            cut = f"cut to {left} of {whole}"
        pulse = timeline.pulse or timeline.grid // 16
        following = timeline.sections[index + 1] if index + 1 < len(timeline.sections) else None
        play = timeline.seconds(timeline.end)
        rows.append(
            (
                (f"{section.name}, in pulses", decimal_text(Fraction(section.end - section.at, pulse))),
                ("repetitions that start in it", str(len(inside))),
                ("the last one", cut),
                *(
                    [(f"{following.name} begins on bar", str(following.first_bar_number))]
                    if following
                    else []
                ),
                ("bars in all", counted(timeline.bars[-1].number, "bar")),
                ("the piece lasts", f"{int(play) // 60}:{int(play) % 60:02}"),
            )
        )
    return [(name, old, new) for (name, old), (_, new) in zip(*rows, strict=True)]
