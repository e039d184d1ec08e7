"""A lesson that is begun on the page: one sentence, filled in, becomes a spec."""

import json
import re
from collections.abc import Iterator, Sequence
from math import lcm
from typing import NamedTuple

from renderer.core.note_values import pulse_word
from renderer.page.mistakes import Mistake
from renderer.spec.model import Spec
from renderer.timeline.model import Timeline

PULSES = {"eighths": "1/8", "triplet eighths": "1/12", "sixteenths": "1/16", "thirty-seconds": "1/32"}
TITLE_LINE, TEMPO_LINE, METER_LINE, FIGURE_LINE = 1, 2, 3, 7
MENDS = {
    "groups": "Write 5 + 3 + 3, or X....x..x..",
    "meter": "Write 4/4, or 7/8.",
    "tempo": "Write 96.",
    "name": "Write kettle.",
    "title": "Write Kettle Weir.",
}
"""What to write instead, as the sentence has it."""
PLAIN = re.compile(r"[^\W\d_]\w*(?:[ '-]\w+)*")
WORDS = {"true", "false", "null", "yes", "no", "on", "off"}


class Beginning(NamedTuple):
    """What the sentence says, as it was typed."""

    groups: str = "5 + 3 + 3"
    pulse: str = "sixteenths"
    meter: str = "4/4"
    tempo: str = "96"
    name: str = "kettle"
    title: str = "Kettle Weir"


def begun_text(begun: Beginning) -> str:
    """The spec that a lesson begins with. What was typed wrong stands in it as it was typed, to be told as a mistake.

    >>> print(begun_text(Beginning(groups="3 2")).split("\\n")[6])
      kettle: [3, 2]
    """
    name = written(begun.name)
    return f"""title: {written(begun.title)}
tempo: {one_line(begun.tempo)}    # quarter notes a minute
meter: {one_line(begun.meter)}
pulse: {PULSES.get(begun.pulse, one_line(begun.pulse))}    # what the figure counts in

figures:
  {name}: {groups_text(begun.groups)}

parts: {{piano: figure, drums: meter}}

form:
  - section: Theme
    bars: 8
    plays: {name}    # over and over
  - section: Answer
    bars: 8
    plays: on    # runs on over the line
  - section: Close
    bars: 8
    plays: on

click: {{every: beat, count_in: 1}}
segments: [figure, spread, play]
"""


def wrong_fields(begun: Beginning, mistakes: Sequence[Mistake]) -> Iterator[tuple[str, str]]:
    """The fields of the sentence that are wrong, each with its first mistake in the sentence's own notation.

    A mistake in what the sentence has no field for has the field "".
    """
    told: set[str] = set()
    for mistake in mistakes:
        field = _field(mistake)
        if field in told or (not field and told):
            continue
        told.add(field)
        if field == "groups" and not groups_text(begun.groups).startswith("["):
            problem = f"got {one_line(begun.groups) or 'nothing'}; groups are numbers, or hits drawn with x and points."
        elif mistake.problem in ("no value is given.", "got an empty text."):
            problem = "nothing is written."
        else:
            problem = mistake.problem
        yield (
            field,
            f"{field.capitalize()}: {problem} {MENDS[field]}" if field else f"{problem} {mistake.hint}",
        )


def _field(mistake: Mistake) -> str:
    if mistake.line == FIGURE_LINE:
        return "name" if mistake.start == len("  ") else "groups"
    return {TITLE_LINE: "title", TEMPO_LINE: "tempo", METER_LINE: "meter"}.get(mistake.line, "")


def groups_text(typed: str) -> str:
    """Groups as a spec writes them: numbers however they were parted, or hits drawn with x and points.

    >>> groups_text("5+3+3"), groups_text("5 3 3"), groups_text("X....x..x..")
    ('[5, 3, 3]', '[5, 3, 3]', 'X....x..x..')
    """
    text = one_line(typed)
    if re.fullmatch(r"[\d\s,+]+", text):
        return f"[{', '.join(re.findall(r'[0-9]+', text))}]"
    return text if re.fullmatch(r"[xX. ]+", text) else json.dumps(text, ensure_ascii=False)


def written(name: str) -> str:
    """A name as YAML takes it for text."""
    text = one_line(name)
    return (
        text if PLAIN.fullmatch(text) and text.lower() not in WORDS else json.dumps(text, ensure_ascii=False)
    )


def one_line(typed: str) -> str:
    """What was typed, on one line and without what would end it there."""
    return " ".join(typed.replace("#", " ").split())


def against(spec: Spec, timeline: Timeline) -> tuple[str, ...]:
    """How the figure and the bar meet: what each repetition does, and when they are together again.

    Both come round together after the least common multiple of their lengths.
    """
    figure, bar = timeline.figures[0], next(bar for bar in timeline.bars if bar.number == 1)
    length = bar.meter.length / figure.pulse
    words = f"{figure.pulses} against {length}"
    if length.denominator != 1:
        return (f"{words}: the bar is no whole number of {pulse_word(figure.pulse)}.",)
    pulses = int(length)
    later = figure.pulses % pulses
    if not later:
        return (f"{words}: each {figure.name} starts on a downbeat.",)
    shift = f"{later} later" if later <= pulses - later else f"{pulses - later} earlier"
    together = lcm(figure.pulses, pulses)
    return (
        f"{words}: each {figure.name} starts {shift} in its bar.",
        f"It is back on a downbeat after {together // pulses} bars and {together // figure.pulses} repetitions.",
    )
