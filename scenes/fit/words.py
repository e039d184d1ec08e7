"""What `fit` says: its second line, the words under its sum, its question and its answer."""

from fractions import Fraction

from renderer.schedule.fit import FitSchedule, FitTerm
from renderer.timeline.model import Repetition, Timeline
from scenes.draw.look import BOLD, SEMIBOLD, Look
from scenes.draw.shapes import Words
from scenes.draw.wording import count_of


def second_line(timeline: Timeline, schedule: FitSchedule) -> str:
    """`8 bars of 4/4 filled with kiln, 5 + 3 + 3`."""
    section = schedule.section
    meters = {bar.meter.text for bar in timeline.bars if section.at <= bar.at < section.end}
    of = f" of {meters.pop()}" if len(meters) == 1 else ""
    text = f"{count_of(section.bar_count, 'bar')}{of}"
    names = figure_names(schedule)
    if not names:
        return text
    filled = f"{text} filled with {', '.join(names)}"
    groups = timeline.figure(names[0]).groups if len(names) == 1 else ()
    return f"{filled}, {' + '.join(map(str, groups))}" if 1 < len(groups) <= 9 else filled


def figure_names(schedule: FitSchedule) -> list[str]:
    """The figures that sound in the section, in order."""
    names = (part.repetition.statement.figure for part in schedule.parts if part.repetition)
    return list(dict.fromkeys(name for name in names if name))


def term_word(schedule: FitSchedule, term: FitTerm, last: bool) -> str:
    """The word under a term of the sum."""
    closing = schedule.parts[schedule.closing :]
    if last and len(closing) == 1 and term.kind not in ("whole", "rest", "carried"):
        return "left over"
    if term.figure == "more" and term.kind == "rest":
        return "more"
    words = {"carried": "carried in", "tail": "tail", "rest": "rest", "left": "silent"}
    name = term.figure or ""
    whole = {"first": f"first of {name}", "cut": f"{name}, cut", "over": f"{name}, runs on"}
    return words.get(term.kind) or whole.get(term.kind) or name


def filling_words(repetition: Repetition) -> tuple[str, ...]:
    """What may stand in the hull of what fills the rest, from the longest to the shortest text."""
    statement = repetition.statement
    if statement.kind == "tail":
        groups = groups_text(repetition)
        return f"tail  {groups}", "tail", groups
    if statement.sounding_length == statement.length:
        return f"repetition {repetition.number}", str(repetition.number)
    share = f"{_pulses(repetition, statement.sounding_length)} of {_pulses(repetition, statement.length)}"
    return f"repetition {repetition.number}, {share}", share


def groups_text(repetition: Repetition) -> str:
    """A repetition's groups added up, `4 + 3`; its length where they are many."""
    groups = repetition.statement.groups
    if len(groups) > 6:
        return _pulses(repetition, repetition.statement.sounding_length)
    return " + ".join(_pulses(repetition, group.length) for group in groups)


def fit_question(look: Look, schedule: FitSchedule) -> list[Words]:
    """What is asked before the sum is there."""
    names, bars = figure_names(schedule), count_of(schedule.section.bar_count, "bar")
    if len(names) != 1:
        return [Words("What fills ", look.ink), Words(bars, look.meter_text, SEMIBOLD), Words("?", look.ink)]
    return [
        Words("How often does ", look.ink),
        Words(names[0], look.sail_one, SEMIBOLD),
        Words(" fit into ", look.ink),
        Words(bars, look.meter_text, SEMIBOLD),
        Words("?", look.ink),
    ]


def fit_sentence(look: Look, timeline: Timeline, schedule: FitSchedule) -> list[Words]:
    """What the end of the section does, and what comes on the downbeat after it."""
    part = schedule.parts[-1]
    next_bar = schedule.section.last_bar_number + 1
    landed = _landing_text(timeline, schedule, next_bar)
    repetition = part.repetition
    ink, lit = look.ink, look.sail_one
    if repetition is None:
        silent = _pulse_count(schedule, part.end - part.at)
        return [Words(silent, ink, BOLD), Words(" left over, and nothing sounds there.", ink)]
    statement = repetition.statement
    if part.kind == "over":
        before, after = (_pulses(repetition, n) for n in (part.end - part.at, repetition.end - part.end))
        words = [Words(before, lit, BOLD), Words(" before the line, ", ink), Words(after, lit, BOLD)]
        return [Words(f"Repetition {repetition.number} runs on: ", ink), *words, Words(" after it.", ink)]
    if statement.kind == "tail":
        groups = groups_text(repetition)
        return [Words("A tail of ", ink), Words(groups, lit, BOLD), Words(f" fills the gap: {landed}.", ink)]
    if statement.sounding_length < statement.length:
        share = f"{_pulses(repetition, statement.sounding_length)} of {_pulses(repetition, statement.length)}"
        verb = "is cut after" if statement.cut else "ends after"
        return [
            Words(f"Repetition {repetition.number} {verb} ", ink),
            Words(share, lit, BOLD),
            Words(f": {landed}.", ink),
        ]
    return [Words("Nothing is left over", lit, SEMIBOLD), Words(f": {landed}.", ink)]


def _landing_text(timeline: Timeline, schedule: FitSchedule, next_bar: int) -> str:
    landing, following = schedule.landing, schedule.following
    if landing and landing.sounds:
        return f"the accent lands on bar {next_bar}"
    ends = schedule.section.end >= timeline.end
    if landing:
        return f"the next accent would land on bar {next_bar}"
    if following and following.at == schedule.section.end:
        return f"the next repetition starts on bar {next_bar}"
    return "the piece ends there" if ends else f"bar {next_bar} begins in silence"


def _pulses(repetition: Repetition, ticks: int) -> str:
    return str(Fraction(ticks, repetition.statement.pulse))


def _pulse_count(schedule: FitSchedule, ticks: int) -> str:
    count = Fraction(ticks, schedule.pulse)
    return f"{count} pulse is" if count == 1 else f"{count} pulses are"
