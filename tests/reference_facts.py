"""What specs/REFERENCE.md states of its examples, worked out again.

An example of the page is a block of YAML; the block after it says what comes of it, a line a fact: a word, a
colon and what is stated. `FACTS` says how the same is read off the lesson. A line that ends in `...` states
the first few of many; one that is indented goes on from the line before.
"""

import atexit
import re
import tempfile
from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

from renderer.core.errors import SpecError
from renderer.lesson.lesson import Lesson, check_choices, measure_narration
from renderer.lesson.sound_files import check_sound_files
from renderer.reading.load import parse
from renderer.report.section_advice import describe
from renderer.report.table import bars_text, groups_text, mark_text, place_text, section_names
from renderer.schedule.handover import HandoverSchedule
from renderer.schedule.phrases import text_of
from renderer.schedule.spread import SpreadSchedule
from renderer.spec.sound import SoundSpec
from renderer.timeline.build import build_timeline
from renderer.timeline.model import Repetition
from renderer.timeline.plan import plan_spec
from tests.performances import perform, write_take

NAME = "piece.yaml"
"""What the page calls an example's file."""

BLOCK = re.compile(r"^```(\w*)(?: (\w+))?\n(.*?)^```$", re.MULTILINE | re.DOTALL)
MORE = "..."


class Example(NamedTuple):
    """One example of the page. `line` is its first one in the page; `whole` needs no prelude.

    `stated` is a table that `barcross timeline` prints, or facts, or an error.
    """

    line: int
    whole: bool
    spec: str
    stated: str
    table: bool


def read_examples(page: str) -> Iterator[Example]:
    """All examples, each with the block that comes right after it, empty if that states nothing."""
    blocks = list(BLOCK.finditer(page))
    for index, block in enumerate(blocks):
        language, mark, text = block.groups()
        if language != "yaml" or mark == "prelude":
            continue
        after = blocks[index + 1] if index + 1 < len(blocks) else None
        follows = after is not None and after[1] == "text" and not page[block.end() : after.start()].strip()
        line = page.count("\n", 0, block.start()) + 2
        stated, table = (after[3], after[2] == "table") if after is not None and follows else ("", False)
        yield Example(line, mark == "whole", text, stated, table)


def read_prelude(page: str) -> dict[str, str]:
    """The page's prelude: each key of the top with its lines."""
    (text,) = (block[3] for block in BLOCK.finditer(page) if block[2] == "prelude")
    chunks = re.split(r"^(?=\w)", text, flags=re.MULTILINE)
    return {chunk.partition(":")[0]: chunk for chunk in chunks if chunk}


def complete(example: Example, prelude: dict[str, str]) -> str:
    """The example as a whole spec: keys that it does not give come after it, from the prelude."""
    if example.whole:
        return example.spec
    own = {line.partition(":")[0] for line in example.spec.splitlines()}
    return example.spec + "".join(chunk for key, chunk in prelude.items() if key not in own)


def read_lesson(text: str) -> Lesson:
    """The lesson of a spec's text. Raises SpecError with all places."""
    loaded = parse(text, NAME)
    with loaded.placing():
        check_sound_files(loaded.spec, _voice_folder())
        files = measure_narration(loaded.spec, _voice_folder())
        timeline = build_timeline(loaded.spec)
        check_choices(loaded.spec, timeline)
        lesson = Lesson(loaded.spec, timeline, files=files)
        if any(segment.say for segment in loaded.spec.segments):
            lesson.segments()
        return lesson


@cache
def _voice_folder() -> Path:
    """The voice files that the page names, as long as it states."""
    folder = tempfile.TemporaryDirectory(prefix="voices-")
    atexit.register(folder.cleanup)
    for name, seconds in (("count.wav", 6), ("sum.wav", 2)):
        write_take(Path(folder.name, name), perform([Fraction(0)], seconds))
    return Path(folder.name)


def tell(text: str) -> str:
    """What is told of a spec at fault; empty if nothing is."""
    try:
        read_lesson(text)
    except SpecError as error:
        return str(error)
    return ""


def stated_lines(block: str) -> list[str]:
    """The lines of a result block, those that go on joined to the one before."""
    return [" ".join(line.split()) for line in re.sub(r"\n +", " ", block).splitlines() if line.strip()]


def find_line(lesson: Lesson, line: str) -> str:
    """A stated line as it should read. Raises KeyError for a word that says nothing."""
    word, _, stated = line.partition(": ")
    name, _, about = word.partition(" of ")
    parts = FACTS[name](lesson, about, stated)
    if stated.endswith(f", {MORE}"):
        shown = stated.count(", ")
        parts = [*parts[:shown], MORE] if len(parts) > shown else parts
    return f"{word}: {', '.join(parts) or 'none'}"


# How each word is read off a lesson, given what stands after `of` and what is stated


def _voice_name(lesson: Lesson, about: str) -> str:
    voice = about or "main"
    if voice not in lesson.timeline.voices and lesson.timeline.voices:
        raise KeyError(f"no voice {voice}")
    return voice


def _voice(lesson: Lesson, about: str) -> list[Repetition]:
    voice = _voice_name(lesson, about)
    return [row for row in lesson.timeline.repetitions if row.voice == voice]


def _starts(lesson: Lesson, voice: str, stated: str) -> list[str]:
    return [place_text(lesson.timeline, row.at) for row in _voice(lesson, voice)]


def _offsets(lesson: Lesson, voice: str, stated: str) -> list[str]:
    return [str(Fraction(row.offset, row.statement.pulse)) for row in _voice(lesson, voice)]


def _plays(lesson: Lesson, voice: str, stated: str) -> list[str]:
    """Like repetitions in a row counted: `5 x otter`, `otter cut to 9`."""
    counted = ((text, len(list(same))) for text, same in groupby(map(_statement, _voice(lesson, voice))))
    return [text if count == 1 else f"{count} x {text}" for text, count in counted]


def _statement(row: Repetition) -> str:
    statement = row.statement
    played = Fraction(statement.sounding_length, statement.pulse)
    name = statement.figure or "tail"
    match statement.kind:
        case "whole":
            return name
        case "first":
            return f"first {played} of {name}"
        case "cut":
            return f"{name} cut to {played}"
        case "tail":
            return f"tail {groups_text(statement)}"


def _counts(lesson: Lesson, voice: str, stated: str) -> list[str]:
    return ["tail" if row.counted is None else str(row.counted) for row in _voice(lesson, voice)]


def _crossings(lesson: Lesson, voice: str, stated: str) -> list[str]:
    return [
        f"{row.before} to {row.after} at {place_text(lesson.timeline, row.at)} in group {row.group_number} of "
        f"repetition {row.repetition_number}"
        for row in lesson.timeline.crossings
        if row.voice == _voice_name(lesson, voice)
    ]


def _landings(lesson: Lesson, voice: str, stated: str) -> list[str]:
    return [
        f"accent {row.accent_number} of repetition {row.repetition_number} on bar {row.bar_number}"
        + ("" if row.sounds else " (not played)")
        for row in lesson.timeline.landings
        if row.voice == _voice_name(lesson, voice)
    ]


def _realigns(lesson: Lesson, voice: str, stated: str) -> list[str]:
    return [
        f"repetition {row.repetition_number} on bar {row.bar_number}" + (" (full)" if row.full else "")
        for row in lesson.timeline.realignments
        if row.voice == _voice_name(lesson, voice)
    ]


def _handovers(lesson: Lesson, voice: str, stated: str) -> list[str]:
    timeline = lesson.timeline
    return [
        f"{row.before or 'tail'} to {row.after or 'tail'} at {place_text(timeline, row.at)} "
        f"({'cut' if row.cut else 'whole'}; {timeline.whole(row.over) / timeline.whole(timeline.pulse or 1)} over)"
        for row in timeline.handovers
        if row.voice == _voice_name(lesson, voice)
    ]


def _harmony(lesson: Lesson, about: str, stated: str) -> list[str]:
    return [f"{row.name} {place_text(lesson.timeline, row.at)}" for row in lesson.timeline.harmony]


def _side(lesson: Lesson, part: str, stated: str) -> list[str]:
    sides = [row for row in lesson.timeline.sides if row.part == part]
    if not sides:
        raise KeyError(f"no part {part}")
    return [f"{row.side} {place_text(lesson.timeline, row.at)}" for row in sides]


def _tempo(lesson: Lesson, about: str, stated: str) -> list[str]:
    return [
        f"{row.quarters}{'' if row.to is None else f' to {row.to}'} {place_text(lesson.timeline, row.at)}"
        for row in lesson.timeline.tempo
    ]


def _meter(lesson: Lesson, about: str, stated: str) -> list[str]:
    runs = groupby(lesson.timeline.bars, key=lambda bar: bar.meter.text)
    return [f"{meter} bar {next(bars).number}" for meter, bars in runs]


def _beats(lesson: Lesson, about: str, stated: str) -> list[str]:
    """Each felt beat of one bar with its length in whole notes."""
    number = int(about.removeprefix("bar "))
    (bar,) = (bar for bar in lesson.timeline.bars if bar.number == number)
    beats = lesson.timeline.beats_in(bar)
    return [f"{beat.number} = {lesson.timeline.whole(beat.end - beat.at)}" for beat in beats]


def _seconds(lesson: Lesson, about: str, stated: str) -> list[str]:
    """The seconds of each place that is stated: a position, or `end`."""
    timeline = lesson.timeline
    step = timeline.pulse or 1
    places = {place_text(timeline, at): at for at in range(timeline.start, timeline.end, step)}
    places["end"] = timeline.end
    names = [part.partition("=")[0].strip() for part in stated.split(",")]
    return [f"{name} = {float(timeline.seconds(places[name])):.3f}" for name in names]


def _sections(lesson: Lesson, about: str, stated: str) -> list[str]:
    sections = lesson.timeline.sections
    names = section_names(lesson.timeline)
    return [f"{name} {bars_text(section)}" for name, section in zip(names, sections, strict=True)]


def _figure(lesson: Lesson, name: str, stated: str) -> list[str]:
    figure = lesson.timeline.figure(name)
    hits, accents = (" ".join(map(str, row)) or "none" for row in (figure.hits, figure.accents))
    size = f"{'+'.join(map(str, figure.groups))} = {figure.pulses} pulses of {figure.pulse}"
    return [size, f"hits {hits}", f"accents {accents}"]


def _title(lesson: Lesson, about: str, stated: str) -> list[str]:
    return [lesson.timeline.title]


def _clicks(lesson: Lesson, about: str, stated: str) -> list[str]:
    """The clicks of the spec's first `play`: what each stands on, and at which second of the film."""
    clicks = lesson.schedule_show("play").clicks
    return [f"{click.kind} {float(click.seconds):.3f}" for click in clicks]


def _steps(lesson: Lesson, about: str, stated: str) -> list[str]:
    return [step.name for step in lesson.segments()[0].schedule.steps]


def _captions(lesson: Lesson, about: str, stated: str) -> list[str]:
    return [caption.text for caption in lesson.segments()[0].schedule.captions]


def _answer(lesson: Lesson, about: str, stated: str) -> list[str]:
    """What the first segment, a handover or a spread, says at its end."""
    schedule = lesson.segments()[0].schedule
    assert isinstance(schedule, HandoverSchedule | SpreadSchedule)
    answer = schedule.lights[-1].phrases if isinstance(schedule, SpreadSchedule) else schedule.answer
    return [lesson.timeline.words.say(text_of(answer))]


def _spoken(lesson: Lesson, about: str, stated: str) -> list[str]:
    spoken = lesson.segments()[0].schedule.spoken
    return [f"{voice.name} at {float(voice.seconds):.3f}" for voice in spoken]


def _sound(lesson: Lesson, about: str, stated: str) -> list[str]:
    sound = lesson.spec.sound or SoundSpec()
    figures = sound.figure.sound if sound.figure else None
    return [
        f"figures {figures}",
        f"recording {sound.recording_level} dB",
        f"duck {sound.duck} dB",
        f"loudness {sound.loudness} LUFS",
    ]


def _check(lesson: Lesson, about: str, stated: str) -> list[str]:
    """The stated line if `check` tells it, else all that it tells."""
    told = [line.strip() for line in describe(plan_spec(lesson.spec), lesson.timeline)]
    return [stated] if stated in told else told


def _segments(lesson: Lesson, about: str, stated: str) -> list[str]:
    return [planned.name for planned in lesson.segments()]


def _marks(lesson: Lesson, about: str, stated: str) -> list[str]:
    return [mark_text(lesson.timeline, mark) for mark in lesson.timeline.marks]


FACTS: dict[str, Callable[[Lesson, str, str], list[str]]] = {
    "title": _title,
    "sections": _sections,
    "meter": _meter,
    "beats": _beats,
    "tempo": _tempo,
    "seconds": _seconds,
    "figure": _figure,
    "plays": _plays,
    "starts": _starts,
    "offsets": _offsets,
    "counts": _counts,
    "harmony": _harmony,
    "marks": _marks,
    "crossings": _crossings,
    "landings": _landings,
    "realigns": _realigns,
    "handovers": _handovers,
    "side": _side,
    "clicks": _clicks,
    "steps": _steps,
    "captions": _captions,
    "answer": _answer,
    "spoken": _spoken,
    "sound": _sound,
    "segments": _segments,
    "check": _check,
}
