"""What `form` says: a piece in one line, a section in one sentence, what runs on from one section into the next."""

from collections.abc import Sequence
from fractions import Fraction

from renderer.core.names import listed
from renderer.timeline.model import Section, Timeline
from scenes.draw.look import SEMIBOLD, Look
from scenes.draw.shapes import Words
from scenes.draw.text import musical
from scenes.draw.wording import COUNT_WORDS, count_of, pulse_word
from scenes.frame.part_words import place_text

BEAT_NAMES = {
    Fraction(1, 8): "an eighth",
    Fraction(3, 16): "a dotted eighth",
    Fraction(1, 4): "a quarter",
    Fraction(3, 8): "a dotted quarter",
    Fraction(1, 2): "a half",
    Fraction(3, 4): "a dotted half",
}
"""What a felt beat is called."""
MOST_NAMED = 4
"""Places or names that a sentence lists; more are counted."""


def describe_piece(timeline: Timeline) -> str:
    """`32 bars of 4/4, a quarter at 112`, and less where meter or tempo change."""
    bars = [bar for bar in timeline.bars if bar.number > 0]
    meters = {bar.meter.text for bar in bars}
    text = count_of(len(bars), "bar")
    text += f" of {meters.pop()}" if len(meters) == 1 else ", the meter changes"
    if len(timeline.tempo) == 1 and not timeline.tempo[0].to:
        beats = {length for bar in bars for length in bar.meter.beats}
        beat = beats.pop() if len(beats) == 1 and beats <= set(BEAT_NAMES) else Fraction(1, 4)
        pace = timeline.tempo[0].quarters / (4 * beat)
        speed = f"{pace}" if pace.denominator == 1 else f"{float(pace):.1f}"
        text += f", {BEAT_NAMES[beat]} at {speed}"
    return text


def section_sentence(look: Look, timeline: Timeline, section: Section) -> list[Words]:
    """`Opening: 12 bars; the harmony changes at bars 5 and 9.3.`"""
    words = [
        Words(section.name, look.ink, SEMIBOLD),
        Words(": ", look.ink),
        Words(count_of(section.bar_count, "bar"), look.meter_text, SEMIBOLD),
    ]
    inside = [field for field in timeline.harmony if section.at <= field.at < section.end]
    held = next((f for f in timeline.harmony if f.at <= section.at < f.end), None)
    changes = [field for field in inside if field.at > section.at]
    if changes and len(changes) <= MOST_NAMED:
        places = listed([place_text(timeline, field.at) for field in changes], "and")
        words += [
            Words("; the ", look.ink),
            Words("harmony", look.harmony, SEMIBOLD),
            Words(f" changes at {'bar' if len(changes) == 1 else 'bars'} {places}", look.ink),
        ]
    elif changes:
        words += [
            Words("; the ", look.ink),
            Words("harmony", look.harmony, SEMIBOLD),
            Words(f" changes {len(changes)} times", look.ink),
        ]
    elif held is not None:
        words += [Words(" of ", look.ink), Words(musical(held.name), look.harmony, SEMIBOLD)]
    return [*words, Words(".", look.ink)]


def form_sentence(look: Look, timeline: Timeline, voice: str, sections: Sequence[Section]) -> list[Words]:
    """`Three sections; kiln runs on from Opening into Theme.` or what is played where nothing runs on."""
    number = len(sections)
    count = COUNT_WORDS[number - 1].capitalize() if number <= len(COUNT_WORDS) else str(number)
    words = [Words(f"{count} {'section' if number == 1 else 'sections'}", look.ink)]
    indices = {timeline.sections.index(section) for section in sections}
    played = [r for r in timeline.repetitions if r.voice == voice and r.section_index in indices]
    over = [
        r
        for r in played
        if r.statement.figure
        and r.section_index + 1 in indices
        and r.at < timeline.sections[r.section_index].end < r.end
    ]
    if over:
        first = over[0]
        names = [timeline.sections[first.section_index].name, timeline.sections[first.section_index + 1].name]
        words += [Words("; ", look.ink), Words(str(first.statement.figure), look.sail_one, SEMIBOLD)]
        words.append(Words(f" runs on from {names[0]} into {names[1]}", look.ink))
        return [*words, Words(".", look.ink)]
    sounding = [r for r in timeline.repetitions if r.section_index in indices]
    figures = list(dict.fromkeys(r.statement.figure for r in sounding if r.statement.figure))
    if len(figures) == 1:
        figure = timeline.figure(figures[0])
        words += [Words(", all of them ", look.ink)] if number > 1 else [Words(" of ", look.ink)]
        words.append(Words(figures[0], look.sail_one, SEMIBOLD))
        words.append(Words(f", {figure.pulses} {pulse_word(figure.pulse, figure.pulses)}", look.ink))
    elif figures and len(figures) <= MOST_NAMED:
        words += [Words("; ", look.ink), Words(listed(figures, "and"), look.sail_one, SEMIBOLD)]
    elif figures:
        words.append(Words(f", {count_of(len(figures), 'figure')}", look.ink))
    return [*words, Words(".", look.ink)]
