"""What `handover` says: its question and answer, where in the bar the new list starts, and the sum that the old one
comes to. Plain words from the timeline alone."""

from bisect import bisect_right
from fractions import Fraction
from typing import NamedTuple

from renderer.core.note_values import pulse_word
from renderer.schedule.phrases import Phrase, Phrases, sentence
from renderer.schedule.wording import SYLLABLES, mixed, number_word
from renderer.timeline.bars import meter_beats
from renderer.timeline.model import Bar, Handover, Repetition, Timeline

NO_HANDOVER = "No list of figures hands over to another."


class Meeting(NamedTuple):
    """A handover with what the old list ends with and what the new one begins with."""

    handover: Handover
    last: Repetition
    first: Repetition

    @property
    def pulse(self) -> int:
        """Ticks to the pulse that the old figure is counted in."""
        return self.last.statement.pulse

    @property
    def on_line(self) -> bool:
        """Whether the new list begins on its section's first downbeat."""
        return self.handover.at == self.handover.line

    @property
    def lacking(self) -> int:
        """How many ticks of the old figure the line cuts off; 0 where it is cut elsewhere or not at all."""
        statement = self.last.statement
        at_line = self.handover.cut and self.handover.over == 0
        return statement.length - statement.sounding_length if at_line else 0

    @property
    def one_too_many(self) -> bool:
        """Whether the old figure is one pulse too long for its section."""
        return self.lacking == self.pulse

    @property
    def missed(self) -> bool:
        """Whether an accent of the old figure would have come on the line."""
        return self.lacking > 0 and self.last.statement.missed_accent_number is not None

    @property
    def shared(self) -> bool:
        """Whether that accent meets the first one of the new figure: one stroke is both."""
        return self.missed and self.on_line and 0 in self.first.statement.accents

    @property
    def names(self) -> tuple[str, str]:
        """What the old list ends with and what the new one begins with."""
        before, after = (row.statement.figure or "the tail" for row in (self.last, self.first))
        return before, next_of(after) if after == before else after


def next_of(name: str) -> str:
    """Another statement of the same figure, or another tail.

    >>> next_of("otter"), next_of("the tail"), next_of("next one")
    ('the next otter', 'the next tail', 'the new next one')
    """
    plain = name.removeprefix("the ") if name == "the tail" else name
    return f"the new {plain}" if plain.lower().startswith("next") else f"the next {plain}"


class Share(NamedTuple):
    """A stretch beside the line, in ticks, with how much it is and what becomes of it. `side`: 0 before the line, 1
    after it."""

    start: int
    end: int
    number: str
    words: str
    side: int


class HandoverSum(NamedTuple):
    """So many times the old figure: its bars, and what is over, or short (below 0), all in pulses."""

    times: int
    figure: int
    room: int
    over: int
    bars: str


def find_meetings(timeline: Timeline, voice: str) -> list[Meeting]:
    """The handovers of a voice, in order."""
    rows = {row.number: row for row in timeline.repetitions if row.voice == voice}
    return [
        Meeting(each, rows[each.last_number], rows[each.first_number])
        for each in timeline.handovers
        if each.voice == voice
    ]


# Where something starts


def beat_start(timeline: Timeline, at: int) -> tuple[Bar, int, int, int]:
    """The bar of a tick, its felt beat's number, where that begins and where it ends, in a pick-up too."""
    bar = timeline.bar_at(at)
    beats = meter_beats(bar.meter, timeline.grid)
    starts = [bar.end - beats[-1] + beat for beat in beats]
    number = min(max(1, bisect_right(starts, at)), len(starts) - 1)
    return bar, number, starts[number - 1], starts[number]


def syllable(timeline: Timeline, at: int, pulse: int) -> str:
    """What is counted at a tick: a beat's number, `e`, `&` or `a`; nothing where its beat is not counted so."""
    _, number, start, end = beat_start(timeline, at)
    into, left = divmod(at - start, pulse)
    if not into and not left:
        return str(number)
    between = SYLLABLES.get((end - start) // pulse, ()) if (end - start) % pulse == 0 else ()
    return between[into - 1] if not left and 0 < into <= len(between) else ""


def start_words(timeline: Timeline, at: int, pulse: int) -> tuple[str | Phrase, ...]:
    """Where in its bar something starts: `on the downbeat`, `on 3`, `on the “and” of 2`."""
    _, number, start, _ = beat_start(timeline, at)
    spoken = syllable(timeline, at, pulse)
    if at == start:
        place = "downbeat" if number == 1 else str(number)
        return ("on the " if number == 1 else "on ", Phrase(place, "meter"))
    if spoken:
        aloud = "and" if spoken == "&" else spoken
        return ("on the ", Phrase(f"“{aloud}”", "meter"), f" of {number}")
    count = Fraction(at - start, pulse)
    return (f"{mixed(count)} {pulse_word(timeline.whole(pulse), count)} after ", Phrase(str(number), "meter"))


# What is asked and answered


def handover_question(meeting: Meeting | None) -> Phrases:
    """What is asked while nothing has sounded."""
    if meeting is None:
        return sentence(NO_HANDOVER)
    return sentence("Where does ", Phrase(meeting.names[1], "figure"), " start?")


def handover_answer(timeline: Timeline, meeting: Meeting, pulse: int) -> Phrases:
    """What happens at the line, and where the new list starts. `pulse`: ticks to what is counted under the line."""
    row = meeting.handover
    before, after = Phrase(meeting.names[0], "figure"), Phrase(meeting.names[1], "figure")
    starts = _begun((after, " starts ", *start_words(timeline, row.at, pulse), "."), "Then ")
    over = mixed(abs(Fraction(row.over, meeting.pulse)))
    if meeting.one_too_many:
        becomes = "it becomes the downbeat." if meeting.shared else "the line cuts it off."
        return sentence("One too many: ", Phrase(becomes, "figure"))
    if meeting.lacking:
        off = mixed(Fraction(meeting.lacking, meeting.pulse))
        return sentence("The line cuts ", Phrase(off, "figure"), " off ", before, ". ", *starts)
    if row.over > 0:
        cut = ", then it is cut" if row.cut else ""
        ends = f" runs {over} over{cut}. "
    elif row.over < 0:
        ends = f" {'is cut' if row.cut else 'stops'} {over} before the line. "
    else:
        ends = " ends on the line. "
    return sentence(*_begun((before, ends), "Here "), *starts)


def _begun(stretches: tuple[Phrase | str, ...], word: str) -> tuple[Phrase | str, ...]:
    """The stretches as a sentence's beginning: an article gets a capital; a figure's name stays as it is written, after
    a word if it begins with a small letter."""
    first, *rest = stretches
    text = first.text if isinstance(first, Phrase) else first
    if text.startswith("the "):
        text = "The " + text.removeprefix("the ")
    begun = first._replace(text=text) if isinstance(first, Phrase) else text
    return (word, begun, *rest) if text[:1].islower() else (begun, *rest)


def handover_shares(meeting: Meeting, added: HandoverSum | None) -> tuple[Share, ...]:
    """What lies before the line, and what runs over it, is cut off by it or falls silent before it."""
    row, last, pulse = meeting.handover, meeting.last, meeting.pulse
    line = row.line

    def count(start: int, end: int) -> str:
        return mixed(Fraction(end - start, pulse))

    before = Share(last.at, line, count(last.at, line), "before the line", 0)
    if row.over > 0:
        start = max(line, last.at)
        after = Share(
            start, last.end, count(start, last.end), "over it" if last.at < line else "after the line", 1
        )
        return (before, after) if last.at < line else (after,)
    if meeting.lacking:
        return before, Share(line, line + meeting.lacking, *_lost(meeting, added), 1)
    if row.at < line:
        return (Share(row.at, line, count(row.at, line), "before the line", 0),)
    if row.over < 0:
        return (Share(last.end, line, count(last.end, line), "silent", 0),)
    return ()


def _lost(meeting: Meeting, added: HandoverSum | None) -> tuple[str, str]:
    """What becomes of what the line cuts off."""
    lacking = Fraction(meeting.lacking, meeting.pulse)
    if meeting.one_too_many:
        total = added.times * added.figure if added else meeting.last.statement.length // meeting.pulse
        return f"pulse {total}", "is the new first: one hit" if meeting.shared else "is not played"
    if meeting.shared:
        return mixed(lacking), "cut off: one hit for both"
    return mixed(lacking), "cut off"


def handover_sum(timeline: Timeline, meeting: Meeting) -> HandoverSum | None:
    """The old figure's row as a sum, from a downbeat up to the line; None where it is none."""
    last, statement, line = meeting.last, meeting.last.statement, meeting.handover.line
    if last.counted is None or statement.kind == "first" or (statement.cut and not meeting.lacking):
        return None
    start = last.at - (last.counted - 1) * statement.length
    row = [r for r in timeline.repetitions if r.voice == last.voice and start <= r.at < last.at]
    bars = [bar for bar in timeline.bars if start <= bar.at < line]
    whole = all(r.statement.kind == "whole" and r.statement.length == statement.length for r in row)
    if not bars or bars[0].at != start or bars[0].number < 1 or not whole or len(row) != last.counted - 1:
        return None
    total, room = last.counted * statement.length, line - start
    if total % meeting.pulse or room % meeting.pulse or abs(total - room) > room:
        return None
    lengths = {bar.end - bar.at for bar in bars}
    each = Fraction(lengths.pop(), meeting.pulse) if len(lengths) == 1 else None
    many = "one bar" if len(bars) == 1 else f"{number_word(len(bars))} bars"
    of = f" of {mixed(each)}" if each is not None and len(bars) > 1 else ""
    figure, filled, over = (ticks // meeting.pulse for ticks in (statement.length, room, total - room))
    return HandoverSum(last.counted, figure, filled, over, f"in {many}{of}")


def place_text(timeline: Timeline, meeting: Meeting) -> str:
    """Which line this is, for the small line: `from Bank to Mill`."""
    names = section_names(timeline, meeting)
    return f"from {names[0]} to {names[1]}"


def section_names(timeline: Timeline, meeting: Meeting) -> tuple[str, str]:
    """The section that ends at the line, and the one that begins there."""
    index = next(n for n, section in enumerate(timeline.sections) if section.at == meeting.handover.line)
    return timeline.sections[max(0, index - 1)].name, timeline.sections[index].name
